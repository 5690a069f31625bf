/* The water: constants, solves from nothing and from a neighbour, inverse, calcite, the reduced form. */
#include "bench.h"

#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/inverse.h"
#include "water/reduced.h"

/* A tub of ordinary salt water at 38 C; `rich` adds borate, cyanurate, chlorine and phosphate. */
static tw_water tub(int rich)
{
    tw_water w = {.temp_k = 311.15,
                  .total_mol_per_kg = {[TW_TOTAL_NA] = 35.8e-3, [TW_TOTAL_CA] = 1.0e-3, [TW_TOTAL_MG] = 0.2e-3,
                                       [TW_TOTAL_CL] = 36.0e-3, [TW_TOTAL_SO4] = 0.3e-3, [TW_TOTAL_DIC] = 1.6e-3}};
    if (rich) {
        w.total_mol_per_kg[TW_TOTAL_BORATE] = 0.5e-3;
        w.total_mol_per_kg[TW_TOTAL_CYANURATE] = 0.2e-3;
        w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 0.05e-3;
        w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = 0.01e-3;
    }
    return w;
}

/* Each round is another water: sodium walks up and down by a few parts in a thousand. */
static void walk(tw_water *w, uint64_t i)
{
    w->total_mol_per_kg[TW_TOTAL_NA] += (i & 64) ? -1e-6 : 1e-6;
}

static double constants(void *data, uint64_t rounds)
{
    (void)data;
    tw_constants at;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_water_constants_at(280.0 + 0.03 * (double)(i & 1023), &at);
        sum += at.ln_k[0];
    }
    return sum;
}

/* A new temperature each time, without any start. */
static double cold(void *data, uint64_t rounds)
{
    tw_water w = *(const tw_water *)data;
    tw_constants at;
    tw_speciation sp;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        walk(&w, i);
        w.temp_k = 300.0 + 0.01 * (double)(i & 1023);
        tw_water_constants_at(w.temp_k, &at);
        tw_water_speciate(&at, &w, &sp);
        sum += sp.ph;
    }
    return sum;
}

static double same_temperature(void *data, uint64_t rounds)
{
    tw_water w = *(const tw_water *)data;
    tw_constants at;
    tw_speciation sp;
    double sum = 0.0;
    tw_water_constants_at(w.temp_k, &at);
    for (uint64_t i = 0; i < rounds; i++) {
        walk(&w, i);
        tw_water_speciate(&at, &w, &sp);
        sum += sp.ph;
    }
    return sum;
}

static double warm(void *data, uint64_t rounds)
{
    tw_water w = *(const tw_water *)data;
    tw_constants at;
    tw_speciation sp;
    double sum = 0.0;
    tw_water_constants_at(w.temp_k, &at);
    tw_water_speciate(&at, &w, &sp);
    for (uint64_t i = 0; i < rounds; i++) {
        walk(&w, i);
        tw_water_speciate_from(&at, &w, &sp, &sp);
        sum += sp.ph;
    }
    return sum;
}

static double inverse(void *data, uint64_t rounds)
{
    (void)data;
    tw_constants at;
    tw_water w;
    tw_speciation sp;
    double sum = 0.0;
    tw_water_constants_at(311.15, &at);
    tw_tests t = {.temp_k = 311.15, .ph = 7.4, .alk_mol_per_kg = 1.6e-3, .calcium_mol_per_kg = 1e-3,
                  .magnesium_mol_per_kg = 0.2e-3, .salt_mol_per_kg = 35e-3, .sulfate_mol_per_kg = 0.3e-3};
    for (uint64_t i = 0; i < rounds; i++) {
        t.ph = 7.0 + 0.001 * (double)(i & 1023);
        tw_water_from_tests(&at, &t, &w, &sp);
        sum += sp.dic_mol_per_kg;
    }
    return sum;
}

static double calcite(void *data, uint64_t rounds)
{
    tw_water w = *(const tw_water *)data;
    tw_constants at;
    tw_ccpp ccpp;
    double sum = 0.0;
    tw_water_constants_at(w.temp_k, &at);
    for (uint64_t i = 0; i < rounds; i++) {
        walk(&w, i);
        tw_water_ccpp(&at, &w, &ccpp);
        sum += ccpp.ccpp_mol_per_kg;
    }
    return sum;
}

static double conductivity(void *data, uint64_t rounds)
{
    const tw_water *w = data;
    tw_constants at;
    tw_speciation sp;
    double sum = 0.0;
    tw_water_constants_at(w->temp_k, &at);
    tw_water_speciate(&at, w, &sp);
    for (uint64_t i = 0; i < rounds; i++) {
        sp.mol_per_kg[TW_SPECIES_CL] += 1e-9;
        sum += tw_water_conductivity_us_per_cm(&at, &sp);
    }
    return sum;
}

static double reduced(void *data, uint64_t rounds)
{
    (void)data;
    tw_constants at;
    tw_reduced k;
    tw_reduced_answer a;
    double sum = 0.0;
    tw_water_constants_at(311.15, &at);
    tw_water_reduced_at(&at, 0.04, 1e-3, 0.2e-3, &k);
    tw_reduced_water w = {1.6e-3, 1.65e-3, 0.5e-3, 0.2e-3, 0.05e-3, 0.01e-3};
    for (uint64_t i = 0; i < rounds; i++) {
        w.alk = 1.5e-3 + 1e-7 * (double)(i & 1023);
        tw_water_reduced_solve(&k, &w, &a);
        sum += a.ph;
    }
    return sum;
}

static double chlorine(void *data, uint64_t rounds)
{
    (void)data;
    tw_chlorine c;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_water_chlorine_ideal(TW_CHLORINE_2019_SIMPLE, 311.15, 7.0 + 0.001 * (double)(i & 1023), 4e-5, 2e-4, &c);
        sum += c.hocl;
    }
    return sum;
}

int main(void)
{
    tw_water plain = tub(0), rich = tub(1);
    bench_ns("constants", constants, 0);
    bench_ns("speciation", cold, &plain);
    bench_ns("speciation_same_temperature", same_temperature, &plain);
    bench_ns("speciation_warm", warm, &plain);
    bench_ns("speciation_rich", same_temperature, &rich);
    bench_ns("speciation_rich_warm", warm, &rich);
    bench_ns("inverse", inverse, 0);
    bench_ns("ccpp", calcite, &plain);
    bench_ns("conductivity", conductivity, &plain);
    bench_ns("reduced", reduced, 0);
    bench_ns("chlorine", chlorine, 0);
    return 0;
}
