/* tests/dose/sim_dose.h: a real tub for the planner to be tried on. It shares no code with src/: its chemistry, its
 * stoichiometry, its loss of chlorine, its gas exchange and its instruments are its own.
 *
 * Carbonate: Plummer and Busenberg 1982 (K1, K2, K of CO2, CaHCO3+, CaCO3), water: the fit in the same compilation (Ball and Nordstrom
 * 1991), borate: Owen and King 1943, HOCl: Morris 1966, cyanurate and its chlorinated rings: O'Brien, Morris and Butler
 * 1974 (25 C; the warmth of H3Cy: Wahman 2018), activities: Davies; the two pairs of calcium and no other. The planner has
 * a dozen pairs, other activities and the cyanurate set of 2018 and 2019: what that is worth is part of the trial. Carbon
 * dioxide by fourth-order Runge-Kutta. Chlorine is lost as the power 1.5 and to two kinds of what it meets, fast and slow. Products by their formulas and IUPAC atomic weights (rounded to 0.01 g/mol). */
#ifndef TW_TESTS_SIM_DOSE_H
#define TW_TESTS_SIM_DOSE_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "../support/random.h"

typedef struct {
    uint64_t state;
} real_random;

static inline double real_uniform(real_random *r)
{
    return random_uniform(&r->state);
}

static inline double real_between(real_random *r, double low, double high)
{
    return low + (high - low) * real_uniform(r);
}

static inline double real_normal(real_random *r)
{
    return random_normal(&r->state);
}

/* ------------------------------------------------------------------------------------------------ the water */

/* mol in each kg; alkalinity is the charge of the strong ions, so sodium stands in it. */
typedef struct {
    double kg, temp_c;
    double alk, dic, ca, cl, so4, borate, cyanurate, chlorine;
    double fast, slow; /* what chlorine meets, mol/kg */
    double loss_per_h; /* at 3 mg/L and this temperature */
    double kla_still, kla_jets; /* 1/h at this temperature */
    double strength[16], weigh; /* of each product on hand: true over said; of the person's scale */
} real_tub;

static inline double real_ionic(const real_tub *w)
{
    const double na = w->alk + w->cl + 2.0 * w->so4 - 2.0 * w->ca, bicarbonate = w->alk > 0.0 ? w->alk : 0.0;
    return 0.5 * (fabs(na) + w->cl + bicarbonate) + 2.0 * w->ca + 2.0 * w->so4;
}

typedef struct {
    double k1, k2, kw, kb, kocl, kcy, g1, per_atm, pair1, pair2;
} real_constants;

static inline real_constants real_constants_of(const real_tub *w)
{
    const double t = w->temp_c + 273.15, root = sqrt(real_ionic(w)), i = root * root;
    const double g1 = pow(10.0, -(0.4883 + 8.074e-4 * w->temp_c) * (root / (1.0 + root) - 0.3 * i)), g2 = g1 * g1 * g1 * g1;
    const double lt = log10(t);
    real_constants k;
    k.g1 = g1;
    k.k1 = pow(10.0, -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * lt - 1684915.0 / (t * t)) / g1;
    k.k2 = pow(10.0, -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * lt - 563713.9 / (t * t)) * g1 / g2;
    k.kw = pow(10.0, -283.9710 - 0.05069842 * t + 13323.0 / t + 102.24447 * lt - 1119669.0 / (t * t)) / g1;
    k.kb = pow(10.0, -(2237.94 / t + 0.016883 * t - 3.305)) / g1;
    k.kocl = pow(10.0, -(3000.0 / t - 10.0686 + 0.0253 * t)) / g1;
    k.kcy = pow(10.0, -6.88 - 1743.0 * (1.0 / t - 1.0 / 298.15)) / g1;
    k.pair1 = pow(10.0, 1209.12 + 0.31294 * t - 34765.05 / t - 478.782 * lt) * g2;
    k.pair2 = pow(10.0, -1228.732 - 0.299444 * t + 35512.75 / t + 485.818 * lt) * g2 * g2;
    k.per_atm = pow(10.0, 108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * lt + 669365.0 / (t * t));
    return k;
}

