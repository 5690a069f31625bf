/* logbook/compose.h: from what a person typed to the canonical line.
 *
 * Fields come in any order. What has one meaning is brought to its canonical form: a decimal comma
 * becomes a point, "litres" becomes "L", blanks around a value go, upper case in words, ids and
 * hashes goes, short words become long ("fc" is "free-chlorine"). What has two meanings is a fault
 * that asks. */
#ifndef TW_LOGBOOK_COMPOSE_H
#define TW_LOGBOOK_COMPOSE_H

#include <stddef.h>

#include "logbook/entry.h"
#include "logbook/fault.h"

/* One field as typed; neither text needs a final zero. A value of no bytes is a fault (leave the
 * field out when there is nothing to say). */
typedef struct {
    tw_text field;
    tw_text value;
} tw_typed;

/* Compose and check.
 *   mode     TW_CHECK_TYPED: every field must be given. TW_CHECK_DRAFT: writer, n and prev may be
 *            missing; tw_logbook_compose_chained adds them. TW_CHECK_IMPORTED: nothing is brought
 *            into form, what is unknown is kept.
 *   buf      gets the line, not zero-ended; TW_LINE_BYTES are enough; *length its bytes
 *   fault    as line.h; may be NULL
 * On an error *length is 0. */
tw_status tw_logbook_compose(const tw_typed *typed, size_t n, tw_check_mode mode, char *buf, size_t cap,
                             size_t *length, tw_fault *fault);

/* Give a draft line (or a whole one) its place in a writer's chain: sets writer, n and prev.
 *   number  1.. ; prev is the SHA-256 of the writer's entry before, NULL when number is 1
 * buf must not overlap draft. */
tw_status tw_logbook_compose_chained(tw_text draft, tw_text writer, uint32_t number, const uint8_t *prev,
                                     char *buf, size_t cap, size_t *length, tw_fault *fault);

#endif
