/* cli/words.c: the grammar of `log`, read from left to right. A word of data/log_words.csv begins
 * something (words_acts.c); name=value adds a field to it, or is a reading or a setting by itself (words_values.c). */
#include "cli/words.h"

#include <stdio.h>
#include <string.h>

#include "cli/clock.h"
#include "cli/words_reader.h"
#include "logbook/entry.h"

/* "20 min ago": a number, a unit and the word. */
static int is_ago(const tw_reader *r)
{
    return tw_cli_reader_is_digit(r->word[r->i][0]) && ((r->i + 2 < r->n && strcmp(r->word[r->i + 2], "ago") == 0) ||
                                          (r->i + 1 < r->n && strcmp(r->word[r->i + 1], "ago") == 0));
}

static int read_before_now(tw_reader *r)
{
    char text[96] = "";
    size_t n = 0;
    int last = 0;
    while (!last) {
        last = strcmp(r->word[r->i], "ago") == 0;
        n += (size_t)snprintf(text + n, sizeof text - n, "%s%.20s", n > 0 ? " " : "", r->word[r->i++]);
    }
    r->out->at_given = 1;
    return tw_cli_time_typed(tw_units_text(text), r->now, &r->out->at) == TW_OK
               ? 0 : tw_cli_reader_fail(r, "the time is not understood", text, "Write: 20 min ago.");
}

static tw_text *value_of(tw_draft *draft, const char *field)
{
    for (size_t k = 0; k < draft->n; k++)
        if (tw_units_text_is(draft->field[k].field, field))
            return &draft->field[k].value;
    return NULL;
}

/* "ph=7.4 ta=120 temp=37 by drops" is one line for two instruments: drops read no temperature, and a thermometer
 * nothing else. */
static int settle_instrument(tw_reader *r, tw_draft *draft)
{
    static const char *const WARM[] = {"thermometer", "meter", "monitor", "display"};
    const tw_text *analyte = value_of(draft, "analyte");
    tw_text *tool = value_of(draft, "instrument");
    if (draft->kind != TW_KIND_READING || analyte == NULL || tool == NULL)
        return 0;
    if (!tw_units_text_is(*analyte, "temperature"))
        return tw_units_text_is(*tool, "thermometer")
                   ? tw_cli_reader_fail(r, "a thermometer reads temperature alone", "by thermometer", "Write: ph=7.4 by drops temp=37 by thermometer.") : 0;
    for (size_t i = 0; i < sizeof WARM / sizeof *WARM; i++)
        if (tw_units_text_is(*tool, WARM[i]))
            return 0;
    *tool = tw_units_text(WARM[0]);
    return 0;
}

/* Fields that belong to every reading of the line. */
static int spread_context(tw_reader *r)
{
    for (size_t i = 0; i < r->out->drafts; i++) {
        tw_draft *draft = &r->out->draft[i];
        for (size_t k = 0; draft->kind == TW_KIND_READING && k < r->out->context.n; k++)
            if (!tw_cli_reader_has(draft, r->out->context.field[k].field) &&
                tw_cli_reader_add(r, draft, r->out->context.field[k].field, r->out->context.field[k].value))
                return 1;
        if (settle_instrument(r, draft))
            return 1;
        if (r->out->remark.n > 0 && tw_cli_reader_add_named(r, draft, "remark", r->out->remark))
            return 1;
    }
    return 0;
}

int tw_cli_words_read(size_t n, const char *const *word, tw_time now, tw_words *out)
{
    tw_reader r = {.n = n, .i = 0, .word = word, .now = now, .out = out, .cur = NULL};
    memset(out, 0, sizeof *out);
    out->at = now;
    out->outcome = -1;
    while (r.i < n) {
        const char *typed = word[r.i];
        const tw_log_word *row = tw_cli_reader_log_word(typed);
        int bad = 0;
        if (is_ago(&r)) {
            bad = read_before_now(&r);
        } else if (row != NULL) {
            r.i++;
            bad = tw_cli_read_word(&r, row);
        } else if (tw_cli_reader_begins(typed)) {
            r.i++;
            bad = tw_cli_read_pair(&r, typed);
        } else if (tw_cli_reader_kind_named(typed) < TW_KINDS) {
            r.i++;
            bad = tw_cli_read_kind(&r, tw_cli_reader_kind_named(typed));
        } else {
            bad = tw_cli_reader_fail(&r, "not understood", typed, "See tubwright log --words.");
        }
        if (bad)
            return 1;
    }
    return spread_context(&r);
}

int tw_cli_words_split(const char *line, char *room, size_t cap, const char **word, size_t most)
{
    size_t used = 0;
    size_t count = 0;
    while (*line != '\0') {
        while (*line == ' ' || *line == '\t')
            line++;
        if (*line == '\0')
            break;
        if (count == most)
            return -1;
        word[count++] = room + used;
        char quote = 0;
        for (; *line != '\0' && (quote != 0 || (*line != ' ' && *line != '\t')); line++) {
            const int opens = *line == '"' || (*line == '\'' && (quote == '\'' || used == (size_t)(word[count - 1] - room) || line[-1] == '='));
            if (quote != 0 && *line == quote) {
                quote = 0;
                continue;
            }
            if (quote == 0 && opens) {
                quote = *line;
                continue;
            }
            if (*line == '\\' && line[1] != '\0')
                line++;
            if (used + 1 >= cap)
                return -1;
            room[used++] = *line;
        }
        if (quote != 0 || used + 1 >= cap)
            return -1;
        room[used++] = '\0';
    }
    return (int)count;
}
