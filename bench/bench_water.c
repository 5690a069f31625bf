/* The water: constants, solves from nothing and from a neighbour, inverse, calcite, the reduced form. */
#include "bench.h"

#include <stdio.h>

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

/* A thousand waters at one temperature, as the estimator and the planner solve their members: the reduced form, frozen
 * around one of them by one full solve. One round is one water. */
static double batch(void *data, uint64_t rounds)
{
    enum { WATERS = 1000 };
    static double alk[WATERS], dic[WATERS], ph[WATERS];
    const tw_water *w = data;
    const tw_reduced_waters in = {.alk = alk, .dic = dic};
    const tw_reduced_answers out = {.ph = ph};
    tw_constants at;
    tw_speciation sp;
    tw_reduced k;
    double sum = 0.0;
    tw_water_constants_at(w->temp_k, &at);
    for (uint64_t done = 0; done < rounds; done += WATERS) {
        const size_t n = rounds - done < WATERS ? (size_t)(rounds - done) : WATERS;
        for (size_t i = 0; i < n; i++) {
            alk[i] = 1.2e-3 + 1e-6 * (double)((i * 7 + done) % WATERS);
            dic[i] = 1.3e-3 + 1e-6 * (double)((i * 13 + done) % WATERS);
        }
        tw_water_speciate(&at, w, &sp);
        tw_water_reduced_from(&at, &sp, &k);
        tw_water_reduced_solve_many(&k, n, &in, &out);
        sum += ph[n - 1];
    }
    return sum;
}

/* Growth: so many different waters in a row, each solved in full from nothing, in ms. */
typedef struct {
    tw_water water;
    uint64_t count;
} crowd;

static double many(void *data, uint64_t rounds)
{
    const crowd *c = data;
    return same_temperature((void *)(uintptr_t)&c->water, rounds * c->count);
}

/* Newton steps (evaluations with derivatives) a solve, over waters of pH 6.5 to 9 at every temperature. */
static void print_steps(const char *name, int is_warm)
{
    tw_constants at;
    tw_speciation sp, from;
    double sum = 0.0;
    int most = 0, count = 0;
    for (int t = 0; t < 45; t++) {
        tw_water_constants_at(273.65 + t, &at);
        for (int i = 0; i < 50; i++) {
            tw_water w = tub(i & 1);
            w.temp_k = 273.65 + t;
            w.total_mol_per_kg[TW_TOTAL_DIC] = 1.45e-3 + 1e-5 * i;
            if (tw_water_speciate(&at, &w, &sp) != TW_OK)
                continue;
            if (is_warm) {
                from = sp;
                w.total_mol_per_kg[TW_TOTAL_NA] += 1e-6;
                if (tw_water_speciate_from(&at, &w, &from, &sp) != TW_OK)
                    continue;
            }
            sum += sp.steps;
            most = sp.steps > most ? sp.steps : most;
            count++;
        }
    }
    printf("%s_mean %.3f\n%s_most %d\n", name, sum / count, name, most);
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
    bench_ns("speciation_batch", batch, &plain);
    bench_ns("chlorine", chlorine, 0);
    for (int power = 0; power <= 6; power += 2) {
        crowd c = {plain, 1};
        char name[40];
        for (int i = 0; i < power; i++)
            c.count *= 10;
        snprintf(name, sizeof name, "speciation_1e%d", power);
        bench_ms(name, many, &c);
    }
    print_steps("speciation_steps", 0);
    print_steps("speciation_warm_steps", 1);
    return 0;
}
