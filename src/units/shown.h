/* units/shown.h: in which units people want to see temperatures, litres and weights.
 *
 * A choice is a row of data/shown.csv by its word: "degF", "gal-us", "oz". It changes sentences and rows for people alone: facts keep
 * what was typed, numbers of answers and all that is computed stay in the inside units. Factors are those of data/units.csv. */
#ifndef TW_UNITS_SHOWN_H
#define TW_UNITS_SHOWN_H

#include <stdint.h>

#include "num/status.h"
#include "units/convert.h"

/* Choices that were made, a bit for each row of the table; 0: as everything is inside. */
typedef uint32_t tw_shown;

/* Read choices: words of the table with commas between ("degF,gal-us,oz"); empty: none.
 *   TW_ERR_UNKNOWN   no such word
 *   TW_ERR_CONFLICT  two choices for one unit ("gal-us,gal-imp")
 * On an error *out is 0. */
tw_status tw_units_shown_read(tw_text words, tw_shown *out);

/* An amount as it is shown. */
typedef struct {
    double value;
    int decimals;
    const char *label; /* zero-ended, "oz" */
} tw_shown_amount;

/* 1: an amount in this unit, as answers write it ("g", "°C"), with usually so many decimals is shown as *out. 0: as it is, *out is left alone.
 * What is weighed or poured has three significant digits, which is within 0.5 % of it, and at most four decimals, which is
 * within 0.0015 g or mL; a temperature keeps its decimals. A value that is no number stays one. */
int tw_units_shown(tw_shown shown, tw_text unit, double value, int decimals, tw_shown_amount *out);

#endif