/* Charge that chlorine and cyanurate hold at this h: OCl-, H2Cy-, HClCy-, Cl2Cy-. */
static inline double real_chlorine_charge(const real_tub *w, const real_constants *k, double h)
{
    const double ocl = k->kocl / h, bare = 1.0 + k->kcy / h;
    if (!(w->cyanurate > 0.0))
        return w->chlorine * (k->kocl / (k->kocl + h));
    if (!(w->chlorine > 0.0))
        return w->cyanurate * (k->kcy / (k->kcy + h));
    /* for each H2Cy-: HClCy- = hocl/10^-5.62, H2ClCy from pK 5.33, Cl2Cy- = HClCy- hocl/10^-4.51 */
    const double one = pow(10.0, 5.62), acid = h * k->g1 / pow(10.0, -5.33), two = one * pow(10.0, 4.51), minus = k->kcy / h;
    double low = 0.0, high = w->chlorine, hocl = 0.0, per = 0.0;
    for (int i = 0; i < 45; i++) {
        hocl = 0.5 * (low + high);
        const double mono = minus * one * hocl * (1.0 + acid), di = minus * two * hocl * hocl;
        per = w->cyanurate / (bare + mono + di);
        if (hocl * (1.0 + ocl) + per * (mono + 2.0 * di) < w->chlorine)
            low = hocl;
        else
            high = hocl;
    }
    return hocl * ocl + per * minus * (1.0 + one * hocl + two * hocl * hocl);
}

/* Free CO2 and the charge of HCO3-, CO3-2 and their pairs with calcium. Each round takes the calcium that is free closer;
 * a tenth of it is paired at most, so six rounds are enough. */
static inline double real_carbonate(const real_tub *w, const real_constants *k, double h, double *co2)
{
    const double b = k->k1 / h, c = b * k->k2 / h;
    double calcium = w->ca;
    for (int i = 0; i < 6; i++) {
        *co2 = w->dic / (1.0 + b * (1.0 + k->pair1 * calcium) + c * (1.0 + k->pair2 * calcium));
        calcium = w->ca / (1.0 + (k->pair1 * b + k->pair2 * c) * *co2);
    }
    return *co2 * (b * (1.0 + k->pair1 * calcium) + 2.0 * c * (1.0 + k->pair2 * calcium));
}

static inline double real_charge(const real_tub *w, const real_constants *k, double ph)
{
    const double h = pow(10.0, -ph);
    double co2;
    return real_carbonate(w, k, h, &co2) + w->borate * k->kb / (k->kb + h) + k->kw / h - h / k->g1 + real_chlorine_charge(w, k, h) - w->alk;
}

/* Rises with pH: the false position keeps its bracket (Dowell and Jarratt 1971). */
static inline double real_ph_with(const real_tub *w, const real_constants *k)
{
    double a = 4.0, b = 11.0, fa = real_charge(w, k, a), fb = real_charge(w, k, b), x = a;
    if (fa > 0.0 || fb < 0.0)
        return fa > 0.0 ? a : b;
    for (int i = 0; i < 60 && b - a > 1e-9; i++) {
        x = i % 8 == 7 ? 0.5 * (a + b) : b - fb * (b - a) / (fb - fa);
        const double f = real_charge(w, k, x);
        if (fabs(f) < 1e-12)
            break;
        if ((f > 0.0) == (fb > 0.0)) {
            fa *= fb / (fb + f);
            b = x;
            fb = f;
        } else {
            fb *= fa / (fa + f);
            a = x;
            fa = f;
        }
    }
    return x;
}

static inline double real_ph(const real_tub *w)
{
    const real_constants k = real_constants_of(w);
    return real_ph_with(w, &k);
}

/* DIC at which pH is this one, alkalinity as it is. */
static inline void real_set_ph(real_tub *w, double ph)
{
    const real_constants k = real_constants_of(w);
    const double h = pow(10.0, -ph);
    w->dic = 0.0;
    const double wanted = -real_charge(w, &k, ph);
    w->dic = wanted;
    for (int i = 0; i < 30; i++) { /* the pairs bend it a little */
        double co2;
        w->dic *= wanted / real_carbonate(w, &k, h, &co2);
    }
}

