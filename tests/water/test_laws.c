/* Laws that hold for every water, on random waters: balances, monotony, and doses that undo each other.
 *
 * Mass and charge are counted from the formulas of the species alone (formula.h, which includes no header of the
 * solver), so they do not rest on the exponents that the solver uses. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/ccpp.h"
#include "water/inverse.h"

#include "formula.h"

static tw_constants at;

static int constants(void **unused)
{
    (void)unused;
    return tw_water_constants_at(311.15, &at) == TW_OK ? 0 : 1;
}

/* A tub of any kind between hose and salt tub, pH about 6.5 to 8.6. */
static tw_water draw(uint64_t *state)
{
    tw_water w = {.temp_k = 311.15};
    double *t = w.total_mol_per_kg;
    const double alk = check_uniform(state, 0.6e-3, 5e-3), over = check_uniform(state, 0.99, 1.4);
    t[TW_TOTAL_K] = check_uniform(state, 0.0, 1e-3);
    t[TW_TOTAL_CA] = check_uniform(state, 0.05e-3, 5e-3);
    t[TW_TOTAL_MG] = check_uniform(state, 0.0, 2e-3);
    t[TW_TOTAL_SO4] = check_uniform(state, 0.0, 4e-3);
    t[TW_TOTAL_OTHER] = check_uniform(state, 0.0, 1e-3);
    t[TW_TOTAL_BORATE] = check_uniform(state, 0.0, 3e-3);
    t[TW_TOTAL_CYANURATE] = check_uniform(state, 0.0, 0.6e-3);
    t[TW_TOTAL_ACTIVE_CHLORINE] = check_uniform(state, 0.0, 0.2e-3);
    t[TW_TOTAL_PHOSPHATE] = check_uniform(state, 0.0, 0.05e-3);
    t[TW_TOTAL_DIC] = alk * over;
    t[TW_TOTAL_CL] = check_uniform(state, 15e-3, 60e-3);
    t[TW_TOTAL_NA] = 0.0;
    t[TW_TOTAL_NA] = alk - tw_water_strong_ion_alk_mol_per_kg(&w);
    return w;
}

static tw_speciation solve(const tw_water *w)
{
    tw_speciation sp;
    assert_ok(tw_water_speciate(&at, w, &sp));
    return sp;
}

/* ------------------------------------------------------------------------ balances from the formulas */

static void species_add_up_to_the_totals_and_to_no_charge(void **unused)
{
    (void)unused;
    static const tw_total TOTAL_OF_PART[PARTS] = {
        [PART_NA] = TW_TOTAL_NA,      [PART_K] = TW_TOTAL_K,         [PART_CA] = TW_TOTAL_CA,
        [PART_MG] = TW_TOTAL_MG,      [PART_C] = TW_TOTAL_DIC,       [PART_S] = TW_TOTAL_SO4,
        [PART_B] = TW_TOTAL_BORATE,   [PART_CY] = TW_TOTAL_CYANURATE, [PART_P] = TW_TOTAL_PHOSPHATE,
        [PART_ACTIVE] = TW_TOTAL_ACTIVE_CHLORINE, [PART_CHLORIDE] = TW_TOTAL_CL, [PART_X] = TW_TOTAL_OTHER};
    const char *formula[TW_SPECIES];
    for (int i = 0; i < TW_SPECIES; i++)
        formula[i] = tw_water_species[i].formula;
    uint64_t state = check_seed;
    double worst = 0.0;
    for (int n = 0; n < 2000; n++) {
        const tw_water w = draw(&state);
        const tw_speciation sp = solve(&w);
        for (int i = 0; i < TW_SPECIES; i++)
            assert_true(sp.mol_per_kg[i] >= 0.0);
        const formula_sums sums = formula_add_up(formula, sp.mol_per_kg, TW_SPECIES);
        for (int k = 0; k < PARTS; k++)
            worst = fmax(worst, fabs(sums.part[k] - w.total_mol_per_kg[TOTAL_OF_PART[k]]));
        worst = fmax(worst, fabs(sums.charge));
        assert_near(sums.strength, sp.ionic_strength_mol_per_kg, 1e-11);
        assert_near(1.0 - 0.017 * sums.amount, sp.water_activity, 1e-11);
    }
    print_message("# worst balance %.2g mol/kg\n", worst);
    assert_true(worst < 1e-12);
}

