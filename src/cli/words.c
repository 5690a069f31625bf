/* cli/words.c: the grammar of `log`, read from left to right. A word of data/log_words.csv begins
 * something; name=value adds a field to it, or is a reading or a setting by itself. */
#include "cli/words.h"

#include <stdio.h>
#include <string.h>

#include "cli/clock.h"
#include "cli/substance.h"
#include "gen/cli_words.h"
#include "logbook/entry.h"

typedef struct {
    size_t n, i;
    const char *const *word;
    tw_time now;
    tw_words *out;
    tw_draft *cur; /* what name=value adds to; NULL: nothing begun */
} reader;

static int fail(reader *r, const char *what, const char *word, const char *instead)
{
    (void)snprintf(r->out->problem, sizeof r->out->problem, "%s: %.80s. %s", what, word, instead);
    return 1;
}

static tw_text keep(reader *r, const char *bytes, size_t n)
{
    tw_words *out = r->out;
    if (n > sizeof out->room - out->used)
        n = sizeof out->room - out->used;
    memcpy(out->room + out->used, bytes, n);
    const tw_text kept = {out->room + out->used, n};
    out->used += n;
    return kept;
}

static const tw_log_word *log_word(const char *typed)
{
    for (int i = 0; i < TW_LOG_WORDS; i++)
        if (strcmp(tw_cli_log_words[i].word, typed) == 0)
            return &tw_cli_log_words[i];
    return NULL;
}

static tw_kind kind_named(const char *typed)
{
    return tw_logbook_find_kind(tw_units_text(typed));
}

/* 1 when this word begins something of its own, so that a phrase ends before it. */
static int begins(const char *typed)
{
    return log_word(typed) != NULL || (strchr(typed, '=') != NULL && typed[0] != '=');
}

static tw_text alias(const char *set, tw_text typed)
{
    for (int i = 0; i < TW_LOG_ALIASES; i++)
        if (strcmp(tw_cli_log_aliases[i].set, set) == 0 && tw_units_text_is(typed, tw_cli_log_aliases[i].typed))
            return tw_units_text(tw_cli_log_aliases[i].means);
    return typed;
}

static int add_field(reader *r, tw_draft *draft, tw_text field, tw_text value)
{
    if (draft->n == TW_DRAFT_FIELDS)
        return fail(r, "too many fields", "in one entry", "Write them in two.");
    draft->field[draft->n++] = (tw_typed){field, value};
    return 0;
}

static int add_named(reader *r, tw_draft *draft, const char *field, tw_text value)
{
    return add_field(r, draft, tw_units_text(field), value);
}

static int has_field(const tw_draft *draft, tw_text field)
{
    for (size_t i = 0; i < draft->n; i++)
        if (tw_units_text_equal(draft->field[i].field, field))
            return 1;
    return 0;
}

static tw_draft *begin(reader *r, tw_kind kind)
{
    if (r->out->drafts == TW_DRAFTS) {
        (void)fail(r, "too many entries", "in one line", "Write them in two lines.");
        return NULL;
    }
    tw_draft *draft = &r->out->draft[r->out->drafts++];
    draft->kind = kind;
    draft->n = 0;
    r->cur = draft;
    return draft;
}

static int is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Bytes of a number at the start of a text: digits, point, comma, sign. */
static size_t number_length(tw_text text)
{
    size_t n = 0;
    while (n < text.n && (is_digit(text.at[n]) || text.at[n] == '.' || text.at[n] == ',' ||
                          ((text.at[n] == '-' || text.at[n] == '+') && n == 0)))
        n++;
    while (n > 0 && text.at[n - 1] == '.' && n + 1 < text.n && text.at[n] == '.')
        n--; /* "6.9..7.3": the dots between are not of the number */
    for (size_t i = 0; i + 1 < n; i++)
        if (text.at[i] == '.' && text.at[i + 1] == '.')
            return i;
    return n;
}

static tw_text part_from(tw_text text, size_t from)
{
    return tw_units_text_part(text, from, text.n - from);
}

static tw_text unblank(tw_text text)
{
    while (text.n > 0 && text.at[0] == ' ')
        text = part_from(text, 1);
    while (text.n > 0 && text.at[text.n - 1] == ' ')
        text.n--;
    return text;
}

/* ---- readings ---------------------------------------------------------------------------------- */

