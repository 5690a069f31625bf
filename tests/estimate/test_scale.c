/* tests/estimate/test_scale.c: calcium carbonate that falls out of water far over saturation. */
#include "support/check.h"

#include <math.h>

#include "estimate/sampler.h"
#include "estimate/scale.h"
#include "estimate/timeline.h"
#include "gen/estimate_tables.h"
#include "gen/scale_tables.h"
#include "plain.h"
#include "sim_tub.h"
#include "water/ccpp.h"
#include "water/constants.h"

#define RATE 0.01 /* 1/h */

static tw_model model;
static tw_path path;
static tw_lanes x[TW_MAX_DIMS];
static void *timeline;

/* Amount after so many hours, of calcium, alkalinity, carbon; h: its root. */
static double amount(const tw_acid_constants *k, double hours, double ca, double alk, double dic, const tw_acids *acid)
{
    tw_acid_root root;
    tw_acid_guess guess;
    tw_lanes gone, near, where;
    const tw_lanes rate = tw_lanes_of(RATE), of[3] = {tw_lanes_of(ca), tw_lanes_of(alk), tw_lanes_of(dic)};
    tw_estimate_acid_guess(k, &guess);
    tw_estimate_acid_solve(k, of[1], of[2], tw_lanes_of(0.0), acid, TW_NEWTON_MOST, &guess, &root, NULL);
    const int above = tw_estimate_scale_near(k, &of[0], &root.h, &root.co2, &near, &where);
    tw_estimate_scale(k, hours, &rate, &of[0], &of[1], &of[2], acid, &where, &root.h, &gone, NULL);
    assert_true((gone.v[0] > 0.0) == above);
    return gone.v[0];
}

static const tw_acids NONE = {{{0}}, {{0}}, {{0}}, {{0}}};

/* Left for good the water comes down to the index: with the index at nought that is PHREEQC's calcium carbonate precipitation
 * potential (tests/vectors/water/equilibrium.csv). The sampler's constants know of usual hardness and of no sulfate: 8 %, where both are far above 12 %. */
static void in_the_end_what_phreeqc_says_has_fallen_out(void **state)
{
    (void)state;
    FILE *file = check_open("tests/vectors/water/equilibrium.csv");
    char line[1024];
    int seen = 0;
    assert_non_null(fgets(line, sizeof line, file));
    while (fgets(line, sizeof line, file) != NULL) {
        double v[35] = {0};
        int n = 0;
        for (char *at = line; n < 35 && at != NULL; n++, at = strchr(at, ',') != NULL ? strchr(at, ',') + 1 : NULL)
            v[n] = strtod(at, NULL);
        const double ccpp = v[24] / 100.0869, calcium = v[5] / 100.0869, alk = v[4] / 50.04345, dic = v[13];
        if (!(ccpp > 0.03) || v[10] > 1.0) /* borate has a row of its own below */
            continue;
        tw_acid_constants k;
        tw_estimate_acid_constants(v[2], v[18], &k);
        k.scale /= pow(10.0, TW_SCALE_INDEX);
        const double gone = amount(&k, 1e6, calcium, alk, dic, &NONE) + 0.5 * TW_SCALE_CORNER;
        assert_near(gone, ccpp, 0.005 + (v[5] > 400.0 && v[8] > 300.0 ? 0.12 : 0.08) * ccpp);
        seen++;
    }
    (void)fclose(file);
    assert_true(seen >= 7);
}

/* The same by the water model in full, with borate, cyanurate and phosphate: 0.5 is left. */
static void what_is_left_stands_at_the_index(void **state)
{
    (void)state;
    tw_constants at;
    tw_acid_constants k;
    assert_int_equal(tw_water_constants_at(38.0 + 273.15, &at), TW_OK);
    tw_estimate_acid_constants(38.0, 0.03, &k);
    tw_acids acid = {tw_lanes_of(0.0), tw_lanes_of(0.5), tw_lanes_of(0.2), tw_lanes_of(0.002)};
    for (int i = 0; i < 4; i++) {
        const double ca = 2.0 + 0.5 * i, alk = 2.6 + 0.4 * i, dic = 0.93 * alk - 0.1;
        const double gone = amount(&k, 1e6, ca, alk, dic, &acid) + 0.5 * TW_SCALE_CORNER;
        tw_water w = {.temp_k = 38.0 + 273.15};
        w.total_mol_per_kg[TW_TOTAL_CA] = 1e-3 * (ca - gone);
        w.total_mol_per_kg[TW_TOTAL_MG] = 0.25e-3;
        w.total_mol_per_kg[TW_TOTAL_DIC] = 1e-3 * (dic - gone);
        w.total_mol_per_kg[TW_TOTAL_BORATE] = 0.5e-3;
        w.total_mol_per_kg[TW_TOTAL_CYANURATE] = 0.2e-3;
        w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = 0.002e-3;
        w.total_mol_per_kg[TW_TOTAL_CL] = 24e-3;
        w.total_mol_per_kg[TW_TOTAL_NA] = 24e-3 + 1e-3 * (alk - 2.0 * gone) - 2e-3 * (ca - gone) - 0.5e-3;
        tw_speciation sp;
        assert_int_equal(tw_water_speciate(&at, &w, &sp), TW_OK);
        assert_near(sp.si_calcite, TW_SCALE_INDEX, 0.04);
    }
}

