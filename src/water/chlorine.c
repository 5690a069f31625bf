/* water/chlorine.c: see chlorine.h.
 *
 * Everything follows from the free HOCl x: with w_n the weights of the rings that hold n chlorines (relative to
 * H3Cy, times x^n), chlorine(x) = x + OCl(x) + ring * (w1 + 2 w2 + 3 w3)/(w0 + w1 + w2 + w3) rises with x (the
 * mean number held rises: its slope in ln x is a variance), so the root is one and is bracketed by 0 and the total. */
#include "water/chlorine.h"

#include <math.h>
#include <stdbool.h>

#include "num/elementary.h"
#include "num/pick.h"

/* Species in the order of tw_chlorine: charge and chlorines, protons given off from H3Cy. */
typedef enum { H3CY, H2CY, HCY, CY, HCLCY, H2CLCY, CLCY, CL2CY, HCL2CY, CL3CY, RINGS } ring_kind;
static const signed char RING_CHARGE[RINGS] = {0, -1, -2, -3, -1, 0, -2, -1, 0, 0};
static const signed char RING_CHLORINE[RINGS] = {0, 0, 0, 0, 1, 1, 1, 2, 2, 3};
static const tw_species RING_SPECIES[RINGS] = {
    TW_SPECIES_H3CY,   TW_SPECIES_H2CY, TW_SPECIES_HCY,   TW_SPECIES_CY,     TW_SPECIES_HCLCY,
    TW_SPECIES_H2CLCY, TW_SPECIES_CLCY, TW_SPECIES_CL2CY, TW_SPECIES_HCL2CY, TW_SPECIES_CL3CY};

typedef struct {
    double ph, chlorine, cyanurate, salt;
    double beta[RINGS];       /* formation from H3Cy, H+ and HOCl; 0 where the model has it not */
    double ka;                /* of HOCl                                                        */
} question;

/* Activities: gamma by charge 0..3, and of water. */
typedef struct {
    double gamma[4], water;
} medium;

/* Without cyanurate (Morris) no ring matters. */
static bool in_model(tw_chlorine_model model, int r)
{
    return model != TW_CHLORINE_2019_SIMPLE || r == H3CY || r == H2CY || r == HCLCY || r == CL2CY;
}

static void ask(tw_chlorine_model model, const tw_constants *at, question *q, tw_chlorine *out)
{
    for (int r = 0; r < RINGS; r++)
        q->beta[r] = in_model(model, r) ? tw_exp(at->ln_beta[RING_SPECIES[r]]) : 0.0;
    const tw_reaction hocl = model == TW_CHLORINE_1974 ? TW_REACTION_HOCL_1974 : TW_REACTION_HOCL;
    q->ka = tw_exp(at->ln_k[hocl]);
    const int old = model == TW_CHLORINE_1974, has = model != TW_CHLORINE_MORRIS;
    out->pka_hocl = -tw_water_log10_k(at, hocl);
    out->pk6 = has ? -tw_water_log10_k(at, old ? TW_REACTION_H3CY_1974 : TW_REACTION_H3CY) : TW_WATER_NAN;
    out->pk7a = has ? -tw_water_log10_k(at, old ? TW_REACTION_CL2CY_1974 : TW_REACTION_CL2CY) : TW_WATER_NAN;
    out->pk9a = has ? -tw_water_log10_k(at, old ? TW_REACTION_HCLCY_1974 : TW_REACTION_HCLCY) : TW_WATER_NAN;
}

/* Molalities for a free HOCl of x; ring[] only holds weights until the total is known. */
static double chlorine_with(const question *q, const medium *in, double h, double x, double ring[RINGS],
                            double *slope)
{
    double sum = 0.0, first = 0.0, second = 0.0;
    for (int r = 0; r < RINGS; r++) {
        const int z = -RING_CHARGE[r], n = RING_CHLORINE[r];
        double w = q->beta[r] / in->gamma[z];
        for (int k = 0; k < z; k++)
            w /= h;
        for (int k = 0; k < n; k++)
            w *= x / in->water;
        ring[r] = w;
        sum += w;
        first += n * w;
        second += n * n * w;
    }
    const double mean = first / sum;
    for (int r = 0; r < RINGS; r++)
        ring[r] *= q->cyanurate / sum;
    const double free = x * (1.0 + q->ka / (h * in->gamma[1]));
    *slope = free + q->cyanurate * (second / sum - mean * mean); /* d/d ln x */
    return free + q->cyanurate * mean;
}

