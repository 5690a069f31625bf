/* Every physically possible water solves, and what cannot be is named.
 *
 * Random waters over the ranges of the reference tables ("wide", and their ends combined, "corner"), wider in
 * temperature (0 to 45 C) and with cyanurate, chlorine and phosphate; then raw totals without any order. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/ccpp.h"
#include "water/inverse.h"

#define G_CACO3 100086.9

static double pick(uint64_t *state, double low, double high, int corner)
{
    const double u = check_uniform(state, 0.0, 1.0);
    if (!corner)
        return low + (high - low) * u;
    return u < 0.5 ? low : high;
}

/* Half the waters take the ends of each range. Cyanurate and the like are in every third. */
static tw_tests draw(uint64_t *state, int i)
{
    const int corner = i % 2, rich = i % 3 == 0;
    const double temp_c = pick(state, 0, 45, corner), ph = pick(state, 6.6, 8.8, corner),
                 ta = pick(state, 15, 300, corner), ch = pick(state, 5, 600, corner),
                 mh = pick(state, 0, 200, corner), salt = pick(state, 0, 6000, corner),
                 so4 = pick(state, 0, 600, corner), k = pick(state, 0, 60, corner), b = pick(state, 0, 50, corner),
                 cya = pick(state, 0, 100, corner), fc = pick(state, 0, 20, corner), po4 = pick(state, 0, 5, corner);
    const tw_tests t = {.temp_k = 273.15 + temp_c,
                        .ph = ph,
                        .alk_mol_per_kg = 2.0 * ta / G_CACO3,
                        .alk_kind = TW_ALK_STRONG_ION,
                        .calcium_mol_per_kg = ch / G_CACO3,
                        .magnesium_mol_per_kg = mh / G_CACO3,
                        .salt_mol_per_kg = salt / 58442.8,
                        .sulfate_mol_per_kg = so4 / 96062.6,
                        .potassium_mol_per_kg = k / 39098.3,
                        .boron_mol_per_kg = b / 10811.0,
                        .cyanurate_mol_per_kg = rich ? cya / 129074.2 : 0.0,
                        .active_chlorine_mol_per_kg = rich ? fc / 70906.0 : 0.0,
                        .phosphate_mol_per_kg = rich ? po4 / 94971.4 : 0.0};
    return t;
}

/* Whether borate, cyanurate and the rest alone hold more alkalinity: from the same water without carbon. */
static int cannot_be(const tw_constants *at, const tw_tests *t, const tw_water *water)
{
    tw_speciation sp;
    tw_water bare = *water;
    bare.total_mol_per_kg[TW_TOTAL_DIC] = 0.0;
    assert_ok(tw_water_at_ph(at, &bare, t->ph, &sp));
    return sp.strong_ion_alk_mol_per_kg >= t->alk_mol_per_kg;
}

static void waters_of_the_tables_solve_there_and_back(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    int impossible = 0, most_steps = 0;
    double worst_ph = 0.0, worst_alk = 0.0;
    for (int i = 0; i < 20000; i++) {
        const tw_tests t = draw(&state, i);
        tw_constants at;
        tw_water water;
        tw_speciation back, forth;
        assert_ok(tw_water_constants_at(t.temp_k, &at));
        const tw_status status = tw_water_from_tests(&at, &t, &water, &back);
        if (status != TW_OK) {
            assert_status(status, TW_ERR_NO_ROOT);
            assert_int_equal(back.fault, TW_WATER_FAULT_ALKALINITY);
            assert_true(cannot_be(&at, &t, &water));
            impossible++;
            continue;
        }
        assert_ok(tw_water_speciate(&at, &water, &forth));
        most_steps = forth.steps > most_steps ? forth.steps : most_steps;
        worst_ph = fmax(worst_ph, fabs(forth.ph - t.ph));
        worst_alk = fmax(worst_alk, fabs(forth.strong_ion_alk_mol_per_kg / t.alk_mol_per_kg - 1.0));
        if (i % 4 == 0) {
            tw_ccpp ccpp;
            assert_ok(tw_water_ccpp(&at, &water, &ccpp));
            assert_near(ccpp.at_calcite.si_calcite, 0.0, 1e-9);
        }
    }
    print_message("# worst pH %.2g, alkalinity %.2g relative, %d impossible, at most %d steps\n", worst_ph, worst_alk,
                  impossible, most_steps);
    assert_true(worst_ph < 1e-9);
    assert_true(worst_alk < 1e-10);
    assert_true(impossible < 6000);
    assert_true(most_steps <= 20); /* Newton from the cold start, never the bracket */
}

