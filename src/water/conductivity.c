/* water/conductivity.c: Debye-Hueckel-Onsager for mixtures in the form of Appelo 2017, with the ion pairs as
 * species of their own. Ion data: data/conductivity.csv. Within 0.7 % of a general-purpose code on waters from a
 * hose to a salt tub, 10 to 42 C. */
#include "water/conductivity.h"

#include <math.h>

#include "num/elementary.h"
#include "num/pick.h"
#include "water/density.h"
#include "water/edge.h"

#define ELEMENTARY_CHARGE_C 1.60218e-19
#define AVOGADRO_PER_MOL 6.02252e23
#define BOLTZMANN_J_PER_K 1.38066e-23
#define FARADAY_C_PER_MOL 96485.33
#define GAS_J_PER_MOL_K 8.31446
#define VACUUM_F_PER_M 8.8542e-12
#define VISCOSITY_25_MPA_S 0.8900239

/* Sums over the cations [0] or the anions [1]. */
typedef struct {
    double mol, charge, mobility; /* of m, of m|z|, of m|z|D */
} ion_sums;

/* Where an ion belongs in such a pair. */
static int side_of(const tw_species_row *s)
{
    return s->charge < 0;
}

static double diffusion_m2_per_s(const tw_constants *at, const tw_species_row *s)
{
    const double warmth = tw_exp(s->d_temp_k / at->temp_k - s->d_temp_k / 298.15);
    return s->d25_m2_per_s * warmth * VISCOSITY_25_MPA_S / at->viscosity_mpa_s;
}

/* What the whole solution does to each ion: the relaxation term, the electrophoretic term, viscosity. */
typedef struct {
    double root, b_per_angstrom, relaxation, drag, thicker, cation_charge;
} surroundings;

static double relaxation(const tw_constants *at, const ion_sums ions[2])
{
    const double z_plus = ions[0].charge / ions[0].mol, z_minus = ions[1].charge / ions[1].mol;
    const double plus = ions[0].mobility / ions[0].mol, minus = ions[1].mobility / ions[1].mol;
    const double t = plus / (plus + minus);
    const double q = 1.0 / ((t / z_plus + (1.0 - t) / z_minus) * (z_plus + z_minus));
    const double a0 = ELEMENTARY_CHARGE_C * ELEMENTARY_CHARGE_C / (6.0 * TW_PI);
    return a0 / (2.0 * VACUUM_F_PER_M * at->dielectric * BOLTZMANN_J_PER_K * at->temp_k) * q / (1.0 + sqrt(q)) *
           at->debye_b_per_angstrom * 1e10 * z_plus * z_minus;
}

static surroundings around(const tw_constants *at, const tw_speciation *sp, const ion_sums ions[2])
{
    double thicker = 1.0;
    for (int i = 0; i < TW_SPECIES; i++)
        thicker += tw_water_species[i].ec_b_l_per_mol * sp->mol_per_kg[i];
    const double a0 = ELEMENTARY_CHARGE_C * ELEMENTARY_CHARGE_C / (6.0 * TW_PI);
    surroundings s;
    s.root = sqrt(sp->ionic_strength_mol_per_kg);
    s.b_per_angstrom = at->debye_b_per_angstrom;
    s.relaxation = relaxation(at, ions);
    s.drag = a0 * AVOGADRO_PER_MOL * at->debye_b_per_angstrom * 1e17 / at->viscosity_mpa_s;
    s.thicker = thicker;
    s.cation_charge = ions[0].charge / ions[0].mol;
    return s;
}

/* Equivalent conductivity of one ion among the others, S cm2/eq. */
static double ion_conductivity(const tw_species_row *s, double d_m2_per_s, const surroundings *a)
{
    const double z = fabs((double)s->charge);
    const double alone = 1e4 * z * FARADAY_C_PER_MOL * FARADAY_C_PER_MOL * d_m2_per_s / (GAS_J_PER_MOL_K * 298.15);
    const double size = s->ec_size_a - side_of(s) * 0.126 * z * (a->cation_charge - 1.0);
    const double kappa = 1.0 + size * a->b_per_angstrom * a->root;
    const double slowed = (alone - a->drag * z * a->root / kappa) * (1.0 - a->relaxation * a->root / (kappa * kappa));
    return slowed * tw_pow(a->thicker, -s->ec_v);
}

double tw_water_conductivity_us_per_cm(const tw_constants *at, const tw_speciation *sp)
{
    double d[TW_SPECIES];
    ion_sums ions[2] = {{0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}};
    for (int i = 0; i < TW_SPECIES; i++) {
        const tw_species_row *s = &tw_water_species[i];
        d[i] = 0.0;
        if (s->d25_m2_per_s * sp->mol_per_kg[i] == 0.0) /* a neutral one has no mobility */
            continue;
        d[i] = diffusion_m2_per_s(at, s);
        ion_sums *sum = &ions[side_of(s)];
        const double z = fabs((double)s->charge), m = sp->mol_per_kg[i];
        sum->mol += m;
        sum->charge += m * z;
        sum->mobility += m * z * d[i];
    }
    const surroundings a = around(at, sp, ions);
    double share[2];
    for (int k = 0; k < 2; k++) {
        const double z = ions[k].charge / ions[k].mol;
        share[k] = 2.0 * ions[k].charge / (ions[0].charge + ions[1].charge) /
                   (3.0 * ions[k].mol * (z - 1.0) + ions[k].mol);
    }
    double sum = 0.0;
    for (int i = 0; i < TW_SPECIES; i++) {
        const tw_species_row *s = &tw_water_species[i];
        if (d[i] > 0.0)
            sum += ion_conductivity(s, d[i], &a) * sp->mol_per_kg[i] * (double)(s->charge * s->charge) *
                   share[side_of(s)];
    }
    return 500.0 * (ions[0].charge + ions[1].charge) * at->pure_density_kg_per_l * at->pure_density_kg_per_l * sum;
}

