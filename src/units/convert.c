/* units/convert.c: units of the trade to the inside unit of their quantity and back. */
#include "units/convert.h"

#include <string.h>

#include "num/require.h"

_Static_assert(sizeof tw_units_rows / sizeof *tw_units_rows == TW_UNITS, "one row per unit");

const tw_unit_row *tw_units_row(tw_unit unit)
{
    TW_REQUIRE((unsigned)unit < (unsigned)TW_UNITS);
    return &tw_units_rows[unit];
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* Equal when letters of either case count as one. */
static int equal_but_case(tw_text text, const char *word)
{
    if (text.n != strlen(word))
        return 0;
    for (size_t i = 0; i < text.n; i++)
        if (lower(text.at[i]) != lower(word[i]))
            return 0;
    return 1;
}

size_t tw_units_meanings(tw_text word, tw_unit *out, size_t cap)
{
    size_t n = 0;
    for (size_t i = 0; i < TW_UNIT_QUESTIONS && n < cap; i++)
        if (equal_but_case(word, tw_units_questions[i].word))
            out[n++] = tw_units_questions[i].meaning;
    return n;
}

tw_status tw_units_find(tw_text word, tw_unit *out)
{
    for (int i = 0; i < TW_UNITS; i++)
        if (tw_units_text_is(word, tw_units_rows[i].word)) {
            *out = (tw_unit)i;
            return TW_OK;
        }
    tw_unit one;
    return tw_units_meanings(word, &one, 1) ? TW_ERR_AMBIGUOUS : TW_ERR_UNKNOWN;
}

tw_status tw_units_find_typed(tw_text word, tw_unit *out)
{
    for (size_t i = 0; i < TW_UNIT_ALIASES; i++)
        if (tw_units_text_is(word, tw_units_aliases[i].word)) {
            *out = tw_units_aliases[i].unit;
            return TW_OK;
        }
    /* Another case is taken only when all words it could be mean one unit: MM is neither mm nor mM. */
    int found = 0, different = 0;
    tw_unit unit = (tw_unit)0;
    for (size_t i = 0; i < TW_UNIT_ALIASES; i++)
        if (equal_but_case(word, tw_units_aliases[i].word)) {
            different |= found && unit != tw_units_aliases[i].unit;
            unit = tw_units_aliases[i].unit;
            found = 1;
        }
    if (different)
        return TW_ERR_UNKNOWN;
    if (found) {
        *out = unit;
        return TW_OK;
    }
    tw_unit one;
    return tw_units_meanings(word, &one, 1) ? TW_ERR_AMBIGUOUS : TW_ERR_UNKNOWN;
}

double tw_units_inside(tw_unit unit, double typed)
{
    const tw_unit_row *row = tw_units_row(unit);
    return (typed - row->zero) * row->factor / row->divisor;
}

double tw_units_typed(tw_unit unit, double inside)
{
    const tw_unit_row *row = tw_units_row(unit);
    return inside * row->divisor / row->factor + row->zero;
}

double tw_units_inside_difference(tw_unit unit, double typed)
{
    const tw_unit_row *row = tw_units_row(unit);
    return typed * row->factor / row->divisor;
}

tw_status tw_units_to_si(tw_text word, double typed, double *inside)
{
    tw_unit unit;
    const tw_status status = tw_units_find(word, &unit);
    if (status == TW_OK)
        *inside = tw_units_inside(unit, typed);
    return status;
}

const char *tw_units_quantity_name(tw_quantity quantity)
{
    TW_REQUIRE((unsigned)quantity < (unsigned)TW_QUANTITIES);
    return tw_units_quantity_names[quantity];
}

tw_status tw_units_quantity_find(tw_text name, tw_quantity *out)
{
    for (int i = 0; i < TW_QUANTITIES; i++)
        if (tw_units_text_is(name, tw_units_quantity_names[i])) {
            *out = (tw_quantity)i;
            return TW_OK;
        }
    return TW_ERR_UNKNOWN;
}
