/* estimate/digest.h: a problem's digest, so that what was worked out of it can be found again. Internal. */
#ifndef TW_ESTIMATE_DIGEST_H
#define TW_ESTIMATE_DIGEST_H

#include "estimate/events.h"
#include "num/sha256.h"

/* Everything of the problem that the sampler reads. */
void tw_estimate_problem_digest(const tw_problem *problem, uint8_t out[TW_SHA256_BYTES]);

#endif
