/* answer/say.h: from a message and its arguments to the sentence. Pure. */
#ifndef TW_ANSWER_SAY_H
#define TW_ANSWER_SAY_H

#include <stddef.h>

#include "num/status.h"
#include "units/language.h"
#include "units/said.h"
#include "units/shown.h"

#define TW_SENTENCE_BYTES 1024 /* enough for every sentence, with its zero */

/* Write the sentence, zero-ended; *length without the zero. language NULL: English; shown 0: units as they are inside.
 *   now  times of the same local day are shown as "10:40", others with their day
 *   TW_ERR_MISSING   the sentence names an argument that is not there or has another type
 *   TW_ERR_RANGE     a number that cannot be shown (infinite, too large); NaN is shown as "?"
 *   TW_ERR_UNKNOWN   no such message
 *   TW_ERR_CAPACITY  cap is too small
 * On an error buf is the empty text. */
tw_status tw_answer_say(const tw_said *said, const tw_language *language, tw_shown shown, tw_time now, char *buf, size_t cap, size_t *length);

/* The parts that people read, each zero-ended, with the length as result (0: cannot be shown).
 * A mass in grams ("97 g", "2.1 kg"), a duration in hours ("23 min", "2 h", "3 days"), a chance 0..1
 * ("86 %", "under 1 %"), a time as seen at `now`. */
size_t tw_answer_mass_text(double g, char *buf, size_t cap);
size_t tw_answer_hours_text(double hours, char *buf, size_t cap);
size_t tw_answer_chance_text(double p, char *buf, size_t cap);
size_t tw_answer_time_text(tw_time time, const tw_language *language, tw_time now, char *buf, size_t cap);

/* Digits with a point as the language writes them. */
size_t tw_answer_digits_text(const char *digits, size_t n, const tw_language *language, char *buf, size_t cap);

/* Columns that a UTF-8 text takes on a terminal (one a code point). */
size_t tw_answer_columns(tw_text text);

#endif
