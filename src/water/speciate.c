/* water/speciate.c: the questions of speciate.h, put to the equations of balance.h. */
#include "water/speciate.h"

#include <math.h>
#include <stdbool.h>

#include "num/elementary.h"
#include "water/balance.h"

static bool is_number(double x)
{
    return x - x == 0.0;
}

/* What can be told from the inputs alone. */
static tw_water_fault look(const tw_constants *at, const tw_water *water, tw_total *total)
{
    *total = TW_TOTAL_NA;
    if (!(water->temp_k >= TW_WATER_TEMP_MIN_K && water->temp_k <= TW_WATER_TEMP_MAX_K) || !is_number(at->temp_k))
        return TW_WATER_FAULT_TEMPERATURE;
    double charges = 0.0;
    for (int i = 0; i < TW_TOTALS; i++) {
        if (!is_number(water->total_mol_per_kg[i]) || water->total_mol_per_kg[i] < 0.0) {
            *total = (tw_total)i;
            return TW_WATER_FAULT_TOTAL;
        }
        charges += water->total_mol_per_kg[i];
    }
    return charges > TW_BALANCE_MOST_MOL_PER_KG ? TW_WATER_FAULT_IONIC_STRENGTH : TW_WATER_FAULT_NONE;
}

static tw_status status_of(tw_water_fault fault)
{
    switch (fault) {
    case TW_WATER_FAULT_NONE:
        return TW_OK;
    case TW_WATER_FAULT_TOO_ACID:
    case TW_WATER_FAULT_TOO_ALKALINE:
    case TW_WATER_FAULT_ALKALINITY:
    case TW_WATER_FAULT_SALT:
        return TW_ERR_NO_ROOT;
    case TW_WATER_FAULT_NOT_SETTLED:
        return TW_ERR_NO_CONVERGENCE;
    case TW_WATER_FAULT_TEMPERATURE:
    case TW_WATER_FAULT_TOTAL:
    case TW_WATER_FAULT_IONIC_STRENGTH:
    case TW_WATER_FAULT_PH:
    case TW_WATER_FAULT_CO2_PRESSURE:
    case TW_WATER_FAULTS:
    default:
        return TW_ERR_RANGE;
    }
}

static tw_status refuse(tw_speciation *out, tw_water_fault fault, tw_total total)
{
    tw_water_balance_fail(out, fault, total);
    return status_of(fault);
}

/* Where a pH that is found lies outside the range, or the salt outside the law. */
static tw_water_fault look_after(const tw_balance *b)
{
    const double ph = -b->u[TW_U_H] / TW_LN10;
    if (ph < TW_WATER_PH_MIN)
        return TW_WATER_FAULT_TOO_ACID;
    if (ph > TW_WATER_PH_MAX)
        return TW_WATER_FAULT_TOO_ALKALINE;
    if (b->ionic_strength > TW_WATER_IONIC_STRENGTH_MAX)
        return TW_WATER_FAULT_IONIC_STRENGTH;
    return TW_WATER_FAULT_NONE;
}

static tw_status finish(tw_balance *b, tw_speciation *out)
{
    if (!tw_water_balance_settle(b))
        return refuse(out, TW_WATER_FAULT_NOT_SETTLED, TW_TOTAL_NA);
    const tw_water_fault fault = look_after(b);
    if (fault != TW_WATER_FAULT_NONE)
        return refuse(out, fault, TW_TOTAL_NA);
    tw_water_balance_report(b, out);
    return TW_OK;
}

tw_status tw_water_speciate_from(const tw_constants *at, const tw_water *water, const tw_speciation *start,
                                 tw_speciation *out)
{
    tw_total total;
    const tw_water_fault fault = look(at, water, &total);
    if (fault != TW_WATER_FAULT_NONE)
        return refuse(out, fault, total);
    tw_balance b;
    tw_water_balance_begin(&b, at, water, TW_ASK_PH, 7.0, 0.0);
    if (start)
        tw_water_balance_start_from(&b, start);
    else
        tw_water_balance_start_cold(&b);
    return finish(&b, out);
}

tw_status tw_water_speciate(const tw_constants *at, const tw_water *water, tw_speciation *out)
{
    return tw_water_speciate_from(at, water, 0, out);
}

