/* What a visit moves, as straight lines: against the totals themselves, the full solver, and counting by hand. */
#include "frozen_course.h"
#include "dose/course_visit.h"

#define MEMBERS 60

static tw_rows R;
static tw_columns X, Y;
static double doubles[2][TW_COLUMNS_DOUBLES(MEMBERS)], members_room[SET_DOUBLES(MEMBERS)];
static tw_course_set S;

/* Rows and columns of the waters in W, as asked in A. */
static void freeze(void)
{
    freeze_set(&R, members_room, &S);
    (void)tw_dose_columns_in(doubles[0], MEMBERS, &X);
    (void)tw_dose_columns_in(doubles[1], MEMBERS, &Y);
    tw_dose_set_columns(&R, &S, &X);
}

static void random_tub(uint64_t *s, int stabilised)
{
    waters_clear(&W);
    const double ph = check_uniform(s, 7.2, 7.9), ta = check_uniform(s, 70, 200);
    for (int i = 0; i < MEMBERS; i++) {
        const double a = check_uniform(s, -0.2, 0.2), b = check_uniform(s, -20, 20), c = check_uniform(s, 480, 600), d = check_uniform(s, 20, 200);
        tw_water w = kit_water((kit){37, ph + a, ta + b, d, 10, c, 20});
        w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = check_uniform(s, 0, 6e-5);
        w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = check_uniform(s, 0, 1e-5);
        w.total_mol_per_kg[TW_TOTAL_CYANURATE] = stabilised ? check_uniform(s, 1e-4, 3e-4) : 0.0;
        w.total_mol_per_kg[TW_TOTAL_BORATE] = check_uniform(s, 0, 2e-3);
        waters_add(&W, &w, check_uniform(s, 900, 1300));
        W.weight[i] = check_uniform(s, 0.2, 1.0);
    }
    W.view.weight = W.weight;
    usual(&W);
    A.band[TW_OF_SALT].hard_low = 30;
    A.exchange_most = 0.5;
    A.source = kit_water((kit){12, 7.7, 140, 120, 10, 40, 20});
    stock(TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, 0);
    stock(TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 0);
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 0);
    stock(TW_SUBSTANCE_SODIUM_SULFITE, 0);
    stock(TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE, 0);
    stock(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0);
}

/* A row of pH stands at 0 at that pH, above it over 0, below it under; by the solver of the same acids. */
static void a_row_of_ph_is_zero_at_that_ph(void **state)
{
    (void)state;
    uint64_t s = check_seed + 21;
    for (int stabilised = 0; stabilised < 2; stabilised++) {
        random_tub(&s, stabilised);
        freeze();
        for (size_t i = 0; i < MEMBERS; i++) {
            const tw_water w = tw_dose_member(&W.view, i);
            const tw_reduced_water q = tw_water_reduced_acids(w.total_mol_per_kg);
            const double ph = tw_dose_value(&R.acids, TW_OF_PH, &w, 1.0);
            const tw_ph_need at = tw_dose_ph_need(&R.acids, ph), above = tw_dose_ph_need(&R.acids, ph + 0.01), below = tw_dose_ph_need(&R.acids, ph - 0.01);
            assert_near(tw_dose_over_need(&R.acids, &at, &q), 0.0, 1e-11);
            assert_true(tw_dose_over_need(&R.acids, &above, &q) < -1e-7);
            assert_true(tw_dose_over_need(&R.acids, &below, &q) > 1e-7);
            for (int row = TW_ROW_PH_FLOOR; row < TW_ROWS; row++)
                if (R.has[row] > 0.0)
                    assert_true((X.row[row][i] > 0.0) == (ph > R.ph[row]));
        }
    }
    assert_near(R.ph[TW_ROW_PH_FLOOR], 6.803, 1e-12);
    assert_near(R.ph[TW_ROW_PH_CEILING], 8.2 - tw_dose_ph_gap(8.2), 1e-12);
    assert_near(R.ph[TW_ROW_PH_IN_LOW], 7.4 - 0.35 * 0.2, 1e-12);
    assert_near(R.ph[TW_ROW_PH_IN_HIGH], 7.4 + 0.35 * 0.2, 1e-12);
}

static tw_visit visit(size_t n, const uint32_t stocks[3], const double grams[3], double share, int air, double keeps)
{
    tw_visit v = {.additions = n, .share = share, .air = air, .keeps = keeps};
    for (size_t k = 0; k < n; k++) {
        v.stock[k] = stocks[k];
        v.grams[k] = grams[k];
    }
    return v;
}

