/* estimate/usual.h: what can be told of a water before it is followed, by its prior and by what was read. Internal to this room. */
#ifndef TW_ESTIMATE_USUAL_H
#define TW_ESTIMATE_USUAL_H

#include "estimate/model.h"

/* HOCl's share over the reference, less 1, by the pH that was read; at 3 mg/L of chlorine. */
double tw_estimate_usual_over(const tw_model *m);

/* 1 where the water may come to the index of scale (scale.h) by what was read, with room for what was not; else its rate plays no part. */
int tw_estimate_usual_scales(const tw_model *m);

#endif