tw_status tw_water_equilibrate_co2(const tw_constants *at, tw_water *water, double log10_pco2_atm,
                                   tw_speciation *out)
{
    tw_total total;
    tw_water with = *water;
    with.total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    tw_water_fault fault = look(at, &with, &total);
    if (fault == TW_WATER_FAULT_NONE && !(log10_pco2_atm >= -20.0 && log10_pco2_atm <= 1.0))
        fault = TW_WATER_FAULT_CO2_PRESSURE;
    if (fault != TW_WATER_FAULT_NONE)
        return refuse(out, fault, total);
    tw_balance b;
    tw_water_balance_begin(&b, at, &with, TW_ASK_OPEN, 7.0, log10_pco2_atm * TW_LN10 + at->ln_henry_co2);
    tw_water_balance_start_cold(&b);
    const tw_status status = finish(&b, out);
    if (status == TW_OK)
        water->total_mol_per_kg[TW_TOTAL_DIC] = out->dic_mol_per_kg;
    return status;
}

tw_status tw_water_at_ph(const tw_constants *at, const tw_water *water, double ph, tw_speciation *out)
{
    tw_total total;
    tw_water_fault fault = look(at, water, &total);
    if (fault == TW_WATER_FAULT_NONE && !(ph >= TW_WATER_PH_MIN && ph <= TW_WATER_PH_MAX))
        fault = TW_WATER_FAULT_PH;
    if (fault != TW_WATER_FAULT_NONE)
        return refuse(out, fault, total);
    tw_balance b;
    tw_water_balance_begin(&b, at, water, TW_ASK_AT_PH, ph, 0.0);
    tw_water_balance_start_cold(&b);
    return finish(&b, out);
}

/* Sodium that balances the charge at this pH (chloride where there is not enough sodium to take), by a fixed number of
 * corrections: it enters only ionic strength and weak pairs, so each shrinks the rest a hundredfold. */
static tw_status alk_with_sodium(const tw_constants *at, tw_water *water, double ph, double *alk)
{
    double *na = &water->total_mol_per_kg[TW_TOTAL_NA];
    tw_speciation sp;
    int left = 6;
    while (left--) {
        const tw_status status = tw_water_at_ph(at, water, ph, &sp);
        if (status != TW_OK)
            return status;
        *na += sp.strong_ion_alk_mol_per_kg - tw_water_strong_ion_alk_mol_per_kg(water);
        if (*na < 0.0) {
            water->total_mol_per_kg[TW_TOTAL_CL] -= *na;
            *na = 0.0;
        }
    }
    *alk = sp.strong_ion_alk_mol_per_kg;
    return TW_OK;
}

tw_status tw_water_buffer_intensity(const tw_constants *at, const tw_water *water, double *mol_per_kg_per_ph)
{
    const double step = 0.001;
    double above = 0.0, below = 0.0;
    *mol_per_kg_per_ph = TW_WATER_NAN;
    tw_speciation sp;
    tw_status status = tw_water_speciate(at, water, &sp);
    tw_water more = *water, less = *water;
    if (status == TW_OK)
        status = alk_with_sodium(at, &more, sp.ph + step, &above);
    if (status == TW_OK)
        status = alk_with_sodium(at, &less, sp.ph - step, &below);
    if (status == TW_OK)
        *mol_per_kg_per_ph = (above - below) / (2.0 * step);
    return status;
}

const char *tw_water_fault_text(tw_water_fault fault)
{
    static const char *const texts[TW_WATER_FAULTS] = {
        "nothing is wrong",
        "the temperature is outside 0 to 45 C",
        "a total is negative or not a number",
        "there is more salt than the activity law covers (ionic strength above 0.5 mol/kg)",
        "the charges balance only below pH 2: too much acid",
        "the charges balance only above pH 12: too much base",
        ("the alkalinity is lower than what hydroxide, borate, cyanurate, hypochlorite and phosphate alone "
         "make of it at this pH: no carbonate can be there"),
        "hardness and alkalinity alone conduct more than was measured: no salt can be there",
        "the pH is outside 2 to 12",
        "the CO2 pressure is outside 1e-20 to 10 atm",
        "the calculation did not settle"};
    return (int)fault >= 0 && fault < TW_WATER_FAULTS ? texts[fault] : "unknown fault";
}

double tw_water_log10_gamma(const tw_speciation *sp, tw_species species)
{
    return sp->ln_gamma[species] / TW_LN10;
}

double tw_water_bound_mol_per_kg(const tw_speciation *sp)
{
    double sum = 0.0;
    for (int i = 0; i < TW_SPECIES; i++)
        sum += tw_water_species[i].water * sp->mol_per_kg[i];
    return sum;
}