static void copy_of(const tw_columns *from, tw_columns *to)
{
    to->n = from->n;
    for (int a = 0; a < TW_ROWS; a++)
        memcpy(to->row[a], from->row[a], from->n * sizeof(double));
    for (int j = 0; j < TW_COURSE_STOCK; j++)
        memcpy(to->rate[j], from->rate[j], from->n * sizeof(double));
    memcpy(to->per_kg, from->per_kg, from->n * sizeof(double));
    memcpy(to->weight, from->weight, from->n * sizeof(double));
    memcpy(to->crossed, from->crossed, from->n * sizeof(double));
}

/* The columns after a visit are the rows of the waters after it: exchanged, poured into with each one's own strength, aired
 * until its pH. The straight rows to the last digits; those of pH too, for small doses move no acids. */
static void columns_move_as_the_waters_do(void **state)
{
    (void)state;
    uint64_t s = check_seed + 22;
    static const uint32_t STOCKS[][3] = {{0, 1, 0}, {2, 1, 0}, {3, 0, 1}, {4, 2, 1}, {0, 0, 0}};
    static const size_t N[] = {2, 2, 3, 3, 0};
    for (int turn = 0; turn < 40; turn++) {
        const int k = turn % 5, salty = k != 0 && k != 2;
        random_tub(&s, 0);
        A.test[0].sd_abs = 0.1;
        freeze();
        const double grams[3] = {check_uniform(&s, 2, 30), check_uniform(&s, 2, 30), check_uniform(&s, 2, 30)};
        const double share = turn % 3 == 0 || k == 4 ? check_uniform(&s, 0.05, 0.3) : 0.0, keeps = turn % 4 ? 1.0 : 0.5;
        const int air = turn % 2 ? TW_ROW_PH_TARGET : 0;
        const tw_visit v = visit(N[k], STOCKS[k], grams, share, air, keeps);
        copy_of(&X, &Y);
        tw_dose_rows_move(&R, &v, &Y);
        for (size_t i = 0; i < MEMBERS; i++) {
            tw_water w = tw_dose_member(&W.view, i);
            if (share > 0.0)
                w = tw_dose_exchange(w, &A.source, share);
            for (size_t a = 0; a < v.additions; a++)
                w = tw_dose_apply(w, W.kg[i], &A.stock[v.stock[a]].substance, v.grams[a] * S.error[v.stock[a]][i]);
            if (air != 0) {
                const tw_reduced_water q = tw_water_reduced_acids(w.total_mol_per_kg);
                const double dic = tw_water_reduced_dic_at_ph(&R.acids, &q, R.ph[air]);
                if (dic < w.total_mol_per_kg[TW_TOTAL_DIC])
                    w.total_mol_per_kg[TW_TOTAL_DIC] = dic;
            }
            for (int row = 0; row < TW_ROWS; row++) {
                if (!(R.has[row] > 0.0))
                    continue;
                double expect = row < TW_OF_QUANTITIES ? tw_dose_quantity((tw_quantity_of_water)row, w.total_mol_per_kg, 1.0) : 0.0;
                if (row == TW_OF_CHLORINE)
                    expect *= keeps;
                if (row >= TW_OF_QUANTITIES) {
                    const tw_reduced_water q = tw_water_reduced_acids(w.total_mol_per_kg);
                    expect = tw_dose_over_need(&R.acids, &R.need[row], &q);
                }
                assert_near(Y.row[row][i], expect, row < TW_OF_QUANTITIES ? 1e-9 * (1.0 + fabs(expect)) : salty ? 4e-7 : 2e-8);
            }
        }
        /* The middle goes the same way: a visit is judged on it before it is tried on all. */
        double middle[TW_ROWS];
        tw_dose_rows_middle(&R, &v, middle);
        tw_water w = R.middle_water;
        if (share > 0.0)
            w = tw_dose_exchange(w, &A.source, share);
        for (size_t a = 0; a < v.additions; a++)
            w = tw_dose_apply(w, R.middle_kg, &A.stock[v.stock[a]].substance, v.grams[a]);
        assert_near(middle[TW_OF_ALKALINITY], tw_dose_quantity(TW_OF_ALKALINITY, w.total_mol_per_kg, 1.0), 1e-9 * 200);
        assert_near(middle[TW_OF_CHLORINE], keeps * tw_dose_quantity(TW_OF_CHLORINE, w.total_mol_per_kg, 1.0), 1e-9 * 10);
    }
}

