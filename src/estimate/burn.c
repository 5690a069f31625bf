/* estimate/burn.c: see burn.h. */
#include "estimate/burn.h"

#include <math.h>

#include "num/elementary.h"

#define NEAR 0.01 /* mg/L: finer than anybody pours */

/* dC/dt = dD/dt = -k_d*C*D, exactly (docs/estimate.md, demand part). */
static double burnt(double c, double d, double rate_per_mg_h, double hours)
{
    const double w = rate_per_mg_h * hours, z = w * (c - d);
    const double f = fabs(z) < 1e-8 ? 1.0 : (1.0 - tw_exp(-z)) / z;
    return c / (1.0 + d * w * f);
}

tw_spread tw_estimate_left_after(const tw_belief *b, double poured_mg_per_l, double hours)
{
    double *left = b->scratch + b->n;
    const double poured = poured_mg_per_l / b->density_kg_per_l;
    for (size_t i = 0; i < b->n; i++) {
        const double c = b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] + poured, k = b->column[TW_COLUMN_LOSS_NOW_PER_H][i];
        left[i] = burnt(c * tw_exp(-0.5 * k * hours), b->column[TW_COLUMN_DEMAND_MG_PER_KG][i], b->column[TW_COLUMN_DEMAND_RATE][i], hours) *
                  tw_exp(-0.5 * k * hours) * b->density_kg_per_l;
    }
    return tw_estimate_spread(left, b->n, b->scratch);
}

double tw_estimate_level_for(const tw_belief *b, double left_mg_per_l, double hours, double most_mg_per_l)
{
    const double now = tw_estimate_column_mg_per_l(b, TW_COLUMN_CHLORINE_MG_PER_KG).q50;
    double low = 0.0, high = most_mg_per_l - now;
    while (high - low > NEAR) {
        const double middle = 0.5 * (low + high);
        if (tw_estimate_left_after(b, middle, hours).q50 < left_mg_per_l)
            low = middle;
        else
            high = middle;
    }
    return high > 0.0 ? now + high : most_mg_per_l;
}
