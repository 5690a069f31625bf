/* units/shown.c: see shown.h. */
#include "units/shown.h"

#include <math.h>
#include <string.h>

/* The bits of all rows of a choice. */
static tw_shown bits_of(tw_text word)
{
    tw_shown bits = 0;
    for (int i = 0; i < TW_SHOWN_ROWS; i++)
        if (tw_units_text_is(word, tw_units_shown_rows[i].choice))
            bits |= 1u << i;
    return bits;
}

/* 1: rows of another choice show one of these units already. */
static int meets(tw_shown chosen, tw_shown bits)
{
    for (int i = 0; i < TW_SHOWN_ROWS; i++)
        for (int k = 0; k < TW_SHOWN_ROWS; k++)
            if ((chosen >> i & 1u) && (bits >> k & 1u) && tw_units_shown_rows[i].of == tw_units_shown_rows[k].of)
                return 1;
    return 0;
}

tw_status tw_units_shown_read(tw_text words, tw_shown *out)
{
    tw_shown chosen = 0;
    *out = 0;
    for (size_t at = 0; at < words.n; at++) {
        size_t n = 0;
        while (at + n < words.n && words.at[at + n] != ',')
            n++;
        const tw_shown bits = bits_of((tw_text){words.at + at, n});
        if (bits == 0)
            return TW_ERR_UNKNOWN;
        if (meets(chosen & ~bits, bits))
            return TW_ERR_CONFLICT;
        chosen |= bits;
        at += n;
    }
    *out = chosen;
    return TW_OK;
}

#define MOST_DECIMALS 4

/* So many decimals that there are so many significant digits. */
static int decimals_for(double value, int digits)
{
    int decimals = digits - 1;
    for (double least = 1.0; decimals < MOST_DECIMALS && value != 0.0 && fabs(value) < least; least /= 10.0)
        decimals++;
    for (double limit = 9.995; decimals > 0 && fabs(value) >= limit; limit *= 10.0)
        decimals--;
    return decimals;
}

int tw_units_shown(tw_shown shown, tw_text unit, double value, int decimals, tw_shown_amount *out)
{
    const tw_shown_row *row = NULL;
    for (int i = 0; i < TW_SHOWN_ROWS; i++)
        if ((shown >> i & 1u) && tw_units_text_is(unit, tw_units_shown_rows[i].seen) && (tw_units_shown_rows[i].least == 0.0 || fabs(value) >= tw_units_shown_rows[i].least))
            row = &tw_units_shown_rows[i];
    if (row == NULL)
        return 0;
    out->value = tw_units_typed(row->unit, tw_units_inside(row->of, value));
    out->decimals = row->digits > 0 ? decimals_for(out->value, row->digits) : decimals;
    out->label = row->label;
    return 1;
}