/* The largest factor of a visit: at it the limit that bound is met, by the totals or the full solver, and no other is
 * crossed at any moment; over it one is. */
static void a_factor_leads_to_its_limit(void **state)
{
    (void)state;
    uint64_t s = check_seed + 23;
    int met[TW_COURSE_LIMITS] = {0};
    for (int turn = 0; turn < 30; turn++) {
        static const uint32_t ACID[3] = {0, 1, 0}, CALCIUM[3] = {1, 0, 0}, SODA[3] = {2, 0, 0};
        random_tub(&s, 0);
        A.band[TW_OF_PH].hard_high = 7.95;
        A.band[TW_OF_PH].high = 7.9;
        freeze();
        const int what = turn % 3;
        const double many[3] = {check_uniform(&s, 300, 900), what == 0 ? check_uniform(&s, 10, 40) : 0.0, 0.0};
        const tw_visit v = what == 0 ? visit(2, ACID, many, 0.0, 0, 1.0) : what == 1 ? visit(1, CALCIUM, many, 0.0, 0, 1.0) : visit(1, SODA, many, 0.0, 0, 1.0);
        for (size_t i = 0; i < MEMBERS; i++) {
            size_t bound;
            const double f = tw_dose_rows_factor(&R, &v, &X, i, &bound);
            if (f >= TW_DOSE_NEVER || f > 1.0 || !(f > 0.0))
                continue;
            met[bound]++;
            const tw_row_limit *m = &R.limit[bound];
            tw_water w = tw_dose_member(&W.view, i);
            double worst = 1e9;
            for (size_t a = 0; a < v.additions; a++) {
                w = tw_dose_apply(w, W.kg[i], &A.stock[v.stock[a]].substance, f * v.grams[a] * S.error[v.stock[a]][i]);
                const double now = m->quantity == TW_OF_PH ? ph_of_water(&w) : tw_dose_quantity((tw_quantity_of_water)m->quantity, w.total_mol_per_kg, 1.0);
                const double limit = m->is_floor ? A.band[m->quantity].hard_low : A.band[m->quantity].hard_high;
                worst = fmin(worst, m->sign * (now - limit));
            }
            if (m->quantity == TW_OF_PH) /* the distance that is kept, less the 0.009 that acids frozen at the middle may be off */
                assert_true(worst > -0.009 && worst < 0.02);
            else
                assert_near(worst, 0.0, 1e-6);
        }
    }
    int kinds = 0;
    for (size_t l = 0; l < R.limits; l++)
        kinds += met[l] > 20;
    assert_true(kinds >= 3);
}

/* The lanes of many and the loop of one say the same, with an exchange and without; a water that has crossed a limit in this
 * course is forbidden nothing, and the chance is the weight of the others. */
static void many_factors_are_those_of_each(void **state)
{
    (void)state;
    uint64_t s = check_seed + 24;
    static double all[MEMBERS + 1];
    int held = 0, by_exchange = 0;
    for (int turn = 0; turn < 60; turn++) {
        random_tub(&s, turn % 2);
        if (turn % 3 == 0)
            A.source = kit_water((kit){12, 8.1, 20, 400, 10, 3000, 20}); /* an exchange that crosses by itself */
        freeze();
        uint32_t stocks[3];
        double grams[3];
        for (int k = 0; k < 3; k++) {
            stocks[k] = (uint32_t)(check_uniform(&s, 0, 5.999));
            grams[k] = check_uniform(&s, 5, 600);
        }
        const tw_visit v = visit((size_t)(turn % 4), stocks, grams, turn % 5 == 0 ? 0.2 : turn % 5 == 1 ? 0.7 : 0.0, 0, 1.0);
        for (size_t i = 0; i < MEMBERS; i++)
            X.crossed[i] = i % 7 == 3;
        double chance = 0.0;
        all[MEMBERS] = 1e300; /* behind the last: left as it is */
        tw_dose_rows_factors(&R, &v, &X, all);
        assert_near(all[MEMBERS], 1e300, 0.0);
        for (size_t i = 0; i < MEMBERS; i++) {
            size_t bound;
            const double one = tw_dose_rows_factor(&R, &v, &X, i, &bound);
            assert_near(all[i], one, 1e-9 * fabs(one));
            assert_true(i % 7 != 3 || one >= TW_DOSE_NEVER);
            assert_true((one < TW_DOSE_NEVER) == (bound < R.limits));
            held += one < 1.0;
            by_exchange += v.share > 0.0 && one == 0.0;
            chance += one < 1.0 ? X.weight[i] : 0.0;
        }
        assert_near(tw_dose_rows_chance(&R, &v, &X, all), chance, 1e-12);
    }
    assert_true(held > 300 && by_exchange > 100);
    /* Salt water beside a product that brings no salt: nothing of the visit may be. */
    random_tub(&s, 0);
    A.source = kit_water((kit){12, 7.6, 140, 120, 10, 4000, 20});
    freeze();
    const tw_visit salted = visit(1, (const uint32_t[]){2, 0, 0}, (const double[]){5.0, 0.0, 0.0}, 0.7, 0, 1.0);
    tw_dose_rows_factors(&R, &salted, &X, all);
    for (size_t i = 0; i < MEMBERS; i++) {
        size_t bound;
        assert_near(all[i], 0.0, 0);
        assert_near(tw_dose_rows_factor(&R, &salted, &X, i, &bound), 0.0, 0);
        assert_int_equal(R.limit[bound].quantity, TW_OF_SALT);
    }
}

