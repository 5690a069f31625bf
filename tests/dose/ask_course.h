/* tests/dose/ask_course.h: start-up waters and what is asked of a course for them. */
#ifndef TW_TESTS_ASK_COURSE_H
#define TW_TESTS_ASK_COURSE_H

#include "support/check.h"

#include <math.h>
#include <string.h>

#include "dose/course.h"
#include "num/normal.h"
#include "waters.h"

static double room[1u << 19];
static waters W;
static tw_course C;
static tw_course_ask A;

static inline double normal(uint64_t *s)
{
    return tw_normal_quantile(check_uniform(s, 1e-9, 1.0));
}

/* A start-up water's bands: alkalinity 60..100, pH 7.2..7.6, calcium 60..140, salt 1800..2200, chlorine 3..8. */
static inline void usual(const waters *w)
{
    const double nan = (double)NAN;
    tw_dose_course_defaults(&A);
    A.waters = &w->view;
    A.band[TW_OF_PH] = (tw_course_band){7.2, 7.4, 7.6, 6.8, 8.2};
    A.band[TW_OF_ALKALINITY] = (tw_course_band){60, 80, 100, 40, 180};
    A.band[TW_OF_CALCIUM] = (tw_course_band){60, 100, 140, nan, 250};
    A.band[TW_OF_SALT] = (tw_course_band){1800, 2000, 2200, nan, 2400};
    A.band[TW_OF_CHLORINE] = (tw_course_band){3, 5, 8, nan, 10};
    A.band[TW_OF_CYANURATE] = (tw_course_band){nan, nan, nan, nan, 30};
    A.air_hours = 4.0;
    A.seed = 11;
}

static inline void stock(tw_substance_id id, double grid_g)
{
    A.stock[A.stocks].substance = tw_dose_substances[id];
    A.stock[A.stocks++].grid_g = grid_g;
}

static inline void all_products(void)
{
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 1);
    stock(TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, 5.355);
    stock(TW_SUBSTANCE_SODIUM_BISULFATE_93, 1);
    stock(TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 1);
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 10);
    stock(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 5.9);
    stock(TW_SUBSTANCE_DICHLOR_DIHYDRATE, 1);
}

static inline void plan(void)
{
    assert_ok(tw_dose_course(&A, room, sizeof room, &C));
}

/* The belief of a start-up water: n members about these readings. */
static inline void possible(waters *w, uint64_t seed, size_t n, kit k, double ph_sd, double ta_sd, double ch_sd, double salt_sd, double kg, double kg_rel)
{
    uint64_t s = seed;
    waters_clear(w);
    for (size_t i = 0; i < n; i++) {
        const double a = normal(&s), b = normal(&s), c = normal(&s), d = normal(&s), e = normal(&s);
        const double ta = k.ta + ta_sd * b, ch = k.ch + ch_sd * c, salt = k.nacl + salt_sd * d;
        const kit one = {k.temp_c, k.ph + ph_sd * a, ta > 20 ? ta : 20, ch > 5 ? ch : 5, k.mgh, salt > 5 ? salt : 5, k.so4};
        const tw_water water = kit_water(one);
        waters_add(w, &water, kg * (1 + kg_rel * e) > 0.3 * kg ? kg * (1 + kg_rel * e) : 0.3 * kg);
    }
}

static inline void start_up(size_t n)
{
    possible(&W, check_seed, n, (kit){37, 7.6, 235, 60, 10, 50, 20}, 0.08, 8, 5, 10, 1130, 0.04);
    usual(&W);
    all_products();
}

static inline const tw_course_addition *addition_of(const tw_course_visit *v, tw_effect effect)
{
    for (size_t k = 0; k < v->additions; k++)
        if (A.stock[v->addition[k].stock].substance.effect == effect)
            return &v->addition[k];
    return NULL;
}

static inline double grams_of(tw_effect effect)
{
    double sum = 0.0;
    for (size_t i = 0; i < C.visits; i++) {
        const tw_course_addition *a = addition_of(&C.visit[i], effect);
        sum += a != NULL ? a->grams : 0.0;
    }
    return sum;
}

static inline void only_band(tw_quantity_of_water of)
{
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        if (q != (int)of)
            A.band[q].target = (double)NAN;
}

static inline void one_water(kit k, double kg)
{
    const tw_water w = kit_water(k);
    waters_clear(&W);
    waters_add(&W, &w, kg);
    usual(&W);
}

#endif
