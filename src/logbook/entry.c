/* logbook/entry.c: looking into an entry. */
#include "logbook/entry.h"

#include <string.h>

#include "num/require.h"
#include "units/decimal.h"

_Static_assert(sizeof tw_logbook_field_rows / sizeof *tw_logbook_field_rows == TW_FIELD_ROWS, "one row a field");
_Static_assert(sizeof tw_logbook_analytes / sizeof *tw_logbook_analytes == TW_ANALYTE_WORDS, "one row an analyte");
_Static_assert(sizeof tw_logbook_settings / sizeof *tw_logbook_settings == TW_SETTING_WORDS, "one row a setting");

static const tw_pair *pair_of(const tw_entry *entry, tw_field field)
{
    if (field == TW_FIELDS)
        return NULL;
    for (uint32_t i = 0; i < entry->pairs; i++)
        if (entry->pair[i].field == field)
            return &entry->pair[i];
    return NULL;
}

int tw_logbook_has(const tw_entry *entry, tw_field field)
{
    return pair_of(entry, field) != NULL;
}

tw_text tw_logbook_text(const tw_entry *entry, tw_field field)
{
    const tw_text none = {"", 0};
    const tw_pair *pair = pair_of(entry, field);
    return pair ? pair->value : none;
}

const tw_field_row *tw_logbook_field_row(tw_kind kind, tw_field field)
{
    for (int i = 0; i < tw_logbook_field_from[0]; i++)
        if (tw_logbook_field_rows[i].field == field)
            return &tw_logbook_field_rows[i];
    if ((unsigned)kind < (unsigned)TW_KINDS)
        for (int i = tw_logbook_field_from[kind]; i < tw_logbook_field_from[kind + 1]; i++)
            if (tw_logbook_field_rows[i].field == field)
                return &tw_logbook_field_rows[i];
    return NULL;
}

/* Value of a decimal or count, NULL-safe for kinds and fields that are not known. */
static tw_status typed(const tw_entry *entry, tw_field field, double *out, int *decimals)
{
    const tw_pair *pair = pair_of(entry, field);
    if (!pair)
        return TW_ERR_MISSING;
    const tw_field_row *row = tw_logbook_field_row(entry->kind, field);
    if (!row || (row->type != TW_TYPE_DECIMAL && row->type != TW_TYPE_COUNT))
        return TW_ERR_FORMAT;
    return tw_units_decimal_read(pair->value, out, decimals) == TW_OK ? TW_OK : TW_ERR_FORMAT;
}

tw_status tw_logbook_number(const tw_entry *entry, tw_field field, double *out)
{
    return typed(entry, field, out, NULL);
}

int tw_logbook_decimals(const tw_entry *entry, tw_field field)
{
    double value;
    int decimals;
    return typed(entry, field, &value, &decimals) == TW_OK ? decimals : -1;
}

/* Where a reading of a plain number, such as pH, may leave its unit out. */
static int unit_may_lack(const tw_entry *entry, const tw_field_row *row)
{
    const int analyte = tw_logbook_word(entry, TW_FIELD_ANALYTE);
    return (row->measure == TW_MEASURE_BY_ANALYTE || row->measure == TW_MEASURE_BY_ANALYTE_STEP) && analyte >= 0
           && tw_logbook_analytes[analyte].quantity == TW_QUANTITY_NUMBER;
}

tw_status tw_logbook_unit(const tw_entry *entry, tw_field field, tw_unit *out)
{
    const tw_field_row *row = tw_logbook_field_row(entry->kind, field);
    if (!row || row->unit == TW_FIELDS)
        return TW_ERR_MISSING;
    const tw_pair *pair = pair_of(entry, row->unit);
    if (!pair) {
        if (!unit_may_lack(entry, row))
            return TW_ERR_MISSING;
        *out = tw_logbook_analytes[tw_logbook_word(entry, TW_FIELD_ANALYTE)].default_unit;
        return TW_OK;
    }
    return tw_units_find(pair->value, out) == TW_OK ? TW_OK : TW_ERR_UNKNOWN;
}