/* Counted by hand: 10 waters of equal weight, so many of them below, in and above. */
static void how_a_quantity_stands(void **state)
{
    (void)state;
    waters_clear(&W);
    const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, 500, 20});
    for (int i = 0; i < 10; i++)
        waters_add(&W, &w, 1000);
    usual(&W);
    freeze();
    /* Alkalinity 60..100 about 80: its middle part is 73 to 87. */
    static const struct { int low, lowish, about, highish, high; double in; int way, needed; } CASES[] = {
        {0, 0, 10, 0, 0, 1.0, 0, 0},  {1, 3, 2, 4, 0, 0.9, 0, 0}, /* sure enough of the band */
        {2, 4, 4, 0, 0, 0.8, 1, 0},   {2, 3, 5, 0, 0, 0.8, 0, 0}, /* low by its median, or about its target */
        {4, 2, 4, 0, 0, 0.6, 1, 1},   {3, 3, 4, 0, 0, 0.7, 1, 1}, /* under 0.702 of certainty: worth a visit */
        {6, 0, 0, 0, 4, 0.0, 1, 1},   {0, 0, 4, 2, 4, 0.6, -1, 1},
        {0, 0, 4, 4, 2, 0.8, -1, 0},  {4, 0, 0, 0, 6, 0.0, -1, 1}, {5, 0, 0, 0, 5, 0.0, 0, 0}};
    for (size_t k = 0; k < sizeof CASES / sizeof *CASES; k++) {
        const int parts[5] = {CASES[k].low, CASES[k].lowish, CASES[k].about, CASES[k].highish, CASES[k].high};
        static const double VALUE[5] = {55, 65, 80, 95, 110};
        for (int part = 0, i = 0; part < 5; part++)
            for (int m = 0; m < parts[part]; m++)
                X.row[TW_OF_ALKALINITY][i++] = VALUE[part];
        const tw_standing t = tw_dose_rows_standing(&R, &X, TW_OF_ALKALINITY);
        assert_near(t.in, CASES[k].in, 1e-12);
        assert_int_equal(t.way, CASES[k].way);
        assert_int_equal(t.needed, CASES[k].needed);
        assert_near(t.low_share, 0.1 * (parts[0] + parts[1]), 1e-12);
    }
    /* A reach so low that in the band is not what counts: outside by the median still does. */
    A.reach = 0.5;
    for (int side = 0; side < 2; side++) {
        for (int i = 0; i < 10; i++)
            X.row[TW_OF_ALKALINITY][i] = i < 6 ? (side ? 110 : 55) : 80;
        const tw_standing t = tw_dose_rows_standing(&R, &X, TW_OF_ALKALINITY);
        assert_near(t.in, 0.4, 1e-12);
        assert_int_equal(t.way, side ? -1 : 1);
        assert_int_equal(t.needed, 1);
    }
    A.reach = 0.9;
    /* Edges belong to the band. */
    for (int i = 0; i < 10; i++)
        X.row[TW_OF_ALKALINITY][i] = i < 5 ? 60 : 100;
    assert_near(tw_dose_rows_standing(&R, &X, TW_OF_ALKALINITY).in, 1.0, 1e-12);
    /* pH by the signs of its rows. */
    for (int i = 0; i < 10; i++) {
        X.row[TW_ROW_PH_LOW][i] = i < 3 ? -1e-5 : 1e-5;
        X.row[TW_ROW_PH_IN_LOW][i] = i < 6 ? -1e-5 : 1e-5;
        X.row[TW_ROW_PH_IN_HIGH][i] = i < 9 ? -1e-5 : 1e-5;
        X.row[TW_ROW_PH_HIGH][i] = i < 9 ? -1e-5 : 1e-5;
    }
    const tw_standing ph = tw_dose_rows_standing(&R, &X, TW_OF_PH);
    assert_near(ph.in, 0.6, 1e-12);
    assert_int_equal(ph.way, 1);
    assert_int_equal(ph.needed, 1);
    /* In all bands: alkalinity in four of ten, calcium in all, salt (500) in none, chlorine (0) in none. */
    for (int i = 0; i < 10; i++) {
        X.row[TW_OF_ALKALINITY][i] = i < 4 ? 80 : 120;
        X.row[TW_ROW_PH_LOW][i] = 1e-5;
        X.row[TW_ROW_PH_HIGH][i] = -1e-5;
        X.row[TW_OF_SALT][i] = 2000;
        X.row[TW_OF_CHLORINE][i] = i < 2 ? 5 : 1;
    }
    assert_near(tw_dose_rows_in_all(&R, &X, TW_OF_QUANTITIES), 0.2, 1e-12);
    assert_near(tw_dose_rows_in_all(&R, &X, TW_OF_CHLORINE), 0.4, 1e-12);
    assert_near(tw_dose_rows_in_all(&R, &X, TW_OF_ALKALINITY), 0.2, 1e-12);
}

