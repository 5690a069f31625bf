/* estimate/use.c: the least duty for the planned use, the most for none, by halving: more duty never means less chlorine. */
#include "estimate/use.h"

#include <string.h>

#include "estimate/held.h"
#include "estimate/hocl.h"
#include "estimate/walk.h"

typedef struct {
    const tw_belief *b;
    const tw_schedule *plan;
    uint32_t hours;
    double limit; /* mg per kg */
    int under;    /* 1: it counts who stays at or under the limit; 0: at or over, with doses and bathers */
    void *mem;
    size_t bytes;
} question;

static void take_plan(tw_walk *w, const tw_schedule *p, uint32_t hour)
{
    for (size_t i = 0; i < p->doses; i++)
        if (p->dose[i].hour == hour)
            tw_estimate_walk_dose(w, p->dose[i].chlorine_mg);
    for (size_t i = 0; i < p->bathers; i++)
        if (p->bather[i].hour == hour)
            tw_estimate_walk_bathers(w, p->bather[i].person_h);
}

/* Share of the members that keep to the limit at every hour; -1: the memory is too small. */
static double share(const question *q, double duty)
{
    tw_arena arena = {q->mem, q->bytes};
    tw_walk w;
    if (!tw_estimate_walk_start(&w, q->b, &arena))
        return -1.0;
    tw_estimate_walk_keep_ph(&w, TW_HOCL_PH_KEPT);
    double *ok = tw_arena_take(&arena, w.n * sizeof(double));
    if (ok == NULL)
        return -1.0;
    for (size_t i = 0; i < w.n; i++)
        ok[i] = 1.0;
    size_t at = 0, count = 0;
    for (uint32_t t = 0; t <= q->hours; t++) {
        if (t > 0)
            tw_estimate_walk_on(&w, 1.0, duty, q->plan->temp_c[at]);
        if (!q->under)
            take_plan(&w, q->plan, t);
        for (size_t i = 0; i < w.n; i++)
            if (q->under ? w.chlorine[i] > q->limit : w.chlorine[i] < q->limit)
                ok[i] = 0.0;
        while (at + 1 < q->plan->settings && q->plan->set_hour[at + 1] <= t)
            at++;
    }
    for (size_t i = 0; i < w.n; i++)
        count += ok[i] > 0.5;
    return (double)count / (double)w.n;
}

/* The last hundredth in low..high, from low on, at which the limit is kept with 0.95, where it is kept at low and not at high. */
static int halve(const question *q, int kept, int broken)
{
    while (kept - broken > 1 || broken - kept > 1) {
        const int mid = (kept + broken) / 2;
        if (share(q, 0.01 * (double)mid) >= TW_HELD_PROBABILITY)
            kept = mid;
        else
            broken = mid;
    }
    return kept;
}

tw_status tw_estimate_use(const tw_belief *b, const tw_schedule *plan, uint32_t hours, double floor_mg_per_l,
                          double ceiling_mg_per_l, void *mem, size_t bytes, tw_use *out)
{
    memset(out, 0, sizeof *out);
    if (hours < 1 || hours > TW_FAN_HOURS || !(floor_mg_per_l > 0.0) || plan->settings < 1)
        return TW_ERR_RANGE;
    question q = {b, plan, hours, floor_mg_per_l / b->density_kg_per_l, 0, mem, bytes};
    const double full = share(&q, 1.0), none = share(&q, 0.0);
    if (full < 0.0)
        return TW_ERR_CAPACITY;
    out->lowest = none >= TW_HELD_PROBABILITY ? 0.0 : full < TW_HELD_PROBABILITY ? 2.0 : 0.01 * (double)halve(&q, 100, 0);
    out->p_lowest = share(&q, out->lowest < 1.0 ? out->lowest : 1.0);
    out->highest = 1.0;
    if (ceiling_mg_per_l > 0.0) {
        q.limit = ceiling_mg_per_l / b->density_kg_per_l;
        q.under = 1;
        if (share(&q, 1.0) < TW_HELD_PROBABILITY)
            out->highest = share(&q, 0.0) < TW_HELD_PROBABILITY ? 0.0 : 0.01 * (double)halve(&q, 0, 100);
    }
    return TW_OK;
}
