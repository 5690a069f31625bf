/* What to take along, and in which boxes. */
#include "support/check.h"

#include <math.h>
#include <sys/mman.h>

#include "dose/load.h"
#include "dose/size.h"
#include "num/normal.h"
#include "num/status.h"
#include "waters.h"

#define MEMBERS 300
#define TUBS 5
#define PRODUCTS 4
#define WALL 4096 /* bytes of a page, or a part of one */

static double room[1u << 16], grams[TUBS][PRODUCTS * MEMBERS], fresh[PRODUCTS * MEMBERS];
static waters W;
static tw_course_ask A;

static const tw_substance_id IDS[PRODUCTS] = {TW_SUBSTANCE_SODIUM_BICARBONATE, TW_SUBSTANCE_SODIUM_BISULFATE_93,
                                              TW_SUBSTANCE_SODIUM_CHLORIDE, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120};

static void wanted(void)
{
    const double nan = (double)NAN;
    tw_dose_course_defaults(&A);
    A.waters = &W.view;
    A.band[TW_OF_PH] = (tw_course_band){7.2, 7.4, 7.6, nan, nan};
    A.band[TW_OF_ALKALINITY] = (tw_course_band){60, 80, 100, nan, nan};
    A.band[TW_OF_SALT] = (tw_course_band){1800, 2000, 2200, nan, nan};
    A.band[TW_OF_CHLORINE] = (tw_course_band){3, 5, 8, nan, nan};
    A.air_hours = 2.0;
    A.stocks = PRODUCTS;
    for (size_t j = 0; j < PRODUCTS; j++)
        A.stock[j].substance = tw_dose_substances[IDS[j]];
}

/* One water: each product is the balance's; what lies in its band takes nothing. */
static void a_known_water_takes_the_balance(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){37, 7.4, 50, 100, 10, 1000, 20});
    waters_clear(&W);
    waters_add(&W, &w, 1234);
    wanted();
    assert_ok(tw_dose_needs(&A, room, sizeof room, fresh));
    double to;
    assert_ok(tw_dose_grams_to(&w, 1234, &A.stock[0].substance, TW_OF_ALKALINITY, 80, 1.0, &to));
    assert_near_rel(fresh[0], to, 1e-9);
    assert_ok(tw_dose_grams_to(&w, 1234, &A.stock[2].substance, TW_OF_SALT, 2000, 1.0, &to));
    assert_near_rel(fresh[2], to, 1e-9);
    assert_true(fresh[3] > 0);
    const tw_water fine = kit_water((kit){37, 7.4, 80, 100, 10, 2000, 20});
    waters_clear(&W);
    waters_add(&W, &fine, 1234);
    for (int p = 0; p < PRODUCTS; p++)
        fresh[p] = 1e9; /* of another tub */
    assert_ok(tw_dose_needs(&A, room, sizeof room, fresh));
    for (int p = 0; p < 3; p++)
        assert_near(fresh[p], 0, 0);
    /* Acid where alkalinity is high, and nothing against the low pH that follows: that is air's. */
    const tw_water hard = kit_water((kit){37, 7.4, 200, 100, 10, 2000, 20});
    waters_clear(&W);
    waters_add(&W, &hard, 1000);
    assert_ok(tw_dose_needs(&A, room, sizeof room, fresh));
    assert_near(fresh[0], 0, 0);
    assert_near(fresh[1], 120 * 2.58, 1);
    /* Three waters: product by product, each as if it were alone, whatever stood there before. As many products as there may be. */
    static double many[TW_COURSE_STOCK * 3];
    double alone[3][PRODUCTS];
    const tw_water three[] = {w, fine, hard};
    for (int i = 0; i < 3; i++) {
        waters_clear(&W);
        waters_add(&W, &three[i], 900 + 100 * i);
        assert_ok(tw_dose_needs(&A, room, sizeof room, alone[i]));
    }
    waters_clear(&W);
    for (int i = 0; i < 3; i++)
        waters_add(&W, &three[i], 900 + 100 * i);
    while (A.stocks < TW_COURSE_STOCK)
        A.stock[A.stocks++].substance = tw_dose_substances[TW_SUBSTANCE_BORIC_ACID]; /* for nothing that is asked */
    for (size_t k = 0; k < TW_COURSE_STOCK * 3; k++)
        many[k] = -1e9;
    assert_ok(tw_dose_needs(&A, room, sizeof room, many));
    for (size_t p = 0; p < TW_COURSE_STOCK; p++)
        for (size_t i = 0; i < 3; i++)
            assert_near(many[3 * p + i], p < PRODUCTS ? alone[i][p] : 0.0, 0.5); /* acids frozen at another middle water */
    A.stocks = TW_COURSE_STOCK + 1;
    assert_int_equal(tw_dose_needs(&A, room, sizeof room, many), TW_ERR_RANGE);
}

