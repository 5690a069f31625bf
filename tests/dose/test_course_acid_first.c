/* Low alkalinity at a pH by its ceiling: bicarbonate (cold and thin it leads to 8.3 to 8.5) has no room, acid makes it. */
#include "ask_course.h"

#define N 400
static const kit BY_THE_CEILING = {12, 8.12, 57, 100, 10, 100, 20};

static void asked(kit k, double ph_sd, double ta_sd)
{
    possible(&W, check_seed, N, k, ph_sd, ta_sd, 5, 10, 1000, 0.03);
    usual(&W);
    only_band(TW_OF_PH);
    A.band[TW_OF_ALKALINITY].target = 80.0;
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 1);
    stock(TW_SUBSTANCE_SODIUM_BISULFATE_93, 1);
    plan();
}

/* pH by the full solver of a water that so much of a product went into; *ta: its alkalinity. */
static double poured(kit k, tw_substance_id id, double grams, double *ta)
{
    const tw_water w = kit_water(k), after = tw_dose_apply(w, 1000.0, &tw_dose_substances[id], grams);
    *ta = tw_dose_quantity(TW_OF_ALKALINITY, after.total_mol_per_kg, 1.0);
    return ph_of_water(&after);
}

static void acid_makes_room(void **state)
{
    (void)state;
    double ta;
    asked(BY_THE_CEILING, 0.06, 3);
    assert_int_equal(C.visit[0].additions, 1);
    assert_int_equal(C.visit[0].addition[0].stock, 1);
    assert_true(C.promised_visits >= 2 && C.promised_visits <= 6);
    /* To the target of pH, as far as the floors allow: 40 mg/L of alkalinity, pH 6.8. */
    const double grams = C.visit[0].grams, ph = poured(BY_THE_CEILING, TW_SUBSTANCE_SODIUM_BISULFATE_93, grams, &ta);
    assert_true(ph > 7.1 && ph < 7.7);
    assert_true(ta > 44.0 && ta < 56.0);
    /* Other members of the same belief: within the risk, by the full solver. */
    uint64_t s = check_seed + 1;
    int over = 0;
    for (int i = 0; i < 2000; i++) {
        kit k = BY_THE_CEILING;
        k.ph += 0.06 * normal(&s);
        k.ta += 3.0 * normal(&s);
        const double low = poured(k, TW_SUBSTANCE_SODIUM_BISULFATE_93, grams * exp(0.02 * normal(&s)), &ta);
        over += low < 6.8 || ta < 40.0;
    }
    printf("# crossed: %d of 2000\n", over);
    assert_true(over <= 100);
    /* Then bicarbonate goes in whole, and the course arrives. */
    (void)poured(BY_THE_CEILING, TW_SUBSTANCE_SODIUM_BISULFATE_93, grams, &ta);
    asked((kit){12, ph, ta, 100, 10, 100, 20}, 0.05, 3);
    assert_int_equal(C.stands, TW_COURSE_GOES);
    assert_int_equal(C.visit[0].addition[0].stock, 0);
    const double all = C.visit[0].grams;
    assert_near(all, (80.0 - ta) * 1.6787, 0.1 * all);
    assert_true(poured((kit){12, ph, ta, 100, 10, 100, 20}, TW_SUBSTANCE_SODIUM_BICARBONATE, all, &ta) < 7.9);
}

/* Bicarbonate that has room goes first: what it does to pH is brought down afterwards, in its own time. */
static void only_where_there_is_no_room(void **state)
{
    (void)state;
    asked((kit){12, 7.75, 57, 100, 10, 100, 20}, 0.06, 3);
    assert_true(C.visits >= 1);
    assert_int_equal(C.visit[0].addition[0].stock, 0);
}

/* Carbon dioxide of a water, mol/kg, and that which air of 420 ppm gives it. */
static double carbon_dioxide(const tw_water *w, double *of_air)
{
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(w->temp_k, &at));
    assert_ok(tw_water_speciate(&at, w, &sp));
    *of_air = 4.2e-4 * exp(at.ln_henry_co2 - sp.ln_gamma[TW_SPECIES_CO2]);
    return sp.mol_per_kg[TW_SPECIES_CO2];
}

/* Alkalinity under its floor: acid would lead further below it, bicarbonate over the ceiling of pH. Nothing goes, and air frees it:
 * until three quarters of the carbon dioxide that it lacks are in, by the full solver step by step at 2.0 an hour. */
static void air_makes_room_where_acid_may_not(void **state)
{
    (void)state;
    const kit thin = {10, 8.35, 34, 100, 10, 100, 20};
    asked(thin, 0.04, 1);
    assert_int_equal(C.visits, 0);
    assert_int_equal(C.stands, TW_COURSE_NO_ROOM);
    assert_int_equal(C.blocked, TW_OF_ALKALINITY);
    assert_int_equal(C.free.limit.quantity, TW_OF_PH);
    assert_int_equal(C.free.limit.is_floor, 0);
    assert_int_equal(C.free.by, TW_COURSE_FREED_BY_AIR);
    tw_water w = kit_water(thin);
    double of_air, hours = 0.0;
    const double lacks = 0.25 * (carbon_dioxide(&w, &of_air) - of_air);
    for (double co2 = 0.0; co2 - of_air < lacks; hours += 0.01) {
        co2 = carbon_dioxide(&w, &of_air);
        w.total_mol_per_kg[TW_TOTAL_DIC] += 0.01 * 2.0 * (of_air - co2);
    }
    assert_near(C.free.value, ph_of_water(&w), 0.03);
    assert_near_rel(C.free.hours, hours, 0.1);
    /* There bicarbonate has room, to over the floor at least, and the course goes on. */
    asked((kit){10, C.free.value, 34, 100, 10, 100, 20}, 0.04, 1);
    assert_true(C.visits > 0);
    assert_int_equal(C.visit[0].addition[0].stock, 0);
    assert_true(C.visit[0].after.of[TW_OF_ALKALINITY][1] > 45.0);
    /* Water with all that the air gives is not helped by more of it; nor is any where there is no air. */
    asked((kit){30, 8.35, 60, 100, 10, 100, 20}, 0.02, 1);
    assert_int_not_equal(C.free.by, TW_COURSE_FREED_BY_AIR);
    asked(thin, 0.04, 1);
    A.air_hours = 0.0;
    plan();
    assert_int_equal(C.free.by, TW_COURSE_FREED_BY_LIMIT);
}

/* Borate holds pH: what a visit's air can do is told, and the next visit goes on from there. */
static void borate_takes_many_hours_of_air(void **state)
{
    (void)state;
    const kit thin = {10, 8.35, 34, 100, 10, 100, 20};
    asked(thin, 0.04, 1);
    const double hours = C.free.hours;
    for (size_t i = 0; i < W.view.n; i++) { /* 30 mg/L, and its share of the alkalinity in place of bicarbonate */
        W.total[TW_TOTAL_BORATE][i] = 30e-3 / 10.81;
        W.total[TW_TOTAL_DIC][i] = 0.45 * W.total[TW_TOTAL_DIC][i];
    }
    plan();
    assert_int_equal(C.free.by, TW_COURSE_FREED_BY_AIR);
    assert_near(C.free.hours, A.air_hours, 0.0);
    assert_true(hours < 0.75 * A.air_hours && C.free.value < 8.3 && C.free.value > 7.8);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acid_makes_room), cmocka_unit_test(only_where_there_is_no_room),
        cmocka_unit_test(air_makes_room_where_acid_may_not), cmocka_unit_test(borate_takes_many_hours_of_air)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
