/* tests/dose/test_trial.c: the judge of the planner is judged itself, and a small form of the trial of tests/calibrate/doses.c. */
#include "support/check.h"

#include "trial_dose.h"

#define TUBS 24
#define MEMBERS 200

static real_tub plain_tub(void)
{
    real_tub w;
    memset(&w, 0, sizeof w);
    w.kg = 1000.0;
    w.temp_c = 38.0;
    w.alk = real_mol_per_kg(80.0, 0.5 * REAL_CACO3);
    w.ca = real_mol_per_kg(60.0, REAL_CACO3);
    w.cl = real_mol_per_kg(100.0, REAL_NACL);
    real_set_ph(&w, 7.5);
    return w;
}

/* Two chemistries written apart: the same totals have nearly the same pH. The rest is ion pairs and two sets of cyanurate. */
static void the_tubs_chemistry_is_its_own_and_agrees(void **state)
{
    static trial_world w;
    static belief b;
    double worst = 0.0, worst_cyanurate = 0.0;
    (void)state;
    for (uint64_t s = 1; s <= 200; s++) {
        tw_constants at;
        tw_speciation sp;
        trial_begin(&w, check_seed + s, 0);
        trial_know(&w, &b);
        b.dic[0] = w.tub.dic;
        const tw_water same = belief_water(&b, 0);
        assert_ok(tw_water_constants_at(same.temp_k, &at));
        assert_ok(tw_water_speciate(&at, &same, &sp));
        double *most = w.tub.cyanurate > 1e-5 && w.tub.chlorine > 1e-5 ? &worst_cyanurate : &worst;
        const double off = fabs(sp.ph - real_ph(&w.tub));
        *most = off > *most ? off : *most;
    }
    print_message("# pH apart by at most %.3f, with chlorine on cyanurate %.3f\n", worst, worst_cyanurate);
    assert_true(worst > 1e-4);
    assert_true(worst < 0.06);
    assert_true(worst_cyanurate < 0.06);
}

static void air_and_borate_do_what_is_known_of_them(void **state)
{
    (void)state;
    /* carbon dioxide leaves: alkalinity stays, pH rises to what air keeps: near 8.4 at alkalinity 80 */
    real_tub w = plain_tub();
    w.kla_jets = 4.0;
    const double alk = w.alk;
    real_run(&w, 200.0, 1);
    assert_near(w.alk, alk, 1e-12);
    assert_near(real_ph(&w), 8.4, 0.15);
    /* and goes in where there is too little: thin water at 12 C falls to what the air keeps, 7.8 at 2.1e-5 mol/kg and 0.5 meq/kg */
    real_tub thin = plain_tub();
    thin.temp_c = 12.0;
    thin.alk = real_mol_per_kg(25.0, 0.5 * REAL_CACO3);
    real_set_ph(&thin, 8.3);
    thin.kla_jets = 4.0;
    real_run(&thin, 200.0, 1);
    assert_near(real_ph(&thin), 7.85, 0.1);
    /* boric acid 50 mg/L as B at pH 7.5: about 6 mg/L of alkalinity */
    real_tub b = plain_tub();
    const double without = b.dic;
    b.borate = real_mol_per_kg(50.0, 10.81);
    real_set_ph(&b, 7.5);
    assert_near(real_mg_per_l(without - b.dic, 0.5 * REAL_CACO3), 6.2, 1.5);
}

static void chlorine_that_is_used_leaves_acid_and_chloride(void **state)
{
    (void)state;
    real_tub w = plain_tub();
    real_product dichlor = {0};
    assert_true(real_product_of("dichlor-dihydrate", &dichlor));
    w.loss_per_h = 0.05;
    w.fast = real_mol_per_kg(1.0, REAL_CL2);
    real_pour(&w, &dichlor, 18.05); /* 10 mg/kg as Cl2 */
    assert_near(w.chlorine * 1e6 * REAL_CL2 / 1e3, 10.0, 0.01);
    assert_near(w.cyanurate / w.chlorine, 0.5, 1e-12);
    const double whole = w.alk - w.chlorine, chloride = w.cl + w.chlorine;
    real_run(&w, 40.0, 0);
    assert_true(real_value(&w, REAL_CHLORINE) < 3.0);
    assert_near(w.alk - w.chlorine, whole, 1e-12);
    assert_near(w.cl + w.chlorine, chloride, 1e-12);
    assert_true(w.fast >= 0.0 && w.fast < 1e-7);
}

/* The products of the simulator and those of the table were written apart: each total within 0.2 %. */
static void products_agree_with_the_table(void **state)
{
    static const char *const IDS[] = {"sodium-bicarbonate", "sodium-carbonate", "sodium-bisulfate-93", "hydrochloric-acid-10", "hydrochloric-acid-14.5",
                                      "hydrochloric-acid-31.45", "calcium-chloride-dihydrate", "calcium-chloride-anhydrous", "sodium-chloride", "dichlor-dihydrate",
                                      "calcium-hypochlorite-65", "sodium-hypochlorite-50", "sodium-hypochlorite-100", "sodium-hypochlorite-120"};
    (void)state;
    for (size_t i = 0; i < sizeof IDS / sizeof *IDS; i++) {
        real_product p = {0};
        const tw_substance *s = tw_dose_substance_find(tw_units_text(IDS[i]));
        assert_true(s != NULL && real_product_of(IDS[i], &p));
        const double *t = s->total_mol_per_g;
        assert_near_rel(p.alk, tw_dose_alk_eq_per_g(s), 2e-3);
        assert_near_rel(p.dic, t[TW_TOTAL_DIC], 2e-3);
        assert_near_rel(p.ca, t[TW_TOTAL_CA], 2e-3);
        assert_near_rel(p.cl, t[TW_TOTAL_CL], 2e-3);
        assert_near_rel(p.so4, t[TW_TOTAL_SO4], 2e-3);
        assert_near_rel(p.cyanurate, t[TW_TOTAL_CYANURATE], 2e-3);
        assert_near_rel(p.chlorine, t[TW_TOTAL_ACTIVE_CHLORINE], 2e-3);
    }
}