/* Newton in ln x inside a bracket: 200 halvings of ln x would do alone; it takes about ten steps. */
static double free_hocl(const question *q, const medium *in, double h, double ring[RINGS])
{
    double slope = 0.0;
    if (!(q->chlorine > 0.0)) {
        chlorine_with(q, in, h, 0.0, ring, &slope);
        return 0.0;
    }
    double high = tw_log(q->chlorine), low = high - 80.0, y = high;
    int left = 200;
    while (left--) {
        const double gap = chlorine_with(q, in, h, tw_exp(y), ring, &slope) - q->chlorine;
        if (gap > 0.0)
            high = y;
        else
            low = y;
        double next = y - gap / slope;
        if (!(next > low && next < high))
            next = 0.5 * (low + high);
        const double step = fabs(next - y);
        y = next;
        if (step < 1e-15)
            break;
    }
    const double x = tw_exp(y);
    chlorine_with(q, in, h, x, ring, &slope);
    return x;
}

static void report(const question *q, const medium *in, double h, tw_chlorine *out)
{
    double ring[RINGS];
    out->hocl = free_hocl(q, in, h, ring);
    out->ocl = out->hocl * q->ka / (h * in->gamma[1]);
    out->bound = 0.0;
    for (int r = HCLCY; r < RINGS; r++)
        out->bound += RING_CHLORINE[r] * ring[r];
    out->h3cy = ring[H3CY];
    out->h2cy = ring[H2CY];
    out->hcy = ring[HCY];
    out->cy = ring[CY];
    out->hclcy = ring[HCLCY];
    out->h2clcy = ring[H2CLCY];
    out->clcy = ring[CLCY];
    out->cl2cy = ring[CL2CY];
    out->hcl2cy = ring[HCL2CY];
    out->cl3cy = ring[CL3CY];
}

static tw_status prepare(tw_chlorine_model model, double temp_k, double ph, double chlorine, double cyanurate,
                         double salt, tw_constants *at, question *q, tw_chlorine *out)
{
    const double nan = TW_WATER_NAN;
    *out = (tw_chlorine){nan, nan, nan, nan, nan, nan, nan, nan, nan, nan,
                         nan, nan, nan, nan, nan, nan, nan, nan, nan};
    const double sum = chlorine + cyanurate + salt;
    if (!(ph >= 2.0 && ph <= 12.0 && chlorine >= 0.0 && cyanurate >= 0.0 && salt >= 0.0 && sum < 10.0))
        return TW_ERR_RANGE;
    const tw_cyanurate_set set = model == TW_CHLORINE_1974 ? TW_CYANURATE_1974 : TW_CYANURATE_2019;
    const tw_status status = tw_water_constants_with(temp_k, set, at);
    if (status != TW_OK)
        return status;
    *q = (question){.ph = ph, .chlorine = chlorine, .cyanurate = model == TW_CHLORINE_MORRIS ? 0.0 : cyanurate,
                    .salt = salt};
    ask(model, at, q, out);
    return TW_OK;
}

tw_status tw_water_chlorine_ideal(tw_chlorine_model model, double temp_k, double ph, double chlorine_mol_per_kg,
                                  double cyanurate_mol_per_kg, tw_chlorine *out)
{
    tw_constants at;
    question q;
    const tw_status status = prepare(model, temp_k, ph, chlorine_mol_per_kg, cyanurate_mol_per_kg, 0.0, &at, &q, out);
    if (status != TW_OK)
        return status;
    const medium ideal = {{1.0, 1.0, 1.0, 1.0}, 1.0};
    report(&q, &ideal, tw_pow10(-ph), out);
    out->ionic_strength_mol_per_kg = out->log10_gamma_1 = 0.0;
    return TW_OK;
}

