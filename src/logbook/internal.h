/* logbook/internal.h: what the files of this room share and nobody else includes. */
#ifndef TW_LOGBOOK_INTERNAL_H
#define TW_LOGBOOK_INTERNAL_H

#include "logbook/entry.h"

/* 1 when a terminal or a sheet of paper simply shows this character. */
int tw_logbook_prints(uint32_t code_point);

/* tw_logbook_line_split into memory of its own: TW_ENTRY_FIELDS pairs, and as many bytes as the
 * line has for values that have escapes. */
tw_status tw_logbook_line_split_into(tw_text line, tw_pair *pair, char *text, tw_entry *out, tw_fault *fault);

/* "1,500" is 1500 to some and 1.5 to others: 1 when a number is such a one, and which two it may be. */
#define TW_TWO_MEANINGS 32
int tw_logbook_two_meanings(tw_text value, char allowed[TW_TWO_MEANINGS]);

/* Rules between the fields of an entry (data/entry/rules.csv). */
tw_status tw_logbook_check_rules(const tw_entry *entry, tw_fault *fault);

#endif
