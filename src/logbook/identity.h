/* logbook/identity.h: ids of entries, tubs and writers (RFC 9562).
 *
 * The shell brings time and random bytes; the core only sets them in form. Ids are opaque to the
 * fold, except that they break ties between entries of one second. */
#ifndef TW_LOGBOOK_IDENTITY_H
#define TW_LOGBOOK_IDENTITY_H

#include <stdint.h>

#include "units/text.h"
#include "units/time.h"

/* Characters of an id as text. */
#define TW_ID_CHARS 36
#define TW_ID_BYTES 37 /* with its zero */

/* UUID version 7: milliseconds since 1970 (0..2^48-1) and ten random bytes. */
void tw_logbook_id_v7(uint64_t unix_ms, const uint8_t random[10], char out[TW_ID_BYTES]);

/* UUID version 8, name-based with SHA-256 (RFC 9562 B.2), for what a device pushes: the same
 * device, quantity and time give the same id, so a resend is the same entry.
 *   device    serial number or name of the device, any bytes but a line feed
 *   quantity  word of what it measured, "free-chlorine"
 *   at        when; only the instant counts, not the offset
 * The name that is hashed is the 16 bytes of the namespace, then device, line feed, quantity, line
 * feed, the seconds since 1970 in decimal digits (docs/logbook-format.md). */
void tw_logbook_id_v8(tw_text device, tw_text quantity, tw_time at, char out[TW_ID_BYTES]);

/* 1 when the text is a UUID in lower case with the variant of RFC 9562; *version may be NULL. */
int tw_logbook_id_is(tw_text text, int *version);

#endif
