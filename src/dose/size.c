/* dose/size.c: grams in a known water; balances of blending, exchange and heat. */
#include "dose/size.h"

#include <math.h>

#include "num/elementary.h"
#include "num/pick.h"
#include "water/speciate.h"

#define KWH_PER_KG_K (4.187 / 3600.0) /* heat capacity of water, kJ/(kg K), CRC, from memory */

tw_status tw_dose_blend_fraction(double hard, double soft, double target, double *fraction)
{
    *fraction = 0.0;
    if (!(hard > target))
        return TW_OK;
    if (!(soft < target))
        return TW_ERR_NO_ROOT;
    *fraction = (hard - target) / (hard - soft);
    return TW_OK;
}

double tw_dose_resin_g_caco3(double hard_mg_per_l, double soft_mg_per_l, double fraction, double volume_l)
{
    return (hard_mg_per_l - soft_mg_per_l) * fraction * volume_l * 1e-3;
}

tw_status tw_dose_swap_fraction(double now, double fill, double target, double *fraction)
{
    *fraction = 0.0;
    if (now == target)
        return TW_OK;
    const double f = now == fill ? 2.0 : 1.0 - (target - fill) / (now - fill);
    if (!(f >= 0.0 && f <= 1.0))
        return TW_ERR_NO_ROOT;
    *fraction = f;
    return TW_OK;
}

tw_status tw_dose_heat_hours(double water_kg, double rise_k, double power_kw, double efficiency,
                             double loss_kw, double *hours, double *kwh)
{
    *kwh = water_kg * rise_k * KWH_PER_KG_K;
    const double net = power_kw * efficiency - loss_kw;
    *hours = 0.0;
    if (!(rise_k > 0.0))
        return TW_OK;
    if (!(net > 0.0))
        return TW_ERR_NO_ROOT;
    *hours = *kwh / net;
    return TW_OK;
}

tw_status tw_dose_pad_hours(double now, double end, double target, double tau_h, double volume_l, double *hours,
                            double *grams_caco3)
{
    *hours = 0.0;
    *grams_caco3 = 0.0;
    if (!(now > target))
        return TW_OK;
    if (!(end < target) || !(tau_h > 0.0))
        return TW_ERR_NO_ROOT;
    *hours = tau_h * tw_log((now - end) / (target - end));
    *grams_caco3 = (now - target) * volume_l * 1e-3;
    return TW_OK;
}

double tw_dose_g_from_grains(double grains)
{
    return grains * 0.06479891;
}

double tw_dose_grams_for_change(double water_kg, const tw_substance *s, tw_quantity_of_water of, double change,
                                double solvent_kg_per_l)
{
    const double per_g = tw_dose_quantity(of, s->total_mol_per_g, solvent_kg_per_l) / water_kg;
    return per_g != 0.0 ? fabs(change / per_g) : 0.0;
}

/* pH after a dose, by the full solver from the last solution. */
static tw_status ph_after(const tw_constants *at, const tw_water *water, double kg, const tw_substance *s, double grams,
                          tw_speciation *sp)
{
    const tw_water after = tw_dose_apply(*water, kg, s, grams);
    return tw_water_speciate_from(at, &after, sp, sp);
}

/* pH rises or falls all along the dose. Doubling encloses the target; then false position with the Illinois
 * halving, which keeps the bracket and gains more than a digit a step: 60 steps are many times enough. */
static tw_status grams_to_ph(const tw_water *water, double kg, const tw_substance *s, double target, double most,
                             double *grams)
{
    tw_constants at;
    tw_speciation sp;
    tw_status status = tw_water_constants_at(water->temp_k, &at);
    if (status == TW_OK)
        status = tw_water_speciate(&at, water, &sp);
    if (status != TW_OK)
        return status;
    double low = 0.0, high = tw_min(1e-3 * kg, most), f_low = sp.ph - target, f_high;
    if (f_low == 0.0)
        return TW_OK;
    status = ph_after(&at, water, kg, s, high, &sp);
    if (status != TW_OK)
        return status;
    f_high = sp.ph - target;
    const double way = f_high - f_low;
    if (fabs(way) < 1e-9)
        return TW_ERR_UNKNOWN;
    if (way * f_low > 0.0) /* it moves away: past the target already */
        return TW_OK;
    while (f_high * f_low > 0.0) {
        if (high >= most)
            return TW_ERR_NO_ROOT;
        low = high;
        f_low = f_high;
        high = tw_min(2.0 * high, most);
        status = ph_after(&at, water, kg, s, high, &sp);
        if (status != TW_OK)
            return status == TW_ERR_NO_ROOT || status == TW_ERR_RANGE ? TW_ERR_NO_ROOT : status;
        f_high = sp.ph - target;
    }
    int side = 0;
    for (int step = 0; step < 60 && high - low > 1e-12 * high; step++) {
        const double middle = (f_high * low - f_low * high) / (f_high - f_low);
        status = ph_after(&at, water, kg, s, middle, &sp);
        if (status != TW_OK)
            return status;
        const double f = sp.ph - target;
        *grams = middle;
        if (fabs(f) < 1e-12)
            return TW_OK;
        if (f * f_high > 0.0) {
            high = middle;
            f_high = f;
            f_low *= side == 1 ? 0.5 : 1.0;
            side = 1;
        } else {
            low = middle;
            f_low = f;
            f_high *= side == -1 ? 0.5 : 1.0;
            side = -1;
        }
    }
    return TW_OK;
}

tw_status tw_dose_grams_to(const tw_water *water, double water_kg, const tw_substance *s, tw_quantity_of_water of,
                           double target, double solvent_kg_per_l, double *grams)
{
    *grams = 0.0;
    if (!(water_kg > 0.0) || !(solvent_kg_per_l > 0.0))
        return TW_ERR_RANGE;
    const double acting = tw_dose_acting_g(water, water_kg, s), cap = 20.0 * water_kg, most = tw_min(acting, cap);
    if (of == TW_OF_PH)
        return grams_to_ph(water, water_kg, s, target, most, grams);
    const double per_g = tw_dose_quantity(of, s->total_mol_per_g, solvent_kg_per_l) / water_kg;
    if (fabs(per_g) * water_kg < 1e-6)
        return TW_ERR_UNKNOWN;
    const double need = (target - tw_dose_quantity(of, water->total_mol_per_kg, solvent_kg_per_l)) / per_g;
    if (need > most)
        return TW_ERR_NO_ROOT;
    *grams = tw_max(need, 0.0);
    return TW_OK;
}
