/* A visit carried out on every possible water: who crosses counted by hand, what moves by the totals, weights and spreads. */
#include "frozen_course.h"
#include "num/sort.h"

#define MEMBERS 1200

static tw_rows R;
static tw_course_set S;
static tw_columns X, Y;
static double doubles[2][TW_COLUMNS_DOUBLES(MEMBERS)], members_room[SET_DOUBLES(MEMBERS)];
static tw_course_doing D;
static tw_course_judged J;

static void visit(const tw_visit *v)
{
    memset(&D, 0, sizeof D);
    D.visit = *v;
    D.before_air = v->additions;
    tw_dose_rows_acids(&R, v, D.acids);
}

static double salt_of(const tw_water *w)
{
    return tw_dose_quantity(TW_OF_SALT, w->total_mol_per_kg, 1.0);
}

static size_t limit_of(int quantity, int is_floor)
{
    for (size_t l = 0; l < R.limits; l++)
        if (R.limit[l].quantity == quantity && R.limit[l].is_floor == is_floor)
            return l;
    fail();
    return 0;
}

/* Forty waters of several masses and salts, weighed; some over the limit already. Products as said, to the gram. */
static void forty_salts(void)
{
    uint64_t s = check_seed + 5;
    waters_clear(&W);
    for (int i = 0; i < 40; i++) {
        const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, i % 8 == 0 ? 2450 : check_uniform(&s, 1500, 2300), 20});
        waters_add(&W, &w, check_uniform(&s, 500, 1500));
        W.weight[i] = check_uniform(&s, 0.1, 3.0);
    }
    W.view.weight = W.weight;
    usual(&W);
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    A.stock[0].weighing_sd_ln = A.stock[0].substance.assay_sd_ln = 0.0;
    A.source = kit_water((kit){15, 7.5, 80, 100, 10, 200, 20});
}

/* Over 2,400 after the exchange or after the salt, and further than at the start; once a course. */
static void who_crosses_is_counted(void **state)
{
    (void)state;
    static double before[40];
    static const struct { double share, grams; } VISITS[] = {{0.0, 300.0}, {0.0, 900.0}, {0.3, 900.0}, {0.3, 0.0}};
    for (int crossed = 0; crossed < 2; crossed++)
        for (size_t k = 0; k < sizeof VISITS / sizeof *VISITS; k++) {
            forty_salts();
            for (int i = 0; i < 40; i++)
                before[i] = crossed && i % 3 == 0;
            W.view.crossed = before;
            freeze_set(&R, members_room, &S);
            const tw_visit v = {.additions = 1, .stock = {0}, .serves = {TW_OF_SALT}, .grams = {VISITS[k].grams}, .share = VISITS[k].share, .keeps = 1.0};
            visit(&v);
            double over = 0.0, all = 0.0;
            int crosses[40], newly = 0;
            tw_water after[40];
            for (size_t i = 0; i < 40; i++) {
                const tw_water was = tw_dose_member(&W.view, i);
                const tw_water changed = v.share > 0.0 ? tw_dose_exchange(was, &A.source, v.share) : was;
                after[i] = tw_dose_apply(changed, W.kg[i], &A.stock[0].substance, v.grams[0]);
                crosses[i] = salt_of(&after[i]) > 2400 && salt_of(&after[i]) > salt_of(&was) * (1 + 1e-9);
                newly += crosses[i] && before[i] == 0.0;
                over += crosses[i] && before[i] == 0.0 ? W.weight[i] : 0.0;
                all += W.weight[i];
            }
            tw_dose_set_judge(&R, &D, 0, &S, &J);
            assert_near(J.chance_any, over / all, 1e-12);
            assert_near(J.chance[limit_of(TW_OF_SALT, 0)], over / all, 1e-12);
            assert_near(J.chance[limit_of(TW_OF_ALKALINITY, 1)], 0, 0);
            assert_true(k == 3 ? newly == 0 : newly > 2);
            assert_near(S.total[TW_TOTAL_CL][7], W.total[TW_TOTAL_CL][7], 0); /* only looked at */
            tw_dose_set_judge(&R, &D, 1, &S, &J);
            for (size_t i = 0; i < 40; i++) {
                assert_near(S.crossed[i], crosses[i] || before[i] > 0.0, 0);
                for (int t = 0; t < TW_TOTALS; t++)
                    assert_near(S.total[t][i], after[i].total_mol_per_kg[t], 1e-15);
            }
            W.view.crossed = NULL;
        }
}

