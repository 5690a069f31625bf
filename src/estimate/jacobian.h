/* estimate/jacobian.h: what each reading is expected to say, by each coordinate, at one point. Internal.
 *
 * By differences, one moved coordinate a lane. Most coordinates of a long water are of its later days and doses: a column
 * begins where its coordinate first moves something, from marks that the run of the point itself has left there. */
#ifndef TW_ESTIMATE_JACOBIAN_H
#define TW_ESTIMATE_JACOBIAN_H

#include "estimate/sampler.h"

/* Once operations and places are known: the order of the columns. */
void tw_estimate_columns(tw_model *model);

/* Run the points that stand in s->x (after the bend: x), leaving marks. */
void tw_estimate_run_marking(tw_sampler *s);

/* The Jacobian at a point that one lane of the last such run stood at, with eta_at of that run. By place; the path is not
 * the point's afterwards. */
void tw_estimate_jacobian(tw_sampler *s, const double *point, int lane);

/* Set all roles of one lane of s->x from a point by place (free coordinates stay at 0). */
void tw_estimate_set_lane(tw_sampler *s, int lane, const double *point);

#endif