/* exp(-rate*t) of it is left after t; the parts of a day come to the day; nothing at all under the index. */
static void it_falls_out_as_a_first_order_rate(void **state)
{
    (void)state;
    tw_acid_constants k;
    tw_estimate_acid_constants(38.0, 0.03, &k);
    const double whole = amount(&k, 1e6, 3.0, 3.0, 2.8, &NONE);
    assert_true(whole > 0.2);
    for (double t = 1.0; t < 400.0; t *= 3.0)
        assert_near(amount(&k, t, 3.0, 3.0, 2.8, &NONE), whole * (1.0 - exp(-RATE * t)), 1e-9);
    double gone = 0.0;
    for (int i = 0; i < 240; i++)
        gone += amount(&k, 0.1, 3.0 - gone, 3.0 - 2.0 * gone, 2.8 - gone, &NONE);
    assert_near(gone, amount(&k, 24.0, 3.0, 3.0, 2.8, &NONE), 1e-6);
    assert_near(amount(&k, 24.0, 1.0, 1.2, 1.2, &NONE), 0.0, 0.0);
}

/* 3 kW at 5 W/cm2 are 0.06 m2; 1 m/s in a gap of 20 mm, water of 38 C, Ca and CO3 at 1e-9 m2/s: Sh = 0.023 Re^0.83 Sc^(1/3). */
static void the_rate_is_what_flow_brings_to_a_heater(void **state)
{
    (void)state;
    const double nu = 0.68e-6, diffusion = 1.0e-9, gap = 0.02;
    const double sherwood = 0.023 * pow(1.0 * gap / nu, 0.83) * pow(nu / diffusion, 1.0 / 3.0);
    assert_near(3600.0 * sherwood * diffusion / gap * 0.06 / 1.2, tw_estimate_priors_fresh[TW_X_SCALE_RATE].middle, 0.002);
}

/* Waters of every kind: it ends at the index, and the slopes are those of central differences. */
static void slopes_are_those_of_central_differences(void **state)
{
    (void)state;
    uint64_t random = 7;
    int formed = 0;
    for (int turn = 0; turn < 4000; turn++) {
        double v[8];
        tw_acid_constants k;
        tw_estimate_acid_constants(5.0 + 39.0 * random_uniform(&random), 0.005 + 0.08 * random_uniform(&random), &k);
        v[0] = 0.05 + 8.0 * random_uniform(&random) * random_uniform(&random);
        v[1] = 0.2 + 6.0 * random_uniform(&random);
        v[2] = v[1] * (0.75 + 0.4 * random_uniform(&random));
        v[3] = 0.1 * random_uniform(&random);
        v[4] = 3.0 * random_uniform(&random) * random_uniform(&random);
        v[5] = 0.5 * random_uniform(&random);
        v[6] = 0.02 * random_uniform(&random);
        v[7] = RATE;
        const tw_lanes ONES = tw_lanes_of(1.0);
        tw_lanes gone, of[8];
        tw_scale_slope slope;
        tw_acid_root root;
        tw_acid_guess guess;
        double at[8][2], here = 0.0;
        for (int i = -1; i < 16; i++) {
            for (int j = 0; j < 8; j++)
                of[j] = tw_lanes_of(v[j]);
            if (i >= 0)
                of[i / 2] = tw_lanes_of(v[i / 2] + (i % 2 ? 1e-4 : -1e-4));
            const tw_acids acid = {of[3], of[4], of[5], of[6]};
            tw_lanes alk;
            TW_EACH_LANE(l) alk.v[l] = of[1].v[l] + of[3].v[l];
            tw_estimate_acid_guess(&k, &guess);
            tw_estimate_acid_solve(&k, alk, of[2], tw_lanes_of(0.0), &acid, 12, &guess, &root, NULL);
            tw_estimate_scale(&k, 24.0, &of[7], &of[0], &alk, &of[2], &acid, &ONES, &root.h, &gone, i < 0 ? &slope : NULL);
            if (i < 0)
                here = gone.v[0];
            else
                at[i / 2][i % 2] = gone.v[0];
        }
        assert_true(here >= 0.0 && here < (v[0] < v[2] ? v[0] : v[2]));
        if (here < 1.5e-3)
            continue;
        formed++;
        const double by_alk = slope.by_alk.v[0];
        const double want[8] = {slope.by_ca.v[0], by_alk, slope.by_dic.v[0], by_alk * (1.0 - slope.share_ocl.v[0]),
                                -by_alk * slope.share_b.v[0], -by_alk * slope.share_cy.v[0], -by_alk * slope.share_p.v[0], slope.by_rate.v[0]};
        for (int j = 0; j < 8; j++)
            assert_near((at[j][1] - at[j][0]) / 2e-4, want[j], 2e-4 * (1.0 + fabs(want[j])));
    }
    assert_true(formed > 500);
}

