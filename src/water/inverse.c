/* water/inverse.c: see inverse.h. */
#include "water/inverse.h"

#include "num/elementary.h"
#include "water/balance.h"
#include "water/conductivity.h"

static int is_amount(double x)
{
    return x >= 0.0 && x - x == 0.0;
}

static tw_status refuse(tw_speciation *out, tw_status status, tw_water_fault fault, tw_total total)
{
    tw_water_balance_fail(out, fault, total);
    return status;
}

static tw_status finish(tw_balance *b, tw_speciation *out)
{
    if (!tw_water_balance_settle(b))
        return refuse(out, TW_ERR_NO_CONVERGENCE, TW_WATER_FAULT_NOT_SETTLED, TW_TOTAL_NA);
    if (b->ionic_strength > TW_WATER_IONIC_STRENGTH_MAX)
        return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_IONIC_STRENGTH, TW_TOTAL_NA);
    tw_water_balance_report(b, out);
    return TW_OK;
}

/* The alkalinity that the same water has at this pH with so much carbon. */
static tw_status alk_with(const tw_constants *at, const tw_water *water, double ph, double dic,
                          tw_alk_kind kind, double *alk)
{
    tw_speciation sp;
    tw_water with = *water;
    with.total_mol_per_kg[TW_TOTAL_DIC] = dic;
    const tw_status status = tw_water_at_ph(at, &with, ph, &sp);
    *alk = kind == TW_ALK_TITRATED ? sp.titrated_alk_mol_per_kg : sp.strong_ion_alk_mol_per_kg;
    return status;
}

/* DIC by bisection, for the case that Newton does not settle: alkalinity at a pH rises with carbon, from
 * the known value without it; a DIC of alk/tiny bounds it from above. */
static tw_status dic_by_bracket(const tw_constants *at, const tw_water *water, double ph, double target,
                                tw_alk_kind kind, tw_speciation *out)
{
    double low = 0.0, high = 1e-6, alk = 0.0;
    for (int i = 0; i < 40; i++) {
        const tw_status status = alk_with(at, water, ph, high, kind, &alk);
        if (status != TW_OK)
            return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_IONIC_STRENGTH, TW_TOTAL_NA);
        if (alk > target)
            break;
        low = high;
        high *= 2.0;
    }
    for (int i = 0; i < 60; i++) {
        const double middle = 0.5 * (low + high);
        if (alk_with(at, water, ph, middle, kind, &alk) == TW_OK && alk < target)
            low = middle;
        else
            high = middle;
    }
    tw_water with = *water;
    with.total_mol_per_kg[TW_TOTAL_DIC] = 0.5 * (low + high);
    return tw_water_at_ph(at, &with, ph, out);
}

/* Carbon from pH and alkalinity, the other totals as in *water. */
static tw_status find_dic(const tw_constants *at, tw_water *water, double ph, double target,
                          tw_alk_kind kind, tw_speciation *out)
{
    water->total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    tw_balance b;
    tw_water_balance_begin(&b, at, water, TW_ASK_DIC, ph, 0.0);
    b.alk = target;
    b.titrated = kind == TW_ALK_TITRATED;
    tw_water_balance_start_cold(&b);
    tw_status status = TW_ERR_NO_CONVERGENCE;
    if (tw_water_balance_settle(&b)) {
        status = finish(&b, out);
    } else {
        double without = 0.0;
        status = alk_with(at, water, ph, 0.0, kind, &without);
        if (status != TW_OK)
            return refuse(out, status, TW_WATER_FAULT_NOT_SETTLED, TW_TOTAL_NA);
        if (!(without < target))
            return refuse(out, TW_ERR_NO_ROOT, TW_WATER_FAULT_ALKALINITY, TW_TOTAL_NA);
        status = dic_by_bracket(at, water, ph, target, kind, out);
    }
    if (status == TW_OK)
        water->total_mol_per_kg[TW_TOTAL_DIC] = out->dic_mol_per_kg;
    return status;
}

/* Totals but DIC, sodium and chloride; their first bad one is named. */
static int fill_totals(const tw_tests *t, tw_water *water, tw_total *bad)
{
    double *to = water->total_mol_per_kg;
    water->temp_k = t->temp_k;
    to[TW_TOTAL_NA] = to[TW_TOTAL_CL] = t->salt_mol_per_kg;
    to[TW_TOTAL_K] = t->potassium_mol_per_kg;
    to[TW_TOTAL_CA] = t->calcium_mol_per_kg;
    to[TW_TOTAL_MG] = t->magnesium_mol_per_kg;
    to[TW_TOTAL_SO4] = t->sulfate_mol_per_kg;
    to[TW_TOTAL_OTHER] = t->other_mol_per_kg;
    to[TW_TOTAL_DIC] = 0.0;
    to[TW_TOTAL_BORATE] = t->boron_mol_per_kg;
    to[TW_TOTAL_CYANURATE] = t->cyanurate_mol_per_kg;
    to[TW_TOTAL_ACTIVE_CHLORINE] = t->active_chlorine_mol_per_kg;
    to[TW_TOTAL_PHOSPHATE] = t->phosphate_mol_per_kg;
    for (int i = 0; i < TW_TOTALS; i++)
        if (!is_amount(to[i])) {
            *bad = (tw_total)i;
            return 0;
        }
    return 1;
}