/* Totals that nobody would pour together: any order of size, zeros among them, acid or base left over. */
static void raw_totals_solve_or_name_the_side(void **unused)
{
    (void)unused;
    uint64_t state = check_seed ^ 0x5A5Au;
    int solved = 0, acid = 0, alkaline = 0, salty = 0, most_steps = 0;
    for (int i = 0; i < 20000; i++) {
        tw_water w = {.temp_k = check_uniform(&state, 273.15, 318.15)};
        for (int k = 0; k < TW_TOTALS; k++) {
            const double size = check_uniform(&state, -9.0, -1.3), none = check_uniform(&state, 0.0, 1.0);
            w.total_mol_per_kg[k] = none < 0.25 ? 0.0 : pow(10.0, size);
        }
        tw_constants at;
        tw_speciation sp;
        assert_ok(tw_water_constants_at(w.temp_k, &at));
        const tw_status status = tw_water_speciate(&at, &w, &sp);
        if (status == TW_OK) {
            solved++;
            most_steps = sp.steps > most_steps ? sp.steps : most_steps;
            assert_near(sp.strong_ion_alk_mol_per_kg, tw_water_strong_ion_alk_mol_per_kg(&w), 1e-12);
            assert_near(sp.dic_mol_per_kg, w.total_mol_per_kg[TW_TOTAL_DIC], 1e-12);
            continue;
        }
        acid += sp.fault == TW_WATER_FAULT_TOO_ACID;
        alkaline += sp.fault == TW_WATER_FAULT_TOO_ALKALINE;
        salty += sp.fault == TW_WATER_FAULT_IONIC_STRENGTH;
        assert_true(sp.fault != TW_WATER_FAULT_NOT_SETTLED);
        assert_nan(sp.ph);
    }
    print_message("# %d solved, %d too acid, %d too alkaline, %d too salty, at most %d steps\n", solved, acid, alkaline,
                  salty, most_steps);
    assert_int_equal(solved + acid + alkaline + salty, 20000);
    assert_true(solved > 10000);
}

static tw_water tub(void)
{
    tw_water w = {.temp_k = 311.15,
                  .total_mol_per_kg = {[TW_TOTAL_NA] = 34.9e-3, [TW_TOTAL_K] = 0.2e-3, [TW_TOTAL_CA] = 1.0e-3,
                                       [TW_TOTAL_MG] = 0.2e-3, [TW_TOTAL_CL] = 35.0e-3, [TW_TOTAL_SO4] = 0.3e-3,
                                       [TW_TOTAL_OTHER] = 0.1e-3, [TW_TOTAL_DIC] = 1.55e-3,
                                       [TW_TOTAL_BORATE] = 0.5e-3, [TW_TOTAL_CYANURATE] = 0.2e-3,
                                       [TW_TOTAL_ACTIVE_CHLORINE] = 0.05e-3, [TW_TOTAL_PHOSPHATE] = 0.01e-3}};
    return w;
}

/* The strong ions are trimmed by chloride, so that each water stays a mild one. */
static void each_total_may_be_zero(void **unused)
{
    (void)unused;
    tw_constants at;
    assert_ok(tw_water_constants_at(311.15, &at));
    for (int k = 0; k < TW_TOTALS; k++)
        for (int tiny = 0; tiny < 2; tiny++) {
            tw_water w = tub();
            tw_speciation sp;
            w.total_mol_per_kg[k] = tiny ? 1e-15 : 0.0;
            const double alk = tw_water_strong_ion_alk_mol_per_kg(&w);
            const double cl = w.total_mol_per_kg[TW_TOTAL_CL] + alk - 1.5e-3;
            if (k == TW_TOTAL_NA)
                w.total_mol_per_kg[TW_TOTAL_CL] = 0.2e-3;
            else if (k == TW_TOTAL_CL)
                w.total_mol_per_kg[TW_TOTAL_NA] = 0.1e-3;
            else
                w.total_mol_per_kg[TW_TOTAL_CL] = cl;
            assert_ok(tw_water_speciate(&at, &w, &sp));
            assert_near(sp.strong_ion_alk_mol_per_kg, tw_water_strong_ion_alk_mol_per_kg(&w), 1e-14);
            assert_near(sp.dic_mol_per_kg, w.total_mol_per_kg[TW_TOTAL_DIC], 1e-15);
        }
}