/* Mass action from the published constants: a few species by hand. */
static void species_obey_mass_action(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    const tw_water w = draw(&state);
    const tw_speciation sp = solve(&w);
    const double h = pow(10.0, -sp.ph);
#define ACTIVITY(S) (sp.mol_per_kg[TW_SPECIES_##S] * exp(sp.ln_gamma[TW_SPECIES_##S]))
#define CONSTANT(R) pow(10.0, tw_water_log10_k(&at, TW_REACTION_##R))
    assert_near_rel(ACTIVITY(OH) * h / sp.water_activity, CONSTANT(WATER), 1e-11);
    assert_near_rel(ACTIVITY(HCO3) / (h * ACTIVITY(CO3)), CONSTANT(HCO3), 1e-11);
    assert_near_rel(ACTIVITY(CO2) * sp.water_activity / (h * h * ACTIVITY(CO3)), CONSTANT(CO2), 1e-11);
    assert_near_rel(ACTIVITY(NAHCO3) / (ACTIVITY(NA) * ACTIVITY(HCO3)), CONSTANT(NAHCO3), 1e-11);
    assert_near_rel(ACTIVITY(NA2SO4) / (ACTIVITY(NA) * ACTIVITY(NA) * ACTIVITY(SO4)), CONSTANT(NA2SO4), 1e-11);
    assert_near_rel(ACTIVITY(MGSO4_2) / (ACTIVITY(MGSO4) * ACTIVITY(SO4)), CONSTANT(MGSO4_2), 1e-11);
    assert_near_rel(ACTIVITY(CAHSO4) / (ACTIVITY(CA) * ACTIVITY(HSO4)), CONSTANT(CAHSO4), 1e-11);
    assert_near_rel(ACTIVITY(CAHPO4) / (ACTIVITY(CA) * ACTIVITY(HPO4)), CONSTANT(CAHPO4), 1e-11);
    assert_near_rel(ACTIVITY(H2BO3) * h / ACTIVITY(H3BO3), CONSTANT(BORIC), 1e-11);
    assert_near_rel(ACTIVITY(OCL) * h / ACTIVITY(HOCL), CONSTANT(HOCL), 1e-11);
    assert_near_rel(ACTIVITY(H2CY) * h / ACTIVITY(H3CY), CONSTANT(H3CY), 1e-11);
    assert_near_rel(ACTIVITY(HCLCY) * ACTIVITY(HOCL) / (ACTIVITY(CL2CY) * sp.water_activity), CONSTANT(CL2CY), 1e-11);
    assert_near_rel(ACTIVITY(H2CY) * ACTIVITY(HOCL) / (ACTIVITY(HCLCY) * sp.water_activity), CONSTANT(HCLCY), 1e-11);
    assert_near(sp.si_calcite, log10(ACTIVITY(CA) * ACTIVITY(CO3) / CONSTANT(CALCITE)), 1e-11);
    assert_near(sp.log10_pco2_atm, log10(ACTIVITY(CO2) / CONSTANT(CO2_GAS)), 1e-11);
}

/* ------------------------------------------------------------------------------------------- monotony */

static void alkalinity_rises_with_ph(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 50; n++) {
        const tw_water w = draw(&state);
        double before = -1.0;
        for (double ph = 3.0; ph <= 11.0; ph += 0.25) {
            tw_speciation sp;
            assert_ok(tw_water_at_ph(&at, &w, ph, &sp));
            assert_true(sp.strong_ion_alk_mol_per_kg > before);
            assert_near(sp.dic_mol_per_kg, w.total_mol_per_kg[TW_TOTAL_DIC], 1e-13);
            before = sp.strong_ion_alk_mol_per_kg;
        }
    }
}

static void acid_lowers_ph_and_base_raises_it(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 300; n++) {
        tw_water w = draw(&state);
        const double ph = solve(&w).ph;
        w.total_mol_per_kg[TW_TOTAL_CL] += 1e-5;
        assert_true(solve(&w).ph < ph);
        w.total_mol_per_kg[TW_TOTAL_NA] += 2e-5;
        assert_true(solve(&w).ph > ph);
    }
}

static void co2_leaves_alkalinity_and_raises_ph_by_leaving(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 300; n++) {
        tw_water w = draw(&state);
        const tw_speciation before = solve(&w);
        w.total_mol_per_kg[TW_TOTAL_DIC] *= 0.99;
        const tw_speciation after = solve(&w);
        assert_near(after.strong_ion_alk_mol_per_kg, before.strong_ion_alk_mol_per_kg, 1e-14);
        assert_true(after.ph > before.ph);
        tw_speciation open;
        assert_ok(tw_water_equilibrate_co2(&at, &w, before.log10_pco2_atm, &open));
        assert_near(open.ph, before.ph, 1e-10); /* back to the pressure it had */
        assert_near(open.dic_mol_per_kg, before.dic_mol_per_kg, 1e-12);
    }
}

