/* Which products a visit may have, and their grams: against balances of the totals, and all choices counted by hand. */
#include "frozen_course.h"
#include "dose/course_choice.h"
#include "dose/size.h"

#define MEMBERS 4

static tw_rows R;
static tw_columns X;
static tw_needs N;
static tw_candidate LIST[TW_COURSE_SHORTLIST];
static double doubles[TW_COLUMNS_DOUBLES(MEMBERS)], members_room[SET_DOUBLES(MEMBERS)];
static tw_course_set S;

/* All choices for the waters in W, as asked in A. */
static size_t choices(void)
{
    freeze_set(&R, members_room, &S);
    (void)tw_dose_columns_in(doubles, MEMBERS, &X);
    tw_dose_set_columns(&R, &S, &X);
    tw_dose_choice_look(&R, &X, TW_COURSE_OPTIONS, 0, &N);
    return tw_dose_choice_list(&R, &N, TW_COURSE_SHORTLIST, LIST);
}

static void bands_of(const tw_quantity_of_water *of, size_t n)
{
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        int keep = 0;
        for (size_t k = 0; k < n; k++)
            keep = keep || (int)of[k] == q;
        if (!keep)
            A.band[q].target = (double)NAN;
    }
}

static const tw_candidate *with(const uint32_t *stocks, size_t n, double share, size_t listed)
{
    const tw_candidate *found = NULL;
    for (size_t a = 0; a < listed; a++) {
        const tw_visit *v = &LIST[a].visit;
        int same = v->additions == n && fabs(v->share - share) < 1e-9;
        for (size_t k = 0; k < n && same; k++)
            same = v->stock[k] == stocks[k];
        if (same) {
            assert_null(found); /* once */
            found = &LIST[a];
        }
    }
    return found;
}

/* Alkalinity 150 to 80 by hydrochloric acid, salt to 2,000: acid, salt, or both; and salt, alone or not, is short by the
 * chloride of the acid, which comes now or later. Nearest to the targets first. */
static void salt_leaves_room_for_acid_to_come(void **state)
{
    (void)state;
    static const tw_quantity_of_water OF[] = {TW_OF_ALKALINITY, TW_OF_SALT};
    one_water((kit){37, 7.6, 150, 100, 10, 1000, 20}, 1234);
    bands_of(OF, 2);
    A.air_hours = 0.0;
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    stock(TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, 0);
    const size_t n = choices();
    assert_int_equal(n, 3);
    assert_int_equal(N.n, 2);
    assert_true(N.of[0].q == TW_OF_ALKALINITY && N.of[0].way == -1 && N.of[1].q == TW_OF_SALT && N.of[1].way == 1);
    const tw_water w = tw_dose_member(&W.view, 0);
    double acid = 0.0, salt = 0.0;
    assert_ok(tw_dose_grams_to(&w, 1234, &A.stock[1].substance, TW_OF_ALKALINITY, 80, 1.0, &acid));
    const tw_water sour = tw_dose_apply(w, 1234, &A.stock[1].substance, acid);
    assert_ok(tw_dose_grams_to(&sour, 1234, &A.stock[0].substance, TW_OF_SALT, 2000, 1.0, &salt));
    static const uint32_t ACID[] = {1}, SALT[] = {0}, BOTH[] = {1, 0};
    const tw_candidate *a = with(ACID, 1, 0, n), *s = with(SALT, 1, 0, n), *b = with(BOTH, 2, 0, n);
    assert_true(a != NULL && s != NULL && b == &LIST[0]);
    assert_near_rel(a->visit.grams[0], acid, 1e-9);
    assert_near_rel(s->visit.grams[0], salt, 1e-9);
    assert_near_rel(b->visit.grams[0], acid, 1e-9);
    assert_near_rel(b->visit.grams[1], salt, 1e-9);
    /* With dry acid there is no chloride to come. */
    A.stock[1].substance = tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93];
    assert_int_equal(choices(), 3);
    double alone = 0.0;
    assert_ok(tw_dose_grams_to(&w, 1234, &A.stock[0].substance, TW_OF_SALT, 2000, 1.0, &alone));
    s = with(SALT, 1, 0, 3);
    assert_true(s != NULL && alone > 1.02 * salt);
    assert_near_rel(s->visit.grams[0], alone, 1e-9);
}

/* Water is changed first: the grams are for what the source leaves to be done. Salt falls by nothing else. */
static void grams_for_what_an_exchange_leaves(void **state)
{
    (void)state;
    static const tw_quantity_of_water OF[] = {TW_OF_ALKALINITY, TW_OF_CYANURATE};
    tw_water w = kit_water((kit){37, 7.5, 50, 100, 10, 1000, 20});
    w.total_mol_per_kg[TW_TOTAL_CYANURATE] = 60e-3 / 129.0742;
    waters_clear(&W);
    waters_add(&W, &w, 1000);
    usual(&W);
    bands_of(OF, 2);
    A.band[TW_OF_CYANURATE] = (tw_course_band){20, 30, 40, (double)NAN, (double)NAN};
    A.exchange_most = 0.9;
    A.source = kit_water((kit){15, 7.6, 20, 60, 10, 30, 20});
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 0);
    const size_t n = choices();
    static const uint32_t BASE[] = {0};
    const tw_candidate *both = with(BASE, 1, 0.5, n), *first = with(BASE, 1, 0, n), *swap = with(NULL, 0, 0.5, n);
    assert_true(n == 3 && both != NULL && first != NULL && swap != NULL);
    double grams = 0.0;
    const tw_water half = tw_dose_exchange(w, &A.source, 0.5);
    assert_ok(tw_dose_grams_to(&half, 1000, &A.stock[0].substance, TW_OF_ALKALINITY, 80, 1.0, &grams));
    assert_near_rel(both->visit.grams[0], grams, 1e-9);
    assert_ok(tw_dose_grams_to(&w, 1000, &A.stock[0].substance, TW_OF_ALKALINITY, 80, 1.0, &grams));
    assert_near_rel(first->visit.grams[0], grams, 1e-9);
    /* Less than a twentieth is not worth a hose; what the source has more of is no way; shares go by twentieths, upwards. */
    A.band[TW_OF_CYANURATE] = (tw_course_band){54, 58, 59, (double)NAN, (double)NAN};
    assert_int_equal(choices(), 1);
    A.band[TW_OF_CYANURATE] = (tw_course_band){40, 46.3, 50, (double)NAN, (double)NAN};
    assert_int_equal(choices(), 3);
    assert_non_null(with(NULL, 0, 0.25, 3)); /* (60 - 46.3) / 60 is 0.228 */
    A.exchange_most = 0.22;
    assert_int_equal(choices(), 3);
    assert_non_null(with(NULL, 0, 0.20, 3));
}