static void pure_water_is_neutral(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_speciation sp;
    const tw_water w = {.temp_k = 298.15};
    assert_ok(tw_water_constants_at(298.15, &at));
    assert_ok(tw_water_speciate(&at, &w, &sp));
    assert_near(sp.ph, 0.5 * 13.9948, 1e-3);
    assert_near(sp.mol_per_kg[TW_SPECIES_H], sp.mol_per_kg[TW_SPECIES_OH], 1e-15);
}

/* pH 8.8 and a hardness of 600 mg/L: far above saturation, nothing falls out by itself. */
static void very_hard_water_at_high_ph_solves(void **unused)
{
    (void)unused;
    for (double temp_c = 0.0; temp_c <= 45.0; temp_c += 5.0) {
        const tw_tests t = {.temp_k = 273.15 + temp_c, .ph = 8.8, .alk_mol_per_kg = 2.0 * 300.0 / G_CACO3,
                            .calcium_mol_per_kg = 600.0 / G_CACO3, .magnesium_mol_per_kg = 200.0 / G_CACO3,
                            .sulfate_mol_per_kg = 600.0 / 96062.6};
        tw_constants at;
        tw_water w;
        tw_speciation sp;
        tw_ccpp ccpp;
        assert_ok(tw_water_constants_at(t.temp_k, &at));
        assert_ok(tw_water_from_tests(&at, &t, &w, &sp));
        assert_ok(tw_water_speciate(&at, &w, &sp));
        assert_near(sp.ph, 8.8, 1e-10);
        assert_true(sp.si_calcite > 1.2);
        assert_ok(tw_water_ccpp(&at, &w, &ccpp));
        assert_true(ccpp.ccpp_mol_per_kg > 0.5e-3);
    }
}

static void alkalinity_below_that_of_borate_is_refused_by_name(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_water w;
    tw_speciation sp;
    const tw_tests t = {.temp_k = 298.15, .ph = 8.8, .alk_mol_per_kg = 2.0 * 15.0 / G_CACO3,
                        .calcium_mol_per_kg = 1e-3, .boron_mol_per_kg = 50.0 / 10811.0, .salt_mol_per_kg = 0.02};
    assert_ok(tw_water_constants_at(298.15, &at));
    assert_status(tw_water_from_tests(&at, &t, &w, &sp), TW_ERR_NO_ROOT);
    assert_int_equal(sp.fault, TW_WATER_FAULT_ALKALINITY);
    assert_nan(sp.ph);
    assert_nan(sp.mol_per_kg[TW_SPECIES_HCO3]);
}

/* Just above what borate alone makes of it: the trace of carbonate is found, down to nothing. */
static void the_last_trace_of_carbonate_is_found(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(298.15, &at));
    for (double ph = 6.0; ph <= 9.0; ph += 0.5) {
        tw_water bare = {.temp_k = 298.15};
        bare.total_mol_per_kg[TW_TOTAL_NA] = bare.total_mol_per_kg[TW_TOTAL_CL] = 0.02;
        bare.total_mol_per_kg[TW_TOTAL_CA] = 1e-3;
        bare.total_mol_per_kg[TW_TOTAL_CL] += 2e-3;
        bare.total_mol_per_kg[TW_TOTAL_BORATE] = 3e-3;
        for (int i = 0; i < 6; i++) {
            assert_ok(tw_water_at_ph(&at, &bare, ph, &sp));
            bare.total_mol_per_kg[TW_TOTAL_NA] +=
                sp.strong_ion_alk_mol_per_kg - tw_water_strong_ion_alk_mol_per_kg(&bare);
        }
        for (double trace = 1e-3; trace > 1e-11; trace *= 0.1) {
            tw_water w = bare, back;
            w.total_mol_per_kg[TW_TOTAL_NA] += trace;
            assert_ok(tw_water_dic_for_ph(&at, &w, ph, &sp));
            assert_true(sp.dic_mol_per_kg > 0.3 * trace && sp.dic_mol_per_kg < 5.0 * trace);
            back = w;
            assert_ok(tw_water_speciate(&at, &back, &sp));
            assert_near(sp.ph, ph, 1e-9);
        }
    }
}