static int add_value(reader *r, tw_draft *draft, const char *field, tw_text number, tw_text unit, tw_unit fallback)
{
    int bad = add_named(r, draft, field, number);
    if (!bad && !has_field(draft, (tw_text){"unit", 4}))
        bad = add_named(r, draft, "unit", unit.n > 0 ? unit : tw_units_text(tw_units_row(fallback)->word));
    return bad;
}

/* The two ends of "6.9..7.3" or "60-120", or 0. */
static int two_ends(tw_text value, tw_text *low, tw_text *high)
{
    const size_t n = number_length(value);
    size_t gap = 0;
    if (n > 0 && n + 1 < value.n && value.at[n] == '.' && value.at[n + 1] == '.')
        gap = 2;
    else if (n > 0 && n + 1 < value.n && value.at[n] == '-' && is_digit(value.at[n + 1]))
        gap = 1;
    if (gap == 0)
        return 0;
    *low = tw_units_text_part(value, 0, n);
    *high = part_from(value, n + gap);
    return 1;
}

static int read_reading(reader *r, int analyte, tw_text value)
{
    const tw_unit unit = tw_logbook_analyte(analyte)->default_unit;
    tw_draft *draft = begin(r, TW_KIND_READING);
    tw_text low;
    tw_text high;
    if (draft == NULL || add_named(r, draft, "analyte", tw_units_text(tw_logbook_word_name(TW_SET_ANALYTE, analyte))))
        return 1;
    value = unblank(value);
    if (value.n == 0)
        return fail(r, "no value", tw_logbook_word_name(TW_SET_ANALYTE, analyte),
                    "Write the value, - for not tested, ? for cannot be read.");
    if (tw_units_text_is(value, "-") || tw_units_text_is(value, "not-done"))
        return add_named(r, draft, "form", (tw_text){"not-done", 8});
    if (tw_units_text_is(value, "?") || tw_units_text_is(value, "unreadable"))
        return add_named(r, draft, "form", (tw_text){"unreadable", 10});
    if (value.at[value.n - 1] == '?') {
        value = unblank((tw_text){value.at, value.n - 1});
        if (add_named(r, draft, "doubt", (tw_text){"other", 5}))
            return 1;
    }
    if (value.at[0] == '<' || value.at[0] == '>') {
        const int below = value.at[0] == '<';
        value = unblank(part_from(value, 1));
        const size_t n = number_length(value);
        return add_named(r, draft, "form", below ? (tw_text){"below", 5} : (tw_text){"above", 5}) ||
               add_value(r, draft, "value", tw_units_text_part(value, 0, n), unblank(part_from(value, n)), unit);
    }
    if (two_ends(value, &low, &high)) {
        const size_t n = number_length(high);
        return add_named(r, draft, "form", (tw_text){"between", 7}) || add_named(r, draft, "value", low) ||
               add_value(r, draft, "high", tw_units_text_part(high, 0, n), unblank(part_from(high, n)), unit);
    }
    const size_t n = number_length(value);
    return add_named(r, draft, "form", (tw_text){"value", 5}) ||
           add_value(r, draft, "value", n > 0 ? tw_units_text_part(value, 0, n) : value,
                     n > 0 ? unblank(part_from(value, n)) : (tw_text){"", 0}, unit);
}

static int read_setting(reader *r, int what, tw_text value)
{
    tw_draft *draft = begin(r, TW_KIND_SETTING);
    if (draft == NULL || add_named(r, draft, "what", tw_units_text(tw_logbook_word_name(TW_SET_SETTING, what))))
        return 1;
    if (!tw_logbook_settings[what].number)
        return add_named(r, draft, "state", value);
    const size_t n = number_length(value);
    tw_text unit = unblank(part_from(value, n));
    if (unit.n > 2 && tw_units_text_is(part_from(unit, unit.n - 2), "/d"))
        unit.n -= 2; /* hours a day are written as hours */
    return add_value(r, draft, "value", tw_units_text_part(value, 0, n), unit, tw_logbook_settings[what].default_unit);
}

/* ---- name=value -------------------------------------------------------------------------------- */

