/* cli/clock.h: the clock of the machine, and times as people type them. */
#ifndef TW_CLI_CLOCK_H
#define TW_CLI_CLOCK_H

#include "num/status.h"
#include "units/text.h"
#include "units/time.h"

/* The clock of the machine in its time zone. */
tw_time tw_cli_clock(void);

/* A time as typed, seen from `now`; clocks without an offset have that of the machine's zone when `now` is of
 * this zone, else the offset of `now`.
 *   "2026-03-24T10:40:00+01:00", "2026-03-24T09:40Z" (units/time.h: tw_units_time_typed), "2026-03-24 10:40", "10:40" (today), "Mon 10:40" (the latest
 *   Monday), "20 min ago", "2 h ago", "now"
 *   TW_ERR_FORMAT     it is none of these
 *   TW_ERR_RANGE      the clock was put forward over that hour
 *   TW_ERR_AMBIGUOUS  the clock was put back: that hour came twice */
tw_status tw_cli_time_typed(tw_text typed, tw_time now, tw_time *out);

/* What to say of a time that was not understood: a sentence for a person. */
const char *tw_cli_time_instead(tw_status status);

#endif
