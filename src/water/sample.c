/* water/sample.c: see sample.h. */
#include "water/sample.h"

#include "num/elementary.h"

/* CODATA 2018, exact: R = 8.314462618 J/mol/K, F = 96485.33212 C/mol. */
#define GAS_OVER_FARADAY_MV_PER_K (1e3 * 8.314462618 / 96485.33212)

tw_status tw_water_sample_at(const tw_constants *at_sample, const tw_water *tub, tw_water *there, tw_speciation *out)
{
    tw_water sample = *tub;
    sample.temp_k = at_sample->temp_k;
    const tw_status status = tw_water_speciate(at_sample, &sample, out);
    if (there)
        *there = sample;
    return status;
}

double tw_water_electrode_mv_per_ph(double temp_k)
{
    return temp_k > 0.0 ? GAS_OVER_FARADAY_MV_PER_K * temp_k * TW_LN10 : TW_WATER_NAN;
}

double tw_water_electrode_reads(double ph, double temp_k, double set_temp_k)
{
    return temp_k > 0.0 && set_temp_k > 0.0 ? 7.0 + (ph - 7.0) * temp_k / set_temp_k : TW_WATER_NAN;
}