static void saturation_falls_as_calcite_falls_out(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 100; n++) {
        const tw_water w = draw(&state);
        double before = 1e9;
        for (int i = 0; i < 10; i++) {
            tw_water less = w;
            const double out = 0.09 * i * w.total_mol_per_kg[TW_TOTAL_CA];
            less.total_mol_per_kg[TW_TOTAL_CA] -= out;
            less.total_mol_per_kg[TW_TOTAL_DIC] -= out < 0.5 * w.total_mol_per_kg[TW_TOTAL_DIC] ? out : 0.0;
            if (out >= 0.5 * w.total_mol_per_kg[TW_TOTAL_DIC])
                break;
            tw_speciation sp;
            const tw_status status = tw_water_speciate(&at, &less, &sp);
            if (status != TW_OK)
                break;
            assert_true(sp.si_calcite < before);
            before = sp.si_calcite;
        }
    }
}

/* What falls out is what balance asks for: taken out, the water stands at SI 0; already there, nothing moves. */
static void calcite_balance_holds(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 300; n++) {
        const tw_water w = draw(&state);
        const tw_speciation before = solve(&w);
        tw_ccpp ccpp, again;
        assert_ok(tw_water_ccpp(&at, &w, &ccpp));
        assert_near(ccpp.at_calcite.si_calcite, 0.0, 1e-10);
        assert_true((ccpp.ccpp_mol_per_kg > 0.0) == (before.si_calcite > 0.0));
        const double left = ccpp.water.total_mol_per_kg[TW_TOTAL_CA] * ccpp.water_kg;
        assert_near(left + ccpp.ccpp_mol_per_kg, w.total_mol_per_kg[TW_TOTAL_CA], 1e-14);
        const double alk = ccpp.at_calcite.strong_ion_alk_mol_per_kg * ccpp.water_kg;
        assert_near(alk + 2.0 * ccpp.ccpp_mol_per_kg, before.strong_ion_alk_mol_per_kg, 1e-13);
        const tw_speciation there = solve(&ccpp.water);
        assert_near(there.si_calcite, 0.0, 1e-9);
        assert_near(there.ph, ccpp.at_calcite.ph, 1e-9);
        assert_ok(tw_water_ccpp(&at, &ccpp.water, &again));
        assert_near(again.ccpp_mol_per_kg, 0.0, 1e-12);
    }
}

/* --------------------------------------------------------------------------- doses that undo each other */

static void chlorine_made_and_spent_leaves_no_trace(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 300; n++) {
        tw_water w = draw(&state);
        const tw_speciation before = solve(&w);
        const double *total = w.total_mol_per_kg, chloride = total[TW_TOTAL_CL], active = total[TW_TOTAL_ACTIVE_CHLORINE];
        tw_water_spend_chlorine(&w, -5e-5); /* atom for atom; both steps could be wrong by the same share */
        assert_near(total[TW_TOTAL_CL], chloride - 5e-5, 1e-17);
        assert_near(total[TW_TOTAL_ACTIVE_CHLORINE], active + 5e-5, 1e-17);
        assert_near(solve(&w).strong_ion_alk_mol_per_kg, before.strong_ion_alk_mol_per_kg + 5e-5, 1e-14);
        assert_true(solve(&w).ph > before.ph);
        tw_water_spend_chlorine(&w, 5e-5);
        const tw_speciation after = solve(&w);
        assert_near(total[TW_TOTAL_CL], chloride, 1e-17);
        assert_near(after.ph, before.ph, 1e-12);
        assert_near(after.strong_ion_alk_mol_per_kg, before.strong_ion_alk_mol_per_kg, 1e-15);
    }
}

/* Dichlor (NaCl2Cy) made and spent is cyanuric acid, hydrochloric acid and salt: H3Cy + HCl + NaCl. */
static void dichlor_spent_is_cyanuric_acid_and_hydrochloric_acid(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_water dichlor = draw(&state), parts = dichlor;
    const double x = 1e-4;
    dichlor.total_mol_per_kg[TW_TOTAL_NA] += x;
    dichlor.total_mol_per_kg[TW_TOTAL_CYANURATE] += x;
    dichlor.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] += 2.0 * x;
    tw_water_spend_chlorine(&dichlor, 2.0 * x);
    parts.total_mol_per_kg[TW_TOTAL_CYANURATE] += x;
    parts.total_mol_per_kg[TW_TOTAL_CL] += x;
    parts.total_mol_per_kg[TW_TOTAL_NA] += x;
    parts.total_mol_per_kg[TW_TOTAL_CL] += x;
    assert_near(solve(&dichlor).ph, solve(&parts).ph, 1e-11);
}

