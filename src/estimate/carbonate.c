/* estimate/carbonate.c: the constants of the acids for the sampler. */
#include "estimate/carbonate.h"
#include "num/elementary.h"

/* Temporary closed forms until water/reduced.h is there: Plummer and Busenberg 1982 for CO2, Davies
 * at an ionic strength of 0.03. */
void tw_estimate_acid_constants(double temp_c, tw_acid_constants *out)
{
    const double t = temp_c + 273.15;
    const double lt = tw_log10(t);
    const double pk1 = 356.3094 + 0.06091964 * t - 21834.37 / t - 126.8339 * lt + 1684915.0 / t / t;
    const double pk2 = 107.8871 + 0.03252849 * t - 5151.79 / t - 38.92561 * lt + 563713.9 / t / t;
    const double lkh = 108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * lt + 669365.0 / t / t;
    const double root = sqrt(0.03);
    const double davies = -0.51 * (root / (1.0 + root) - 0.3 * 0.03);
    const double g1 = tw_pow10(davies), g2 = tw_pow10(4.0 * davies);
    out->k1 = tw_pow10(-pk1) / g1;
    out->k2 = tw_pow10(-pk2) * g1 / g2;
    out->kw = tw_pow10(-4470.99 / t + 6.0875 - 0.01706 * t) / g1 * 1e3;
    out->kocl = tw_pow10(-(3000.0 / t - 10.0686 + 0.0253 * t)) / g1;
    out->kb = tw_pow10(-9.24 + 0.012 * (temp_c - 25.0)) / g1;
    out->kcy = tw_pow10(-(1743.0 / t + 1.12)) / g1;
    out->kp2 = tw_pow10(-7.18) * g1 / g2;
    out->per_h = 1e3 / g1;
    out->co2_eq = tw_pow10(lkh) * 4.2e-4 * 1e3;
}