static void a_tub(uint64_t *s, double ta, double salt, double kg)
{
    waters_clear(&W);
    for (int i = 0; i < MEMBERS; i++) {
        const double a = tw_normal_quantile(check_uniform(s, 1e-9, 1)), b = tw_normal_quantile(check_uniform(s, 1e-9, 1));
        const double c = tw_normal_quantile(check_uniform(s, 1e-9, 1)), d = tw_normal_quantile(check_uniform(s, 1e-9, 1));
        const tw_water one = kit_water((kit){37, 7.5 + 0.1 * a, ta + 15 * b, 100, 10, salt + 60 * c, 20});
        waters_add(&W, &one, kg * exp(0.08 * d));
    }
}

/* Ten thousand days of fresh waters of the same beliefs: every need met in nine of ten, not in nearly all. */
static void nine_days_in_ten_are_served(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    static const double TA[TUBS] = {55, 70, 105, 120, 90}, SALT[TUBS] = {900, 1700, 1900, 300, 1500}, KG[TUBS] = {1100, 900, 1500, 1300, 2000};
    tw_load_tub tubs[TUBS];
    double take[PRODUCTS], mean[PRODUCTS] = {0};
    wanted();
    for (int t = 0; t < TUBS; t++) {
        a_tub(&s, TA[t], SALT[t], KG[t]);
        assert_ok(tw_dose_needs(&A, room, sizeof room, grams[t]));
        tubs[t] = (tw_load_tub){MEMBERS, grams[t]};
        for (size_t p = 0; p < PRODUCTS; p++)
            for (size_t i = 0; i < MEMBERS; i++)
                mean[p] += grams[t][p * MEMBERS + i] / MEMBERS;
    }
    assert_ok(tw_dose_load(tubs, TUBS, PRODUCTS, 0.9, 5, room, sizeof room, take));
    for (size_t p = 0; p < PRODUCTS; p++)
        assert_true(take[p] > mean[p]);
    static double other[TUBS][PRODUCTS * MEMBERS];
    for (int t = 0; t < TUBS; t++) {
        a_tub(&s, TA[t], SALT[t], KG[t]);
        assert_ok(tw_dose_needs(&A, room, sizeof room, other[t]));
    }
    int served = 0, by_mean = 0;
    for (int day = 0; day < 10000; day++) {
        double sum[PRODUCTS] = {0};
        int all = 1, all_mean = 1;
        for (int t = 0; t < TUBS; t++) {
            const size_t i = (size_t)(check_uniform(&s, 0, 1) * MEMBERS) % MEMBERS;
            for (size_t p = 0; p < PRODUCTS; p++)
                sum[p] += other[t][p * MEMBERS + i];
        }
        for (size_t p = 0; p < PRODUCTS; p++) {
            all = all && sum[p] <= take[p];
            all_mean = all_mean && sum[p] <= mean[p];
        }
        served += all;
        by_mean += all_mean;
    }
    printf("# served %d of 10000 days; by the means %d\n", served, by_mean);
    assert_in_range(served, 8700, 9400);
    assert_true(by_mean < 4000);
    assert_int_equal(tw_dose_load(tubs, 0, PRODUCTS, 0.9, 5, room, sizeof room, take), TW_ERR_RANGE);
    assert_int_equal(tw_dose_load(tubs, TUBS, PRODUCTS, 1.1, 5, room, sizeof room, take), TW_ERR_RANGE);
    assert_int_equal(tw_dose_load(tubs, TUBS, PRODUCTS, -0.1, 5, room, sizeof room, take), TW_ERR_RANGE);
    /* A tub known exactly takes what it needs; one of no members is none. */
    static const double needs[PRODUCTS] = {120.0, 7.5};
    tw_load_tub one = {1, needs};
    double exactly[PRODUCTS];
    assert_ok(tw_dose_load(&one, 1, PRODUCTS, 1.0, 5, room, sizeof room, exactly));
    for (size_t p = 0; p < PRODUCTS; p++)
        assert_near(exactly[p], needs[p], 1e-9);
    assert_ok(tw_dose_load(&one, 1, PRODUCTS, 0.0, 5, room, sizeof room, exactly));
    one.n = 0;
    assert_int_equal(tw_dose_load(&one, 1, PRODUCTS, 0.9, 5, room, sizeof room, exactly), TW_ERR_RANGE);
    assert_int_equal(tw_dose_load(tubs, TUBS, PRODUCTS, 0.9, 5, room, tw_dose_load_bytes(PRODUCTS) - 1, take), TW_ERR_CAPACITY);
    double all_days[PRODUCTS];
    assert_ok(tw_dose_load(tubs, TUBS, PRODUCTS, 1.0, 5, room, sizeof room, all_days));
    for (size_t p = 0; p < PRODUCTS; p++)
        assert_true(all_days[p] >= take[p]);
}