/* Bicarbonate and as much hydrochloric acid, then air, is salt, then air. */
static void bicarbonate_and_acid_then_air_is_salt(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_water both = draw(&state), salt = both;
    tw_speciation a, b;
    both.total_mol_per_kg[TW_TOTAL_NA] += 1e-3;
    both.total_mol_per_kg[TW_TOTAL_DIC] += 1e-3;
    both.total_mol_per_kg[TW_TOTAL_CL] += 1e-3;
    salt.total_mol_per_kg[TW_TOTAL_NA] += 1e-3;
    salt.total_mol_per_kg[TW_TOTAL_CL] += 1e-3;
    assert_true(solve(&both).ph < solve(&salt).ph);
    assert_ok(tw_water_equilibrate_co2(&at, &both, -3.38, &a));
    assert_ok(tw_water_equilibrate_co2(&at, &salt, -3.38, &b));
    assert_near(a.ph, b.ph, 1e-12);
}

/* Ten doses given in one order and in the other: totals only add, so the pH is the same. */
static void the_order_of_doses_does_not_matter(void **unused)
{
    (void)unused;
    static const struct {
        tw_total a, b;
        double mol;
    } doses[] = {{TW_TOTAL_NA, TW_TOTAL_CL, 7e-4},  {TW_TOTAL_NA, TW_TOTAL_DIC, 3e-4}, {TW_TOTAL_CL, TW_TOTAL_CL, 1e-4},
                 {TW_TOTAL_CA, TW_TOTAL_CL, 1e-4},  {TW_TOTAL_CL, TW_TOTAL_MG, 1e-4},  {TW_TOTAL_NA, TW_TOTAL_BORATE, 2e-4},
                 {TW_TOTAL_NA, TW_TOTAL_SO4, 2e-4}, {TW_TOTAL_CYANURATE, TW_TOTAL_NA, 1e-4},
                 {TW_TOTAL_NA, TW_TOTAL_ACTIVE_CHLORINE, 5e-5}, {TW_TOTAL_PHOSPHATE, TW_TOTAL_NA, 1e-5}};
    const int count = (int)(sizeof doses / sizeof *doses);
    uint64_t state = check_seed;
    for (int n = 0; n < 100; n++) {
        tw_water forth = draw(&state), back = forth;
        for (int i = 0; i < count; i++) {
            forth.total_mol_per_kg[doses[i].a] += doses[i].mol;
            forth.total_mol_per_kg[doses[i].b] += doses[i].mol;
            const int j = count - 1 - i;
            back.total_mol_per_kg[doses[j].a] += doses[j].mol;
            back.total_mol_per_kg[doses[j].b] += doses[j].mol;
            tw_speciation between; /* a solve between two doses leaves nothing behind */
            assert_ok(tw_water_speciate(&at, &forth, &between));
        }
        assert_near(solve(&forth).ph, solve(&back).ph, 1e-11);
    }
}

static void dilution_tends_to_pure_water(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    const tw_water w = draw(&state), pure = {.temp_k = 311.15};
    const double neutral = solve(&pure).ph;
    double gap = fabs(solve(&w).ph - neutral) + 2.0;
    for (double share = 1.0; share > 1e-9; share *= 0.1) {
        const tw_water mixed = tw_water_mix(&w, share, &pure, 1.0 - share);
        gap = solve(&mixed).ph - neutral;
    }
    assert_near(gap, 0.0, 1e-4);
}

static void mixing_keeps_mass(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    const tw_water a = draw(&state), b = draw(&state);
    const tw_water mixed = tw_water_mix(&a, 300.0, &b, 700.0);
    for (int i = 0; i < TW_TOTALS; i++)
        assert_near(mixed.total_mol_per_kg[i], 0.3 * a.total_mol_per_kg[i] + 0.7 * b.total_mol_per_kg[i], 1e-16);
    const double alk = 0.3 * solve(&a).strong_ion_alk_mol_per_kg + 0.7 * solve(&b).strong_ion_alk_mol_per_kg;
    assert_near(solve(&mixed).strong_ion_alk_mol_per_kg, alk, 1e-14);
}

/* ------------------------------------------------------------------------------------ alkalinity read */

