/* water/inactivation.c: see inactivation.h. */
#include "water/inactivation.h"

#include <stdbool.h>

#include "num/elementary.h"
#include "water/chlorine.h"

static bool is_amount(double x)
{
    return x >= 0.0 && x - x == 0.0;
}

double tw_water_ct_mg_min_per_l(double start_mg_per_l, double loss_per_h, double hours)
{
    if (!is_amount(start_mg_per_l) || !is_amount(loss_per_h) || !is_amount(hours))
        return TW_WATER_NAN;
    const double seen_h = loss_per_h > 0.0 ? -tw_expm1(-loss_per_h * hours) / loss_per_h : hours;
    return 60.0 * start_mg_per_l * seen_h;
}

tw_status tw_water_ct_hours(double start_mg_per_l, double loss_per_h, double ct_mg_min_per_l, double *hours)
{
    *hours = TW_WATER_NAN;
    if (!is_amount(start_mg_per_l) || !is_amount(loss_per_h) || !is_amount(ct_mg_min_per_l))
        return TW_ERR_RANGE;
    if (ct_mg_min_per_l == 0.0) {
        *hours = 0.0;
        return TW_OK;
    }
    const double steady_h = ct_mg_min_per_l / (60.0 * start_mg_per_l); /* infinite without chlorine */
    const double spent = loss_per_h * steady_h;                        /* share of all that it ever gives */
    if (!is_amount(steady_h) || spent >= 1.0)
        return TW_ERR_NO_ROOT;
    *hours = loss_per_h > 0.0 ? -tw_log1p(-spent) / loss_per_h : steady_h;
    return TW_OK;
}

double tw_water_ct_of_readings(const double *hours, const double *mg_per_l, int n)
{
    double sum = 0.0;
    if (n < 1 || !is_amount(mg_per_l[0]) || hours[0] - hours[0] != 0.0)
        return TW_WATER_NAN;
    for (int i = 1; i < n; i++) {
        const double wide = hours[i] - hours[i - 1];
        if (!is_amount(wide) || !is_amount(mg_per_l[i]))
            return TW_WATER_NAN;
        sum += 30.0 * wide * (mg_per_l[i] + mg_per_l[i - 1]);
    }
    return sum;
}

double tw_water_ct_as_hocl_mg_min_per_l(tw_germ germ)
{
    if ((unsigned)germ >= TW_GERMS)
        return TW_WATER_NAN;
    const tw_germ_row row = tw_water_germs[germ];
    const double chlorine = 1e-5; /* the share does not depend on it */
    tw_chlorine c;
    if (tw_water_chlorine_ideal(TW_CHLORINE_MORRIS, row.temp_c + TW_WATER_ZERO_C_K, row.ph, chlorine, 0.0, &c) != TW_OK)
        return TW_WATER_NAN;
    return row.ct_mg_min_per_l * c.hocl / chlorine;
}