/* Four quantities are low, and each has its product: never all four; the order is the safe one. What is left open counts in half
 * bands: alkalinity 2; calcium 1.75 and 0.41 of salt, short by its chloride; salt and cyanurate 5 each. So the best three leave
 * alkalinity, calcium, both. */
static void three_of_four(void **state)
{
    (void)state;
    static const tw_quantity_of_water OF[] = {TW_OF_ALKALINITY, TW_OF_CALCIUM, TW_OF_SALT, TW_OF_CYANURATE};
    one_water((kit){37, 7.4, 40, 30, 10, 1000, 20}, 1000);
    bands_of(OF, 4);
    A.band[TW_OF_CYANURATE] = (tw_course_band){20, 25, 30, (double)NAN, (double)NAN};
    stock(TW_SUBSTANCE_CYANURIC_ACID, 0);
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    stock(TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 0);
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 0);
    assert_int_equal(choices(), TW_COURSE_SHORTLIST);
    static const uint32_t SAFE[] = {3, 0, 2, 1}; /* base, stabiliser, calcium, salt */
    for (size_t a = 0; a < TW_COURSE_SHORTLIST; a++) {
        const tw_visit *v = &LIST[a].visit;
        int place = -1;
        for (size_t k = 0; k < v->additions; k++) {
            int at = 0;
            while (SAFE[at] != v->stock[k])
                at++;
            assert_true(at > place);
            place = at;
            assert_int_equal(A.stock[v->stock[k]].substance.effect,
                             v->serves[k] == TW_OF_ALKALINITY ? TW_EFFECT_TA_UP : v->serves[k] == TW_OF_CALCIUM ? TW_EFFECT_CH_UP
                             : v->serves[k] == TW_OF_SALT ? TW_EFFECT_SALT_UP : TW_EFFECT_CYA_UP);
        }
        assert_in_range(v->additions, 1, TW_COURSE_ADDITIONS);
    }
    static const uint32_t WITHOUT_CALCIUM[] = {3, 0, 1}, WITHOUT_BASE[] = {0, 2, 1}, WITHOUT_BOTH[] = {0, 1};
    assert_true(with(WITHOUT_BASE, 3, 0, TW_COURSE_SHORTLIST) == &LIST[0]);
    assert_true(with(WITHOUT_CALCIUM, 3, 0, TW_COURSE_SHORTLIST) == &LIST[1]);
    assert_true(with(WITHOUT_BOTH, 2, 0, TW_COURSE_SHORTLIST) == &LIST[2]);
}

/* Of four products for one quantity the three of the fewest grams, the fewest first; who may not be used is not looked at. */
static void the_lightest_three(void **state)
{
    (void)state;
    static const tw_quantity_of_water OF[] = {TW_OF_CHLORINE};
    static const tw_substance_id IDS[] = {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_50, TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_150,
                                          TW_SUBSTANCE_SODIUM_HYPOCHLORITE_100};
    one_water((kit){37, 7.4, 80, 100, 10, 1000, 20}, 1000);
    bands_of(OF, 1);
    for (size_t j = 0; j < 4; j++)
        stock(IDS[j], 0);
    (void)choices();
    assert_int_equal(N.n, 1);
    assert_int_equal(N.of[0].options, 3);
    static const uint32_t LIGHTEST[] = {1, 2, 3};
    for (size_t k = 0; k < 3; k++) {
        double grams = 0.0;
        assert_int_equal(N.of[0].option[k].stock, LIGHTEST[k]);
        assert_ok(tw_dose_grams_to(&R.middle_water, 1000, &A.stock[LIGHTEST[k]].substance, TW_OF_CHLORINE, 5, 1.0, &grams));
        assert_near_rel(N.of[0].option[k].grams, grams, 1e-9);
    }
    assert_int_equal(tw_dose_visit_may(&A, 1), 1);
    A.stock[1].barred = 1;
    A.stock[2].left_g = 0.0;
    assert_int_equal(tw_dose_visit_may(&A, 1), 0);
    assert_int_equal(tw_dose_visit_may(&A, 2), 0);
    A.stock[3].left_g = 0.5;
    assert_int_equal(tw_dose_visit_may(&A, 3), 1);
    (void)choices();
    assert_int_equal(N.of[0].options, 2);
    assert_true(N.of[0].option[0].stock == 3 && N.of[0].option[1].stock == 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(salt_leaves_room_for_acid_to_come), cmocka_unit_test(grams_for_what_an_exchange_leaves),
                                       cmocka_unit_test(three_of_four), cmocka_unit_test(the_lightest_three)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
