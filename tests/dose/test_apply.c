/* Moves on totals: laws that hold for every water and substance. */
#include "support/check.h"

#include "dose/apply.h"
#include "num/status.h"
#include "waters.h"

#include "dose/quantity.h"

static tw_water random_water(uint64_t *s)
{
    tw_water w = kit_water((kit){check_uniform(s, 8, 39), check_uniform(s, 6.9, 8.1), check_uniform(s, 40, 250),
                                 check_uniform(s, 20, 300), check_uniform(s, 0, 40), check_uniform(s, 20, 3000),
                                 check_uniform(s, 0, 150)});
    w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = check_uniform(s, 5e-5, 1e-4);
    w.total_mol_per_kg[TW_TOTAL_CYANURATE] = check_uniform(s, 0, 4e-4);
    w.total_mol_per_kg[TW_TOTAL_BORATE] = check_uniform(s, 0, 3e-3);
    w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = check_uniform(s, 1e-5, 3e-5);
    w.total_mol_per_kg[TW_TOTAL_K] = check_uniform(s, 0, 1e-3);
    return w;
}

static void assert_same_water(const tw_water *a, const tw_water *b, double tol)
{
    for (int t = 0; t < TW_TOTALS; t++)
        assert_near(a->total_mol_per_kg[t], b->total_mol_per_kg[t], tol);
    assert_near(a->temp_k, b->temp_k, 0.0);
}

static double alk(const tw_water *w)
{
    return tw_water_strong_ion_alk_mol_per_kg(w);
}

static const tw_substance *any(uint64_t *s)
{
    return &tw_dose_substances[random_bits(s) % TW_SUBSTANCES];
}

/* Grams that find something to act on: half of it for the first of two. */
static double some_grams(uint64_t *s, const tw_water *w, double kg, const tw_substance *a)
{
    const double most = 0.45 * tw_dose_acting_g(w, kg, a), g = check_uniform(s, 0, 4);
    return g < most ? g : most;
}

static void order_of_small_doses_does_not_matter(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    for (int i = 0; i < 300; i++) {
        const tw_water w = random_water(&s);
        const tw_substance *a = any(&s), *b = any(&s);
        const double kg = check_uniform(&s, 300, 2500), ga = some_grams(&s, &w, kg, a), gb = some_grams(&s, &w, kg, b);
        const tw_water ab = tw_dose_apply(tw_dose_apply(w, kg, a, ga), kg, b, gb);
        const tw_water ba = tw_dose_apply(tw_dose_apply(w, kg, b, gb), kg, a, ga);
        assert_same_water(&ab, &ba, 1e-15);
    }
}

static void two_halves_are_one_whole_and_undo_is_undo(void **state)
{
    (void)state;
    uint64_t s = check_seed + 1;
    for (int i = 0; i < 300; i++) {
        const tw_water w = random_water(&s);
        const tw_substance *a = any(&s);
        const double kg = check_uniform(&s, 300, 2500), g = some_grams(&s, &w, kg, a);
        const tw_water whole = tw_dose_apply(w, kg, a, g);
        const tw_water halves = tw_dose_apply(tw_dose_apply(w, kg, a, 0.5 * g), kg, a, 0.5 * g);
        const tw_water undone = tw_dose_apply(whole, kg, a, -g);
        assert_same_water(&halves, &whole, 1e-15);
        assert_same_water(&undone, &w, 1e-15);
    }
}

/* What goes in is what is there: mol in the water = mol before + mol of the grams, and the charge with it. */
static void mass_and_charge_balance(void **state)
{
    (void)state;
    uint64_t s = check_seed + 2;
    for (int i = 0; i < 300; i++) {
        const tw_water w = random_water(&s);
        const tw_substance *a = any(&s);
        const double kg = check_uniform(&s, 300, 2500), g = some_grams(&s, &w, kg, a);
        const tw_water after = tw_dose_apply(w, kg, a, g);
        for (int t = 0; t < TW_TOTALS; t++)
            assert_near(after.total_mol_per_kg[t] * kg, w.total_mol_per_kg[t] * kg + a->total_mol_per_g[t] * g, 1e-11);
        assert_near(alk(&after) * kg, alk(&w) * kg + tw_dose_alk_eq_per_g(a) * g, 1e-11);
    }
}

