/* The planner: one step over a thousand possible waters, thresholds, a series of steps, the full solver's grams. */
#include "bench.h"

#include "dose/series.h"
#include "dose/size.h"
#include "dose/threshold.h"
#include "num/philox.h"
#include "water/speciate.h"

#define MEMBERS 1000

static double kg[MEMBERS], temp[MEMBERS], total[TW_TOTALS][MEMBERS];
static unsigned char room[1u << 18];

/* Hard water at 38 C; every member its own volume, alkalinity and carbon. */
static tw_waters belief(int stabilised)
{
    tw_waters w = {.n = MEMBERS, .water_kg = kg, .temp_k = temp, .solvent_kg_per_l = 0.993};
    for (int t = 0; t < TW_TOTALS; t++)
        w.total[t] = total[t];
    for (uint32_t i = 0; i < MEMBERS; i++) {
        tw_stream s = tw_stream_make(1, 0, 1, i);
        const double a = tw_stream_normal(&s), b = tw_stream_normal(&s), c = tw_stream_normal(&s);
        kg[i] = 1130.0 * (1.0 + 0.05 * a);
        temp[i] = 311.15;
        total[TW_TOTAL_NA][i] = 5e-3 + 1e-4 * b;
        total[TW_TOTAL_CA][i] = 1e-3;
        total[TW_TOTAL_CL][i] = 3e-3;
        total[TW_TOTAL_DIC][i] = 4.2e-3 + 1e-4 * b + 3e-5 * c;
        total[TW_TOTAL_CYANURATE][i] = stabilised ? 2e-4 : 0.0;
        total[TW_TOTAL_ACTIVE_CHLORINE][i] = stabilised ? 4e-5 : 0.0;
    }
    return w;
}

static tw_dose_ask ask_of(tw_substance_id id)
{
    tw_dose_ask ask = {.substance = &tw_dose_substances[id], .aim = TW_OF_ALKALINITY, .target = 80, .aim_quantile = 0.5,
                       .risk = 0.05, .margin = 1, .grid_g = 1.0, .weighing_sd_ln = 0.01, .seed = 5, .limits = 3,
                       .limit = {{TW_OF_PH, 6.8, 1}, {TW_OF_ALKALINITY, 40, 1}, {TW_OF_SALT, 2200, 0}}};
    return ask;
}

static double acid_step(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    const tw_dose_ask ask = ask_of(TW_SUBSTANCE_SODIUM_BISULFATE_93);
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_dose_step step;
        tw_dose_plan(w, &ask, room, sizeof room, &step);
        sum += step.grams;
    }
    return sum;
}

/* Chlorine onto cyanurate: the one case whose pH threshold is enclosed and halved. */
static double dichlor_step(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    tw_dose_ask ask = ask_of(TW_SUBSTANCE_DICHLOR_DIHYDRATE);
    ask.aim = TW_OF_CHLORINE;
    ask.target = 8.0;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_dose_step step;
        tw_dose_plan(w, &ask, room, sizeof room, &step);
        sum += step.grams;
    }
    return sum;
}

static double series(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    const tw_dose_ask ask = ask_of(TW_SUBSTANCE_SODIUM_BISULFATE_93);
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_dose_series_step step[12];
        tw_dose_series_sum all;
        tw_dose_series(w, &ask, 0.05, TW_DOSE_PH_AT_REST, room, sizeof room, step, 12, &all);
        sum += all.grams;
    }
    return sum;
}

static double grams_to_ph(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    const tw_water one = tw_dose_member(w, 0);
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        double grams = 0.0;
        tw_dose_grams_to(&one, 1130.0, &tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93], TW_OF_PH,
                         7.0 + 1e-4 * (double)(i & 255), 0.993, &grams);
        sum += grams;
    }
    return sum;
}

static double threshold(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    tw_constants at;
    tw_speciation sp;
    tw_reduced k;
    const tw_water first = tw_dose_member(w, 0);
    double sum = 0.0;
    tw_water_constants_at(first.temp_k, &at);
    tw_water_speciate(&at, &first, &sp);
    tw_water_reduced_from(&at, &sp, &k);
    const tw_dose_frame f = {&k, &tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93], 0.993};
    for (uint64_t i = 0; i < rounds; i++) {
        const tw_water one = tw_dose_member(w, (size_t)(i % MEMBERS));
        sum += tw_dose_threshold_limit(&f, &one, 1130.0, TW_OF_PH, 6.8, 1);
    }
    return sum;
}

int main(void)
{
    tw_waters plain = belief(0);
    bench_ns("dose_threshold_ph", threshold, &plain);
    bench_ns("dose_grams_to_ph", grams_to_ph, &plain);
    bench_ms("dose_plan", acid_step, &plain);
    bench_ms("dose_series", series, &plain);
    tw_waters stabilised = belief(1);
    bench_ms("dose_plan_stabilised", dichlor_step, &stabilised);
    return 0;
}