/* Fields are typed with - or _; some have a shorter name. */
static tw_field field_typed(reader *r, tw_text name)
{
    char buf[64];
    const tw_text full = alias("field", name);
    if (full.n > sizeof buf)
        return TW_FIELDS;
    for (size_t i = 0; i < full.n; i++)
        buf[i] = full.at[i] == '-' ? '_' : full.at[i];
    (void)r;
    return tw_logbook_find_field((tw_text){buf, full.n});
}

static const tw_field_row *own_row(tw_kind kind, tw_field field)
{
    const tw_field_row *row = field < TW_FIELDS ? tw_logbook_field_row(kind, field) : NULL;
    return row != NULL && row->kind == kind ? row : NULL;
}

/* A field of an entry: a decimal brings its unit along, a percent sign or a time is put in form. */
static int set_field(reader *r, tw_draft *draft, const tw_field_row *row, tw_text value)
{
    const tw_text name = tw_units_text(tw_logbook_field_name(row->field));
    if (value.n == 0)
        return fail(r, "no value", tw_logbook_field_name(row->field), row->allowed);
    if (row->type == TW_TYPE_TIME) {
        char text[TW_TIME_BYTES];
        tw_time time;
        if (tw_cli_time_typed(value, r->now, &time) != TW_OK || tw_units_time_write(time, text, sizeof text) != TW_OK)
            return add_field(r, draft, name, value); /* the check says what is wrong with it */
        return add_field(r, draft, name, keep(r, text, TW_TIME_CHARS));
    }
    if (row->field == TW_FIELD_SUBSTANCE) {
        char id[64];
        const size_t known = tw_cli_substance(value, id, sizeof id);
        return add_field(r, draft, name, known > 0 ? keep(r, id, known) : value);
    }
    if (row->type != TW_TYPE_DECIMAL && row->type != TW_TYPE_COUNT)
        return add_field(r, draft, name, value);
    const size_t n = number_length(value);
    const tw_text number = n > 0 ? tw_units_text_part(value, 0, n) : value;
    tw_text unit = n > 0 ? unblank(part_from(value, n)) : (tw_text){"", 0};
    if (row->unit >= TW_FIELDS) {
        if (tw_units_text_is(unit, "%") || tw_units_text_is(unit, "pct"))
            unit.n = 0;
        return add_field(r, draft, name, unit.n > 0 ? value : number);
    }
    const tw_text unit_name = tw_units_text(tw_logbook_field_name(row->unit));
    if (add_field(r, draft, name, number))
        return 1;
    return unit.n > 0 && !has_field(draft, unit_name) ? add_field(r, draft, unit_name, unit) : 0;
}

static int read_pair(reader *r, const char *typed)
{
    const char *equals = strchr(typed, '=');
    const tw_text name = {typed, (size_t)(equals - typed)};
    const tw_text value = unblank(tw_units_text(equals + 1));
    const tw_field field = field_typed(r, name);
    if (r->cur != NULL && r->cur->kind != TW_KIND_READING) {
        const tw_field_row *row = own_row(r->cur->kind, field);
        if (row == NULL)
            row = own_row(r->cur->kind, tw_logbook_find_field(name));
        if (row != NULL)
            return set_field(r, r->cur, row, value);
    }
    const int analyte = tw_logbook_find_word(TW_SET_ANALYTE, alias("analyte", name));
    const int setting = tw_logbook_find_word(TW_SET_SETTING, alias("setting", name));
    if (setting >= 0 && setting != TW_SETTING_TEMPERATURE)
        return read_setting(r, setting, value);
    if (setting >= 0 && !tw_units_text_is(name, "temperature"))
        return read_setting(r, setting, value);
    if (analyte >= 0)
        return read_reading(r, analyte, value);
    if (tw_units_text_is(name, "at")) {
        r->out->at_given = 1;
        return tw_cli_time_typed(value, r->now, &r->out->at) == TW_OK ? 0
               : fail(r, "the time is not understood", typed, "Write at 10:30, or at 'Mon 10:30'.");
    }
    if (tw_units_text_is(name, "volume") || tw_units_text_is(name, "bathers")) {
        const tw_kind kind = kind_named(tw_units_text_is(name, "volume") ? "volume" : "bathers");
        const char *first = kind == TW_KIND_VOLUME ? "volume" : "count";
        return begin(r, kind) == NULL || set_field(r, r->cur, own_row(kind, tw_logbook_find_field(tw_units_text(first))), value);
    }
    const tw_field_row *row = own_row(TW_KIND_READING, field);
    if (row != NULL)
        return set_field(r, &r->out->context, row, value);
    return fail(r, "not understood", typed, "See tubwright log --words.");
}

