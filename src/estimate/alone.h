/* estimate/alone.h: one stretch of a tub's life folded by itself, nothing handed on from the waters before: what its own
 * readings say, to be set beside what another stretch says. */
#ifndef TW_ESTIMATE_ALONE_H
#define TW_ESTIMATE_ALONE_H

#include "estimate/fold.h"

/* The water of the hour `end` (of a long one its latest 42 days up to it), by the entries as they stand at `now`.
 * Memory, options and statuses as tw_estimate_fold_with(); the belief is unsealed and for comparing only. */
tw_status tw_estimate_fold_alone(const tw_book *book, tw_text tub, tw_time now, tw_time end, const tw_estimate_options *options,
                                 void *mem, size_t bytes, tw_belief *out);

#endif
