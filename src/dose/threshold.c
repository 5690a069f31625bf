/* dose/threshold.c: see threshold.h. */
#include "dose/threshold.h"

#include <math.h>

/* What a limit leaves over: above 0 is beyond it. For pH in alkalinity, mol/kg: more is needed than there is
 * (floor), or less. For the rest in mg/L. */
typedef struct {
    const tw_dose_frame *f;
    const tw_water *water;
    double kg;
    tw_quantity_of_water of;
    double limit;
    double sign; /* +1 floor, -1 ceiling */
} question;

double tw_dose_value(const tw_dose_frame *frame, tw_quantity_of_water of, const tw_water *water)
{
    if (of != TW_OF_PH)
        return tw_dose_quantity(of, water->total_mol_per_kg, frame->solvent_kg_per_l);
    const tw_reduced_water q = tw_water_reduced_acids(water->total_mol_per_kg);
    tw_reduced_answer a;
    tw_water_reduced_solve(frame->k, &q, &a);
    return a.ph;
}

static double beyond(const question *q, double grams)
{
    const tw_water after = tw_dose_apply(*q->water, q->kg, q->f->substance, grams);
    if (q->of != TW_OF_PH)
        return q->sign * (q->limit - tw_dose_value(q->f, q->of, &after));
    const tw_reduced_water acids = tw_water_reduced_acids(after.total_mol_per_kg);
    return q->sign * (tw_water_reduced_alk_at_ph(q->f->k, &acids, q->limit) - acids.alk);
}

/* 1 when `beyond` is a straight line in the grams: always, but where chlorine sits on cyanurate. */
static int is_straight(const question *q)
{
    const double *there = q->water->total_mol_per_kg, *brought = q->f->substance->total_mol_per_g;
    const int chlorine = there[TW_TOTAL_ACTIVE_CHLORINE] > 0.0 || brought[TW_TOTAL_ACTIVE_CHLORINE] != 0.0;
    const int ring = there[TW_TOTAL_CYANURATE] > 0.0 || brought[TW_TOTAL_CYANURATE] != 0.0;
    const int moves = brought[TW_TOTAL_ACTIVE_CHLORINE] != 0.0 || brought[TW_TOTAL_CYANURATE] != 0.0;
    return q->of != TW_OF_PH || !(chlorine && ring && moves);
}

/* Root of `beyond` between 0 and most where it is negative at 0 and rises. Doubling encloses it, then 50
 * halvings of the bracket pin it to 1e-15 of its width. */
static double enclosed_root(const question *q, double guess, double most)
{
    double low = 0.0, high = guess < most ? guess : most;
    while (beyond(q, high) < 0.0) {
        if (high >= most)
            return TW_DOSE_NEVER;
        low = high;
        high = 2.0 * high < most ? 2.0 * high : most;
    }
    for (int step = 0; step < 50; step++) {
        const double middle = 0.5 * (low + high);
        if (beyond(q, middle) < 0.0)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

/* From `beyond` at 0 and its slope. A probe of 1 mg for each kg of water is far over rounding and far
 * under the bend; it stays within what a substance that takes away finds. */
static double solve(const question *q, int at_or_past_is_zero)
{
    const double acting = tw_dose_acting_g(q->water, q->kg, q->f->substance);
    const double probe = 1e-3 * q->kg < acting ? 1e-3 * q->kg : acting;
    const double now = beyond(q, 0.0);
    if (at_or_past_is_zero && now >= 0.0)
        return 0.0;
    const double slope = probe > 0.0 ? (beyond(q, probe) - now) / probe : 0.0;
    /* A slope under rounding is none: sodium chloride does not move calcium. */
    const double tiny = (q->of == TW_OF_PH ? 1e-11 : 1e-6) / q->kg;
    if (!(slope > tiny))
        return TW_DOSE_NEVER;
    if (now >= 0.0)
        return 0.0;
    const double grams = -now / slope;
    if (is_straight(q))
        return grams <= acting ? grams : TW_DOSE_NEVER;
    const double cap = 20.0 * q->kg; /* 20 g/kg is no dose */
    return enclosed_root(q, grams, acting < cap ? acting : cap);
}

double tw_dose_ph_gap(double ph)
{
    const double over = ph > 7.8 ? ph - 7.8 : 0.0;
    return 0.003 + 0.027 * (over < 1.0 ? over : 1.0);
}

double tw_dose_threshold_limit(const tw_dose_frame *frame, const tw_water *water, double water_kg,
                               tw_quantity_of_water of, double limit, int is_floor)
{
    const double gap = of == TW_OF_PH ? tw_dose_ph_gap(limit) : 0.0, sign = is_floor ? 1.0 : -1.0;
    const question q = {frame, water, water_kg, of, limit + sign * gap, sign};
    return solve(&q, 0);
}

double tw_dose_threshold_target(const tw_dose_frame *frame, const tw_water *water, double water_kg,
                                tw_quantity_of_water of, double target, int falls)
{
    const question q = {frame, water, water_kg, of, target, falls ? 1.0 : -1.0};
    return solve(&q, 1);
}
