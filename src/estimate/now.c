/* estimate/now.c: what an instrument would read of the water now, in the trade's units. */
#include "estimate/belief.h"
#include "estimate/conductivity.h"
#include "estimate/events.h"
#include "estimate/instrument.h"
#include "num/require.h"

/* One member's value inside this room (estimate/events.h): mmol/kg, mg/kg, pH, uS/cm, kg. */
double tw_estimate_inside(const tw_belief *b, int observed, size_t i)
{
    const double active = 1e3 * b->total[TW_TOTAL_ACTIVE_CHLORINE][i];
    const double ca = 1e3 * b->total[TW_TOTAL_CA][i], mg = 1e3 * b->total[TW_TOTAL_MG][i];
    const double cl = 1e3 * b->total[TW_TOTAL_CL][i], so4 = 1e3 * b->total[TW_TOTAL_SO4][i];
    const double po4 = 1e3 * b->total[TW_TOTAL_PHOSPHATE][i];
    const double alk = 1e3 * (b->total[TW_TOTAL_NA][i] + b->total[TW_TOTAL_K][i] -
                              b->total[TW_TOTAL_OTHER][i]) +
                       2.0 * ca + 2.0 * mg - cl - 2.0 * so4;
    const double *ec = b->ec_fit;
    switch (observed) {
    case TW_OBSERVED_FREE_CHLORINE: return b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i];
    case TW_OBSERVED_TOTAL_CHLORINE:
        return b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] + b->column[TW_COLUMN_COMBINED_MG_PER_KG][i];
    case TW_OBSERVED_COMBINED_CHLORINE: return b->column[TW_COLUMN_COMBINED_MG_PER_KG][i];
    case TW_OBSERVED_PH: return b->column[TW_COLUMN_PH][i];
    case TW_OBSERVED_ALKALINITY: return alk - po4;
    case TW_OBSERVED_CALCIUM: return ca;
    case TW_OBSERVED_HARDNESS: return ca + mg;
    case TW_OBSERVED_MAGNESIUM: return mg;
    case TW_OBSERVED_CHLORIDE: return cl;
    case TW_OBSERVED_CONDUCTIVITY:
        return ec[0] + ec[1] * (alk - active) + ec[2] * ca + ec[3] * mg + ec[4] * so4 +
               tw_estimate_salt_us_per_cm(&ec[5], cl + active) + b->column[TW_COLUMN_IONS_US_PER_CM][i];
    case TW_OBSERVED_CYANURATE: return 1e3 * b->total[TW_TOTAL_CYANURATE][i];
    case TW_OBSERVED_PHOSPHATE: return po4;
    case TW_OBSERVED_SULFATE: return so4;
    case TW_OBSERVED_BORATE: return 1e3 * b->total[TW_TOTAL_BORATE][i];
    default: return b->column[TW_COLUMN_WATER_KG][i];
    }
}

/* Values of all members in the trade's units, in the second half of the scratch. */
static double *typed_values(const tw_belief *b, int observed)
{
    double *value = b->scratch + b->n;
    const double factor = 1.0 / tw_estimate_inside_factor(observed, b->density_kg_per_l);
    for (size_t i = 0; i < b->n; i++)
        value[i] = tw_estimate_inside(b, observed, i) * factor;
    return value;
}

tw_spread tw_estimate_expected(const tw_belief *b, const tw_contradiction *c)
{
    const double typed = 1.0 / (c->observed == TW_OBSERVED_WATER ? b->density_kg_per_l : tw_estimate_inside_factor(c->observed, b->density_kg_per_l));
    const double middle = typed * c->expected[1];
    return (tw_spread){.q05 = typed * c->expected[0], .q25 = middle, .q50 = middle, .q75 = middle, .q95 = typed * c->expected[2]};
}

tw_spread tw_estimate_now(const tw_belief *b, int observed)
{
    TW_REQUIRE(observed >= 0 && observed < TW_OBSERVEDS);
    return tw_estimate_spread(typed_values(b, observed), b->n, b->scratch);
}

