/* water/inverse.c: see inverse.h. */
#include "water/inverse.h"

#include <math.h>
#include <stdbool.h>

#include "num/elementary.h"
#include "water/balance.h"
#include "water/conductivity.h"

static bool is_amount(double x)
{
    return x >= 0.0 && x - x == 0.0;
}

static tw_status refuse(tw_speciation *out, tw_status status, tw_water_fault fault, tw_total total)
{
    tw_water_balance_fail(out, fault, total);
    return status;
}

static tw_status finish(const tw_balance *b, tw_speciation *out)
{
    if (b->ionic_strength > TW_WATER_IONIC_STRENGTH_MAX || b->here.solutes > TW_BALANCE_MOST_MOL_PER_KG)
        return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_IONIC_STRENGTH, TW_TOTAL_NA);
    tw_water_balance_report(b, out);
    return TW_OK;
}

/* Carbon from pH and strong-ion alkalinity, the other totals as in *water. Without carbon a water has the least alkalinity
 * at a pH, and it rises with carbon: what is asked for must lie above. */
static tw_status find_dic(const tw_constants *at, tw_water *water, double ph, double alk, tw_speciation *out)
{
    water->total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    tw_balance b;
    tw_water_balance_begin(&b, at, water, TW_ASK_DIC, ph, 0.0);
    b.alk = alk;
    tw_water_balance_start_cold(&b);
    if (!tw_water_balance_settle(&b)) {
        const tw_status status = tw_water_at_ph(at, water, ph, out);
        if (status != TW_OK)
            return status;
        return out->strong_ion_alk_mol_per_kg < alk ? refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_IONIC_STRENGTH, TW_TOTAL_DIC)
                                                    : refuse(out, TW_ERR_NO_ROOT, TW_WATER_FAULT_ALKALINITY, TW_TOTAL_DIC);
    }
    const tw_status status = finish(&b, out);
    if (status == TW_OK)
        water->total_mol_per_kg[TW_TOTAL_DIC] = out->dic_mol_per_kg;
    return status;
}

/* The first total that is no amount; TW_TOTALS: all of them are. */
static tw_total first_bad(const tw_water *water)
{
    int i = 0;
    while (i < TW_TOTALS && is_amount(water->total_mol_per_kg[i]))
        i++;
    return (tw_total)i;
}

/* All totals but DIC; sodium and chloride before anything is balanced. */
static void fill_totals(const tw_tests *t, tw_water *water)
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
}

/* x = 2 Ca + 2 Mg + K - alk - 2 SO4 - other: what is over came in as chloride, what lacks as sodium. */
static void balance_with_salt(const tw_tests *t, double alk, tw_water *water)
{
    const double x = 2.0 * t->calcium_mol_per_kg + 2.0 * t->magnesium_mol_per_kg + t->potassium_mol_per_kg -
                     alk - 2.0 * t->sulfate_mol_per_kg - t->other_mol_per_kg;
    water->total_mol_per_kg[TW_TOTAL_CL] = t->salt_mol_per_kg + 0.5 * (fabs(x) + x);
    water->total_mol_per_kg[TW_TOTAL_NA] = t->salt_mol_per_kg + 0.5 * (fabs(x) - x);
}

/* Sodium and chloride follow from the strong-ion alkalinity. As titrated it is lower by phosphate and by doubly chlorinated
 * cyanurate. For the latter the species must be known: they are looked at without carbon first, which hardly moves them,
 * and each round shrinks what is left a thousandfold. */
static tw_status balance_titrated(const tw_constants *at, const tw_tests *t, tw_water *water, tw_speciation *sp)
{
    const double known = t->alk_mol_per_kg + t->phosphate_mol_per_kg;
    double held = TW_WATER_INFINITY;
    balance_with_salt(t, known, water);
    if (t->active_chlorine_mol_per_kg * t->cyanurate_mol_per_kg == 0.0)
        return find_dic(at, water, t->ph, known, sp);
    tw_status status = tw_water_at_ph(at, water, t->ph, sp);
    int left = 12;
    while (status == TW_OK && left--) {
        const double before = held;
        held = sp->mol_per_kg[TW_SPECIES_CL2CY] + sp->mol_per_kg[TW_SPECIES_HCL2CY];
        if (fabs(held - before) < 1e-15)
            break;
        balance_with_salt(t, known + held, water);
        status = find_dic(at, water, t->ph, known + held, sp);
    }
    return status;
}

tw_status tw_water_from_tests(const tw_constants *at, const tw_tests *t, tw_water *water, tw_speciation *out)
{
    tw_speciation mine;
    tw_speciation *sp = out ? out : &mine;
    if (!(t->temp_k >= TW_WATER_TEMP_MIN_K && t->temp_k <= TW_WATER_TEMP_MAX_K))
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_TEMPERATURE, TW_TOTAL_NA);
    if (!(t->ph >= TW_WATER_PH_MIN && t->ph <= TW_WATER_PH_MAX))
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_PH, TW_TOTAL_NA);
    fill_totals(t, water);
    const tw_total bad = first_bad(water);
    if (bad != TW_TOTALS)
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_TOTAL, bad);
    if (t->alk_mol_per_kg - t->alk_mol_per_kg != 0.0)
        return refuse(sp, TW_ERR_RANGE, TW_WATER_FAULT_ALKALINITY, TW_TOTAL_NA);
    if (t->alk_kind == TW_ALK_TITRATED)
        return balance_titrated(at, t, water, sp);
    balance_with_salt(t, t->alk_mol_per_kg, water);
    return find_dic(at, water, t->ph, t->alk_mol_per_kg, sp);
}

tw_status tw_water_dic_for_ph(const tw_constants *at, tw_water *water, double ph, tw_speciation *out)
{
    tw_water with = *water;
    with.total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    const tw_total bad = first_bad(&with);
    if (bad != TW_TOTALS)
        return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_TOTAL, bad);
    if (!(ph >= TW_WATER_PH_MIN && ph <= TW_WATER_PH_MAX))
        return refuse(out, TW_ERR_RANGE, TW_WATER_FAULT_PH, TW_TOTAL_NA);
    const tw_status status = find_dic(at, &with, ph, tw_water_strong_ion_alk_mol_per_kg(&with), out);
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
    int left = 12;
    while (status == TW_OK && left--) {
        double salt = 0.0;
        const tw_status found = tw_water_salt_from_ec25(at25, water, ec25_us_per_cm, &salt);
        if (found != TW_OK || tests->salt_mol_per_kg + salt < 0.0)
            return refuse(sp, found == TW_ERR_RANGE ? found : TW_ERR_NO_ROOT, TW_WATER_FAULT_SALT, TW_TOTAL_CL);
        tests->salt_mol_per_kg += salt;
        status = tw_water_from_tests(at, tests, water, sp);
        if (fabs(salt) < 1e-12)
            break;
    }
    return status;
}