/* Who crosses two limits in a visit is one; the chance of each is its own. Soda lifts alkalinity and pH. */
static void two_limits_are_one_crossing(void **state)
{
    (void)state;
    waters_clear(&W);
    for (int i = 0; i < 4; i++) { /* over pH; over alkalinity; over both; over none */
        const tw_water w = kit_water((kit){37, i % 2 == 0 ? 8.1 : 6.9, i == 1 || i == 2 ? 170 : 100, 100, 10, 1500, 20});
        waters_add(&W, &w, 1000);
        W.weight[i] = 1 << i;
    }
    W.view.weight = W.weight;
    usual(&W);
    stock(TW_SUBSTANCE_SODIUM_CARBONATE, 0);
    A.stock[0].weighing_sd_ln = A.stock[0].substance.assay_sd_ln = 0.0;
    freeze_set(&R, members_room, &S);
    const tw_visit v = {.additions = 1, .stock = {0}, .serves = {TW_OF_ALKALINITY}, .grams = {20.0}, .keeps = 1.0}; /* 19 mg/L */
    visit(&v);
    tw_dose_set_judge(&R, &D, 1, &S, &J);
    assert_near(J.chance[limit_of(TW_OF_PH, 0)], 5.0 / 15, 1e-12);
    assert_near(J.chance[limit_of(TW_OF_ALKALINITY, 0)], 6.0 / 15, 1e-12);
    assert_near(J.chance_any, 7.0 / 15, 1e-12);
    tw_dose_set_judge(&R, &D, 1, &S, &J); /* the same again: those that had not, as far as they do now */
    assert_near(J.chance_any, 0.0, 1e-12);
}

/* The saturation index is a limit of what clouds water: calcium, and what lifts alkalinity. Chlorine lifts it too, and is let. */
static void only_soda_and_calcium_cloud(void **state)
{
    (void)state;
    static const struct { tw_substance_id id; double grams; int clouds; } POURS[] = {
        {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 100, 0}, {TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, 20, 1}, {TW_SUBSTANCE_SODIUM_CARBONATE, 20, 1},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 50, 1}, {TW_SUBSTANCE_SODIUM_CHLORIDE, 50, 0}};
    const tw_water w = kit_water((kit){38, 7.8, 140, 300, 10, 1500, 20});
    tw_constants at;
    tw_speciation before, after;
    assert_ok(tw_water_constants_at(w.temp_k, &at));
    assert_ok(tw_water_speciate(&at, &w, &before));
    for (size_t k = 0; k < sizeof POURS / sizeof *POURS; k++) {
        waters_clear(&W);
        waters_add(&W, &w, 1000);
        usual(&W);
        stock(POURS[k].id, 0);
        const tw_water is = tw_dose_apply(w, 1000, &A.stock[0].substance, POURS[k].grams);
        assert_ok(tw_water_speciate(&at, &is, &after));
        assert_true((after.si_calcite > before.si_calcite + 0.01) == (POURS[k].id != TW_SUBSTANCE_SODIUM_CHLORIDE));
        A.si_high = before.si_calcite + 0.005;
        freeze_set(&R, members_room, &S);
        const tw_visit v = {.additions = 1, .stock = {0}, .serves = {TW_OF_CHLORINE}, .grams = {POURS[k].grams}, .keeps = 1.0};
        visit(&v);
        tw_dose_set_judge(&R, &D, 0, &S, &J);
        assert_near(J.chance[R.limits], POURS[k].clouds, 1e-12);
        A.si_high = (double)NAN;
        freeze_set(&R, members_room, &S);
        tw_dose_set_judge(&R, &D, 0, &S, &J);
        assert_near(J.chance[R.limits], 0, 0);
    }
}

