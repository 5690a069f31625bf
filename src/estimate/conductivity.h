/* estimate/conductivity.h: the water model's conductivity as the few numbers the sampler needs. Internal. */
#ifndef TW_ESTIMATE_CONDUCTIVITY_H
#define TW_ESTIMATE_CONDUCTIVITY_H

#include "estimate/events.h"

/* Fit around a salt tub's water at 25 C (docs/estimate.md); leaves the closed form that stands there
 * when the water model gives no answer. */
void tw_estimate_fit_conductivity(tw_conductivity_fit *fit);

#endif
