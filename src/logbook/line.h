/* logbook/line.h: the canonical line of an entry, read and written.
 *
 * A line is a flat JSON object whose values are all strings, in the canonical form of RFC 8785:
 * names in order of their UTF-16 code units, no white space, the shortest escapes, valid UTF-8, no
 * name twice. Nothing else is accepted, so that write(read(x)) is x, byte by byte, and one fact has
 * one hash. At most 8192 bytes and 48 fields. The rules stand in docs/logbook-format.md. */
#ifndef TW_LOGBOOK_LINE_H
#define TW_LOGBOOK_LINE_H

#include <stddef.h>

#include "logbook/entry.h"
#include "logbook/fault.h"

/* Memory of one entry that is read outside a book (about 10 kB). */
typedef struct {
    tw_pair pair[TW_ENTRY_FIELDS];
    char text[TW_LINE_BYTES]; /* values that had escapes */
} tw_entry_room;

/* Read a line without its line end, and check its fields (entry.h, tw_check_mode).
 *   line   must live as long as *out
 *   room   memory that *out points into
 *   fault  what is wrong, when the status is not TW_OK; may be NULL
 * On an error *out is not to be used. */
tw_status tw_logbook_line_read(tw_text line, tw_check_mode mode, tw_entry_room *room, tw_entry *out,
                               tw_fault *fault);

/* Write the canonical line of an entry's pairs (put in order; not zero-ended). *length is set.
 *   TW_ERR_CAPACITY  cap is too small
 *   TW_ERR_FORMAT    a name stands twice */
tw_status tw_logbook_line_write(const tw_entry *entry, char *buf, size_t cap, size_t *length);

/* Advanced: only the form of the line, no table (fills line, pair, pairs; field is looked up). */
tw_status tw_logbook_line_split(tw_text line, tw_entry_room *room, tw_entry *out, tw_fault *fault);

/* Advanced: order of two names by UTF-16 code units: negative, 0, positive. */
int tw_logbook_name_compare(tw_text a, tw_text b);

/* Advanced: length of the valid UTF-8 sequence at text.at[at] (1..4) and its code point; 0 when
 * there is none (overlong, surrogate, beyond U+10FFFF or cut). */
size_t tw_logbook_utf8(tw_text text, size_t at, uint32_t *code_point);

#endif