tw_status tw_logbook_si(const tw_entry *entry, tw_field field, double *inside)
{
    double value;
    tw_status status = typed(entry, field, &value, NULL);
    if (status != TW_OK)
        return status;
    const tw_field_row *row = tw_logbook_field_row(entry->kind, field);
    if (row->measure == TW_MEASURE_PERCENT)
        value /= 100.0;
    if (row->unit == TW_FIELDS) {
        *inside = value;
        return TW_OK;
    }
    tw_unit unit;
    status = tw_logbook_unit(entry, field, &unit);
    if (status != TW_OK)
        return status;
    if (row->measure == TW_MEASURE_BY_ANALYTE_STEP) {
        *inside = tw_units_inside_difference(unit, value);
        return TW_OK;
    }
    value = tw_units_inside(unit, value);
    if (row->measure == TW_MEASURE_BY_SETTING && tw_units_row(unit)->quantity == TW_QUANTITY_DURATION)
        value /= 24.0; /* hours a day */
    *inside = value;
    return TW_OK;
}

int tw_logbook_find_word(tw_set set, tw_text name)
{
    TW_REQUIRE((unsigned)set < (unsigned)TW_SETS);
    const tw_set_row *row = &tw_logbook_sets[set];
    if (name.n == 0)
        return -1;
    /* The first byte decides mostly; that spares a call a word. */
    for (int i = 0; i < row->words; i++)
        if (row->word[i].word[0] == name.at[0] && tw_units_text_is(name, row->word[i].word))
            return i;
    for (int i = 0; i < row->words; i++)
        if (row->word[i].short_word[0] == name.at[0] && tw_units_text_is(name, row->word[i].short_word))
            return i;
    return -1;
}

int tw_logbook_word(const tw_entry *entry, tw_field field)
{
    const tw_pair *pair = pair_of(entry, field);
    const tw_field_row *row = pair ? tw_logbook_field_row(entry->kind, field) : NULL;
    if (!row || row->set == TW_SETS)
        return -1;
    const int word = tw_logbook_find_word(row->set, pair->value);
    /* The canonical line holds the long word; a short one in it is no word. */
    return word >= 0 && tw_units_text_is(pair->value, tw_logbook_sets[row->set].word[word].word) ? word : -1;
}

tw_status tw_logbook_time(const tw_entry *entry, tw_field field, tw_time *out)
{
    const tw_pair *pair = pair_of(entry, field);
    if (!pair)
        return TW_ERR_MISSING;
    return tw_units_time_read(pair->value, out) == TW_OK ? TW_OK : TW_ERR_FORMAT;
}

tw_status tw_logbook_date(const tw_entry *entry, tw_field field, int32_t *days)
{
    const tw_pair *pair = pair_of(entry, field);
    if (!pair)
        return TW_ERR_MISSING;
    return tw_units_date_read(pair->value, days) == TW_OK ? TW_OK : TW_ERR_FORMAT;
}

const char *tw_logbook_kind_name(tw_kind kind)
{
    return tw_logbook_word_name(TW_SET_KIND, (int)kind);
}

const char *tw_logbook_field_name(tw_field field)
{
    return (unsigned)field < (unsigned)TW_FIELDS ? tw_logbook_field_names[field] : NULL;
}

const char *tw_logbook_word_name(tw_set set, int word)
{
    if ((unsigned)set >= (unsigned)TW_SETS || word < 0 || word >= tw_logbook_sets[set].words)
        return NULL;
    return tw_logbook_sets[set].word[word].word;
}

tw_kind tw_logbook_find_kind(tw_text name)
{
    const int word = tw_logbook_find_word(TW_SET_KIND, name);
    return word < 0 ? TW_KINDS : (tw_kind)word;
}

tw_field tw_logbook_find_field(tw_text name)
{
    int low = 0, high = TW_FIELDS;
    while (low < high) { /* the first whose name is not before this one */
        const int middle = (low + high) / 2;
        const tw_text at = tw_units_text(tw_logbook_field_names[tw_logbook_fields_by_name[middle]]);
        const int side = tw_units_text_compare(at, name);
        if (side == 0)
            return tw_logbook_fields_by_name[middle];
        if (side < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return TW_FIELDS;
}

const tw_analyte_row *tw_logbook_analyte(int analyte)
{
    TW_REQUIRE(analyte >= 0 && analyte < TW_ANALYTE_WORDS);
    return &tw_logbook_analytes[analyte];
}
