/* water/ccpp.c: see ccpp.h. */
#include "water/ccpp.h"

#include "water/balance.h"

static tw_status fail(tw_ccpp *out, tw_status status, tw_water_fault fault)
{
    const double nan = TW_WATER_NAN;
    out->ccpp_mol_per_kg = out->water_kg = nan;
    out->water.temp_k = nan;
    for (int i = 0; i < TW_TOTALS; i++)
        out->water.total_mol_per_kg[i] = nan;
    const tw_total total = out->at_calcite.fault_total;
    tw_water_balance_fail(&out->at_calcite, fault, total);
    return status;
}

/* The first pass counts the water as it was; the reaction moves a little of it (Ca + 2 HCO3 = CaCO3 + CO2 +
 * H2O), so a second and third pass count per kg of the water afterwards: 1e-5, then 1e-10 of it. */
tw_status tw_water_ccpp(const tw_constants *at, const tw_water *water, tw_ccpp *out)
{
    tw_status status = tw_water_speciate(at, water, &out->at_calcite);
    if (status != TW_OK)
        return fail(out, status, out->at_calcite.fault);
    const double bound_before = tw_water_bound_mol_per_kg(&out->at_calcite);
    double kg = 1.0;
    for (int pass = 0; pass < 3; pass++) {
        tw_water now = *water;
        for (int i = 0; i < TW_TOTALS; i++)
            now.total_mol_per_kg[i] /= kg;
        tw_balance b;
        tw_water_balance_begin(&b, at, &now, TW_ASK_CALCITE, 7.0, 0.0);
        tw_water_balance_start_from(&b, &out->at_calcite);
        if (!tw_water_balance_settle(&b))
            return fail(out, TW_ERR_NO_CONVERGENCE, TW_WATER_FAULT_NOT_SETTLED);
        tw_water_balance_report(&b, &out->at_calcite);
        const double moved = now.total_mol_per_kg[TW_TOTAL_CA] - b.calcium;
        now.total_mol_per_kg[TW_TOTAL_CA] = b.calcium;
        now.total_mol_per_kg[TW_TOTAL_DIC] = out->at_calcite.dic_mol_per_kg;
        out->water = now;
        out->ccpp_mol_per_kg = moved * kg;
        kg = 1.0 + 18.0153e-3 * (bound_before - kg * tw_water_bound_mol_per_kg(&out->at_calcite));
    }
    out->water_kg = kg;
    if (out->at_calcite.ph > TW_WATER_PH_MAX)
        return fail(out, TW_ERR_NO_ROOT, TW_WATER_FAULT_TOO_ALKALINE);
    return TW_OK;
}
