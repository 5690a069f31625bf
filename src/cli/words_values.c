/* cli/words_values.c: name=value: a reading, a setting, or a field of what was begun. */
#include <string.h>

#include "cli/clock.h"
#include "cli/substance.h"
#include "cli/words_reader.h"
#include "logbook/entry.h"

/* ---- readings ---------------------------------------------------------------------------------- */

static int add_value(tw_reader *r, tw_draft *draft, const char *field, tw_text number, tw_text unit, tw_unit fallback)
{
    int bad = tw_cli_reader_add_named(r, draft, field, number);
    if (!bad && !tw_cli_reader_has(draft, (tw_text){"unit", 4}))
        bad = tw_cli_reader_add_named(r, draft, "unit", unit.n > 0 ? unit : tw_units_text(tw_units_row(fallback)->word));
    return bad;
}

/* The two ends of "6.9..7.3" or "60-120", or 0. */
static int two_ends(tw_text value, tw_text *low, tw_text *high)
{
    const size_t n = tw_cli_reader_number_length(value);
    size_t gap = 0;
    if (n > 0 && n + 1 < value.n && value.at[n] == '.' && value.at[n + 1] == '.')
        gap = 2;
    else if (n > 0 && n + 1 < value.n && value.at[n] == '-' && tw_cli_reader_is_digit(value.at[n + 1]))
        gap = 1;
    if (gap == 0)
        return 0;
    *low = tw_units_text_part(value, 0, n);
    *high = tw_cli_reader_part_from(value, n + gap);
    return 1;
}

static int read_reading(tw_reader *r, int analyte, tw_text value)
{
    const tw_unit unit = tw_logbook_analyte(analyte)->default_unit;
    tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_READING);
    tw_text low;
    tw_text high;
    if (draft == NULL || tw_cli_reader_add_named(r, draft, "analyte", tw_units_text(tw_logbook_word_name(TW_SET_ANALYTE, analyte))))
        return 1;
    value = tw_cli_reader_unblank(value);
    if (value.n == 0)
        return tw_cli_reader_fail(r, "no value", tw_logbook_word_name(TW_SET_ANALYTE, analyte),
                    "Write the value, - for not tested, ? for cannot be read.");
    if (tw_units_text_is(value, "-") || tw_units_text_is(value, "not-done"))
        return tw_cli_reader_add_named(r, draft, "form", (tw_text){"not-done", 8});
    if (tw_units_text_is(value, "?") || tw_units_text_is(value, "unreadable"))
        return tw_cli_reader_add_named(r, draft, "form", (tw_text){"unreadable", 10});
    if (value.at[value.n - 1] == '?') {
        value = tw_cli_reader_unblank((tw_text){value.at, value.n - 1});
        if (tw_cli_reader_add_named(r, draft, "doubt", (tw_text){"other", 5}))
            return 1;
    }
    if (value.at[0] == '<' || value.at[0] == '>') {
        const int below = value.at[0] == '<';
        value = tw_cli_reader_unblank(tw_cli_reader_part_from(value, 1));
        const size_t n = tw_cli_reader_number_length(value);
        return tw_cli_reader_add_named(r, draft, "form", below ? (tw_text){"below", 5} : (tw_text){"above", 5}) ||
               add_value(r, draft, "value", tw_units_text_part(value, 0, n), tw_cli_reader_unblank(tw_cli_reader_part_from(value, n)), unit);
    }
    if (two_ends(value, &low, &high)) {
        const size_t n = tw_cli_reader_number_length(high);
        return tw_cli_reader_add_named(r, draft, "form", (tw_text){"between", 7}) || tw_cli_reader_add_named(r, draft, "value", low) ||
               add_value(r, draft, "high", tw_units_text_part(high, 0, n), tw_cli_reader_unblank(tw_cli_reader_part_from(high, n)), unit);
    }
    const size_t n = tw_cli_reader_number_length(value);
    return tw_cli_reader_add_named(r, draft, "form", (tw_text){"value", 5}) ||
           add_value(r, draft, "value", n > 0 ? tw_units_text_part(value, 0, n) : value,
                     n > 0 ? tw_cli_reader_unblank(tw_cli_reader_part_from(value, n)) : (tw_text){"", 0}, unit);
}

static int read_setting(tw_reader *r, int what, tw_text value)
{
    tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_SETTING);
    if (draft == NULL || tw_cli_reader_add_named(r, draft, "what", tw_units_text(tw_logbook_word_name(TW_SET_SETTING, what))))
        return 1;
    if (!tw_logbook_settings[what].number)
        return tw_cli_reader_add_named(r, draft, "state", value);
    const size_t n = tw_cli_reader_number_length(value);
    tw_text unit = tw_cli_reader_unblank(tw_cli_reader_part_from(value, n));
    if (unit.n > 2 && tw_units_text_is(tw_cli_reader_part_from(unit, unit.n - 2), "/d"))
        unit.n -= 2; /* hours a day are written as hours */
    return add_value(r, draft, "value", tw_units_text_part(value, 0, n), unit, tw_logbook_settings[what].default_unit);
}

/* ---- name=value -------------------------------------------------------------------------------- */

