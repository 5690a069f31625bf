/* cli/substance.c: finding a substance by its id, its names in the table, or what people call it
 * (data/substance_names.csv). Case does not matter, and a hyphen is a blank. */
#include "cli/substance.h"

#include <string.h>

#include "dose/substance.h"
#include "gen/cli_words.h"

static char plain(char c)
{
    if (c >= 'A' && c <= 'Z')
        return (char)(c - 'A' + 'a');
    return c == '-' || c == '_' ? ' ' : c;
}

/* 1 when a typed text is a name; a name ends at its zero or before " (". */
static int same(tw_text typed, const char *name)
{
    size_t i = 0;
    while (i < typed.n && name[i] != '\0' && plain(typed.at[i]) == plain(name[i]))
        i++;
    return i == typed.n && i > 0 && (name[i] == '\0' || strncmp(name + i, " (", 2) == 0);
}

static size_t give(const char *found, char *id, size_t cap)
{
    const size_t n = strlen(found);
    if (n > cap)
        return 0;
    memcpy(id, found, n);
    return n;
}

size_t tw_cli_substance(tw_text typed, char *id, size_t cap)
{
    for (int i = 0; i < TW_SUBSTANCES; i++)
        if (same(typed, tw_dose_substances[i].id))
            return give(tw_dose_substances[i].id, id, cap);
    for (int i = 0; i < TW_CLI_SUBSTANCE_NAMES; i++)
        if (same(typed, tw_cli_substance_names[i].typed) && strchr(tw_cli_substance_names[i].id, ' ') == NULL)
            return give(tw_cli_substance_names[i].id, id, cap);
    for (int i = 0; i < TW_SUBSTANCES; i++)
        if (same(typed, tw_dose_substances[i].plain) || same(typed, tw_dose_substances[i].name))
            return give(tw_dose_substances[i].id, id, cap);
    return 0;
}

const char *tw_cli_substance_choice(tw_text typed)
{
    for (int i = 0; i < TW_CLI_SUBSTANCE_NAMES; i++)
        if (same(typed, tw_cli_substance_names[i].typed) && strchr(tw_cli_substance_names[i].id, ' ') != NULL)
            return tw_cli_substance_names[i].id;
    return NULL;
}
