/* estimate/sample.h: the sampler on plain events, without a logbook. Pure; memory from the caller. */
#ifndef TW_ESTIMATE_SAMPLE_H
#define TW_ESTIMATE_SAMPLE_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"
#include "estimate/crew.h"
#include "estimate/events.h"
#include "estimate/segment.h"
#include "num/status.h"

/* How much work to do. tw_estimate_options_default() gives what the product uses. */
typedef struct {
    uint32_t chains;    /* multiple of 8, 8..256; 64                          */
    uint32_t keep;      /* states kept of each chain, 1..16; 16               */
    uint32_t drop;      /* states dropped first; 9                            */
    uint32_t leapfrogs; /* 6; of `step` each at first: their product is a trajectory's mean length */
    double step;        /* 0.5; shortened by the dropped states where they need it  */
    tw_crew *crew;      /* NULL: the work is done in turn; changes no bit           */
} tw_estimate_options;

tw_estimate_options tw_estimate_options_default(void); /* 64 x 16 = 1,024 members               */
tw_estimate_options tw_estimate_options_quick(void);   /* 32 x 8 = 256 members, for many folds   */

/* From events to a belief. seed and segment name its random streams; the
 * density of the belief is 1 (mg/L are mg/kg) until the caller sets another.
 *   TW_ERR_RANGE     the options are outside their ranges
 *   TW_ERR_CAPACITY  mem or the crew's is too small, or the problem has more events than the room holds */
size_t tw_estimate_sample_bytes(const tw_estimate_options *options);
tw_status tw_estimate_sample(const tw_problem *problem, uint64_t seed, uint32_t segment,
                             const tw_estimate_options *options, void *mem, size_t bytes,
                             tw_belief *out);

/* The same, and what this water taught (its times and count of waters are the caller's): of the tub alone, or, with
 * taught->goes_on set before the call, of the water as well. */
tw_status tw_estimate_sample_teach(const tw_problem *problem, uint64_t seed, uint32_t segment,
                                   const tw_estimate_options *options, void *mem, size_t bytes,
                                   tw_belief *out, tw_taught *taught);

#endif
