/* The largest admissible dose, the step, the plan's risk. */
#include "support/check.h"

#include <math.h>

#include "dose/series.h"
#include "dose/size.h"
#include "dose/threshold.h"
#include "num/normal.h"
#include "num/status.h"
#include "waters.h"

static unsigned char room[1u << 20];
static waters W, FRESH;

static const tw_substance *sub(tw_substance_id id)
{
    return &tw_dose_substances[id];
}

/* Strength known to the last digit, so that only the water is uncertain. */
static tw_substance exact(tw_substance_id id)
{
    tw_substance s = tw_dose_substances[id];
    s.assay_sd_ln = 0.0;
    return s;
}

static tw_dose_ask ask_for(const tw_substance *s, tw_quantity_of_water aim, double target)
{
    tw_dose_ask ask = {.substance = s, .aim = aim, .target = target, .aim_quantile = 0.5, .risk = 0.05, .seed = 7};
    return ask;
}

static void limit(tw_dose_ask *ask, tw_quantity_of_water of, double value, int is_floor)
{
    ask->limit[ask->limits++] = (tw_dose_limit){of, value, is_floor};
}

static tw_dose_step plan(const waters *w, const tw_dose_ask *ask)
{
    tw_dose_step step;
    assert_ok(tw_dose_plan(&w->view, ask, room, sizeof room, &step));
    return step;
}

/* n waters with the volume drawn at its quantiles: N(mean, sd). */
static void volumes(waters *w, const tw_water *one, size_t n, double mean, double sd)
{
    waters_clear(w);
    for (size_t i = 0; i < n; i++)
        waters_add(w, one, mean + sd * tw_normal_quantile(((double)i + 0.5) / (double)n));
}

/* V ~ N(1190, 70) L, salt + 1,950 mg/L: the whole 5 % gives 2.10 kg, half of it 2.05 kg, and the middle of
 * the volumes would say 2.32. (m = 1.95 g/L * V at 5 %, 2.5 %; salt of 100 %: computed.) */
static void salt_step_under_an_uncertain_volume(void **state)
{
    (void)state;
    tw_water none = kit_water((kit){25, 7.5, 60, 60, 10, 0, 0});
    none.total_mol_per_kg[TW_TOTAL_OTHER] += none.total_mol_per_kg[TW_TOTAL_CL];
    none.total_mol_per_kg[TW_TOTAL_CL] = 0.0;
    volumes(&W, &none, 4000, 1190, 70);
    tw_substance salt = exact(TW_SUBSTANCE_SODIUM_CHLORIDE);
    salt = tw_dose_substance_of_strength(&salt, 1.0);
    tw_dose_ask ask = ask_for(&salt, TW_OF_SALT, 1950);
    limit(&ask, TW_OF_SALT, 1950, 0);
    const tw_dose_step whole = plan(&W, &ask);
    assert_near(whole.grams, 2100, 20);
    assert_int_equal(whole.bound, TW_BOUND_LIMIT);
    assert_near(whole.to_target_g, 2320, 5);
    assert_near(whole.chance[0], 0.05, 0.001);
    assert_near(whole.chance_single[0], 0.5, 0.001);
    ask.risk = 0.025;
    assert_near(plan(&W, &ask).grams, 2053, 15);
    double left = 0.05;
    tw_dose_step shared;
    assert_ok(tw_dose_plan_share(&W.view, &ask, &left, room, sizeof room, &shared));
    assert_near(shared.grams, 2053, 15);
    assert_near(left, 0.025, 1e-12);
}

/* A step that its cap held takes off the risk what it may cross, and the margin for having been looked at; a whole that
 * nothing crosses takes nothing. */