static double davies_log10(const tw_constants *at, double strength, double charge)
{
    const double r = sqrt(strength);
    return -at->debye_a_log10 * charge * charge * (r / (1.0 + r) - 0.3 * strength);
}

static double gamma_of(const tw_constants *at, tw_species s, double strength)
{
    const double r = sqrt(strength);
    return tw_exp(at->ln_gamma_per_i[s] * strength - at->ln_gamma_z2[s] * r / (1.0 + at->ln_gamma_size[s] * r));
}

/* Ionic strength and sum of solutes with sodium balancing all anions; where acid is over, as much more of an anion. */
static void ions(const question *q, const tw_chlorine *c, double h, double oh, double *strength, double *solutes)
{
    const double once = c->ocl + c->h2cy + c->hclcy + c->cl2cy, twice = c->hcy + c->clcy;
    const double sodium = fabs(q->salt + oh + once + 2.0 * twice + 3.0 * c->cy - h);
    *strength = 0.5 * (sodium + q->salt + h + oh + once + 4.0 * twice + 9.0 * c->cy);
    *solutes = sodium + q->salt + h + oh + once + twice + c->cy + c->hocl + c->h3cy + c->h2clcy + c->hcl2cy + c->cl3cy;
}

/* Ionic strength answers weakly to the species (salt makes most of it): plain repetition settles it. */
tw_status tw_water_chlorine_activity(tw_chlorine_model model, double temp_k, double ph, double chlorine_mol_per_kg,
                                     double cyanurate_mol_per_kg, double salt_mol_per_kg, tw_chlorine *out)
{
    tw_constants at;
    question q;
    const tw_status status =
        prepare(model, temp_k, ph, chlorine_mol_per_kg, cyanurate_mol_per_kg, salt_mol_per_kg, &at, &q, out);
    if (status != TW_OK)
        return status;
    const double h = tw_pow10(-ph), kw = tw_exp(at.ln_k[TW_REACTION_WATER]);
    double strength = salt_mol_per_kg + 1e-4, solutes = 2.0 * strength;
    int left = 60;
    while (left--) {
        medium in;
        in.water = 1.0 - TW_WATER_LESS_PER_MOL * solutes;
        for (int z = 0; z < 4; z++)
            in.gamma[z] = tw_pow10(davies_log10(&at, strength, z));
        report(&q, &in, h, out);
        double next = 0.0;
        ions(&q, out, h / gamma_of(&at, TW_SPECIES_H, strength), kw * in.water / (h * gamma_of(&at, TW_SPECIES_OH, strength)),
             &next, &solutes);
        next = tw_max(next, 1e-9);
        const double moved = fabs(next - strength);
        strength = next;
        out->ionic_strength_mol_per_kg = strength;
        out->log10_gamma_1 = davies_log10(&at, strength, 1.0);
        if (moved < tw_max(1e-13 * strength, 1e-15))
            break;
    }
    return TW_OK;
}

tw_status tw_water_chlorine_spread(double temp_k, double ph, double chlorine_mol_per_kg, double cyanurate_mol_per_kg,
                                   double salt_mol_per_kg, double *low, double *high)
{
    tw_chlorine by_2019, by_1974;
    *low = *high = TW_WATER_NAN;
    tw_status status = tw_water_chlorine_activity(TW_CHLORINE_2019_SIMPLE, temp_k, ph, chlorine_mol_per_kg,
                                                  cyanurate_mol_per_kg, salt_mol_per_kg, &by_2019);
    if (status == TW_OK)
        status = tw_water_chlorine_activity(TW_CHLORINE_1974, temp_k, ph, chlorine_mol_per_kg, cyanurate_mol_per_kg,
                                            salt_mol_per_kg, &by_1974);
    if (status != TW_OK)
        return status;
    *low = tw_min(by_2019.hocl, by_1974.hocl);
    *high = tw_max(by_2019.hocl, by_1974.hocl);
    return TW_OK;
}