/* x = 2 Ca + 2 Mg + K - alk - 2 SO4 - other: what is over came in as chloride, what lacks as sodium. */
static void balance_with_salt(const tw_tests *t, double alk, tw_water *water)
{
    const double x = 2.0 * t->calcium_mol_per_kg + 2.0 * t->magnesium_mol_per_kg + t->potassium_mol_per_kg -
                     alk - 2.0 * t->sulfate_mol_per_kg - t->other_mol_per_kg;
    water->total_mol_per_kg[TW_TOTAL_CL] = t->salt_mol_per_kg + (x > 0.0 ? x : 0.0);
    water->total_mol_per_kg[TW_TOTAL_NA] = t->salt_mol_per_kg + (x < 0.0 ? -x : 0.0);
}

tw_status tw_water_from_tests(const tw_constants *at, const tw_tests *t, tw_water *water, tw_speciation *out)
{
    tw_speciation mine;
    tw_speciation *sp = out ? out : &mine;
    tw_total bad = TW_TOTAL_NA;
    if (!(t->temp_k >= TW_WATER_TEMP_MIN_K && t->temp_k <= TW_WATER_TEMP_MAX_K))
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_TEMPERATURE, bad);
    if (!(t->ph >= TW_WATER_PH_MIN && t->ph <= TW_WATER_PH_MAX))
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_PH, bad);
    if (!fill_totals(t, water, &bad))
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_TOTAL, bad);
    if (t->alk_mol_per_kg - t->alk_mol_per_kg != 0.0)
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_ALKALINITY, bad);
    /* Sodium and chloride follow from the strong-ion alkalinity. As titrated it is lower by phosphate and by
     * doubly chlorinated cyanurate, which depends on the species: a few corrections settle that trace. */
    double strong = t->alk_mol_per_kg;
    if (t->alk_kind == TW_ALK_TITRATED)
        strong += t->phosphate_mol_per_kg;
    const int rounds = t->alk_kind == TW_ALK_TITRATED && t->active_chlorine_mol_per_kg > 0.0 &&
                               t->cyanurate_mol_per_kg > 0.0 ? 12 : 1;
    for (int i = 0; i < rounds; i++) {
        balance_with_salt(t, strong, water);
        const tw_status status = find_dic(at, water, t->ph, t->alk_mol_per_kg, t->alk_kind, sp);
        if (status != TW_OK)
            return status;
        const double moved = sp->strong_ion_alk_mol_per_kg - strong;
        strong = sp->strong_ion_alk_mol_per_kg;
        if (rounds > 1 && moved < 1e-15 && moved > -1e-15)
            break;
    }
    return TW_OK;
}

tw_status tw_water_dic_for_ph(const tw_constants *at, tw_water *water, double ph, tw_speciation *out)
{
    tw_total bad = TW_TOTAL_NA;
    tw_water with = *water;
    with.total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    for (int i = 0; i < TW_TOTALS; i++)
        if (!is_amount(with.total_mol_per_kg[i]))
            return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_TOTAL, (tw_total)i);
    if (!(ph >= TW_WATER_PH_MIN && ph <= TW_WATER_PH_MAX))
        return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_PH, bad);
    const double alk = tw_water_strong_ion_alk_mol_per_kg(&with);
    const tw_status status = find_dic(at, &with, ph, alk, TW_ALK_STRONG_ION, out);
    if (status == TW_OK)
        *water = with;
    return status;
}

/* Salt enters pairs and activities and so the carbon, and the carbon conducts: two or three rounds of
 * "carbon for this salt, then salt for this conductivity" settle both (each shrinks the rest a hundredfold). */
tw_status tw_water_from_tests_with_ec25(const tw_constants *at, const tw_constants *at25, tw_tests *tests,
                                        double ec25_us_per_cm, tw_water *water, tw_speciation *out)
{
    tw_speciation mine;
    tw_speciation *sp = out ? out : &mine;
    tests->salt_mol_per_kg = 0.0;
    tw_status status = tw_water_from_tests(at, tests, water, sp);
    for (int i = 0; i < 12 && status == TW_OK; i++) {
        double salt = 0.0;
        const tw_status found = tw_water_salt_from_ec25(at25, water, ec25_us_per_cm, &salt);
        if (found != TW_OK || tests->salt_mol_per_kg + salt < 0.0)
            return refuse(sp, found == TW_ERR_RANGE ? found : TW_ERR_NO_ROOT, TW_WATER_FAULT_SALT, TW_TOTAL_CL);
        tests->salt_mol_per_kg += salt;
        status = tw_water_from_tests(at, tests, water, sp);
        if (salt < 1e-12 && salt > -1e-12)
            break;
    }
    return status;
}