static void a_capped_step_is_booked_with_its_margin(void **state)
{
    (void)state;
    const tw_water one = kit_water((kit){25, 7.5, 60, 60, 10, 0, 0});
    volumes(&W, &one, 4000, 1190, 70);
    const tw_substance salt = exact(TW_SUBSTANCE_SODIUM_CHLORIDE);
    tw_dose_ask ask = ask_for(&salt, TW_OF_SALT, 2000);
    limit(&ask, TW_OF_SALT, 2000, 0);
    ask.margin = 1;
    tw_dose_step step;
    const double caps[] = {2010, 1000};
    for (int i = 0; i < 2; i++) {
        double left = 0.05;
        ask.cap_g = caps[i];
        assert_ok(tw_dose_plan_share(&W.view, &ask, &left, room, sizeof room, &step));
        assert_int_equal(step.bound, TW_BOUND_CAP);
        const double margin = 1.645 * sqrt(0.025 * 0.975 / 4000);
        assert_true(i == 0 ? step.chance_any > 1e-3 && step.chance_any < 0.02 : step.chance_any == 0.0);
        assert_near(left, 0.05 - (i == 0 ? step.chance_any + margin : 0.0), 1e-9);
    }
}

/* 10^5 draws of the volume, not those that chose the dose: over the limit in at most 5 %. */
static void independent_volumes_overshoot_no_more_than_said(void **state)
{
    (void)state;
    const tw_water one = kit_water((kit){25, 7.5, 60, 60, 10, 50, 0});
    uint64_t s = check_seed;
    waters_clear(&W);
    for (int i = 0; i < 1000; i++)
        waters_add(&W, &one, 1190 + 70 * tw_normal_quantile(check_uniform(&s, 1e-9, 1)));
    const tw_substance salt = exact(TW_SUBSTANCE_SODIUM_CHLORIDE);
    tw_dose_ask ask = ask_for(&salt, TW_OF_SALT, 2000);
    limit(&ask, TW_OF_SALT, 2000, 0);
    ask.margin = 1;
    ask.grid_g = 10;
    const tw_dose_step step = plan(&W, &ask);
    assert_near(step.risk_worked_at, 0.05 - 1.645 * sqrt(0.05 * 0.95 / 1000), 1e-12);
    const double per_kg = tw_dose_quantity(TW_OF_SALT, salt.total_mol_per_g, 1.0);
    const double now = tw_dose_quantity(TW_OF_SALT, one.total_mol_per_kg, 1.0);
    int over = 0, over_up = 0;
    for (int i = 0; i < 100000; i++) {
        const double kg = 1190 + 70 * tw_normal_quantile(check_uniform(&s, 1e-9, 1));
        over += now + step.grams * per_kg / kg > 2000;
        over_up += now + (step.grams + ask.grid_g) * per_kg / kg > 2000;
    }
    assert_in_range(over, 1000, 5000);
    assert_in_range(over_up, over, 5600); /* one step of the scale more stays within the sampling error */
}

/* The claim over many random waters, volumes and substances: members that chose the dose promise a chance; fresh members
 * of the same belief keep it within sampling error. */
