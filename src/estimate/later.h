/* estimate/later.h: a belief carried on to an hour at which nothing more was written. Internal.
 *
 * What the readings say of a tub they say once: the sampler follows a water to its last entry and no further. From there
 * the members walk on by themselves, with their settings, the chance of new days from their own streams. A belief is
 * then kept until an entry more, however often it is asked for. */
#ifndef TW_ESTIMATE_LATER_H
#define TW_ESTIMATE_LATER_H

#include "estimate/arena.h"
#include "estimate/belief.h"
#include "estimate/events.h"

/* Bytes of an arena for the call below. */
size_t tw_estimate_later_bytes(size_t n);

/* From `from`, which speaks of the hour from_h of its water, to the hour to_h. settings: of that water up to to_h, in
 * order (the one in force at from_h among them). out: laid out for as many members, not the same arrays. Its digest and
 * at_utc_s are the caller's. TW_ERR_CAPACITY: the arena is too small. */
tw_status tw_estimate_later(const tw_belief *from, const tw_setting_event *setting, size_t settings, double from_h, double to_h,
                            tw_arena arena, tw_belief *out);

/* 1: since the last reading of chlorine this member did what nobody wrote. Of what it says of one the act is the cause, not the logbook. */
int tw_estimate_did_something(const tw_belief *belief, size_t member);

#endif
