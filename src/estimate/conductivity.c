/* estimate/conductivity.c: conductivity at 25 C against the totals, from the water model.
 *
 * A reference water (alkalinity 1.6, calcium 1.0, magnesium 0.25, sulfate 0.3 mmol/kg, sodium
 * balancing) is taken through the model at three amounts of salt and with a little more of each other
 * total. Against the model itself: a rise from hose water within 0.6 %, within 0.1 % from 0.8 g/L of salt on. */
#include "estimate/conductivity.h"

#include <math.h>
#include <string.h>

#include "water/conductivity.h"

/* Reference totals, mmol per kg, in the order alkalinity, calcium, magnesium, sulfate. */
static const double REFERENCE[4] = {1.6, 1.0, 0.25, 0.3};

static int conductivity_of(const tw_constants *at, const double extra[4], double cl, double *out)
{
    tw_water w;
    memset(&w, 0, sizeof w);
    const double alk = REFERENCE[0] + extra[0], ca = REFERENCE[1] + extra[1];
    const double mg = REFERENCE[2] + extra[2], so4 = REFERENCE[3] + extra[3];
    const double na = alk - 2.0 * ca - 2.0 * mg + cl + 2.0 * so4; /* positive: chloride is 1 or more */
    w.temp_k = 298.15;
    w.total_mol_per_kg[TW_TOTAL_NA] = 1e-3 * na;
    w.total_mol_per_kg[TW_TOTAL_CA] = 1e-3 * ca;
    w.total_mol_per_kg[TW_TOTAL_MG] = 1e-3 * mg;
    w.total_mol_per_kg[TW_TOTAL_CL] = 1e-3 * cl;
    w.total_mol_per_kg[TW_TOTAL_SO4] = 1e-3 * so4;
    w.total_mol_per_kg[TW_TOTAL_DIC] = 1e-3 * (alk + 0.06);
    return tw_water_conductivity_25_us_per_cm(at, &w, out) == TW_OK;
}

void tw_estimate_fit_conductivity(tw_conductivity_fit *fit)
{
    static const double NONE[4] = {0.0, 0.0, 0.0, 0.0};
    tw_constants at;
    double low = 0.0, mid = 0.0, high = 0.0, more[4], part[4];
    const double cl_low = 1.0, cl_mid = 20.0, cl_high = 64.0, step = 0.4;
    if (tw_water_constants_at(298.15, &at) != TW_OK || !conductivity_of(&at, NONE, cl_low, &low) ||
        !conductivity_of(&at, NONE, cl_mid, &mid) || !conductivity_of(&at, NONE, cl_high, &high))
        return;
    for (int i = 0; i < 4; i++) {
        memset(part, 0, sizeof part);
        part[i] = step;
        if (!conductivity_of(&at, part, cl_mid, &more[i]))
            return;
        more[i] = (more[i] - mid) / step;
    }
    /* Kohlrausch's law in chloride, linear less a term of power 1.5, through the three. */
    const double power[3] = {cl_low * sqrt(cl_low), cl_mid * sqrt(cl_mid), cl_high * sqrt(cl_high)};
    const double to_mid = cl_mid - cl_low, to_high = cl_high - cl_mid;
    fit->cl[1] = (to_mid * (high - mid) - to_high * (mid - low)) /
                 (to_mid * (power[2] - power[1]) - to_high * (power[1] - power[0]));
    fit->cl[0] = (mid - low - fit->cl[1] * (power[1] - power[0])) / to_mid;
    fit->per_alk = more[0];
    fit->per_ca = more[1];
    fit->per_mg = more[2];
    fit->per_so4 = more[3];
    fit->base = low - tw_estimate_salt_us_per_cm(fit->cl, cl_low);
    for (int i = 0; i < 4; i++)
        fit->base -= more[i] * REFERENCE[i];
}