static void no_step_breaks_its_risk(void **state)
{
    (void)state;
    uint64_t s = check_seed + 11;
    double promised = 0.0, kept = 0.0;
    int tubs = 0, worse = 0;
    for (int tub = 0; tub < 60; tub++) {
        const double mean = check_uniform(&s, 500, 2500), cv = check_uniform(&s, 0.02, 0.2), ta = check_uniform(&s, 90, 240);
        const double ta_sd = check_uniform(&s, 3, 20), ph = check_uniform(&s, 7.2, 8.0), ph_sd = check_uniform(&s, 0.05, 0.3);
        tw_substance acid = *sub(tub % 2 ? TW_SUBSTANCE_SODIUM_BISULFATE_93 : TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5);
        tw_dose_ask ask = ask_for(&acid, TW_OF_ALKALINITY, 70);
        limit(&ask, TW_OF_PH, 6.8, 1);
        limit(&ask, TW_OF_ALKALINITY, 40, 1);
        ask.margin = 1;
        ask.weighing_sd_ln = 0.02;
        waters *set[2] = {&W, &FRESH};
        for (int k = 0; k < 2; k++) {
            waters_clear(set[k]);
            for (int i = 0; i < 400; i++) {
                const double z1 = tw_normal_quantile(check_uniform(&s, 1e-9, 1)), z2 = tw_normal_quantile(check_uniform(&s, 1e-9, 1));
                const double z3 = tw_normal_quantile(check_uniform(&s, 1e-9, 1));
                const double one_ta = ta + ta_sd * z1 > 50 ? ta + ta_sd * z1 : 50;
                const tw_water one = kit_water((kit){37, ph + ph_sd * z2, one_ta, 100, 10, 300, 20});
                waters_add(set[k], &one, mean * (1 + cv * z3) > 100 ? mean * (1 + cv * z3) : 100);
            }
        }
        const tw_dose_step step = plan(&W, &ask);
        if (!(step.grams > 0.0))
            continue;
        /* Fresh members, judged by the full solver, with errors of their own. */
        tw_constants at;
        assert_ok(tw_water_constants_at(310.15, &at));
        int over = 0;
        for (size_t i = 0; i < FRESH.view.n; i++) {
            const double sd = sqrt(acid.assay_sd_ln * acid.assay_sd_ln + 0.02 * 0.02);
            const double g = step.grams * exp(sd * tw_normal_quantile(check_uniform(&s, 1e-9, 1)));
            const tw_water before = tw_dose_member(&FRESH.view, i), after = tw_dose_apply(before, FRESH.kg[i], &acid, g);
            tw_speciation sp;
            assert_ok(tw_water_speciate(&at, &after, &sp));
            over += sp.ph < 6.8 || tw_dose_quantity(TW_OF_ALKALINITY, after.total_mol_per_kg, 1.0) < 40;
        }
        promised += step.chance_any;
        kept += over / 400.0;
        tubs++;
        worse += over > 0.05 * 400 + 3.1 * sqrt(0.05 * 0.95 * 400);
    }
    assert_true(tubs > 30);
    assert_int_equal(worse, 0);
    assert_true(kept / tubs < 0.05);
    assert_near(kept / tubs, promised / tubs, 0.015);
}

/* With the water and the volume known, one step equals the stoichiometric dose. */
static void known_exactly_is_the_table_dose(void **state)
{
    (void)state;
    tw_water w = kit_water((kit){38, 7.5, 90, 60, 10, 800, 20});
    w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = 2e-5;
    w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 1e-4;
    waters_clear(&W);
    waters_add(&W, &w, 1234.5);
    static const struct { tw_substance_id id; tw_quantity_of_water of; double target, g_per_mol, per_mol; } rows[] = {
        /* mg/L wanted -> g = kg * change / (1000 * mg of effect a mol) * g of product a mol */
        {TW_SUBSTANCE_SODIUM_BICARBONATE, TW_OF_ALKALINITY, 120, 84.0066, 100.0869 / 2},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, TW_OF_CALCIUM, 150, 147.0146, 100.0869},
        {TW_SUBSTANCE_SODIUM_CHLORIDE, TW_OF_SALT, 2000, 58.4428 / 0.995, 58.4428},
        {TW_SUBSTANCE_CYANURIC_ACID, TW_OF_CYANURATE, 20, 129.0742 / 0.99, 129.0742},
        {TW_SUBSTANCE_DICHLOR_DIHYDRATE, TW_OF_CHLORINE, 12, 255.9767, 2 * 70.906}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        tw_dose_ask ask = ask_for(sub(rows[i].id), rows[i].of, rows[i].target);
        limit(&ask, TW_OF_SALT, 4000, 0);
        const tw_dose_step step = plan(&W, &ask);
        double to = 0.0;
        assert_ok(tw_dose_grams_to(&w, 1234.5, sub(rows[i].id), rows[i].of, rows[i].target, 1.0, &to));
        assert_near_rel(step.grams, to, 1e-9);
        const double change = rows[i].target - tw_dose_quantity(rows[i].of, w.total_mol_per_kg, 1.0);
        assert_near_rel(step.grams, 1234.5 * change / 1000 / rows[i].per_mol * rows[i].g_per_mol, 3e-6);
        assert_int_equal(step.steps, 1);
        assert_int_equal(step.bound, TW_BOUND_TARGET);
        assert_near_rel(step.after[rows[i].of][1], rows[i].target, 1e-9);
    }
    tw_dose_ask trim = ask_for(sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), TW_OF_PH, 7.2);
    double to = 0.0;
    assert_ok(tw_dose_grams_to(&w, 1234.5, trim.substance, TW_OF_PH, 7.2, 1.0, &to));
    assert_near_rel(plan(&W, &trim).grams, to, 0.01); /* reduced form against the full solver */
}