/* mg/L; a litre holds 0.993 kg of water within what 10 to 40 C make of it. */
#define REAL_KG_PER_L 0.993
#define REAL_CACO3 100.09
#define REAL_NACL 58.44
#define REAL_CL2 70.906
#define REAL_CYA 129.07
static inline double real_mg_per_l(double mol_per_kg, double g_per_mol)
{
    return 1e3 * mol_per_kg * g_per_mol * REAL_KG_PER_L;
}
static inline double real_mol_per_kg(double mg_per_l, double g_per_mol)
{
    return 1e-3 * mg_per_l / g_per_mol / REAL_KG_PER_L;
}

/* What the judge looks at. Alkalinity as the charge counts it; a kit's end point differs where cyanurate holds chlorine. */
enum { REAL_PH, REAL_ALK, REAL_CALCIUM, REAL_SALT, REAL_CHLORINE, REAL_CYANURATE, REAL_QUANTITIES };
static inline double real_value(const real_tub *w, int of)
{
    switch (of) {
    case REAL_PH: return real_ph(w);
    case REAL_ALK: return real_mg_per_l(w->alk, 0.5 * REAL_CACO3);
    case REAL_CALCIUM: return real_mg_per_l(w->ca, REAL_CACO3);
    case REAL_SALT: return real_mg_per_l(w->cl, REAL_NACL);
    case REAL_CHLORINE: return real_mg_per_l(w->chlorine, REAL_CL2);
    default: return real_mg_per_l(w->cyanurate, REAL_CYA);
    }
}

/* ----------------------------------------------------------------------------------------------- what is poured */

/* mol for each gram of the product at the strength on its label: alkalinity, carbon, calcium, chloride, sulfate,
 * cyanurate, active chlorine. */
typedef struct {
    double alk, dic, ca, cl, so4, cyanurate, chlorine;
} real_product;