/* 1,000 kg of which all is known, calcium, alkalinity and carbon in mmol/kg; still water in the dark of a tight cover. */
static tw_problem *known(double now_h, double ca, double alk, double carbon)
{
    tw_problem *p = plain_start(now_h);
    plain_clean(p);
    plain_fix(p, TW_X_WATER, 1000.0);
    plain_fix(p, TW_X_CHLORINE0, 1e-9);
    plain_fix(p, TW_X_HARDNESS, ca);
    p->prior[TW_X_CALCIUM_SHARE] = (tw_prior){20.0, 1e-9, TW_PRIOR_SHARE};
    plain_source_carbon(p, alk, carbon);
    plain_fix(p, TW_X_CYANURATE, 1e-9);
    plain_fix(p, TW_X_BORATE, 1e-9);
    plain_fix(p, TW_X_PHOSPHATE, 1e-9);
    plain_fix(p, TW_X_KLA_STILL, 1e-9);
    plain_fix(p, TW_X_SCALE_RATE, RATE);
    plain_setting(p, 0.0, 0.0);
    return p;
}

static void run(const tw_problem *p)
{
    tw_lanes ln;
    free(timeline);
    timeline = malloc(tw_estimate_timeline_bytes());
    assert_int_equal(tw_estimate_model_make(p, &model, timeline), TW_OK);
    tw_estimate_forward(&model, x, &path);
    tw_estimate_likelihood(&model, &path, 1.0, &ln);
}

/* A fortnight of hard, alkaline water: calcium falls by one, alkalinity by two, carbon by one; the same a day at a time or at once. */
static void calcium_falls_by_one_and_alkalinity_by_two(void **state)
{
    (void)state;
    tw_problem *p = known(336.0, 3.5, 3.0, 3.02);
    plain_value(p, 336.0, TW_OBSERVED_PH, 8.0, 0.1);
    plain_value(p, 336.0, TW_OBSERVED_CALCIUM, 3.0, 0.1);
    plain_value(p, 336.0, TW_OBSERVED_ALKALINITY, 3.0, 0.1);
    run(p);
    const double calcium = 3.5 - path.eta[1].v[0], alk = 3.0 - path.eta[2].v[0];
    const double carbon = 3.02 - path.state.total[TW_T_DIC].v[0];
    assert_true(calcium > 0.1);
    assert_near(alk, 2.0 * calcium, 1e-6);
    assert_near(carbon, calcium, 1e-6);
    tw_acid_constants k = model.acid[model.carbon[0].acid];
    assert_near(calcium, amount(&k, 336.0, 3.5, 3.0, 3.02, &NONE), 1e-3);
}