/* Strength and weighing together, a logarithm; one draw a member and product; a water known alone has none. */
static void errors_of_strength_and_weighing(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, 1500, 20});
    waters_clear(&W);
    for (int i = 0; i < MEMBERS; i++)
        waters_add(&W, &w, 1000);
    usual(&W);
    for (int j = 0; j < 3; j++)
        stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    A.stock[0].substance.assay_sd_ln = 0.3;
    A.stock[0].weighing_sd_ln = 0.4;
    A.stock[1].substance.assay_sd_ln = 0.0;
    A.stock[1].weighing_sd_ln = 0.0;
    A.stock[2].substance.assay_sd_ln = 0.0;
    A.stock[2].weighing_sd_ln = 0.5;
    freeze_set(&R, members_room, &S);
    double sum[2] = {0}, squares[2] = {0}, product = 0.0;
    for (size_t i = 0; i < MEMBERS; i++) {
        const double ln[2] = {log(S.error[0][i]), log(S.error[2][i])};
        assert_near(S.error[1][i], 1.0, 0);
        for (int j = 0; j < 2; j++) {
            sum[j] += ln[j] / MEMBERS;
            squares[j] += ln[j] * ln[j] / MEMBERS;
        }
        product += ln[0] * ln[1] / MEMBERS;
    }
    for (int j = 0; j < 2; j++) { /* both 0.5; four standard errors of 1,200 */
        assert_near(sum[j], 0.0, 4 * 0.5 / sqrt(MEMBERS));
        assert_near(squares[j], 0.25, 4 * 0.25 * sqrt(2.0 / MEMBERS));
    }
    assert_near(product, 0.0, 4 * 0.25 / sqrt(MEMBERS));
    W.view.n = 1;
    freeze_set(&R, members_room, &S);
    assert_near(S.error[0][0], 1.0, 0);
}

/* Columns share out the weights; of every second member those that are left; where all of them weigh nothing, alike. */
static void weights_of_columns(void **state)
{
    (void)state;
    forty_salts();
    freeze_set(&R, members_room, &S);
    (void)tw_dose_columns_in(doubles[0], 40, &X);
    (void)tw_dose_columns_in(doubles[1], 40, &Y);
    tw_dose_set_columns(&R, &S, &X);
    double all = 0.0, third = 0.0;
    for (size_t i = 0; i < 40; i++) {
        all += W.weight[i];
        third += i % 3 == 0 ? W.weight[i] : 0.0;
    }
    for (size_t i = 0; i < 40; i++) {
        assert_near_rel(X.weight[i], W.weight[i] / all, 1e-12);
        assert_near_rel(X.row[TW_OF_SALT][i], 1e3 * W.total[TW_TOTAL_CL][i] * 58.44, 1e-4); /* g/mol of sodium chloride */
        assert_near_rel(X.per_kg[i], 1.0 / W.kg[i], 1e-15);
    }
    tw_dose_set_thinned(&R, &X, 3, &Y);
    assert_int_equal(Y.n, 14);
    for (size_t i = 0; i < Y.n; i++) {
        assert_near_rel(Y.weight[i], W.weight[3 * i] / third, 1e-12);
        assert_near(Y.row[TW_OF_SALT][i], X.row[TW_OF_SALT][3 * i], 0);
        assert_near(Y.rate[0][i], X.rate[0][3 * i], 0);
    }
    for (size_t i = 0; i < 40; i += 2)
        W.weight[i] = 0.0;
    freeze_set(&R, members_room, &S);
    tw_dose_set_columns(&R, &S, &X);
    tw_dose_set_thinned(&R, &X, 2, &Y);
    for (size_t i = 0; i < Y.n; i++)
        assert_near(Y.weight[i], 1.0 / 20, 1e-15);
}

