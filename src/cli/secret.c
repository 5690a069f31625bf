/* cli/secret.c: a line of standard input that is not shown. */
#define _POSIX_C_SOURCE 200809L

#include "cli/secret.h"

#include <string.h>
#include <termios.h>
#include <unistd.h>

size_t tw_cli_secret_read(tw_cli *cli, const char *what, char *out, size_t cap)
{
    struct termios shown, hidden;
    const int terminal = isatty(fileno(cli->in)) && tcgetattr(fileno(cli->in), &shown) == 0;
    if (terminal) {
        hidden = shown;
        hidden.c_lflag &= ~(tcflag_t)ECHO;
        (void)fprintf(cli->err, "%s (it is not shown): ", what);
        (void)fflush(cli->err);
        (void)tcsetattr(fileno(cli->in), TCSAFLUSH, &hidden);
    }
    const char *line = fgets(out, (int)cap, cli->in);
    if (terminal) {
        (void)tcsetattr(fileno(cli->in), TCSAFLUSH, &shown);
        (void)fprintf(cli->err, "\n");
    }
    if (line == NULL)
        out[0] = '\0';
    out[strcspn(out, "\r\n")] = '\0';
    return strlen(out);
}

void tw_cli_secret_forget(char *secret, size_t cap)
{
    volatile char *at = secret;
    for (size_t i = 0; i < cap; i++)
        at[i] = '\0';
}