tw_status tw_water_conductivity_25_us_per_cm(const tw_constants *at25, const tw_water *water, double *us_per_cm)
{
    tw_speciation sp;
    tw_water cold = *water;
    cold.temp_k = at25->temp_k;
    const tw_status status = tw_water_speciate(at25, &cold, &sp);
    *us_per_cm = status == TW_OK ? tw_water_conductivity_us_per_cm(at25, &sp) : TW_WATER_NAN;
    return status;
}

/* Conductivity with so much salt added. */
static tw_status with_salt(const tw_constants *at25, const tw_water *water, double salt, double *ec)
{
    tw_water more = *water;
    more.total_mol_per_kg[TW_TOTAL_NA] += salt;
    more.total_mol_per_kg[TW_TOTAL_CL] += salt;
    return tw_water_conductivity_25_us_per_cm(at25, &more, ec);
}

/* Conductivity rises with salt, a little less than linearly: the secant from two points closes in from one side
 * within six steps; a bracket is not needed, the step is kept inside what there is to take. */
tw_status tw_water_salt_from_ec25(const tw_constants *at25, const tw_water *water, double ec25_us_per_cm,
                                  double *salt_mol_per_kg)
{
    const double na = water->total_mol_per_kg[TW_TOTAL_NA], cl = water->total_mol_per_kg[TW_TOTAL_CL];
    const double least = -tw_min(na, cl);
    *salt_mol_per_kg = TW_WATER_NAN;
    if (!(ec25_us_per_cm >= 0.0)) /* one too large asks for more salt than the law covers */
        return TW_ERR_RANGE;
    double x = 0.0, ec = 0.0, slope = 1.08e5; /* uS/cm for 1 mol/kg */
    tw_status status = with_salt(at25, water, 0.0, &ec);
    int left = 30;
    while (status == TW_OK && left--) {
        const double gap = ec25_us_per_cm - ec;
        if (fabs(gap) < 1e-9 * (1.0 + ec25_us_per_cm)) {
            *salt_mol_per_kg = x;
            return TW_OK;
        }
        const double next = tw_max(x + gap / slope, least);
        if (next == x)
            return TW_ERR_NO_ROOT; /* even without any salt it conducts more */
        double there = 0.0;
        status = with_salt(at25, water, next, &there);
        slope = tw_clamp((there - ec) / (next - x), 5e4, 2e5);
        x = next;
        ec = there;
    }
    return status == TW_OK ? TW_ERR_NO_ROOT : status;
}

/* ------------------------------------------------------------------------------------------- ppm scales */

static const double PPM_PER_US_PER_CM[TW_PPM_SCALES] = {0.0, 0.5, 0.64, 0.7};

static int in_scale(tw_ppm_scale scale, double x)
{
    return (int)scale >= 0 && scale < TW_PPM_SCALES && x >= 0.0 && x - x == 0.0;
}

/* mol/kg of water to mg/L of solution and back: a litre weighs a little more with salt in it, which two rounds settle. */
static double nacl_mg_per_l(const tw_constants *at25, double mol_per_kg)
{
    const tw_water w = {.temp_k = at25->temp_k,
                        .total_mol_per_kg = {[TW_TOTAL_NA] = mol_per_kg, [TW_TOTAL_CL] = mol_per_kg}};
    tw_speciation sp;
    if (tw_water_speciate(at25, &w, &sp) != TW_OK)
        return TW_WATER_NAN;
    return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, mol_per_kg, tw_water_solvent_kg_per_l(at25, &sp));
}

static double nacl_mol_per_kg(const tw_constants *at25, double mg_per_l)
{
    const double about = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, mg_per_l, at25->pure_density_kg_per_l);
    double mol = about;
    for (int left = mol > 0.0 ? 8 : 0; left--;) /* each shrinks the rest fiftyfold */
        mol *= mg_per_l / nacl_mg_per_l(at25, mol);
    return mol;
}

double tw_water_ec25_from_ppm(const tw_constants *at25, tw_ppm_scale scale, double ppm)
{
    if (!in_scale(scale, ppm))
        return TW_WATER_NAN;
    if (scale != TW_PPM_NACL)
        return ppm / PPM_PER_US_PER_CM[scale];
    double ec = TW_WATER_NAN;
    const double mol = nacl_mol_per_kg(at25, ppm);
    const tw_water w = {.temp_k = at25->temp_k, .total_mol_per_kg = {[TW_TOTAL_NA] = mol, [TW_TOTAL_CL] = mol}};
    (void)tw_water_conductivity_25_us_per_cm(at25, &w, &ec);
    return ec;
}

double tw_water_ppm_from_ec25(const tw_constants *at25, tw_ppm_scale scale, double us_per_cm)
{
    if (!in_scale(scale, us_per_cm))
        return TW_WATER_NAN;
    if (scale != TW_PPM_NACL)
        return us_per_cm * PPM_PER_US_PER_CM[scale];
    const tw_water pure = {.temp_k = at25->temp_k};
    double mol = 0.0;
    if (tw_water_salt_from_ec25(at25, &pure, us_per_cm, &mol) != TW_OK)
        return TW_WATER_NAN;
    return nacl_mg_per_l(at25, mol);
}

const char *tw_water_ppm_scale_name(tw_ppm_scale scale)
{
    static const char *const names[TW_PPM_SCALES] = {"NaCl", "0.5", "0.64", "0.7"};
    return (int)scale >= 0 && scale < TW_PPM_SCALES ? names[scale] : "unknown scale";
}
