/* cli/say.c: what the program says beside the core's answers, in a language (data/text/terminal.<language>.csv). */
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"

static int by_english(const void *english, const void *pair)
{
    return strcmp(english, ((const tw_language_pair *)pair)->english);
}

const char *tw_cli_say(const tw_cli *cli, const char *english)
{
    if (cli->language == NULL || english == NULL)
        return english;
    const tw_language_pair *found = bsearch(english, cli->language->terminal, cli->language->terminals, sizeof *found, by_english);
    return found != NULL ? found->text : english;
}
