/* estimate/carbonate.c: the constants of the acids for the sampler, from the water model. */
#include "estimate/carbonate.h"

#include "gen/scale_tables.h"
#include "num/elementary.h"
#include "water/reduced.h"

#define CALCIUM_MOL_PER_KG 1.0e-3    /* for the ion pairs: a tub's usual hardness */
#define MAGNESIUM_MOL_PER_KG 0.25e-3
#define CO2_OF_AIR_ATM 4.2e-4        /* open air of the 2020s */

/* Without an answer from the model (never in 0..45 C): fresh water at 25 C, as published. */
static const tw_acid_constants FALLBACK = {4.8e-7, 6.0e-11, 1.1e-11, 3.2e-8, 6.3e-10, 1.2e-7, 8.0e-8, 1.1e3, 0.0143, 2e-2, 0.0, {0.0, 0.0, 0.0}, {0.0, 0.0}};

void tw_estimate_acid_constants(double temp_c, double ionic_strength, tw_acid_constants *out)
{
    tw_constants at;
    tw_reduced r;
    const double t = temp_c < 0.5 ? 0.5 : (temp_c > 44.5 ? 44.5 : temp_c);
    const double i = ionic_strength < 0.005 ? 0.005 : (ionic_strength > 0.3 ? 0.3 : ionic_strength);
    *out = FALLBACK;
    if (tw_water_constants_at(t + 273.15, &at) != TW_OK ||
        tw_water_reduced_at(&at, i, CALCIUM_MOL_PER_KG, MAGNESIUM_MOL_PER_KG, &r) != TW_OK)
        return;
    out->k1 = r.k1;
    out->k2 = r.k2;
    out->kw = 1e3 * r.kw;
    out->kocl = r.kocl;
    out->kb = r.kb;
    out->kcy = r.kcy;
    out->kp2 = r.kp2;
    out->kcy2 = r.kcy2;
    for (int j = 0; j < 3; j++)
        out->one[j] = 1e-3 * r.one[j];
    for (int j = 0; j < 2; j++)
        out->two[j] = 1e-6 * r.two[j];
    out->per_h = 1e3 * r.per_h;
    out->scale = 1e6 * r.calcite * tw_exp(TW_LN10 * TW_SCALE_INDEX);
    out->co2_eq = 1e3 * r.co2_per_atm * CO2_OF_AIR_ATM;
}

double tw_estimate_gas_factor(double temp_c)
{
    return tw_exp(0.0237165 * (temp_c - 20.0));
}