/* ---- phrases ----------------------------------------------------------------------------------- */

static const char *next_word(reader *r)
{
    return r->i < r->n ? r->word[r->i++] : NULL;
}

/* The words up to the next that begins something, with single blanks between. */
static tw_text phrase(reader *r)
{
    const size_t from = r->out->used;
    while (r->i < r->n && !begins(r->word[r->i])) {
        if (r->out->used > from)
            (void)keep(r, " ", 1);
        (void)keep(r, r->word[r->i], strlen(r->word[r->i]));
        r->i++;
    }
    return (tw_text){r->out->room + from, r->out->used - from};
}

/* "97 g", "97g": number and unit. 0: there is none. */
static int read_amount(reader *r, tw_text *number, tw_text *unit)
{
    if (r->i >= r->n || !is_digit(r->word[r->i][0]))
        return 0;
    const tw_text typed = tw_units_text(r->word[r->i++]);
    const size_t n = number_length(typed);
    *number = tw_units_text_part(typed, 0, n);
    *unit = part_from(typed, n);
    if (unit->n == 0 && r->i < r->n && !begins(r->word[r->i]) && !is_digit(r->word[r->i][0]))
        *unit = tw_units_text(r->word[r->i++]);
    return 1;
}

static int add_presets(reader *r, tw_draft *draft, const char *preset)
{
    while (*preset != '\0') {
        const size_t n = strcspn(preset, " ");
        const size_t name = strcspn(preset, "=");
        if (name + 1 < n && strncmp(preset, "kind=", 5) != 0 &&
            add_field(r, draft, (tw_text){preset, name}, (tw_text){preset + name + 1, n - name - 1}))
            return 1;
        preset += n + (preset[n] == ' ');
    }
    return 0;
}

/* Fields of a preset that wait for a value ("job= state="), in order. */
static tw_text open_field(const char *preset, int index)
{
    while (*preset != '\0') {
        const size_t n = strcspn(preset, " ");
        if (preset[n - 1] == '=' && index-- == 0)
            return (tw_text){preset, n - 1};
        preset += n + (preset[n] == ' ');
    }
    return (tw_text){"", 0};
}

static tw_kind preset_kind(const tw_log_word *row)
{
    const size_t n = strcspn(row->preset, " ");
    return strncmp(row->preset, "kind=", 5) == 0 ? tw_logbook_find_kind((tw_text){row->preset + 5, n - 5}) : TW_KINDS;
}

/* "97 g dry acid 93%" or "dry-acid=97g". */
static int read_dose(reader *r, tw_kind kind)
{
    tw_text number = {"", 0};
    tw_text unit = {"", 0};
    tw_text name = {"", 0};
    tw_text strength = {"", 0};
    if (!read_amount(r, &number, &unit)) {
        const char *typed = next_word(r);
        const char *equals = typed != NULL ? strchr(typed, '=') : NULL;
        if (equals == NULL)
            return fail(r, "how much of what", typed != NULL ? typed : "", "Write: added 97 g dry acid.");
        const tw_text amount = tw_units_text(equals + 1);
        const size_t n = number_length(amount);
        name = (tw_text){typed, (size_t)(equals - typed)};
        number = tw_units_text_part(amount, 0, n);
        unit = part_from(amount, n);
    } else {
        name = phrase(r);
        const size_t last = name.n > 0 && name.at[name.n - 1] == '%' ? 1 : 0;
        if (last) { /* the strength stands at the end */
            size_t from = name.n;
            while (from > 0 && name.at[from - 1] != ' ')
                from--;
            strength = tw_units_text_part(name, from, name.n - 1 - from);
            name = unblank(tw_units_text_part(name, 0, from));
            if (strength.n == 0) { /* "12 %" */
                from = name.n;
                while (from > 0 && name.at[from - 1] != ' ')
                    from--;
                strength = part_from(name, from);
                name = unblank(tw_units_text_part(name, 0, from));
            }
        }
    }
    if (name.n == 0)
        return fail(r, "of what", r->i > 0 ? r->word[r->i - 1] : "", "Write: added 97 g dry acid.");
    tw_draft *draft = begin(r, kind);
    if (draft != NULL && (tw_units_text_is(unit, "scoop") || tw_units_text_is(unit, "scoops")))
        return add_named(r, draft, "amount", number) || add_named(r, draft, "amount_unit", (tw_text){"1", 1}) ||
               add_named(r, draft, "measured", (tw_text){"scoop", 5}) || add_named(r, draft, "scoop", name);
    char id[64];
    const size_t n = tw_cli_substance(name, id, sizeof id);
    int bad = draft == NULL || add_named(r, draft, "substance", n > 0 ? keep(r, id, n) : name) ||
              add_named(r, draft, "amount", number);
    if (!bad && unit.n > 0)
        bad = add_named(r, draft, "amount_unit", unit);
    if (!bad && strength.n > 0)
        bad = add_named(r, draft, "strength", strength);
    if (!bad && kind == TW_KIND_INTENT)
        bad = add_named(r, draft, "act", (tw_text){"add", 3});
    return bad;
}

