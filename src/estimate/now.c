/* estimate/now.c: what an instrument would read of the water now, in the trade's units. */
#include <math.h>

#include "estimate/belief.h"
#include "estimate/events.h"
#include "estimate/instrument.h"
#include "num/elementary.h"
#include "num/require.h"

#define PLAUSIBLE_Z 3.2905 /* both tails together 0.1 % */

/* One member's value inside this room (estimate/events.h): mmol/kg, mg/kg, pH, uS/cm, kg. */
static double inside_of(const tw_belief *b, int observed, size_t i)
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
               (ec[5] + ec[6] * (cl + active)) * (cl + active);
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
        value[i] = inside_of(b, observed, i) * factor;
    return value;
}

tw_spread tw_estimate_now(const tw_belief *b, int observed)
{
    TW_REQUIRE(observed >= 0 && observed < TW_OBSERVEDS);
    return tw_estimate_spread(typed_values(b, observed), b->n, b->scratch);
}

/* sd of one reading at a value, in the trade's units; wide when the instrument is not known. */
static double reading_sd(int observed, int tool, double at)
{
    const tw_instrument_row *row = tw_estimate_instrument(tool, observed);
    if (row == NULL)
        row = tw_estimate_instrument(TW_TOOL_UNKNOWN, observed);
    if (row == NULL)
        return 0.3 * fabs(at);
    const double rel = row->sd_rel * fabs(at), bias = row->sd_rel > 0.0 ? row->bias_sd * fabs(at) : row->bias_sd;
    double sd = row->sd_abs + rel, width = row->step;
    if (row->model == TW_ERROR_DROPS)
        sd += 0.6 * row->step;
    if (row->model == TW_ERROR_BLOCKS)
        for (size_t i = 0; i + 1 < row->blocks; i++) /* the block above and below are a reading too */
            if (at >= row->block[i] && at <= row->block[i + 1])
                width = row->block[i + 1] - row->block[i];
    return sqrt(sd * sd + bias * bias + width * width / 3.0);
}

void tw_estimate_plausible(const tw_belief *b, int observed, int tool, double likely[3])
{
    TW_REQUIRE(observed >= 0 && observed < TW_OBSERVEDS);
    double *value = typed_values(b, observed);
    const int ln_scale = observed != TW_OBSERVED_PH;
    const double middle = tw_estimate_spread(value, b->n, b->scratch).q50;
    const double noise = reading_sd(observed, tool, middle);
    /* Amounts err in proportion: their scale is ln(value + offset), the offset as large as the noise. */
    const double offset = ln_scale ? noise + 1e-6 : 0.0;
    double sum = 0.0, square = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        const double at = value[i] > 0.0 ? value[i] : 0.0;
        value[i] = ln_scale ? tw_log(at + offset) : value[i];
        sum += value[i];
    }
    const double mean = sum / (double)b->n;
    for (size_t i = 0; i < b->n; i++)
        square += (value[i] - mean) * (value[i] - mean);
    const double own = ln_scale ? noise / (middle + offset) : noise;
    const double sd = sqrt(square / (double)b->n + own * own);
    for (int k = 0; k < 3; k++) {
        const double at = mean + (double)(k - 1) * PLAUSIBLE_Z * sd;
        likely[k] = ln_scale ? tw_exp(at) - offset : at;
        if (ln_scale && likely[k] < 0.0)
            likely[k] = 0.0;
    }
    likely[1] = middle;
}
