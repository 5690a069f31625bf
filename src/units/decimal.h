/* units/decimal.h: numbers as decimal text, read and written by integer digits.
 *
 * The text is the fact, so both ways are exact: reading gives the nearest double, writing rounds
 * the exact value of the double half to even. No locale, no exponent, no %g. */
#ifndef TW_UNITS_DECIMAL_H
#define TW_UNITS_DECIMAL_H

#include <stddef.h>

#include "num/status.h"
#include "units/text.h"

#define TW_DECIMAL_MAX_CHARS 24    /* longest text that is read                             */
#define TW_DECIMAL_MAX_DIGITS 15   /* significant digits that are read                      */
#define TW_DECIMAL_MAX_DECIMALS 12 /* decimals that are written                             */
#define TW_DECIMAL_BYTES 32        /* enough for every text that is written, with its zero  */

/* Read -?(0|[1-9][0-9]*)(\.[0-9]+)? : the canonical form of the logbook, point only.
 *   out       nearest double; "-0" gives +0
 *   decimals  digits after the point, that is the resolution as typed; may be NULL
 *   TW_ERR_FORMAT  another form, or longer than 24 characters
 *   TW_ERR_RANGE   more than 15 significant digits (zeros in front do not count, zeros behind do)
 * On an error *out and *decimals are left alone. */
tw_status tw_units_decimal_read(tw_text text, double *out, int *decimals);

/* What a person types: as above, but also a decimal comma, a plus sign, zeros in front, a bare
 * point (".5", "5.") and blanks around. Writes the canonical text, zero-ended, to buf (at least
 * TW_DECIMAL_BYTES) and its length to *length. A text with both comma and point, or with a group
 * separator, is TW_ERR_AMBIGUOUS: 1,500.0 and 1.500,0 cannot be told apart by machine. */
tw_status tw_units_decimal_canonical(tw_text typed, char *buf, size_t cap, size_t *length);

/* Write x with so many decimals (0..12), zero-ended, and return the length without the zero.
 * A result of zero has no minus sign. 0 is returned, and buf holds the empty text (when cap > 0),
 * for what cannot be written: NaN, infinite, |x| >= 1e15, decimals outside 0..12, cap too small. */
size_t tw_units_decimal_write(double x, int decimals, char *buf, size_t cap);

/* Round to so many decimals (0..12), half to even of the exact value: the double nearest to the
 * text that tw_units_decimal_write gives. NaN, infinite and |x| >= 1e15 come back unchanged. */
double tw_units_decimal_round(double x, int decimals);

#endif