/* The whole way: doses, an exchange, evaporation, readings; the gradient is that of central differences in every coordinate. */
static void the_gradient_is_that_of_central_differences(void **state)
{
    (void)state;
    tw_problem *p = plain_start(240.0);
    p->film_from_h = p->days_from_h = 30.0;
    plain_ln(p, TW_X_HARDNESS, 3.5, 0.3);
    plain_ln(p, TW_X_ALKALINITY, 3.0, 0.2);
    plain_ln(p, TW_X_CARBON, 0.03, 0.5);
    plain_setting(p, 0.0, 0.5)->dries = 0.3;
    plain_setting(p, 40.0, 0.5)->jets = 0.1;
    plain_chlorine(p, 30.0, 5000.0);
    tw_dose_event *soda = plain_chlorine(p, 60.0, 0.0);
    soda->mmol[TW_TOTAL_NA] = soda->alk_meq = 300.0;
    p->exchanges = 1;
    p->exchange[0] = (tw_exchange_event){.at_h = 100.0, .out_kg = 200.0, .in_kg = 200.0};
    for (int i = 0; i < 10; i++) {
        plain_value(p, 20.0 + 22.0 * i, TW_OBSERVED_PH, 7.9, 0.1);
        plain_value(p, 20.0 + 22.0 * i, TW_OBSERVED_CALCIUM, 2.5, 0.2);
        plain_value(p, 20.0 + 22.0 * i, TW_OBSERVED_ALKALINITY, 2.2, 0.2);
        plain_value(p, 20.0 + 22.0 * i, TW_OBSERVED_FREE_CHLORINE, 3.0, 0.3);
    }
    static tw_lanes gradient[TW_MAX_DIMS];
    void *mem = malloc(tw_estimate_adjoint_bytes());
    uint64_t random = 5;
    tw_lanes ln;
    run(p);
    for (size_t i = 0; i < model.dims; i++)
        TW_EACH_LANE(l) x[i].v[l] = 0.4 * random_rough_normal(&random);
    run(p);
    tw_estimate_backward(&model, &path, mem, gradient);
    int pieces = 0;
    for (size_t i = 0; i < model.parts; i++)
        pieces += path.scales[i];
    assert_true(pieces > 8);
    const double step = 1e-5;
    for (size_t i = 0; i < model.dims; i++) {
        tw_lanes at[2];
        const tw_lanes here = x[i];
        for (int side = 0; side < 2; side++) {
            TW_EACH_LANE(l) x[i].v[l] = here.v[l] + (side ? step : -step);
            tw_estimate_forward(&model, x, &path);
            tw_estimate_likelihood(&model, &path, 1.0, &ln);
            at[side] = ln;
        }
        x[i] = here;
        TW_EACH_LANE(l)
        assert_near((at[1].v[l] - at[0].v[l]) / (2.0 * step), gradient[i].v[l], 3e-5 * (1.0 + fabs(gradient[i].v[l])));
    }
    for (size_t i = 0; i < model.dims; i++)
        x[i] = tw_lanes_of(0.0);
    free(mem);
}

/* Soft water does not: the same bits as if nobody had thought of it. */
static void soft_water_keeps_its_bits(void **state)
{
    (void)state;
    tw_problem *p = known(336.0, 0.5, 1.5, 1.53);
    plain_value(p, 336.0, TW_OBSERVED_PH, 7.6, 0.1);
    plain_value(p, 336.0, TW_OBSERVED_CALCIUM, 0.5, 0.1);
    run(p);
    for (size_t i = 0; i < model.parts; i++)
        assert_false(path.scales[i]);
    assert_false(model.scales);
    const double before = path.eta[0].v[0];
    for (size_t i = 0; i < model.acids; i++)
        model.acid[i].scale = 1e300;
    tw_estimate_forward(&model, x, &path);
    assert_true(!(before < path.eta[0].v[0]) && !(before > path.eta[0].v[0]));
}

/* The model's path of a simulated tub at its own truth. */
static void at_the_truth(const sim_tub *tub)
{
    free(timeline);
    timeline = malloc(tw_estimate_timeline_bytes());
    assert_int_equal(tw_estimate_model_make(&tub->problem, &model, timeline), TW_OK);
    sim_truth_x(tub, &model, x);
    tw_estimate_freeze_for(&model, x, &path);
    tw_estimate_forward(&model, x, &path);
}

