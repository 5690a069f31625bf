/* estimate/holds.c: member by member, does the residual hold? */
#include "estimate/held.h"
#include "estimate/hocl.h"
#include "estimate/walk.h"

tw_status tw_estimate_holds(const tw_belief *b, const tw_held_ask *ask, void *mem, size_t bytes, double *holds)
{
    tw_arena arena = {mem, bytes};
    tw_walk w;
    if (!(ask->floor_mg_per_l > 0.0) || ask->duty > 1.0)
        return TW_ERR_RANGE;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return TW_ERR_CAPACITY;
    const double least = ask->floor_mg_per_l / b->density_kg_per_l, most = ask->ceiling_mg_per_l / b->density_kg_per_l;
    tw_estimate_walk_keep_ph(&w, TW_HOCL_PH_KEPT);
    const double duty = ask->duty < 0.0 ? b->duty : ask->duty;
    for (size_t i = 0; i < b->n; i++)
        holds[i] = w.chlorine[i] >= least ? 1.0 : 0.0;
    for (;;) {
        for (size_t i = 0; i < b->n; i++)
            if (w.made[i] < least || (most > 0.0 && w.made[i] > most))
                holds[i] = 0.0;
        if (w.hour >= 24.0 * TW_HELD_DAYS - 1e-9)
            return TW_OK;
        tw_estimate_walk_on(&w, w.hour < 48.0 - 1e-9 ? 1.0 : 4.0, duty, b->temp_set_c);
    }
}