/* Buffer intensity where there is no sodium to take away: calcium is the only cation. */
static void buffer_intensity_needs_no_sodium(void **unused)
{
    (void)unused;
    tw_constants at;
    assert_ok(tw_water_constants_at(298.15, &at));
    tw_water w = {.temp_k = 298.15};
    w.total_mol_per_kg[TW_TOTAL_CA] = 0.6e-3;
    w.total_mol_per_kg[TW_TOTAL_CL] = 0.2e-3;
    w.total_mol_per_kg[TW_TOTAL_DIC] = 1.1e-3;
    double with = 0.0, without = 0.0;
    assert_ok(tw_water_buffer_intensity(&at, &w, &without));
    w.total_mol_per_kg[TW_TOTAL_NA] += 1e-5;
    w.total_mol_per_kg[TW_TOTAL_CL] += 1e-5;
    assert_ok(tw_water_buffer_intensity(&at, &w, &with));
    assert_near_rel(with, without, 2e-3);
}

static void what_cannot_be_is_named(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(311.15, &at));
    for (int k = 0; k < TW_TOTALS; k++) {
        const double bad[] = {-1e-12, (double)NAN, (double)INFINITY};
        for (int i = 0; i < 3; i++) {
            tw_water w = tub();
            w.total_mol_per_kg[k] = bad[i];
            assert_status(tw_water_speciate(&at, &w, &sp), TW_ERR_RANGE);
            assert_int_equal(sp.fault, TW_WATER_FAULT_TOTAL);
            assert_int_equal(sp.fault_total, k);
        }
    }
    tw_water acid = tub(), base = tub(), brine = tub(), hot = tub();
    acid.total_mol_per_kg[TW_TOTAL_CL] += 0.05;
    base.total_mol_per_kg[TW_TOTAL_NA] += 0.08;
    brine.total_mol_per_kg[TW_TOTAL_NA] += 0.9;
    brine.total_mol_per_kg[TW_TOTAL_CL] += 0.9;
    hot.temp_k = 330.0;
    assert_status(tw_water_speciate(&at, &acid, &sp), TW_ERR_NO_ROOT);
    assert_int_equal(sp.fault, TW_WATER_FAULT_TOO_ACID);
    assert_status(tw_water_speciate(&at, &base, &sp), TW_ERR_NO_ROOT);
    assert_int_equal(sp.fault, TW_WATER_FAULT_TOO_ALKALINE);
    assert_status(tw_water_speciate(&at, &brine, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_IONIC_STRENGTH);
    assert_status(tw_water_speciate(&at, &hot, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_TEMPERATURE);
    assert_status(tw_water_constants_at(318.16, &at), TW_ERR_RANGE);
    assert_nan(at.ln_k[0]);
}

/* A million warm steps (a random walk of totals) end where a cold solve ends. */
static void warm_steps_do_not_drift(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_speciation warm, cold;
    tw_water w = tub();
    uint64_t state = check_seed;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_speciate(&at, &w, &warm));
    for (int i = 0; i < 100000; i++) {
        const int k = (int)(random_bits(&state) % TW_TOTALS);
        const double by = check_uniform(&state, 0.98, 1.0204);
        const double before = w.total_mol_per_kg[k];
        w.total_mol_per_kg[k] *= by;
        const double alk = tw_water_strong_ion_alk_mol_per_kg(&w);
        if (alk < 0.8e-3 || alk > 4e-3)
            w.total_mol_per_kg[k] = before;
        assert_ok(tw_water_speciate_from(&at, &w, &warm, &warm));
        if (i % 1000 == 0) {
            assert_ok(tw_water_speciate(&at, &w, &cold));
            assert_near(warm.ph, cold.ph, 1e-10);
        }
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(waters_of_the_tables_solve_there_and_back),
        cmocka_unit_test(raw_totals_solve_or_name_the_side),
        cmocka_unit_test(each_total_may_be_zero),
        cmocka_unit_test(pure_water_is_neutral),
        cmocka_unit_test(very_hard_water_at_high_ph_solves),
        cmocka_unit_test(alkalinity_below_that_of_borate_is_refused_by_name),
        cmocka_unit_test(the_last_trace_of_carbonate_is_found),
        cmocka_unit_test(buffer_intensity_needs_no_sodium),
        cmocka_unit_test(what_cannot_be_is_named),
        cmocka_unit_test(warm_steps_do_not_drift),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