static int read_outcome(reader *r, const tw_log_word *row)
{
    const char *word = row->preset + strlen("outcome=");
    if (r->out->outcome >= 0)
        return fail(r, "two answers in one line", row->word, "Answer one act at a time.");
    r->out->outcome = tw_logbook_find_word(TW_SET_OUTCOME, tw_units_text(word));
    if (read_amount(r, &r->out->amount, &r->out->unit) && r->out->outcome == TW_OUTCOME_DONE)
        r->out->outcome = TW_OUTCOME_DONE_DIFFERENTLY;
    r->out->reason = phrase(r);
    return 0;
}

static int read_exchange(reader *r, const tw_log_word *row)
{
    tw_text number;
    tw_text unit;
    tw_draft *draft = begin(r, TW_KIND_EXCHANGE);
    if (draft == NULL || add_presets(r, draft, row->preset))
        return 1;
    if (!read_amount(r, &number, &unit))
        return 0; /* how much is not known; in= and out= may follow */
    for (int i = 0; open_field(row->preset, i).n > 0; i++)
        if (add_field(r, draft, open_field(row->preset, i), number))
            return 1;
    return unit.n > 0 ? add_named(r, draft, "volume_unit", unit) : 0;
}

static int read_bathers(reader *r)
{
    tw_draft *draft = begin(r, TW_KIND_BATHERS);
    const char *count = next_word(r);
    if (draft == NULL || count == NULL || add_named(r, draft, "count", tw_units_text(count)))
        return count == NULL ? fail(r, "how many", "bathers", "Write: bathers 2 for 20 min.") : 1;
    if (r->i < r->n && strcmp(r->word[r->i], "for") == 0)
        r->i++;
    if (r->i < r->n && is_digit(r->word[r->i][0])) {
        const tw_text minutes = tw_units_text(r->word[r->i++]);
        if (r->i < r->n && strncmp(r->word[r->i], "min", 3) == 0)
            r->i++;
        return add_named(r, draft, "minutes", tw_units_text_part(minutes, 0, number_length(minutes)));
    }
    return 0;
}

/* "at 10:30", "at Mon 10:30", "at 2026-03-24 10:30". */
static int read_at(reader *r)
{
    char both[96];
    const char *one = next_word(r);
    r->out->at_given = 1;
    if (one != NULL && tw_cli_time_typed(tw_units_text(one), r->now, &r->out->at) == TW_OK)
        return 0;
    if (one != NULL && r->i < r->n) {
        (void)snprintf(both, sizeof both, "%s %s", one, r->word[r->i]);
        if (tw_cli_time_typed(tw_units_text(both), r->now, &r->out->at) == TW_OK) {
            r->i++;
            return 0;
        }
    }
    return fail(r, "the time is not understood", one != NULL ? one : "", "Write: at 10:30, or: at Mon 10:30.");
}

/* "by strips", and after a volume "by clock". */
static int read_by(reader *r)
{
    const char *typed = next_word(r);
    if (typed == NULL)
        return fail(r, "by what", "", "Write: by strips.");
    const tw_text word = tw_units_text(typed);
    if (r->cur != NULL && r->cur->kind == TW_KIND_VOLUME && !has_field(r->cur, (tw_text){"method", 6}))
        return add_named(r, r->cur, "method", word);
    const int tool = tw_logbook_find_word(TW_SET_INSTRUMENT, alias("instrument", word));
    if (tool < 0)
        return fail(r, "no such instrument", typed, "Write by strips, drops, photometer, meter, lab, display or eye.");
    return add_named(r, &r->out->context, "instrument", tw_units_text(tw_logbook_word_name(TW_SET_INSTRUMENT, tool)));
}