/* The pH threshold against the full solver, with and without chlorine on cyanurate; both sides. */
static void thresholds_stand_where_the_full_solver_says(void **state)
{
    (void)state;
    static const tw_substance_id ids[] = {TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, TW_SUBSTANCE_SODIUM_BISULFATE_93,
        TW_SUBSTANCE_SODIUM_CARBONATE, TW_SUBSTANCE_SODIUM_HYDROXIDE, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120,
        TW_SUBSTANCE_DICHLOR_DIHYDRATE, TW_SUBSTANCE_CYANURIC_ACID, TW_SUBSTANCE_BORAX_DECAHYDRATE,
        TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65};
    uint64_t s = check_seed + 4;
    int met = 0;
    for (int i = 0; i < 180; i++) {
        const tw_substance *a = sub(ids[i % 9]);
        tw_water w = kit_water((kit){37, check_uniform(&s, 7.2, 7.8), check_uniform(&s, 50, 150), 100, 10, 1500, 20});
        w.total_mol_per_kg[TW_TOTAL_CYANURATE] = i % 2 ? check_uniform(&s, 0, 4e-4) : 0.0;
        w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = i % 3 ? check_uniform(&s, 0, 2e-4) : 0.0;
        tw_constants at;
        tw_speciation sp;
        tw_reduced k;
        assert_ok(tw_water_constants_at(w.temp_k, &at));
        assert_ok(tw_water_speciate(&at, &w, &sp));
        tw_water_reduced_from(&at, &sp, &k);
        const tw_dose_frame f = {&k, a, 1.0};
        const double lims[2] = {sp.ph - 0.3, sp.ph + 0.3};
        for (int side = 0; side < 2; side++) {
            const double g = tw_dose_threshold_limit(&f, &w, 1000, TW_OF_PH, lims[side], side == 0);
            if (g >= TW_DOSE_NEVER || g > 500)
                continue;
            met++;
            const tw_water after = tw_dose_apply(w, 1000, a, g);
            const double gap = (side == 0 ? 1 : -1) * tw_dose_ph_gap(lims[side]);
            const double ph = ph_of_water(&after);
            assert_near(tw_dose_value(&f, TW_OF_PH, &after), lims[side] + gap, 1e-7);
            /* By the full solver it has not crossed, and is not far from it. */
            assert_true(side == 0 ? ph >= lims[side] : ph <= lims[side]);
            assert_near(ph, lims[side], 2.5 * fabs(gap));
        }
    }
    assert_true(met > 100);
}

/* A tangent of pH at the start is wrong by 0.27 after 150 umol/kg of acid (exact 7.018, tangent 6.748). */
static void no_tangent_of_ph(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.5, 80, 100, 10, 2000, 30});
    waters_clear(&W);
    waters_add(&W, &w, 1000);
    const tw_substance acid = exact(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45);
    tw_dose_ask ask = ask_for(&acid, TW_OF_PH, 7.018);
    const tw_dose_step step = plan(&W, &ask);
    assert_near(step.grams * -tw_dose_alk_eq_per_g(&acid) * 1e3, 150, 1.5);
}

