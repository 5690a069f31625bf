/* water/constants.c: temperature goes in here and nowhere else. */
#include "water/constants.h"

#include <math.h>

#include "num/elementary.h"
#include "water/density.h"

/* Density of the saturated liquid, kg/m3, Wagner and Pruss 2002, JPCRD 31, 387, eq. 2.6: the one inside
 * the activity law (Kell's is within 0.05 kg/m3). 110/3 = 43/3 + 16/3*4 + 1: all powers of theta^(1/3). */
static double saturated_density_kg_per_m3(double temp_k)
{
    const double theta = 1.0 - temp_k / 647.096;
    const double p1 = tw_exp(tw_log(theta) / 3.0);
    const double p2 = p1 * p1, p4 = p2 * p2, p5 = p4 * p1, p8 = p4 * p4, p16 = p8 * p8, p32 = p16 * p16;
    const double p43 = p32 * p8 * p2 * p1, p64 = p32 * p32, p110 = p64 * p43 * p2 * p1;
    return 322.0 * (1.0 + 1.99274064 * p1 + 1.09965342 * p2 - 0.510839303 * p5 - 1.75493479 * p16 -
                    45.5170352 * p43 - 6.7469445e5 * p110);
}

/* Relative permittivity at 1 atm: Bradley and Pitzer 1979, J. Phys. Chem. 83, 1599. */
static double permittivity(double temp_k)
{
    const double at_1000_bar = 342.79 * tw_exp(temp_k * (-5.0866e-3 + temp_k * 9.469e-7));
    const double c = -2.0525 + 3115.9 / (temp_k - 182.89);
    const double b_bar = -8032.5 + 4.2142e6 / temp_k + 2.1417 * temp_k;
    return at_1000_bar + c * tw_log((b_bar + 1.01325) / (b_bar + 1000.0));
}

/* A (log10) and B (1/angstrom) of the activity law, from permittivity and density; the constants of nature
 * as phreeqc.dat's code has them: e^2/k = 1.671008e-3 cm K, N = 6.02252e23. */
static void debye_huckel(tw_constants *c)
{
    const double length_cm = 1.671008e-3 / (c->dielectric * c->temp_k);
    const double density = saturated_density_kg_per_m3(c->temp_k) / 1000.0;
    const double b_per_cm = sqrt(8.0 * TW_PI * 6.02252e23 * length_cm * density / 1000.0);
    c->debye_a_log10 = b_per_cm * length_cm / (2.0 * TW_LN10);
    c->debye_b_per_angstrom = b_per_cm / 1e8;
}

/* Viscosity of water, mPa s: Kestin, Sokolov and Wakeham 1978, from memory; 0 .. 40 C, used to 45. */
static double viscosity_mpa_s(double t)
{
    const double d = 20.0 - t;
    return 1.002 * tw_pow10(d / (t + 96.0) * (1.2378 - 1.303e-3 * d + 3.06e-6 * d * d + 2.55e-8 * d * d * d));
}

static void reactions_at(tw_constants *c)
{
    const double t = c->temp_k, inverse = 1.0 / t, log_t = tw_log10(t);
    for (int i = 0; i < TW_REACTIONS; i++) {
        const double *a = tw_water_reactions[i].a;
        const double log_k = a[0] + a[1] * t + a[2] * inverse + a[3] * log_t + a[4] * inverse * inverse + a[5] * t * t;
        c->ln_k[i] = log_k * TW_LN10;
    }
}

/* The three laws in one form, so that a loop over species needs no branch:
 *   ion      -A z2 r/(1 + B a r) + b I
 *   Davies   -A z2 (r/(1 + r) - 0.3 I)
 *   neutral  b I                                  (log10, r = sqrt I) */
static void activity_law_of(tw_constants *c, int i)
{
    const tw_species_row *s = &tw_water_species[i];
    const double z2 = (double)(s->charge * s->charge), a_ln = c->debye_a_log10 * TW_LN10;
    c->ln_gamma_z2[i] = s->law == TW_LAW_NEUTRAL ? 0.0 : a_ln * z2;
    c->ln_gamma_size[i] = s->law == TW_LAW_ION ? c->debye_b_per_angstrom * s->size_a : 1.0;
    c->ln_gamma_per_i[i] = s->law == TW_LAW_DAVIES ? 0.3 * a_ln * z2 : s->per_i * TW_LN10;
}

static void species_at(tw_constants *c, tw_cyanurate_set set)
{
    for (int i = 0; i < TW_SPECIES; i++) {
        const tw_species_row *s = &tw_water_species[i];
        double ln_beta = 0.0;
        for (int j = 0; j < s->terms; j++) {
            const tw_reaction r = s->term[j];
            ln_beta += s->sign[j] * c->ln_k[set == TW_CYANURATE_1974 ? tw_water_reactions[r].in_1974 : r];
        }
        c->ln_beta[i] = ln_beta;
        activity_law_of(c, i);
    }
}

static void fill(tw_constants *out, double x)
{
    *out = (tw_constants){.temp_k = x, .set = TW_CYANURATE_SETS, .ln_ksp_calcite = x, .ln_ksp_aragonite = x, .ln_henry_co2 = x,
                          .debye_a_log10 = x, .debye_b_per_angstrom = x, .dielectric = x,
                          .pure_density_kg_per_l = x, .viscosity_mpa_s = x};
    for (int i = 0; i < TW_REACTIONS; i++)
        out->ln_k[i] = x;
    for (int i = 0; i < TW_SPECIES; i++)
        out->ln_beta[i] = out->ln_gamma_z2[i] = out->ln_gamma_size[i] = out->ln_gamma_per_i[i] = x;
}

tw_status tw_water_constants_with(double temp_k, tw_cyanurate_set set, tw_constants *out)
{
    if (!(temp_k >= TW_WATER_TEMP_MIN_K && temp_k <= TW_WATER_TEMP_MAX_K)) {
        fill(out, TW_WATER_NAN);
        return TW_ERR_RANGE;
    }
    out->temp_k = temp_k;
    out->set = set;
    out->dielectric = permittivity(temp_k);
    out->pure_density_kg_per_l = tw_water_pure_density_kg_per_l(temp_k - TW_WATER_ZERO_C_K);
    out->viscosity_mpa_s = viscosity_mpa_s(temp_k - TW_WATER_ZERO_C_K);
    debye_huckel(out);
    reactions_at(out);
    species_at(out, set);
    out->ln_ksp_calcite = out->ln_k[TW_REACTION_CALCITE];
    out->ln_ksp_aragonite = out->ln_k[TW_REACTION_ARAGONITE];
    out->ln_henry_co2 = out->ln_k[TW_REACTION_CO2_GAS];
    return TW_OK;
}

tw_status tw_water_constants_at(double temp_k, tw_constants *out)
{
    return tw_water_constants_with(temp_k, TW_CYANURATE_2019, out);
}

double tw_water_log10_k(const tw_constants *at, tw_reaction reaction)
{
    return at->ln_k[reaction] / TW_LN10;
}