static void chlorine_made_and_lost_leaves_nothing(void **state)
{
    (void)state;
    uint64_t s = check_seed + 3;
    for (int i = 0; i < 50; i++) {
        const tw_water w = random_water(&s);
        const double g = check_uniform(&s, 0, 8), kg = 1200;
        const tw_water made = tw_dose_electrolyse(w, kg, g);
        assert_near_rel((made.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] - w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE]) *
                            kg * 70.906, g, 1e-9);
        assert_true(alk(&made) > alk(&w) || g == 0.0);
        const tw_water back = tw_dose_spend_chlorine(made, g / 70.906 / kg);
        assert_same_water(&back, &w, 1e-17);
        assert_near(alk(&back), alk(&w), 1e-15);
        assert_near(ph_of_water(&back), ph_of_water(&w), 1e-12);
    }
}

/* Dichlor once spent is cyanuric acid, hydrochloric acid and salt: by 1, 1, 1 for each mol. */
static void spent_dichlor_is_cyanuric_acid_hydrochloric_acid_and_salt(void **state)
{
    (void)state;
    tw_water w = kit_water((kit){38, 7.5, 90, 80, 10, 1800, 30});
    const tw_substance *dichlor = &tw_dose_substances[TW_SUBSTANCE_DICHLOR_DIHYDRATE];
    const tw_water spent = tw_dose_spend_chlorine(tw_dose_apply(w, 1000, dichlor, 30), 1.0);
    const double mol = dichlor->total_mol_per_g[TW_TOTAL_CYANURATE] * 30;
    const tw_substance *cya = &tw_dose_substances[TW_SUBSTANCE_CYANURIC_ACID];
    const tw_substance *acid = &tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45];
    const tw_substance *salt = &tw_dose_substances[TW_SUBSTANCE_SODIUM_CHLORIDE];
    w = tw_dose_apply(w, 1000, cya, mol / cya->total_mol_per_g[TW_TOTAL_CYANURATE]);
    w = tw_dose_apply(w, 1000, acid, mol / acid->total_mol_per_g[TW_TOTAL_CL]);
    w = tw_dose_apply(w, 1000, salt, mol / salt->total_mol_per_g[TW_TOTAL_CL]);
    assert_same_water(&spent, &w, 1e-15);
    assert_near(ph_of_water(&spent), ph_of_water(&w), 1e-10);
}

/* Bicarbonate and the same of acid, then air that takes its carbon: salt, then the same air. */
static void bicarbonate_and_acid_aired_is_salt_aired(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.4, 90, 80, 10, 1800, 30});
    const tw_substance *bicarb = &tw_dose_substances[TW_SUBSTANCE_SODIUM_BICARBONATE];
    const tw_substance *acid = &tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5];
    const tw_substance *salt = &tw_dose_substances[TW_SUBSTANCE_SODIUM_CHLORIDE];
    const double mol = 0.4;
    tw_water a = tw_dose_apply(w, 1000, bicarb, mol / bicarb->total_mol_per_g[TW_TOTAL_DIC]);
    a = tw_dose_apply(a, 1000, acid, mol / acid->total_mol_per_g[TW_TOTAL_CL]);
    tw_water b = tw_dose_apply(w, 1000, salt, mol / salt->total_mol_per_g[TW_TOTAL_CL]);
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(w.temp_k, &at));
    assert_true(a.total_mol_per_kg[TW_TOTAL_DIC] > b.total_mol_per_kg[TW_TOTAL_DIC]);
    const tw_water closed = tw_dose_lose_co2(a, mol / 1000);
    assert_same_water(&closed, &b, 1e-15);
    assert_ok(tw_water_equilibrate_co2(&at, &a, -3.38, &sp));
    assert_ok(tw_water_equilibrate_co2(&at, &b, -3.38, &sp));
    assert_same_water(&a, &b, 1e-12);
}

static void air_raises_ph_and_leaves_alkalinity(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 6.6, 62, 95, 20, 20, 10});
    const tw_water aired = tw_dose_lose_co2(w, 4e-4);
    assert_near(alk(&aired), alk(&w), 0.0);
    assert_true(ph_of_water(&aired) > ph_of_water(&w) + 0.2);
    const tw_water bare = tw_dose_lose_co2(w, 1.0);
    assert_near(bare.total_mol_per_kg[TW_TOTAL_DIC], 0.0, 0.0);
}