/* As titrated: phosphate counts from H2PO4-; doubly chlorinated cyanurate keeps its charge; the rest is the same. */
static void the_titrated_alkalinity_has_its_own_zero_levels(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 200; n++) {
        const tw_water w = draw(&state);
        const tw_speciation sp = solve(&w);
        const double held = sp.mol_per_kg[TW_SPECIES_CL2CY] + sp.mol_per_kg[TW_SPECIES_HCL2CY];
        assert_near(sp.titrated_alk_mol_per_kg,
                    sp.strong_ion_alk_mol_per_kg - w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] - held, 1e-15);
        /* and back: from pH and the titrated alkalinity to the same carbon */
        const double *t = w.total_mol_per_kg;
        tw_tests read = {.temp_k = w.temp_k, .ph = sp.ph, .alk_mol_per_kg = sp.titrated_alk_mol_per_kg,
                         .alk_kind = TW_ALK_TITRATED, .calcium_mol_per_kg = t[TW_TOTAL_CA],
                         .magnesium_mol_per_kg = t[TW_TOTAL_MG], .sulfate_mol_per_kg = t[TW_TOTAL_SO4],
                         .potassium_mol_per_kg = t[TW_TOTAL_K], .boron_mol_per_kg = t[TW_TOTAL_BORATE],
                         .cyanurate_mol_per_kg = t[TW_TOTAL_CYANURATE],
                         .active_chlorine_mol_per_kg = t[TW_TOTAL_ACTIVE_CHLORINE],
                         .phosphate_mol_per_kg = t[TW_TOTAL_PHOSPHATE], .other_mol_per_kg = t[TW_TOTAL_OTHER],
                         .salt_mol_per_kg = t[TW_TOTAL_NA] < t[TW_TOTAL_CL] ? t[TW_TOTAL_NA] : t[TW_TOTAL_CL]};
        tw_water back;
        tw_speciation there;
        assert_ok(tw_water_from_tests(&at, &read, &back, &there));
        assert_near(there.ph, sp.ph, 1e-12);
        assert_near(back.total_mol_per_kg[TW_TOTAL_DIC], t[TW_TOTAL_DIC], 1e-11);
        assert_near(back.total_mol_per_kg[TW_TOTAL_NA], t[TW_TOTAL_NA], 1e-11);
        assert_near(back.total_mol_per_kg[TW_TOTAL_CL], t[TW_TOTAL_CL], 1e-11);
    }
}

static void carbon_for_a_ph_is_the_inverse_of_the_solve(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 200; n++) {
        const tw_water w = draw(&state);
        const tw_speciation sp = solve(&w);
        tw_water back = w;
        tw_speciation there;
        assert_ok(tw_water_dic_for_ph(&at, &back, sp.ph, &there));
        assert_near(back.total_mol_per_kg[TW_TOTAL_DIC], w.total_mol_per_kg[TW_TOTAL_DIC], 1e-11);
    }
}

/* Buffer intensity by the two-solve form against base poured in. */
static void buffer_intensity_is_base_over_ph(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 100; n++) {
        const tw_water w = draw(&state);
        double buffer = 0.0;
        assert_ok(tw_water_buffer_intensity(&at, &w, &buffer));
        tw_water more = w, less = w;
        more.total_mol_per_kg[TW_TOTAL_NA] += 1e-7;
        less.total_mol_per_kg[TW_TOTAL_NA] -= 1e-7;
        assert_near_rel(2e-7 / (solve(&more).ph - solve(&less).ph), buffer, 2e-4);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(species_add_up_to_the_totals_and_to_no_charge, constants),
        cmocka_unit_test(species_obey_mass_action),
        cmocka_unit_test(alkalinity_rises_with_ph),
        cmocka_unit_test(acid_lowers_ph_and_base_raises_it),
        cmocka_unit_test(co2_leaves_alkalinity_and_raises_ph_by_leaving),
        cmocka_unit_test(saturation_falls_as_calcite_falls_out),
        cmocka_unit_test(calcite_balance_holds),
        cmocka_unit_test(chlorine_made_and_spent_leaves_no_trace),
        cmocka_unit_test(dichlor_spent_is_cyanuric_acid_and_hydrochloric_acid),
        cmocka_unit_test(bicarbonate_and_acid_then_air_is_salt),
        cmocka_unit_test(the_order_of_doses_does_not_matter),
        cmocka_unit_test(dilution_tends_to_pure_water),
        cmocka_unit_test(mixing_keeps_mass),
        cmocka_unit_test(the_titrated_alkalinity_has_its_own_zero_levels),
        cmocka_unit_test(carbon_for_a_ph_is_the_inverse_of_the_solve),
        cmocka_unit_test(buffer_intensity_is_base_over_ph),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