static _Alignas(WALL) unsigned char walled[1 << 19];

/* Doubles whose end is the end of what may be read: behind them the process is stopped, until pull_down(). */
static double *at_the_wall(size_t n)
{
    static size_t used;
    const size_t bytes = (n * sizeof(double) + WALL - 1) / WALL * WALL;
    unsigned char *wall = walled + used + bytes;
    used += bytes + WALL;
    assert_true(used <= sizeof walled && mprotect(wall, WALL, PROT_NONE) == 0);
    return (double *)(void *)(wall - n * sizeof(double));
}

/* A leak checker reads all there is at the end. */
static int pull_down(void **state)
{
    (void)state;
    return mprotect(walled, sizeof walled, PROT_READ | PROT_WRITE);
}

/* One tub of a thousand waters, of which the i-th takes i g of one product and 999 - i of another: both are enough on c of
 * the days when each is taken at the quantile (1 + c) / 2 of its own. Nothing is read or written behind what was handed over. */
static void needs_that_never_come_together(void **state)
{
    (void)state;
    enum { N = 1000 };
    double *needs = at_the_wall(2 * N), *take = at_the_wall(2);
    const size_t bytes = tw_dose_load_bytes(2);
    double *mem = at_the_wall(bytes / sizeof(double));
    for (int i = 0; i < N; i++) {
        needs[i] = i;
        needs[N + i] = N - 1 - i;
    }
    const tw_load_tub tub = {N, needs};
    static const double COVER[] = {0.2, 0.5, 0.8, 0.9};
    for (size_t k = 0; k < sizeof COVER / sizeof *COVER; k++) {
        assert_ok(tw_dose_load(&tub, 1, 2, COVER[k], 5, mem, bytes, take));
        for (int p = 0; p < 2; p++) /* of 2,048 days: three standard errors */
            assert_near(take[p] / N, 0.5 * (1.0 + COVER[k]), 3.0 * sqrt(0.25 / 2048));
    }
    /* Every day: the largest that any day took, which is one of the needs, nearly the largest of them. */
    assert_ok(tw_dose_load(&tub, 1, 2, 1.0, 5, mem, bytes, take));
    for (int p = 0; p < 2; p++)
        assert_true(take[p] > N - 10 && take[p] <= N - 1 && take[p] == floor(take[p]));
}

/* The least that covers one day, two, three of the 2,048: the smallest need that any day had, the next, the third. */
static void the_first_days_one_by_one(void **state)
{
    (void)state;
    enum { N = 100000 };
    static double needs[N];
    double take[3];
    for (int i = 0; i < N; i++)
        needs[i] = i;
    const tw_load_tub tub = {N, needs};
    for (int days = 1; days <= 3; days++)
        assert_ok(tw_dose_load(&tub, 1, 1, days / 2048.0, 5, room, sizeof room, &take[days - 1]));
    assert_true(take[0] < take[1] && take[1] < take[2] && take[2] < 10.0 * N / 2048);
}

/* No box holds two that must not share one; what agrees shares. */
static void boxes_by_the_table(void **state)
{
    (void)state;
    static const tw_family LOAD[] = {TW_FAMILY_ACID, TW_FAMILY_PLAIN, TW_FAMILY_HYPOCHLORITE, TW_FAMILY_CARBONATE, TW_FAMILY_DICHLOR,
                                     TW_FAMILY_CALCIUM, TW_FAMILY_REDUCER, TW_FAMILY_CAL_HYPO, TW_FAMILY_ACID};
    const size_t n = sizeof LOAD / sizeof *LOAD;
    uint32_t box[sizeof LOAD / sizeof *LOAD];
    for (size_t i = 0; i < n; i++)
        box[i] = 3; /* of another day */
    const size_t boxes = tw_dose_boxes(LOAD, n, box);
    assert_in_range(boxes, 4, 6);
    for (size_t a = 0; a < n; a++)
        for (size_t b = 0; b < a; b++) {
            const tw_dose_pair *pair = tw_dose_pair_of(LOAD[a], LOAD[b]);
            assert_true(box[a] != box[b] || pair == NULL || !pair->boxes);
        }
    assert_int_equal(box[0], 0);
    assert_int_equal(box[0], box[1]); /* acid and salt */
    assert_int_equal(box[0], box[8]); /* acid and acid */
    assert_true(box[2] != box[0] && box[4] != box[2] && box[7] != box[4]);
    assert_int_equal(tw_dose_boxes(LOAD, 0, box), 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_known_water_takes_the_balance), cmocka_unit_test(nine_days_in_ten_are_served),
                                       cmocka_unit_test_teardown(needs_that_never_come_together, pull_down), cmocka_unit_test(the_first_days_one_by_one),
                                       cmocka_unit_test(boxes_by_the_table)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
