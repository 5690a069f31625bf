/* cli/words_reader.c: see words_reader.h. */
#include "cli/words_reader.h"

#include <stdio.h>
#include <string.h>

#include "logbook/entry.h"

int tw_cli_reader_fail(tw_reader *r, const char *what, const char *word, const char *instead)
{
    (void)snprintf(r->out->problem, sizeof r->out->problem, "%s: %.80s. %s", what, word, instead);
    return 1;
}

tw_text tw_cli_reader_keep(tw_reader *r, const char *bytes, size_t n)
{
    tw_words *out = r->out;
    if (n > sizeof out->room - out->used)
        n = sizeof out->room - out->used;
    memcpy(out->room + out->used, bytes, n);
    const tw_text kept = {out->room + out->used, n};
    out->used += n;
    return kept;
}

const tw_log_word *tw_cli_reader_log_word(const char *typed)
{
    for (int i = 0; i < TW_LOG_WORDS; i++)
        if (strcmp(tw_cli_log_words[i].word, typed) == 0)
            return &tw_cli_log_words[i];
    return NULL;
}

tw_kind tw_cli_reader_kind_named(const char *typed)
{
    return tw_logbook_find_kind(tw_units_text(typed));
}

/* 1 when this word begins something of its own, so that a phrase ends before it. */
int tw_cli_reader_begins(const char *typed)
{
    return tw_cli_reader_log_word(typed) != NULL || (strchr(typed, '=') != NULL && typed[0] != '=');
}

tw_text tw_cli_reader_alias(const char *set, tw_text typed)
{
    for (int i = 0; i < TW_LOG_ALIASES; i++)
        if (strcmp(tw_cli_log_aliases[i].set, set) == 0 && tw_units_text_is(typed, tw_cli_log_aliases[i].typed))
            return tw_units_text(tw_cli_log_aliases[i].means);
    return typed;
}

int tw_cli_reader_add(tw_reader *r, tw_draft *draft, tw_text field, tw_text value)
{
    if (draft->n == TW_DRAFT_FIELDS)
        return tw_cli_reader_fail(r, "too many fields", "in one entry", "Write them in two.");
    draft->field[draft->n++] = (tw_typed){field, value};
    return 0;
}

int tw_cli_reader_add_named(tw_reader *r, tw_draft *draft, const char *field, tw_text value)
{
    return tw_cli_reader_add(r, draft, tw_units_text(field), value);
}

int tw_cli_reader_has(const tw_draft *draft, tw_text field)
{
    for (size_t i = 0; i < draft->n; i++)
        if (tw_units_text_equal(draft->field[i].field, field))
            return 1;
    return 0;
}

tw_draft *tw_cli_reader_begin(tw_reader *r, tw_kind kind)
{
    if (r->out->drafts == TW_DRAFTS) {
        (void)tw_cli_reader_fail(r, "too many entries", "in one line", "Write them in two lines.");
        return NULL;
    }
    tw_draft *draft = &r->out->draft[r->out->drafts++];
    draft->kind = kind;
    draft->n = 0;
    r->cur = draft;
    return draft;
}

int tw_cli_reader_is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Bytes of a number at the start of a text: digits, point, comma, sign. */
size_t tw_cli_reader_number_length(tw_text text)
{
    size_t n = 0;
    while (n < text.n && (tw_cli_reader_is_digit(text.at[n]) || text.at[n] == '.' || text.at[n] == ',' ||
                          ((text.at[n] == '-' || text.at[n] == '+') && n == 0)))
        n++;
    while (n > 0 && text.at[n - 1] == '.' && n + 1 < text.n && text.at[n] == '.')
        n--; /* "6.9..7.3": the dots between are not of the number */
    for (size_t i = 0; i + 1 < n; i++)
        if (text.at[i] == '.' && text.at[i + 1] == '.')
            return i;
    return n;
}

tw_text tw_cli_reader_part_from(tw_text text, size_t from)
{
    return tw_units_text_part(text, from, text.n - from);
}

tw_text tw_cli_reader_unblank(tw_text text)
{
    while (text.n > 0 && text.at[0] == ' ')
        text = tw_cli_reader_part_from(text, 1);
    while (text.n > 0 && text.at[text.n - 1] == ' ')
        text.n--;
    return text;
}

/* ---- phrases ----------------------------------------------------------------------------------- */

const char *tw_cli_reader_next(tw_reader *r)
{
    return r->i < r->n ? r->word[r->i++] : NULL;
}

/* The words up to the next that begins something, with single blanks between. */
tw_text tw_cli_reader_phrase(tw_reader *r)
{
    const size_t from = r->out->used;
    while (r->i < r->n && !tw_cli_reader_begins(r->word[r->i])) {
        if (r->out->used > from)
            (void)tw_cli_reader_keep(r, " ", 1);
        (void)tw_cli_reader_keep(r, r->word[r->i], strlen(r->word[r->i]));
        r->i++;
    }
    return (tw_text){r->out->room + from, r->out->used - from};
}

/* "97 g", "97g": number and unit. 0: there is none. */
int tw_cli_reader_amount(tw_reader *r, tw_text *number, tw_text *unit)
{
    if (r->i >= r->n || !tw_cli_reader_is_digit(r->word[r->i][0]))
        return 0;
    const tw_text typed = tw_units_text(r->word[r->i++]);
    const size_t n = tw_cli_reader_number_length(typed);
    *number = tw_units_text_part(typed, 0, n);
    *unit = tw_cli_reader_part_from(typed, n);
    if (unit->n == 0 && r->i < r->n && !tw_cli_reader_begins(r->word[r->i]) && !tw_cli_reader_is_digit(r->word[r->i][0]))
        *unit = tw_units_text(r->word[r->i++]);
    return 1;
}