/* A limit that is crossed already does not forbid what leads back, and does forbid what leads on. */
static void crossed_limits_and_the_way_back(void **state)
{
    (void)state;
    const tw_water high = kit_water((kit){38, 8.4, 120, 100, 10, 800, 20});
    waters_clear(&W);
    for (int i = 0; i < 100; i++)
        waters_add(&W, &high, 1000);
    tw_dose_ask acid = ask_for(sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), TW_OF_PH, 7.4);
    limit(&acid, TW_OF_PH, 8.2, 0);
    limit(&acid, TW_OF_PH, 6.8, 1);
    assert_true(plan(&W, &acid).grams > 5);
    tw_dose_ask soda = ask_for(sub(TW_SUBSTANCE_SODIUM_CARBONATE), TW_OF_ALKALINITY, 140);
    limit(&soda, TW_OF_PH, 8.2, 0);
    const tw_dose_step none = plan(&W, &soda);
    assert_near(none.grams, 0.0, 0.0);
    assert_int_equal(none.bound, TW_BOUND_LIMIT);
    /* Salt moves no calcium: a calcium over its limit does not stand in its way. */
    tw_dose_ask salt = ask_for(sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, 2000);
    limit(&salt, TW_OF_CALCIUM, 50, 0);
    assert_int_equal(plan(&W, &salt).bound, TW_BOUND_TARGET);
}

static void cap_grid_and_nothing_needed(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 500, 20});
    volumes(&W, &w, 200, 1200, 50);
    const tw_substance salt = exact(TW_SUBSTANCE_SODIUM_CHLORIDE);
    tw_dose_ask ask = ask_for(&salt, TW_OF_SALT, 2000);
    ask.cap_g = 1003;
    ask.grid_g = 10;
    tw_dose_step step = plan(&W, &ask);
    assert_near(step.grams, 1000, 0);
    assert_near(step.off_grid_g, 3, 1e-9);
    assert_int_equal(step.bound, TW_BOUND_CAP);
    assert_int_equal(step.steps, 2);
    /* Even when the cap is a hair under a step of the grid. */
    ask.cap_g = 1000 - 1e-9;
    assert_near(plan(&W, &ask).grams, 990, 0);
    ask.cap_g = 1000;
    assert_near(plan(&W, &ask).grams, 1000, 0);
    ask.target = 400;
    step = plan(&W, &ask);
    assert_near(step.grams, 0, 0);
    assert_int_equal(step.bound, TW_BOUND_NONE_NEEDED);
    assert_int_equal(step.steps, 0);
}

/* Strength and weighing count in the limit and in what comes after: twelve percent of spread and a known volume
 * leave as much room as twelve percent of volume would. Single and aimed-at values are those of their own doses. */
static void errors_of_the_dose_count(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.6, 100, 60, 10, 500, 20});
    waters_clear(&W);
    for (int i = 0; i < 2000; i++)
        waters_add(&W, &w, 1000);
    tw_substance acid = exact(TW_SUBSTANCE_SODIUM_BISULFATE_93);
    acid.assay_sd_ln = 0.12;
    tw_dose_ask ask = ask_for(&acid, TW_OF_ALKALINITY, 60);
    limit(&ask, TW_OF_ALKALINITY, 70, 1);
    const tw_dose_step step = plan(&W, &ask);
    const double to_limit = 30 / -tw_dose_quantity(TW_OF_ALKALINITY, acid.total_mol_per_g, 1.0) * 1000;
    assert_near_rel(step.grams, to_limit * exp(-0.12 * 1.645), 0.03);
    assert_near(step.chance[0], 0.05, 0.001);
    assert_near(step.after[TW_OF_ALKALINITY][0], 70, 0.5); /* the 5 % that stands at the limit */
    assert_near(step.after[TW_OF_ALKALINITY][2], 100 - 30 * exp(-2 * 0.12 * 1.645), 0.8);
    const tw_water all = tw_dose_apply(w, 1000, &acid, step.to_target_g);
    assert_near(step.single_ph, ph_of_water(&all), 0.02);
    /* The dose for the water at a tenth of the way up is smaller than that for the middle, by the volumes. */
    volumes(&W, &w, 400, 1000, 100);
    ask.aim_quantile = 0.1;
    assert_near_rel(plan(&W, &ask).to_target_g, step.to_target_g * (1 - 0.128), 0.005);
}

/* What takes away goes no further than what it takes: five grams of chlorine's sulfite never bring pH down to 6.8,
 * and lanthanum has nothing to do where there is no phosphate. */