/* "of hose": of water let in, or of what the readings of this line are. */
static int read_of(reader *r)
{
    const char *typed = next_word(r);
    if (typed == NULL)
        return fail(r, "of what", "", "Write: of hose.");
    if (r->cur != NULL && r->cur->kind == TW_KIND_EXCHANGE)
        return add_named(r, r->cur, "source", tw_units_text(typed));
    return add_named(r, &r->out->context, "source", tw_units_text(typed)) ||
           add_named(r, &r->out->context, "point", (tw_text){"source", 6});
}

static int read_text(reader *r, const tw_log_word *row, tw_kind kind)
{
    tw_draft *draft = begin(r, kind);
    const tw_text words = phrase(r);
    if (draft == NULL)
        return 1;
    if (kind == TW_KIND_SYMPTOM && tw_logbook_find_word(TW_SET_SYMPTOM, words) >= 0 && add_named(r, draft, "symptom", words))
        return 1;
    return add_field(r, draft, open_field(row->preset, 0), words);
}

/* "bromine=no": the question before the sign, yes, no or unknown behind it. */
static int is_reply(const char *typed)
{
    const char *equals = strchr(typed, '=');
    return equals != NULL && tw_logbook_find_word(TW_SET_YES_NO_UNKNOWN, tw_units_text(equals + 1)) >= 0;
}

static int read_reply(reader *r)
{
    size_t replies = 0;
    while (r->i < r->n && (replies == 0 || is_reply(r->word[r->i]))) {
        const char *typed = r->word[r->i++];
        const char *equals = strchr(typed, '=');
        tw_draft *draft = begin(r, TW_KIND_REPLY);
        if (equals == NULL)
            return fail(r, "which question", typed, "Write: reply bromine=no.");
        if (draft == NULL || add_named(r, draft, "question", (tw_text){typed, (size_t)(equals - typed)}) ||
            add_named(r, draft, "reply", tw_units_text(equals + 1)))
            return 1;
        replies++;
    }
    return replies > 0 ? 0 : fail(r, "which question", "", "Write: reply bromine=no.");
}

static int read_void(reader *r)
{
    const char *typed = next_word(r);
    if (typed == NULL)
        return fail(r, "which entry", "", "Write: void last, or its id.");
    r->out->voids = tw_units_text(typed);
    r->out->reason = phrase(r);
    return 0;
}

static int read_fields_in_order(reader *r, const tw_log_word *row, tw_kind kind)
{
    tw_draft *draft = begin(r, kind);
    if (draft == NULL || add_presets(r, draft, row->preset))
        return 1;
    for (int i = 0; open_field(row->preset, i).n > 0; i++) {
        const char *typed = next_word(r);
        if (typed == NULL)
            return fail(r, "something is missing", row->word, row->example);
        if (add_field(r, draft, open_field(row->preset, i), tw_units_text(typed)))
            return 1;
    }
    return 0;
}

static int read_time_field(reader *r, tw_kind kind, const char *field)
{
    tw_draft *draft = begin(r, kind);
    const char *link = r->i < r->n ? r->word[r->i] : "";
    if (strcmp(link, "until") == 0 || strcmp(link, "by") == 0)
        r->i++;
    if (draft == NULL)
        return 1;
    if (r->i >= r->n || begins(r->word[r->i]))
        return 0;
    return set_field(r, draft, own_row(kind, tw_logbook_find_field(tw_units_text(field))), phrase(r));
}

static int read_volume(reader *r)
{
    tw_text number;
    tw_text unit;
    tw_draft *draft = begin(r, TW_KIND_VOLUME);
    if (draft == NULL || !read_amount(r, &number, &unit))
        return draft == NULL || fail(r, "how much", "volume", "Write: volume 1180 L by clock.");
    return add_named(r, draft, "volume", number) || (unit.n > 0 && add_named(r, draft, "volume_unit", unit));
}

static int read_ago(reader *r)
{
    (void)r;
    return fail(r, "a time before now", "ago", "Write: 20 min ago.");
}

