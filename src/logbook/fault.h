/* logbook/fault.h: what is wrong with one entry, as data, and the sentence that says so.
 *
 * The command line, the import and the page show the same sentence: it names the field, the value
 * and what is allowed. The sentences stand in data/entry/faults.csv. A fault owns its text, so it
 * outlives the line that it speaks of. */
#ifndef TW_LOGBOOK_FAULT_H
#define TW_LOGBOOK_FAULT_H

#include <stddef.h>

#include "gen/entry_tables.h" /* enum tw_fault_id: TW_FAULT_NONE, TW_FAULT_MISSING, ... */
#include "num/status.h"
#include "units/language.h"
#include "units/text.h"

/* Room for the parts of a fault, each with its zero. */
#define TW_FAULT_FIELD_BYTES 48
#define TW_FAULT_VALUE_BYTES 72
#define TW_FAULT_ALLOWED_BYTES 560
#define TW_FAULT_TEXT_BYTES 768 /* enough for every sentence, with its zero */

typedef struct tw_fault {
    tw_fault_id id;                       /* TW_FAULT_NONE when nothing is wrong                   */
    size_t at;                            /* byte in the line, for faults of its form; else 0      */
    char field[TW_FAULT_FIELD_BYTES];     /* name of the field, "" when it is about the whole line */
    char value[TW_FAULT_VALUE_BYTES];     /* the value as given, cut and made printable            */
    char allowed[TW_FAULT_ALLOWED_BYTES]; /* what may stand there                                  */
} tw_fault;

/* The sentence of a fault in a language (NULL: English), zero-ended, cut to cap - 1 bytes; returns its length.
 * The empty text for TW_FAULT_NONE. */
size_t tw_logbook_fault_text(const tw_fault *fault, const tw_language *language, char *buf, size_t cap);

/* The id of a fault as a word ("wrong-unit"), for problem objects and tests. Never NULL. */
const char *tw_logbook_fault_name(tw_fault_id id);

/* The status that goes with a fault: TW_ERR_AMBIGUOUS for what must be asked (a bare "gal"),
 * TW_ERR_UNKNOWN for an unknown kind, field, word or unit, TW_ERR_MISSING, TW_ERR_RANGE for below
 * and above, TW_ERR_CONFLICT for fields that do not go together, else TW_ERR_FORMAT. */
tw_status tw_logbook_fault_status(tw_fault_id id);

/* Advanced: fill a fault. Text that is not printable or too long is shown cut and with '?'; a
 * fault that is already there stays (the first one counts). fault may be NULL. Returns the status. */
tw_status tw_logbook_fault_set(tw_fault *fault, tw_fault_id id, tw_text field, tw_text value,
                               tw_text allowed);

#endif