static void takers_stop(void **state)
{
    (void)state;
    tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 500, 20});
    w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 1e-5;
    tw_constants at;
    tw_speciation sp;
    tw_reduced k;
    assert_ok(tw_water_constants_at(w.temp_k, &at));
    assert_ok(tw_water_speciate(&at, &w, &sp));
    tw_water_reduced_from(&at, &sp, &k);
    const tw_dose_frame f = {&k, sub(TW_SUBSTANCE_SODIUM_SULFITE), 1.0};
    assert_true(tw_dose_threshold_limit(&f, &w, 1000, TW_OF_PH, 6.8, 1) >= TW_DOSE_NEVER);
    assert_true(tw_dose_threshold_limit(&f, &w, 1000, TW_OF_ALKALINITY, 70, 1) >= TW_DOSE_NEVER);
    assert_true(tw_dose_threshold_limit(&f, &w, 1000, TW_OF_CHLORINE, 0.3, 1) < 1.0);
    volumes(&W, &w, 20, 1000, 20);
    const tw_dose_ask ask = ask_for(sub(TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE), TW_OF_PHOSPHATE, 0.15);
    assert_int_equal(plan(&W, &ask).bound, TW_BOUND_NONE_NEEDED);
}

/* Weights count: all weight on one water is that water; a copy twice is weight two. */
static void weights_count_everywhere(void **state)
{
    (void)state;
    const tw_water a = kit_water((kit){38, 7.5, 80, 60, 10, 500, 20});
    const tw_substance salt = exact(TW_SUBSTANCE_SODIUM_CHLORIDE);
    tw_dose_ask ask = ask_for(&salt, TW_OF_SALT, 2000);
    limit(&ask, TW_OF_SALT, 2050, 0);
    waters_clear(&W);
    for (int i = 0; i < 50; i++)
        waters_add(&W, &a, 1000 + 10 * i);
    W.view.weight = W.weight;
    for (int i = 0; i < 50; i++)
        W.weight[i] = i == 20 ? 1.0 : 0.0;
    const tw_dose_step one = plan(&W, &ask);
    assert_near(one.members, 1.0, 1e-12);
    assert_near_rel(one.grams, 1200 * (2000 - tw_dose_quantity(TW_OF_SALT, a.total_mol_per_kg, 1)) /
                        tw_dose_quantity(TW_OF_SALT, salt.total_mol_per_g, 1), 1e-9);
    assert_near_rel(one.after[TW_OF_SALT][0], 2000, 1e-9);
    assert_near_rel(one.after[TW_OF_SALT][2], 2000, 1e-9);
    waters_clear(&FRESH);
    for (int i = 0; i < 50; i++) {
        W.weight[i] = i % 2 ? 2.0 : 1.0;
        for (int twice = 0; twice <= i % 2; twice++)
            waters_add(&FRESH, &a, 1000 + 10 * i);
    }
    const tw_dose_step weighted = plan(&W, &ask), doubled = plan(&FRESH, &ask);
    assert_near(weighted.grams, doubled.grams, 0.0);
    assert_near(weighted.chance[0], doubled.chance[0], 1e-15);
    assert_near(weighted.after[TW_OF_SALT][2], doubled.after[TW_OF_SALT][2], 0.0);
    assert_near(weighted.members, 75.0 * 75.0 / 125.0, 1e-12);
    /* Fewer effective members, a wider margin. */
    ask.margin = 1;
    ask.risk = 0.3;
    assert_near(plan(&W, &ask).risk_worked_at, 0.3 - 1.645 * sqrt(0.3 * 0.7 / 45), 1e-12);
    assert_near(plan(&FRESH, &ask).risk_worked_at, 0.3 - 1.645 * sqrt(0.3 * 0.7 / 75), 1e-12);
}