/* A reading's likelihood is how often it is read: the classes of each instrument sum to one. */
static void readings_are_as_likely_as_they_are_often(void **state)
{
    (void)state;
    real_random r = {check_seed};
    const struct { int of, drops; double value; } CASES[] = {{REAL_ALK, 0, 93.0}, {REAL_ALK, 1, 93.0}, {REAL_PH, 0, 7.35}, {REAL_CHLORINE, 0, 4.0}, {REAL_CHLORINE, 1, 4.0}, {REAL_CALCIUM, 0, 130.0}};
    for (size_t c = 0; c < sizeof CASES / sizeof *CASES; c++) {
        const real_tool tool = real_tool_of(CASES[c].of, CASES[c].drops, 0);
        double reading[64], sum = 0.0;
        int seen[64], kinds = 0;
        for (int i = 0; i < 4000; i++) {
            const double got = real_read(&tool, CASES[c].value, 0.0, &r);
            int k = 0;
            while (k < kinds && fabs(reading[k] - got) > 1e-9)
                k++;
            assert_true(k < 64);
            if (k == kinds) {
                reading[kinds] = got;
                seen[kinds++] = 0;
            }
            seen[k]++;
        }
        for (int k = 0; k < kinds; k++) {
            const double p = real_likelihood(&tool, reading[k], CASES[c].value, 0.0);
            assert_near(seen[k] / 4000.0, p, 0.035);
            sum += p;
        }
        assert_near(sum, 1.0, 0.01);
    }
}

/* Members come from readings, not from the tub, and their intervals hold it about as often as they say. */
static void members_hold_the_tub_as_often_as_they_say(void **state)
{
    static trial_world w;
    static belief b;
    trial_result r;
    (void)state;
    memset(&r, 0, sizeof r);
    for (uint64_t s = 1; s <= 60; s++) {
        double reading[REAL_QUANTITIES];
        trial_begin(&w, check_seed + s, 0);
        trial_believe(&w, &b, 2 * MEMBERS);
        trial_cover(&w, &b, &r);
        trial_retest(&w, &b, reading);
    }
    for (int of = 0; of <= REAL_QUANTITIES; of++) /* 60 of 0.9: 46 or fewer once in 300 */
        assert_in_range(r.held[of], 47, 60);
}

/* Cold thin tubs, alkalinity 22 to 26 and pH 8.2 to 8.5: air that brings carbon dioxide in, bicarbonate, a little acid. */
static void thin_water_arrives_by_air(void **state)
{
    static const uint64_t THIN[] = {247, 401, 1442};
    const size_t bytes = (size_t)64 << 20;
    void *mem = malloc(bytes);
    (void)state;
    assert_non_null(mem);
    for (size_t k = 0; k < sizeof THIN / sizeof *THIN; k++) {
        trial_result r;
        trial_play(THIN[k], TRIAL_COURSE, 0, 1000, mem, bytes, &r);
        assert_true(r.reached_at > 0 && !r.stuck && !r.crossed);
        assert_in_range(r.visits, 3, 4);
    }
    free(mem);
}

static trial_result played[TRIAL_WAYS][TUBS];

static long sum_of(int way, int what)
{
    long sum = 0;
    for (int k = 0; k < TUBS; k++) {
        const trial_result *r = &played[way][k];
        sum += what == 0 ? r->crossed : what == 1 ? r->visits : r->reached_at != 0;
    }
    return sum;
}

static void the_planner_crosses_less_than_the_label_and_arrives_oftener(void **state)
{
    const size_t bytes = (size_t)64 << 20;
    void *mem = malloc(bytes);
    (void)state;
    assert_non_null(mem);
    for (int way = 0; way < TRIAL_WAYS; way++) {
        for (int k = 0; k < TUBS; k++)
            trial_play(1000 + (uint64_t)k, way, 0, MEMBERS, mem, bytes, &played[way][k]);
        print_message("# %s: crossed %ld, visits %ld, reached %ld of %d\n", TRIAL_WAY[way], sum_of(way, 0), sum_of(way, 1), sum_of(way, 2), TUBS);
    }
    assert_true(sum_of(TRIAL_COURSE, 0) <= 5); /* of 24 at 5 %: 6 or more once in 700 */
    assert_true(sum_of(TRIAL_TABLE, 0) > TUBS / 2);
    assert_true(sum_of(TRIAL_HALF, 0) > TUBS / 4);
    assert_true(sum_of(TRIAL_COURSE, 1) < sum_of(TRIAL_HALF, 1));
    assert_true(sum_of(TRIAL_COURSE, 2) > sum_of(TRIAL_HALF, 2));
    free(mem);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_tubs_chemistry_is_its_own_and_agrees),
        cmocka_unit_test(air_and_borate_do_what_is_known_of_them),
        cmocka_unit_test(chlorine_that_is_used_leaves_acid_and_chloride),
        cmocka_unit_test(products_agree_with_the_table),
        cmocka_unit_test(readings_are_as_likely_as_they_are_often),
        cmocka_unit_test(members_hold_the_tub_as_often_as_they_say),
        cmocka_unit_test(thin_water_arrives_by_air),
        cmocka_unit_test(the_planner_crosses_less_than_the_label_and_arrives_oftener)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