/* Small steps and bisection (sim_water.h) over start-ups of hard water: calcium within 0.02, alkalinity within 0.04 mmol/kg. */
static void it_is_what_a_simulator_of_its_own_has(void **state)
{
    (void)state;
    static sim_tub tub;
    double worst = 0.0, most = 0.0;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        sim_begin(&tub, seed);
        tub.problem.prior[TW_X_HARDNESS].middle = log(3.5);
        tub.problem.prior[TW_X_ALKALINITY].middle = log(3.0);
        sim_make(&tub);
        sim_go(&tub, 10.0, sim_say_volume(&tub));
        at_the_truth(&tub);
        const double off = fabs(path.state.total[TW_T_CA].v[0] - tub.ca);
        worst = off > worst ? off : worst;
        most = tub.scale > most ? tub.scale : most;
        assert_near(path.state.total[TW_T_ALK].v[0], tub.alk, 0.04);
    }
    print_message("# scale: worst %.4f of at most %.2f mmol/kg\n", worst, most);
    assert_true(most > 0.2 && worst < 0.02);
}

/* Two fortnights of the same hard water: calcium and alkalinity that stay teach that hardly any scale forms, those that fall how fast
 * it does. Readings are what the model itself has at 0 and at 0.03 1/h. */
static void what_is_read_teaches_the_rate(void **state)
{
    (void)state;
    static const double TRUTH[2] = {1e-9, 0.03};
    double median[2];
    for (int turn = 0; turn < 2; turn++) {
        tw_problem *p = known(336.0, 3.5, 3.0, 3.02);
        plain_fix(p, TW_X_SCALE_RATE, TRUTH[turn]);
        for (int day = 1; day <= 14; day++) {
            plain_value(p, 24.0 * day, TW_OBSERVED_PH, 8.0, 0.05);
            plain_value(p, 24.0 * day, TW_OBSERVED_CALCIUM, 3.0, 0.1);
            plain_value(p, 24.0 * day, TW_OBSERVED_ALKALINITY, 3.0, 0.1);
        }
        run(p);
        for (size_t i = 0; i < p->readings; i++)
            p->reading[i].value = path.eta[i].v[0];
        p->prior[TW_X_SCALE_RATE] = tw_estimate_priors_fresh[TW_X_SCALE_RATE];
        const tw_estimate_options quick = tw_estimate_options_quick();
        tw_belief b;
        assert_int_equal(plain_sample(p, 5, &quick, &b), TW_OK);
        median[turn] = tw_estimate_column(&b, TW_COLUMN_SCALE_PER_H).q50;
    }
    print_message("# scale: %.4f where none forms, %.4f for 0.03 1/h\n", median[0], median[1]);
    assert_true(median[0] < 0.1 * TRUTH[1]);
    assert_near(median[1], TRUTH[1], 0.15 * TRUTH[1]);
}

/* Start-ups of the prior at their own truth: on the average the pH at the end is the simulator's. */
static void the_ph_is_the_simulators_on_the_average(void **state)
{
    (void)state;
    static sim_tub tub;
    double sum = 0.0, square = 0.0;
    const int tubs = 80;
    for (int seed = 1; seed <= tubs; seed++) {
        sim_start_up(&tub, (uint64_t)seed, 2.0 + seed % 9);
        tub.problem.reading[tub.problem.readings++] = (tw_reading){.at_h = tub.problem.now_h, .observed = TW_OBSERVED_PH, .form = TW_FORM_VALUE,
                                                                   .value = 7.5, .sd = 0.1, .bias = -1, .span = 7.0, .bleach_low = 1e308};
        at_the_truth(&tub);
        const double off = path.eta[tub.problem.readings - 1].v[0] - sim_ph(&tub, tub.temp, tub.dic, tub.alk, tub.c);
        sum += off;
        square += off * off;
    }
    print_message("# pH: %.5f off on the average, %.4f root mean square\n", sum / tubs, sqrt(square / tubs));
    assert_near(sum / tubs, 0.0, 0.001);
    assert_true(sqrt(square / tubs) < 0.005);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(in_the_end_what_phreeqc_says_has_fallen_out),
        cmocka_unit_test(what_is_left_stands_at_the_index),
        cmocka_unit_test(it_falls_out_as_a_first_order_rate),
        cmocka_unit_test(the_rate_is_what_flow_brings_to_a_heater),
        cmocka_unit_test(slopes_are_those_of_central_differences),
        cmocka_unit_test(calcium_falls_by_one_and_alkalinity_by_two),
        cmocka_unit_test(the_gradient_is_that_of_central_differences),
        cmocka_unit_test(soft_water_keeps_its_bits),
        cmocka_unit_test(it_is_what_a_simulator_of_its_own_has),
        cmocka_unit_test(what_is_read_teaches_the_rate),
        cmocka_unit_test(the_ph_is_the_simulators_on_the_average),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
