/* cli/tub.c: the tubs: begin one, describe it, list them. Describing is writing entries, so the words
 * are those of log; what is printed then is the tub and not the card. */
#include <string.h>

#include "cli/answers.h"

static int describes(const char *word)
{
    static const char *const WORDS[] = {"new", "plate", "volume", "source", "definition", "ready", "part", "stock", "set"};
    for (size_t i = 0; i < sizeof WORDS / sizeof WORDS[0]; i++)
        if (strcmp(word, WORDS[i]) == 0)
            return 1;
    return strchr(word, '=') != NULL;
}

int tw_cli_tub(tw_cli *cli, int argc, char **argv)
{
    tw_cli_book book;
    const int writes = argc > 1 && describes(argv[1]);
    const char *words[64];
    size_t n = 0;
    int code = tw_cli_book_open(cli, writes ? TW_CLI_BOOK_WRITE : TW_CLI_BOOK_READ, &book);
    if (code != 0) {
        tw_cli_book_close(&book);
        return code;
    }
    if (!writes) {
        if (argc > 2) {
            code = tw_cli_problem(cli, TW_EXIT_USAGE, "words", "one tub at a time", "Write: tubwright tub new NAME volume=1300L");
        } else {
            if (argc == 2)
                cli->tub = argv[1];
            code = tw_cli_answer(cli, &book, argc == 2 ? "tub" : "tubs", NULL, NULL);
        }
        tw_cli_book_close(&book);
        return code;
    }
    /* "tub new X ..." begins one; "tub volume=1300L use=public" describes it again; "tub plate ..." is log. */
    if (strcmp(argv[1], "new") == 0 || strcmp(argv[1], "set") == 0 || strchr(argv[1], '=') != NULL)
        words[n++] = "tub";
    for (int i = strcmp(argv[1], "set") == 0 ? 2 : 1; i < argc && n < 64; i++)
        words[n++] = argv[i];
    code = tw_cli_take_words(cli, &book, n, words);
    tw_cli_book_close(&book);
    return code;
}
