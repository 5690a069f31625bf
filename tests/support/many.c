/* tests/support/many.c: the program run many times in one process, for tests with thousands of commands.
 *
 * Reads commands from standard input, each a line "WORDS BYTES", WORDS words that end with a NUL, and
 * BYTES of the command's own standard input; answers each with a line "CODE OUT ERR", then what it
 * printed, OUT and ERR bytes long. tests/support/many.py speaks this. */
#define _POSIX_C_SOURCE 200809L

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"

#define MOST_WORDS 64
#define MOST_BYTES 65536

/* One word with its NUL; 0 at the end of the input or when it does not fit. */
static int read_word(char *to, size_t room, size_t *n)
{
    for (*n = 0; *n < room; (*n)++) {
        const int byte = getchar();
        if (byte == EOF)
            return 0;
        to[*n] = (char)byte;
        if (byte == '\0') {
            (*n)++;
            return 1;
        }
    }
    return 0;
}

static int run(int argc, char **argv, char *input, size_t bytes)
{
    char *said[2] = {NULL, NULL};
    size_t n[2] = {0, 0};
    FILE *in = bytes > 0 ? fmemopen(input, bytes, "rb") : fopen("/dev/null", "rb");
    FILE *out = open_memstream(&said[0], &n[0]);
    FILE *err = open_memstream(&said[1], &n[1]);
    if (in == NULL || out == NULL || err == NULL)
        return 0;
    const int code = tw_cli_run(argc, argv, in, out, err);
    (void)fclose(in);
    (void)fclose(out);
    (void)fclose(err);
    (void)printf("%d %zu %zu\n", code, n[0], n[1]);
    (void)fwrite(said[0], 1, n[0], stdout);
    (void)fwrite(said[1], 1, n[1], stdout);
    free(said[0]);
    free(said[1]);
    return fflush(stdout) == 0;
}

int main(void)
{
    static char words[MOST_BYTES], input[MOST_BYTES];
    unsigned count = 0, bytes = 0;
    while (scanf("%u %u", &count, &bytes) == 2 && getchar() == '\n') {
        char name[] = "tubwright";
        char *argv[MOST_WORDS + 2] = {name};
        size_t at = 0, n = 0;
        if (count > MOST_WORDS || bytes > sizeof input)
            return 2;
        for (unsigned i = 0; i < count; i++) {
            argv[i + 1] = words + at;
            if (!read_word(words + at, sizeof words - at, &n))
                return 2;
            at += n;
        }
        if (fread(input, 1, bytes, stdin) != bytes || !run((int)count + 1, argv, input, bytes))
            return 2;
    }
    return feof(stdin) ? 0 : 2;
}
