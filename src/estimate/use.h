/* estimate/use.h: which duty carries a planned use. Pure. */
#ifndef TW_ESTIMATE_USE_H
#define TW_ESTIMATE_USE_H

#include <stddef.h>

#include "estimate/forecast.h"

typedef struct {
    double lowest;   /* least duty, in hundredths, at which free chlorine stays at or over the floor at every hour of
                        the plan with 0.95, its doses and bathers included; > 1: none does                          */
    double p_lowest; /* that chance at it; at full duty when none does                                               */
    double highest;  /* most duty at which it stays at or under the ceiling with 0.95 when nobody comes; 1: no
                        ceiling; 0: even without the generator it does not                                           */
} tw_use;

/* Both from the water as it is now, over so many hours at the temperatures of the plan; its duties are passed over.
 *   TW_ERR_RANGE     hours outside 1..TW_FAN_HOURS, or no floor
 *   TW_ERR_CAPACITY  mem is smaller than tw_estimate_forecast_bytes() */
tw_status tw_estimate_use(const tw_belief *belief, const tw_schedule *plan, uint32_t hours, double floor_mg_per_l,
                          double ceiling_mg_per_l, void *mem, size_t bytes, tw_use *out);

#endif