static inline int real_product_of(const char *id, real_product *out)
{
    static const struct { const char *id; double share, g_per_mol; real_product per_mol; } ROWS[] = {
        {"sodium-bicarbonate", 1.0, 84.01, {1, 1, 0, 0, 0, 0, 0}}, {"sodium-carbonate", 1.0, 105.99, {2, 1, 0, 0, 0, 0, 0}},
        {"sodium-bisulfate-93", 0.93, 120.06, {-1, 0, 0, 0, 1, 0, 0}}, {"hydrochloric-acid-10", 0.10, 36.46, {-1, 0, 0, 1, 0, 0, 0}},
        {"hydrochloric-acid-14.5", 0.145, 36.46, {-1, 0, 0, 1, 0, 0, 0}}, {"hydrochloric-acid-31.45", 0.3145, 36.46, {-1, 0, 0, 1, 0, 0, 0}},
        {"calcium-chloride-dihydrate", 1.0, 147.01, {0, 0, 1, 2, 0, 0, 0}}, {"calcium-chloride-anhydrous", 0.94, 110.98, {0, 0, 1, 2, 0, 0, 0}},
        {"sodium-chloride", 0.995, 58.44, {0, 0, 0, 1, 0, 0, 0}}, {"dichlor-dihydrate", 1.0, 255.98, {1, 0, 0, 0, 0, 1, 2}},
        {"calcium-hypochlorite-65", 0.655, 142.98, {2, 0, 1, 0, 0, 0, 2}},
        /* 50, 100, 120 g/L as Cl2: as much sodium chloride beside, a twentieth of free lye */
        {"sodium-hypochlorite-50", 50.0 / 1070.0, 70.906, {1.05, 0, 0, 1, 0, 0, 1}},
        {"sodium-hypochlorite-100", 100.0 / 1150.0, 70.906, {1.05, 0, 0, 1, 0, 0, 1}},
        {"sodium-hypochlorite-120", 120.0 / 1180.0, 70.906, {1.05, 0, 0, 1, 0, 0, 1}}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        if (strcmp(ROWS[i].id, id) == 0) {
            const real_product *p = &ROWS[i].per_mol;
            const double m = ROWS[i].share / ROWS[i].g_per_mol;
            *out = (real_product){p->alk * m, p->dic * m, p->ca * m, p->cl * m, p->so4 * m, p->cyanurate * m, p->chlorine * m};
            return 1;
        }
    return 0;
}

/* true_g: of product at the strength of its label. */
static inline void real_pour(real_tub *w, const real_product *p, double true_g)
{
    const double g = true_g / w->kg;
    w->alk += p->alk * g;
    w->dic += p->dic * g;
    w->ca += p->ca * g;
    w->cl += p->cl * g;
    w->so4 += p->so4 * g;
    w->cyanurate += p->cyanurate * g;
    w->chlorine += p->chlorine * g;
}

/* -------------------------------------------------------------------------------------------------------- time */

typedef struct {
    double dic, chlorine, fast, slow;
} real_slope;

/* Chlorine that is used up leaves an acid and a chloride: the caller books it from what is gone. */
static inline real_slope real_slope_of(const real_tub *w, const real_constants *k, double kla, double air_atm)
{
    const double c = w->chlorine > 0.0 ? w->chlorine : 0.0, at3 = real_mol_per_kg(3.0, REAL_CL2);
    double co2;
    (void)real_carbonate(w, k, pow(10.0, -real_ph_with(w, k)), &co2);
    const double quick = 4.0e4 * c * w->fast, slow = 1.2e3 * c * w->slow;
    return (real_slope){-kla * (co2 - k->per_atm * air_atm), -w->loss_per_h * c * sqrt(c / at3) - quick - slow, -quick, -slow};
}

static inline real_tub real_moved(const real_tub *w, const real_slope *s, double h)
{
    real_tub out = *w;
    out.dic += h * s->dic;
    out.chlorine += h * s->chlorine;
    out.alk += h * s->chlorine;
    out.cl -= h * s->chlorine;
    out.fast += h * s->fast;
    out.slow += h * s->slow;
    return out;
}

static inline void real_run(real_tub *w, double hours, int jets)
{
    const double kla = jets ? w->kla_jets : w->kla_still, air = 4.2e-4;
    const real_constants k = real_constants_of(w);
    const double most = jets ? 0.1 : 0.5;
    const int n = (int)ceil(hours / most);
    for (int i = 0; i < n; i++) {
        const double h = hours / n;
        const real_slope a = real_slope_of(w, &k, kla, air);
        const real_tub wb = real_moved(w, &a, 0.5 * h);
        const real_slope b = real_slope_of(&wb, &k, kla, air);
        const real_tub wc = real_moved(w, &b, 0.5 * h);
        const real_slope c = real_slope_of(&wc, &k, kla, air);
        const real_tub wd = real_moved(w, &c, h);
        const real_slope d = real_slope_of(&wd, &k, kla, air);
        const real_slope all = {(a.dic + 2.0 * b.dic + 2.0 * c.dic + d.dic) / 6.0, (a.chlorine + 2.0 * b.chlorine + 2.0 * c.chlorine + d.chlorine) / 6.0,
                                (a.fast + 2.0 * b.fast + 2.0 * c.fast + d.fast) / 6.0, (a.slow + 2.0 * b.slow + 2.0 * c.slow + d.slow) / 6.0};
        *w = real_moved(w, &all, h);
        if (w->chlorine < 0.0)
            w->chlorine = 0.0;
    }
}

/* -------------------------------------------------------------------------------------------------- instruments */

/* block: the nearest of these (in ln when ln is set); else counted drops of `step`, or a number to the nearest step. */
typedef struct {
    int blocks, ln;
    double block[8];
    int counted;
    double step, sd_abs, sd_rel, bias_sd; /* bias: of a bottle or an instrument, all readings alike; relative when ln or sd_rel */
    int relative_bias;
} real_tool;

static inline real_tool real_tool_of(int of, int drops, int meter)
{
    static const real_tool STRIP[REAL_QUANTITIES] = {
        [REAL_PH] = {5, 0, {6.2, 6.8, 7.2, 7.8, 8.4}, 0, 0, 0.15, 0, 0.10, 0},
        [REAL_ALK] = {6, 0, {0, 40, 80, 120, 180, 240}, 0, 0, 18, 0, 12, 0},
        [REAL_CALCIUM] = {5, 1, {20, 50, 120, 250, 425}, 0, 0, 0.22, 0, 0.12, 1},
        [REAL_SALT] = {0, 0, {0}, 0, 10, 60, 0.08, 0.06, 1},
        [REAL_CHLORINE] = {7, 1, {0.25, 0.7, 1, 3, 5, 10, 20}, 0, 0, 0.25, 0, 0.15, 1},
        [REAL_CYANURATE] = {5, 1, {15, 40, 80, 150, 250}, 0, 0, 0.3, 0, 0.15, 1}};
    static const real_tool DROPS[REAL_QUANTITIES] = {
        [REAL_PH] = {0, 0, {0}, 0, 0.2, 0.10, 0, 0.05, 0},
        [REAL_ALK] = {0, 0, {0}, 1, 10, 0, 0.03, 0, 0},
        [REAL_CALCIUM] = {0, 0, {0}, 1, 10, 0, 0.03, 0, 0},
        [REAL_SALT] = {0, 0, {0}, 1, 100, 0, 0.03, 0, 0},
        [REAL_CHLORINE] = {0, 0, {0}, 1, 0.5, 0, 0, 0, 0},
        [REAL_CYANURATE] = {0, 0, {0}, 0, 5, 10, 0.1, 0.1, 1}};
    static const real_tool METER_PH = {0, 0, {0}, 0, 0.01, 0.03, 0, 0.04, 0}, METER_SALT = {0, 0, {0}, 0, 10, 5, 0.012, 0.015, 1};
    if (meter && of == REAL_PH)
        return METER_PH;
    if (meter && of == REAL_SALT)
        return METER_SALT;
    return drops ? DROPS[of] : STRIP[of];
}

static inline double real_seen(const real_tool *t, double value, double bias)
{
    const double v = value > 1e-3 ? value : 1e-3;
    return t->relative_bias ? v * exp(bias) : v + bias;
}

static inline double real_read(const real_tool *t, double value, double bias, real_random *r)
{
    const double seen = real_seen(t, value, bias), z = real_normal(r);
    if (t->blocks > 0) {
        const double at = t->ln ? log(seen) + t->sd_abs * z : seen + t->sd_abs * z;
        int best = 0;
        for (int i = 1; i < t->blocks; i++) {
            const double edge = t->ln ? 0.5 * log(t->block[i - 1] * t->block[i]) : 0.5 * (t->block[i - 1] + t->block[i]);
            best = at > edge ? i : best;
        }
        return t->block[best];
    }
    if (t->counted) {
        const double n = ceil(seen / t->step * (1.0 + t->sd_rel * real_normal(r)) + 0.5 * z);
        return n > 0.0 ? n * t->step : 0.0;
    }
    const double got = seen + z * sqrt(t->sd_abs * t->sd_abs + t->sd_rel * t->sd_rel * seen * seen);
    const double shown = floor(got / t->step + 0.5) * t->step;
    return shown > 0.0 ? shown : 0.0;
}

static inline double real_normal_below(double z)
{
    return 0.5 * erfc(-z * 0.7071067811865476);
}

/* Chance (blocks, drops) or density (numbers) of this reading, up to a factor that does not depend on the value; 0..1. */
static inline double real_likelihood(const real_tool *t, double reading, double value, double bias)
{
    const double seen = real_seen(t, value, bias);
    if (t->blocks > 0) {
        int at = 0;
        for (int i = 1; i < t->blocks; i++)
            at = reading >= t->block[i] ? i : at;
        double low = -1e9, high = 1e9;
        if (at > 0)
            low = t->ln ? 0.5 * log(t->block[at - 1] * t->block[at]) : 0.5 * (t->block[at - 1] + t->block[at]);
        if (at + 1 < t->blocks)
            high = t->ln ? 0.5 * log(t->block[at] * t->block[at + 1]) : 0.5 * (t->block[at] + t->block[at + 1]);
        const double x = t->ln ? log(seen) : seen;
        return real_normal_below((high - x) / t->sd_abs) - real_normal_below((low - x) / t->sd_abs);
    }
    if (t->counted) {
        const double n = floor(reading / t->step + 0.5), at = seen / t->step, sd = sqrt(0.25 + t->sd_rel * t->sd_rel * at * at);
        return real_normal_below((n - at) / sd) - (n > 0.0 ? real_normal_below((n - 1.0 - at) / sd) : 0.0);
    }
    const double sd = sqrt(t->sd_abs * t->sd_abs + t->sd_rel * t->sd_rel * seen * seen + t->step * t->step / 12.0), z = (reading - seen) / sd;
    return exp(-0.5 * z * z) * t->sd_abs / sd;
}

#endif