static int read_word(reader *r, const tw_log_word *row)
{
    const tw_kind kind = preset_kind(row);
    switch (row->does) {
    case TW_LOG_BY: return read_by(r);
    case TW_LOG_AT: return read_at(r);
    case TW_LOG_AGO: return read_ago(r);
    case TW_LOG_OF: return read_of(r);
    case TW_LOG_DOSE: return read_dose(r, kind);
    case TW_LOG_INTENT:
        if (r->i >= r->n || begins(r->word[r->i])) {
            r->out->announces = 1;
            return 0;
        }
        return read_dose(r, TW_KIND_INTENT);
    case TW_LOG_ANSWER: return read_outcome(r, row);
    case TW_LOG_EXCHANGE: return read_exchange(r, row);
    case TW_LOG_TWO: case TW_LOG_PLAIN: return read_fields_in_order(r, row, kind);
    case TW_LOG_BATHERS: return read_bathers(r);
    case TW_LOG_VOLUME: return read_volume(r);
    case TW_LOG_UNTIL: return read_time_field(r, TW_KIND_POWER_CUT, "until");
    case TW_LOG_READY: return read_time_field(r, TW_KIND_READY_BY, "by_time");
    case TW_LOG_TEXT: return read_text(r, row, kind);
    case TW_LOG_REPLY: return read_reply(r);
    case TW_LOG_WAIVE: return read_fields_in_order(r, row, kind);
    case TW_LOG_REMARK: r->out->remark = phrase(r); return 0;
    case TW_LOG_VOID: return read_void(r);
    case TW_LOG_DOES: break;
    }
    return fail(r, "not understood", row->word, "See tubwright log --words.");
}

/* The name of a kind begins an entry of it; its first field may follow without a name. */
static int read_kind(reader *r, tw_kind kind)
{
    static const char *const FIRST[TW_KINDS] = {
        [TW_KIND_TUB] = "name", [TW_KIND_SOURCE] = "source", [TW_KIND_DEFINITION] = "defines"};
    tw_draft *draft = begin(r, kind);
    if (draft == NULL)
        return 1;
    if (FIRST[kind] != NULL && r->i < r->n && !begins(r->word[r->i]))
        return add_named(r, draft, FIRST[kind], phrase(r));
    return 0;
}

/* "20 min ago": a number, a unit and the word. */
static int is_ago(const reader *r)
{
    return is_digit(r->word[r->i][0]) && ((r->i + 2 < r->n && strcmp(r->word[r->i + 2], "ago") == 0) ||
                                          (r->i + 1 < r->n && strcmp(r->word[r->i + 1], "ago") == 0));
}

static int read_before_now(reader *r)
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
               ? 0 : fail(r, "the time is not understood", text, "Write: 20 min ago.");
}

/* Fields that belong to every reading of the line. */
static int spread_context(reader *r)
{
    for (size_t i = 0; i < r->out->drafts; i++) {
        tw_draft *draft = &r->out->draft[i];
        for (size_t k = 0; draft->kind == TW_KIND_READING && k < r->out->context.n; k++)
            if (!has_field(draft, r->out->context.field[k].field) &&
                add_field(r, draft, r->out->context.field[k].field, r->out->context.field[k].value))
                return 1;
        if (r->out->remark.n > 0 && add_named(r, draft, "remark", r->out->remark))
            return 1;
    }
    return 0;
}

int tw_cli_words_read(size_t n, const char *const *word, tw_time now, tw_words *out)
{
    reader r = {.n = n, .i = 0, .word = word, .now = now, .out = out, .cur = NULL};
    memset(out, 0, sizeof *out);
    out->at = now;
    out->outcome = -1;
    while (r.i < n) {
        const char *typed = word[r.i];
        const tw_log_word *row = log_word(typed);
        int bad = 0;
        if (is_ago(&r)) {
            bad = read_before_now(&r);
        } else if (row != NULL) {
            r.i++;
            bad = read_word(&r, row);
        } else if (begins(typed)) {
            r.i++;
            bad = read_pair(&r, typed);
        } else if (kind_named(typed) < TW_KINDS) {
            r.i++;
            bad = read_kind(&r, kind_named(typed));
        } else {
            bad = fail(&r, "not understood", typed, "See tubwright log --words.");
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