/* Half bands from the targets: what is to move counts whole, what is settled only past its middle part. */
static void how_far_from_the_targets(void **state)
{
    (void)state;
    one_water((kit){37, 7.4, 80, 100, 10, 500, 20}, 1000);
    A.band[TW_OF_PH].target = (double)NAN;
    freeze();
    double row[TW_ROWS];
    memcpy(row, R.middle, sizeof row);
    row[TW_OF_ALKALINITY] = 80;
    row[TW_OF_CALCIUM] = 100;
    row[TW_OF_SALT] = 2000;
    row[TW_OF_CHLORINE] = 5;
    int way[TW_OF_QUANTITIES] = {0};
    assert_near(tw_dose_rows_distance(&R, row, way), 0.0, 1e-12);
    row[TW_OF_ALKALINITY] = 70; /* half of 20 under */
    row[TW_OF_CHLORINE] = 6.5;  /* half of 3 over   */
    assert_near(tw_dose_rows_distance(&R, row, way), 2 * (0.5 - 0.35), 1e-12);
    way[TW_OF_ALKALINITY] = 1;
    assert_near(tw_dose_rows_distance(&R, row, way), 0.5 + 0.5 - 0.35, 1e-12);
    row[TW_OF_CHLORINE] = 4; /* half of 2 under */
    assert_near(tw_dose_rows_distance(&R, row, way), 0.5 + 0.5 - 0.35, 1e-12);
    A.band[TW_OF_SALT].high = A.band[TW_OF_SALT].target; /* a target at its edge: 2 % of it is its half */
    row[TW_OF_SALT] = 2040;
    way[TW_OF_SALT] = -1;
    assert_near(tw_dose_rows_distance(&R, row, way), 1.0 + 0.5 + 0.5 - 0.35, 1e-9);
    /* pH in alkalinity: the band's own edges are one half band away. */
    A.band[TW_OF_PH].target = 7.4;
    A.band[TW_OF_SALT].target = (double)NAN;
    freeze();
    way[TW_OF_PH] = -1;
    for (int side = 0; side < 2; side++) {
        const tw_water at = kit_water((kit){37, side ? 7.6 : 7.2, 80, 100, 10, 500, 20});
        tw_dose_rows_of(&R, &at, row);
        row[TW_OF_ALKALINITY] = 80;
        row[TW_OF_CALCIUM] = 100;
        row[TW_OF_CHLORINE] = 5;
        assert_near(tw_dose_rows_distance(&R, row, way), 1.0, 0.03);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_row_of_ph_is_zero_at_that_ph), cmocka_unit_test(columns_move_as_the_waters_do),
        cmocka_unit_test(a_factor_leads_to_its_limit),    cmocka_unit_test(many_factors_are_those_of_each),
        cmocka_unit_test(how_a_quantity_stands),          cmocka_unit_test(how_far_from_the_targets)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