/* Limits are judged together: two that each let 5 % pass let more pass together. */
static void limits_are_judged_jointly(void **state)
{
    (void)state;
    uint64_t s = check_seed + 8;
    const tw_water base = kit_water((kit){38, 7.5, 80, 100, 10, 500, 20});
    waters_clear(&W);
    for (int i = 0; i < 2000; i++) {
        tw_water w = base;
        const double ch = check_uniform(&s, 50, 150), salt = check_uniform(&s, 1500, 1700);
        w.total_mol_per_kg[TW_TOTAL_CA] = ch / 100086.9;
        w.total_mol_per_kg[TW_TOTAL_CL] = salt / 58442.8;
        w.total_mol_per_kg[TW_TOTAL_NA] += tw_water_strong_ion_alk_mol_per_kg(&base) - tw_water_strong_ion_alk_mol_per_kg(&w);
        waters_add(&W, &w, 1000);
    }
    const tw_substance calcium = exact(TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE);
    tw_dose_ask hard = ask_for(&calcium, TW_OF_CALCIUM, 2000), salty = hard, both = hard;
    limit(&hard, TW_OF_CALCIUM, 300, 0);
    limit(&salty, TW_OF_SALT, 1871, 0);
    limit(&both, TW_OF_CALCIUM, 300, 0);
    limit(&both, TW_OF_SALT, 1871, 0);
    const tw_dose_step a = plan(&W, &hard), b = plan(&W, &salty), c = plan(&W, &both);
    assert_near(a.admissible_g, (300 - 145) / 0.6808, 3);
    assert_near(b.admissible_g, a.admissible_g, 8);
    assert_true(c.admissible_g < a.admissible_g && c.admissible_g < b.admissible_g);
    assert_true(c.chance_any <= 0.05 && c.chance_any > 0.04);
    assert_true(c.chance[0] <= c.chance_any && c.chance[1] <= c.chance_any && c.chance[0] + c.chance[1] >= c.chance_any);
}

/* Questions without an answer, and waters that are none. */
static void statuses(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 500, 20});
    volumes(&W, &w, 10, 1200, 50);
    tw_dose_step step;
    tw_dose_ask ask = ask_for(sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_CALCIUM, 100);
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_UNKNOWN);
    ask.aim = TW_OF_SALT;
    assert_status(tw_dose_plan(&W.view, &ask, room, 100, &step), TW_ERR_CAPACITY);
    ask.risk = 1.5;
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_RANGE);
    ask.risk = 0.05;
    ask.target = nan("");
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_RANGE);
    ask = ask_for(sub(TW_SUBSTANCE_SODIUM_BICARBONATE), TW_OF_PH, 9.5);
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_NO_ROOT);
    W.kg[3] = nan("");
    ask = ask_for(sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, 2000);
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_RANGE);
    W.view.n = 0;
    assert_status(tw_dose_plan(&W.view, &ask, room, sizeof room, &step), TW_ERR_RANGE);
    /* A little under zero, as a Gaussian has it, is zero and keeps the alkalinity. */
    volumes(&W, &w, 10, 1200, 50);
    W.total[TW_TOTAL_SO4][4] = -1e-6;
    const tw_water m = tw_dose_member(&W.view, 4);
    assert_near(m.total_mol_per_kg[TW_TOTAL_SO4], 0.0, 0.0);
    assert_near(tw_water_strong_ion_alk_mol_per_kg(&m), tw_water_strong_ion_alk_mol_per_kg(&w) +
                2 * (w.total_mol_per_kg[TW_TOTAL_SO4] + 1e-6), 1e-15);
    assert_ok(tw_dose_plan(&W.view, &ask, room, sizeof room, &step));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(salt_step_under_an_uncertain_volume),
        cmocka_unit_test(a_capped_step_is_booked_with_its_margin), cmocka_unit_test(independent_volumes_overshoot_no_more_than_said),
        cmocka_unit_test(no_step_breaks_its_risk), cmocka_unit_test(known_exactly_is_the_table_dose),
        cmocka_unit_test(thresholds_stand_where_the_full_solver_says), cmocka_unit_test(no_tangent_of_ph),
        cmocka_unit_test(crossed_limits_and_the_way_back), cmocka_unit_test(cap_grid_and_nothing_needed),
        cmocka_unit_test(errors_of_the_dose_count), cmocka_unit_test(takers_stop), cmocka_unit_test(weights_count_everywhere), cmocka_unit_test(limits_are_judged_jointly), cmocka_unit_test(statuses)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
