/* estimate/timeline.h: lays the events of a problem in order. Internal. */
#ifndef TW_ESTIMATE_TIMELINE_H
#define TW_ESTIMATE_TIMELINE_H

#include <stddef.h>

#include "estimate/model.h"

/* Working memory of the call below. */
size_t tw_estimate_timeline_bytes(void);

/* Fill the ops, steps, carbon steps and classes of a model whose problem, days and day_h are set.
 * TW_ERR_CAPACITY when there are more than the model holds. */
tw_status tw_estimate_timeline(tw_model *model, void *mem);

#endif