/* Fields are typed with - or _; some have a shorter name. */
static tw_field field_typed(tw_reader *r, tw_text name)
{
    char buf[64];
    const tw_text full = tw_cli_reader_alias("field", name);
    if (full.n > sizeof buf)
        return TW_FIELDS;
    for (size_t i = 0; i < full.n; i++)
        buf[i] = full.at[i] == '-' ? '_' : full.at[i];
    (void)r;
    return tw_logbook_find_field((tw_text){buf, full.n});
}

const tw_field_row *tw_cli_reader_own_row(tw_kind kind, tw_field field)
{
    const tw_field_row *row = field < TW_FIELDS ? tw_logbook_field_row(kind, field) : NULL;
    return row != NULL && row->kind == kind ? row : NULL;
}

/* A field of an entry: a decimal brings its unit along, a percent sign or a time is put in form. */
int tw_cli_reader_set(tw_reader *r, tw_draft *draft, const tw_field_row *row, tw_text value)
{
    const tw_text name = tw_units_text(tw_logbook_field_name(row->field));
    if (value.n == 0)
        return tw_cli_reader_fail(r, "no value", tw_logbook_field_name(row->field), row->allowed);
    if (row->type == TW_TYPE_TIME) {
        char text[TW_TIME_BYTES];
        tw_time time;
        if (tw_cli_time_typed(value, r->now, &time) != TW_OK || tw_units_time_write(time, text, sizeof text) != TW_OK)
            return tw_cli_reader_add(r, draft, name, value); /* the check says what is wrong with it */
        return tw_cli_reader_add(r, draft, name, tw_cli_reader_keep(r, text, TW_TIME_CHARS));
    }
    if (row->field == TW_FIELD_SUBSTANCE) {
        char id[64];
        const size_t known = tw_cli_substance(value, id, sizeof id);
        return tw_cli_reader_add(r, draft, name, known > 0 ? tw_cli_reader_keep(r, id, known) : value);
    }
    if (row->type != TW_TYPE_DECIMAL && row->type != TW_TYPE_COUNT)
        return tw_cli_reader_add(r, draft, name, value);
    const size_t n = tw_cli_reader_number_length(value);
    const tw_text number = n > 0 ? tw_units_text_part(value, 0, n) : value;
    tw_text unit = n > 0 ? tw_cli_reader_unblank(tw_cli_reader_part_from(value, n)) : (tw_text){"", 0};
    if (row->unit >= TW_FIELDS) {
        if (tw_units_text_is(unit, "%") || tw_units_text_is(unit, "pct"))
            unit.n = 0;
        return tw_cli_reader_add(r, draft, name, unit.n > 0 ? value : number);
    }
    const tw_text unit_name = tw_units_text(tw_logbook_field_name(row->unit));
    if (tw_cli_reader_add(r, draft, name, number))
        return 1;
    return unit.n > 0 && !tw_cli_reader_has(draft, unit_name) ? tw_cli_reader_add(r, draft, unit_name, unit) : 0;
}

int tw_cli_read_pair(tw_reader *r, const char *typed)
{
    const char *equals = strchr(typed, '=');
    const tw_text name = {typed, (size_t)(equals - typed)};
    const tw_text value = tw_cli_reader_unblank(tw_units_text(equals + 1));
    const tw_field field = field_typed(r, name);
    if (r->cur != NULL && r->cur->kind != TW_KIND_READING) {
        const tw_field_row *row = tw_cli_reader_own_row(r->cur->kind, field);
        if (row == NULL)
            row = tw_cli_reader_own_row(r->cur->kind, tw_logbook_find_field(name));
        if (row != NULL)
            return tw_cli_reader_set(r, r->cur, row, value);
    }
    const int analyte = tw_logbook_find_word(TW_SET_ANALYTE, tw_cli_reader_alias("analyte", name));
    const int setting = tw_logbook_find_word(TW_SET_SETTING, tw_cli_reader_alias("setting", name));
    if (setting >= 0 && setting != TW_SETTING_TEMPERATURE)
        return read_setting(r, setting, value);
    if (setting >= 0 && !tw_units_text_is(name, "temperature"))
        return read_setting(r, setting, value);
    if (analyte >= 0)
        return read_reading(r, analyte, value);
    if (tw_units_text_is(name, "at")) {
        r->out->at_given = 1;
        const tw_status status = tw_cli_time_typed(value, r->now, &r->out->at);
        return status == TW_OK ? 0 : tw_cli_reader_fail(r, "the time is not understood", typed, tw_cli_time_instead(status));
    }
    if (tw_units_text_is(name, "volume") || tw_units_text_is(name, "bathers")) {
        const tw_kind kind = tw_cli_reader_kind_named(tw_units_text_is(name, "volume") ? "volume" : "bathers");
        const char *first = kind == TW_KIND_VOLUME ? "volume" : "count";
        return tw_cli_reader_begin(r, kind) == NULL || tw_cli_reader_set(r, r->cur, tw_cli_reader_own_row(kind, tw_logbook_find_field(tw_units_text(first))), value);
    }
    const tw_field_row *row = tw_cli_reader_own_row(TW_KIND_READING, field);
    if (row != NULL)
        return tw_cli_reader_set(r, &r->out->context, row, value);
    return tw_cli_reader_fail(r, "not understood", typed, "See tubwright log --words.");
}