/* Exchange, flow and vapour. */
static void water_changed_and_gone(void **state)
{
    (void)state;
    const tw_water a = kit_water((kit){38, 7.4, 90, 80, 10, 1800, 30}), b = kit_water((kit){12, 7.6, 200, 250, 30, 40, 20});
    const tw_water none = tw_dose_exchange(a, &b, 0.0), all = tw_dose_exchange(a, &b, 1.0);
    assert_same_water(&none, &a, 0.0);
    assert_same_water(&all, &b, 0.0);
    /* Many small exchanges are a flow through. */
    tw_water small = a;
    for (int i = 0; i < 100000; i++)
        small = tw_dose_exchange(small, &b, 7e-6);
    const tw_water flow = tw_dose_flow_through(a, 1000, &b, 700);
    for (int t = 0; t < TW_TOTALS; t++)
        assert_near(small.total_mol_per_kg[t], flow.total_mol_per_kg[t], 1e-7);
    /* Vapour leaves everything behind; filled up with pure water it is as before. */
    tw_water pure = a;
    for (int t = 0; t < TW_TOTALS; t++)
        pure.total_mol_per_kg[t] = 0.0;
    const tw_water dry = tw_dose_evaporate(a, 1000, 100);
    for (int t = 0; t < TW_TOTALS; t++)
        assert_near_rel(dry.total_mol_per_kg[t] * 900, a.total_mol_per_kg[t] * 1000, 1e-14);
    const tw_water again = tw_water_mix(&dry, 900, &pure, 100);
    assert_same_water(&again, &a, 1e-15);
}

/* What takes away stops with what is there, together with its salt. */
static void sulfite_stops_with_the_chlorine(void **state)
{
    (void)state;
    const tw_substance *sulfite = &tw_dose_substances[TW_SUBSTANCE_SODIUM_SULFITE];
    tw_water w = kit_water((kit){38, 7.4, 90, 80, 10, 1800, 30});
    w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 5e-5;
    const double just = tw_dose_acting_g(&w, 1000, sulfite);
    assert_near_rel(just, 5e-5 * 1000 * 126.0427 / 0.97, 1e-6);
    const tw_water a = tw_dose_apply(w, 1000, sulfite, just), b = tw_dose_apply(w, 1000, sulfite, 10 * just);
    assert_same_water(&a, &b, 0.0);
    assert_near(b.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE], 0.0, 1e-20);
    assert_true(b.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] >= 0.0);
    /* Sulfite and the spending of the same chlorine: sulfate and one more acid. */
    const tw_water spent = tw_dose_spend_chlorine(w, 1.0);
    assert_near(alk(&a), alk(&spent), 1e-15);
    assert_near_rel(a.total_mol_per_kg[TW_TOTAL_SO4] - w.total_mol_per_kg[TW_TOTAL_SO4], 5e-5, 1e-9);
}

/* Whatever total it is that a product takes away, it acts as far as that goes, and brings the rest of itself in proportion. */
static void any_total_can_be_what_is_taken(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.4, 90, 80, 10, 1800, 30});
    for (int t = 0; t < TW_TOTALS; t++) {
        tw_water there = w;
        there.total_mol_per_kg[t] = 3e-4;
        tw_substance taker = {.assay_mass_fraction = 1.0};
        taker.total_mol_per_g[t] = -2e-3;
        taker.total_mol_per_g[(t + 1) % TW_TOTALS] = 1e-3;
        assert_near_rel(tw_dose_acting_g(&there, 1000, &taker), 3e-4 * 1000 / 2e-3, 1e-12);
        const tw_water after = tw_dose_apply(there, 1000, &taker, 1e4);
        assert_near(after.total_mol_per_kg[t], 0.0, 1e-18);
        assert_near(after.total_mol_per_kg[(t + 1) % TW_TOTALS], there.total_mol_per_kg[(t + 1) % TW_TOTALS] + 1.5e-4, 1e-15);
    }
}

/* The same grams in twice the water do half: to the bit. */
static void scale_of_the_tub_does_not_matter(void **state)
{
    (void)state;
    uint64_t s = check_seed + 5;
    for (int i = 0; i < 100; i++) {
        const tw_water w = random_water(&s);
        const tw_substance *a = any(&s);
        const tw_water one = tw_dose_apply(w, 700, a, 3.7), two = tw_dose_apply(w, 1400, a, 7.4);
        for (int t = 0; t < TW_TOTALS; t++)
            assert_same_bits(one.total_mol_per_kg[t], two.total_mol_per_kg[t]);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(order_of_small_doses_does_not_matter), cmocka_unit_test(two_halves_are_one_whole_and_undo_is_undo),
        cmocka_unit_test(mass_and_charge_balance), cmocka_unit_test(chlorine_made_and_lost_leaves_nothing),
        cmocka_unit_test(spent_dichlor_is_cyanuric_acid_hydrochloric_acid_and_salt),
        cmocka_unit_test(bicarbonate_and_acid_aired_is_salt_aired), cmocka_unit_test(air_raises_ph_and_leaves_alkalinity),
        cmocka_unit_test(water_changed_and_gone), cmocka_unit_test(sulfite_stops_with_the_chlorine), cmocka_unit_test(any_total_can_be_what_is_taken),
        cmocka_unit_test(scale_of_the_tub_does_not_matter)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
