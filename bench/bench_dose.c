/* The planner's parts: what a thousand possible waters are in their middle, the full solver's grams. Whole courses: bench_plan.c. */
#include "bench.h"

#include "dose/size.h"
#include "dose/members.h"
#include "num/philox.h"

#define MEMBERS 1000

static double kg[MEMBERS], temp[MEMBERS], total[TW_TOTALS][MEMBERS];
static unsigned char room[1u << 18];

/* Hard water at 38 C; every member its own volume, alkalinity and carbon. */
static tw_waters belief(void)
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
    }
    return w;
}

static double frozen(void *data, uint64_t rounds)
{
    const tw_waters *w = data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        tw_water middle;
        tw_reduced acids;
        double water_kg = 0.0;
        tw_dose_frozen(w, room, sizeof room, &middle, &water_kg, &acids);
        sum += water_kg;
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

int main(void)
{
    tw_waters waters = belief();
    bench_ns("dose_grams_to_ph", grams_to_ph, &waters);
    bench_ms("dose_frozen", frozen, &waters);
    return 0;
}