/* 5, 50, 95 % of a hundred salts, sorted by hand: after nothing, after the salt, of every fourth. */
static void spreads_are_of_the_sorted(void **state)
{
    (void)state;
    static double salt[2][101], fourth[2][26];
    static uint32_t order[101];
    waters_clear(&W);
    uint64_t s = check_seed + 9;
    for (int i = 0; i < 101; i++) {
        const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, check_uniform(&s, 500, 1500), 20});
        waters_add(&W, &w, check_uniform(&s, 800, 1200));
    }
    usual(&W);
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    A.stock[0].weighing_sd_ln = A.stock[0].substance.assay_sd_ln = 0.0;
    freeze_set(&R, members_room, &S);
    const tw_visit v = {.additions = 1, .stock = {0}, .serves = {TW_OF_SALT}, .grams = {500.0}, .keeps = 1.0};
    visit(&v);
    for (size_t i = 0; i < 101; i++) {
        const tw_water was = tw_dose_member(&W.view, i), is = tw_dose_apply(was, W.kg[i], &A.stock[0].substance, 500.0);
        salt[0][i] = salt_of(&was);
        salt[1][i] = salt_of(&is);
        for (int after = 0; after < 2 && i % 4 == 0; after++)
            fourth[after][i / 4] = salt[after][i];
    }
    for (size_t after = 0; after < 2; after++) {
        tw_course_spread got;
        tw_sort(salt[after], 101);
        tw_sort(fourth[after], 26);
        tw_dose_set_spread(&R, &D, after, 1, &S, order, &got);
        for (int p = 0; p < 3; p++) /* within one place of the sorted */
            assert_true(got.of[TW_OF_SALT][p] >= salt[after][(p == 0 ? 5 : p == 1 ? 50 : 95) - 1] &&
                        got.of[TW_OF_SALT][p] <= salt[after][(p == 0 ? 5 : p == 1 ? 50 : 95) + 1]);
        tw_dose_set_spread(&R, &D, after, 4, &S, order, &got);
        for (int p = 0; p < 3; p++)
            assert_true(got.of[TW_OF_SALT][p] >= fourth[after][p == 0 ? 0 : p == 1 ? 12 : 23] && got.of[TW_OF_SALT][p] <= fourth[after][p == 0 ? 2 : p == 1 ? 14 : 25]);
    }
}

/* What is told of a visit with air, each member's reading off by its own error, is what carrying it out makes of them. */
static void what_is_told_is_what_is_done(void **state)
{
    (void)state;
    static uint32_t order[MEMBERS];
    for (size_t k = 0; k < 4; k++) { /* every member or every fourth; chlorine after the air or nothing */
        const size_t stride = k % 2 == 0 ? 1 : 4, pours = k < 2 ? 2 : 1;
        possible(&W, check_seed + 3, 203, (kit){37, 7.2, 120, 100, 10, 1500, 20}, 0.1, 10, 5, 20, 1000, 0.1);
        usual(&W);
        A.air_read_sd = 0.15;
        stock(TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, 0);
        stock(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0);
        freeze_set(&R, members_room, &S);
        const tw_visit none = {.keeps = 1.0}, v = {.additions = pours, .stock = {0, 1}, .serves = {TW_OF_ALKALINITY, TW_OF_CHLORINE}, .grams = {40.0, 20.0},
                                                   .air = TW_ROW_PH_TARGET, .keeps = 0.8};
        visit(&v);
        D.before_air = 1;
        D.air_to_ph = 7.4;
        tw_course_spread told, done;
        tw_dose_set_spread(&R, &D, 3, stride, &S, order, &told);
        tw_dose_set_judge(&R, &D, 1, &S, &J);
        const tw_reduced acids = D.acids[pours];
        visit(&none);
        D.acids[0] = acids;
        tw_dose_set_spread(&R, &D, 0, stride, &S, order, &done);
        for (int q = 0; q < TW_OF_QUANTITIES; q++)
            for (int p = 0; p < 3; p++)
                assert_near(told.of[q][p], done.of[q][p], 1e-12);
        assert_true(told.of[TW_OF_PH][2] - told.of[TW_OF_PH][0] > 2 * 1.5 * 0.15 * 0.8);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_crosses_is_counted), cmocka_unit_test(two_limits_are_one_crossing),
        cmocka_unit_test(only_soda_and_calcium_cloud), cmocka_unit_test(errors_of_strength_and_weighing),
        cmocka_unit_test(weights_of_columns), cmocka_unit_test(spreads_are_of_the_sorted),
        cmocka_unit_test(what_is_told_is_what_is_done)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
