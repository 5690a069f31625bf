/* The course of a whole start-up water: hard mains water with acid, salt, calcium and chlorine on the shelf; how it grows with
 * members, products and visits. */
#include "bench.h"

#include <math.h>
#include <stdlib.h>

#include "dose/course.h"
#include "num/philox.h"
#include "water/edge.h"
#include "water/inverse.h"

#define MOST 2000

static double kg[MOST], temp[MOST], total[TW_TOTALS][MOST];
static tw_waters waters;
static tw_course_ask ask;
static tw_course course;
static void *room;

/* pH 7.6, alkalinity `ta`, hardness 60, salt 50 at 37 C in 1,130 kg: each known as well as a kit tells it. */
static void believe(size_t n, double ta)
{
    waters = (tw_waters){.n = n, .water_kg = kg, .temp_k = temp, .solvent_kg_per_l = 1.0};
    tw_constants at;
    tw_speciation sp;
    tw_water_constants_at(310.15, &at);
    for (int t = 0; t < TW_TOTALS; t++)
        waters.total[t] = total[t];
    for (uint32_t i = 0; i < n; i++) {
        tw_stream s = tw_stream_make(3, 0, 1, i);
        const double a = tw_stream_normal(&s), b = tw_stream_normal(&s), c = tw_stream_normal(&s), d = tw_stream_normal(&s), e = tw_stream_normal(&s);
        const tw_tests tests = {.temp_k = 310.15, .ph = 7.6 + 0.08 * a, .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(ta + 8.0 * b, 1.0),
                                .alk_kind = TW_ALK_STRONG_ION, .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, 60.0 + 5.0 * c, 1.0),
                                .salt_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, 50.0 + 10.0 * d, 1.0)};
        tw_water one;
        tw_water_from_tests(&at, &tests, &one, &sp);
        kg[i] = 1130.0 * (1.0 + 0.04 * e);
        temp[i] = 310.15;
        for (int t = 0; t < TW_TOTALS; t++)
            total[t][i] = one.total_mol_per_kg[t];
    }
}

static void stock(tw_substance_id id, double grid_g)
{
    ask.stock[ask.stocks].substance = tw_dose_substances[id];
    ask.stock[ask.stocks++].grid_g = grid_g;
}

static void want(size_t products)
{
    static const tw_substance_id IDS[] = {TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_SUBSTANCE_SODIUM_CHLORIDE, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120,
        TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, TW_SUBSTANCE_SODIUM_BICARBONATE, TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, TW_SUBSTANCE_DICHLOR_DIHYDRATE,
        TW_SUBSTANCE_HYDROCHLORIC_ACID_10, TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS, TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, TW_SUBSTANCE_SODIUM_CARBONATE,
        TW_SUBSTANCE_SODIUM_HYPOCHLORITE_50};
    const double nan = (double)NAN;
    tw_dose_course_defaults(&ask);
    ask.waters = &waters;
    ask.band[TW_OF_PH] = (tw_course_band){7.2, 7.4, 7.6, 6.8, 8.2};
    ask.band[TW_OF_ALKALINITY] = (tw_course_band){60, 80, 100, 40, 180};
    ask.band[TW_OF_CALCIUM] = (tw_course_band){60, 100, 140, nan, 250};
    ask.band[TW_OF_SALT] = (tw_course_band){1800, 2000, 2200, nan, 2400};
    ask.band[TW_OF_CHLORINE] = (tw_course_band){3, 5, 8, nan, 10};
    ask.air_hours = 4.0;
    for (size_t i = 0; i < products; i++)
        stock(IDS[i], IDS[i] == TW_SUBSTANCE_SODIUM_CHLORIDE ? 10.0 : 1.0);
}

/* The least of seven, by the processor's clock: others may be at work beside it. */
static void plan(const char *name)
{
    double best = 1e9;
    for (int i = 0; i < 7; i++) {
        const double began = bench_cpu_s();
        tw_dose_course(&ask, room, tw_dose_course_bytes(waters.n), &course);
        const double took = bench_cpu_s() - began;
        best = took < best ? took : best;
    }
    bench_told_ms(name, best);
}

int main(void)
{
    room = malloc(tw_dose_course_bytes(MOST));
    if (room == NULL)
        return 1;
    believe(1000, 235.0);
    want(7);
    plan("plan");
    bench_number("plan_visits", (double)course.visits);
    want(3);
    plan("plan_3_products");
    want(12);
    plan("plan_12_products");
    want(7);
    believe(250, 235.0);
    plan("plan_250_members");
    believe(2000, 235.0);
    plan("plan_2000_members");
    believe(1000, 110.0);
    plan("plan_mild");
    bench_number("plan_mild_visits", (double)course.visits);
    free(room);
    return 0;
}
