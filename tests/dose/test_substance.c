/* The rows of the table, their scaling and ageing. */
#include "support/check.h"

#include <math.h>

#include "dose/apply.h"
#include "dose/quantity.h"
#include "estimate/model.h"
#include "water/edge.h"

/* The sampler needs it as a constant; the table has it for all others. */
static void chlorine_weighs_the_same_everywhere(void **state)
{
    (void)state;
    assert_near(TW_MG_PER_MMOL_CL2, tw_water_molar[TW_MOLAR_CL2].g_per_mol, 0.0);
}

static const tw_substance *sub(tw_substance_id id)
{
    return &tw_dose_substances[id];
}

static void every_row_can_be_found(void **state)
{
    (void)state;
    for (int i = 0; i < TW_SUBSTANCES; i++)
        assert_ptr_equal(tw_dose_substance_find(tw_units_text(tw_dose_substances[i].id)), &tw_dose_substances[i]);
    assert_null(tw_dose_substance_find(tw_units_text("holy-water")));
    assert_int_equal(TW_SUBSTANCES, 36);
}

/* Alkalinity that a gram brings, meq (computed from atomic weights by a separate script). */
static void alkalinity_of_a_gram(void **state)
{
    (void)state;
    static const struct { tw_substance_id id; double meq; } rows[] = {
        {TW_SUBSTANCE_SODIUM_BICARBONATE, 11.90383}, {TW_SUBSTANCE_SODIUM_CARBONATE, 18.86998},
        {TW_SUBSTANCE_SODIUM_BISULFATE_93, -7.74611}, {TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, -8.62567},
        {TW_SUBSTANCE_SULFURIC_ACID_96, -19.57616}, {TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS, 0},
        {TW_SUBSTANCE_SODIUM_CHLORIDE, 0}, {TW_SUBSTANCE_DICHLOR_DIHYDRATE, 3.90661},
        {TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, 9.16194}, {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 1.50593},
        {TW_SUBSTANCE_CYANURIC_ACID, 0}, {TW_SUBSTANCE_BORIC_ACID, 0}, {TW_SUBSTANCE_BORAX_DECAHYDRATE, 5.24422},
        {TW_SUBSTANCE_SODIUM_SULFITE, -7.69580}, {TW_SUBSTANCE_SODIUM_THIOSULFATE_PENTAHYDRATE, -24.17560},
        {TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE, -8.07817}, {TW_SUBSTANCE_POTASSIUM_MONOPERSULFATE, -4.87992}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_near(tw_dose_alk_eq_per_g(sub(rows[i].id)) * 1e3, rows[i].meq, 2e-5);
    /* What brings no net charge brings none to the last digit. */
    assert_near(tw_dose_alk_eq_per_g(sub(TW_SUBSTANCE_SODIUM_CHLORIDE)), 0.0, 1e-18);
}

/* Who may pour: sulfuric acid and lye are for the calculator, strong hydrochloric acid for the trained. */
static void who_may_pour(void **state)
{
    (void)state;
    for (int i = 0; i < TW_SUBSTANCES; i++) {
        const tw_substance *s = &tw_dose_substances[i];
        tw_who want = TW_WHO_ANYONE;
        if (!strncmp(s->id, "sulfuric", 8) || !strncmp(s->id, "sodium-hydroxide", 16))
            want = TW_WHO_CALCULATOR;
        if (!strncmp(s->id, "hydrochloric", 12) && s->assay_mass_fraction > 0.15)
            want = TW_WHO_TRAINED;
        assert_int_equal(s->who, want);
    }
}

/* A gram brings no more than a gram: every row as it is, none beyond what its formula can hold. */
static void no_product_is_heavier_than_itself(void **state)
{
    (void)state;
    for (int i = 0; i < TW_SUBSTANCES; i++) {
        const tw_substance *s = &tw_dose_substances[i];
        assert_true(tw_dose_substance_holds(s));
        const tw_substance more = tw_dose_substance_of_strength(s, 2.6);
        assert_false(tw_dose_substance_holds(&more));
    }
    const struct { tw_substance_id like; double strength; int holds; } CASES[] = {
        {TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, 0.37, 1}, {TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, 1.04, 0},
        {TW_SUBSTANCE_SODIUM_CHLORIDE, 1.0, 1}, {TW_SUBSTANCE_SODIUM_CHLORIDE, 1.002, 0},
        {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0.15, 1}, {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0.75, 0}, /* its salt weighs too */
        {TW_SUBSTANCE_DICHLOR_DIHYDRATE, 0.98, 1}, {TW_SUBSTANCE_DICHLOR_ANHYDROUS, 1.003, 0},
        {TW_SUBSTANCE_POTASSIUM_MONOPERSULFATE, 1.0, 1}, {TW_SUBSTANCE_POTASSIUM_MONOPERSULFATE, 1.07, 0},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS, 1.0, 1}, {TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS, 1.002, 0},
        {TW_SUBSTANCE_MAGNESIUM_SULFATE_HEPTAHYDRATE, 2.0, 1}, {TW_SUBSTANCE_MAGNESIUM_SULFATE_HEPTAHYDRATE, 2.06, 0},
        {TW_SUBSTANCE_SODIUM_SULFITE, 1.0, 1}, {TW_SUBSTANCE_SODIUM_SULFITE, 1.002, 0}};
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        const tw_substance s = tw_dose_substance_of_strength(sub(CASES[i].like), CASES[i].strength);
        assert_int_equal(tw_dose_substance_holds(&s), CASES[i].holds);
    }
    tw_substance odd = *sub(TW_SUBSTANCE_SODIUM_CHLORIDE);
    odd.total_mol_per_g[TW_TOTAL_PHOSPHATE] = (double)NAN;
    assert_false(tw_dose_substance_holds(&odd));
}

static void another_strength_scales_everything(void **state)
{
    (void)state;
    const tw_substance *like = sub(TW_SUBSTANCE_SODIUM_BISULFATE_93);
    const tw_substance weak = tw_dose_substance_of_strength(like, 0.465);
    for (int t = 0; t < TW_TOTALS; t++)
        assert_near_rel(weak.total_mol_per_g[t], 0.5 * like->total_mol_per_g[t], 1e-14);
    assert_near(weak.assay_mass_fraction, 0.465, 1e-15);
    const tw_substance same = tw_dose_substance_of_strength(like, 0.0);
    assert_near(same.total_mol_per_g[TW_TOTAL_NA], like->total_mol_per_g[TW_TOTAL_NA], 0.0);
    /* 80 g/L of available chlorine: 12.5 mL in a cubic metre for 1 mg/L. */
    const tw_substance hypo = tw_dose_substance_of_available(sub(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120), 80);
    const double g = 1000.0 / tw_dose_quantity(TW_OF_CHLORINE, hypo.total_mol_per_g, 1.0);
    assert_near(g / hypo.density_kg_per_l, 12.5, 0.01);
}

/* What boxes say (reference/chlorine.md 3: available chlorine, as sold; reference/dosing.csv: densities): "12 %" is 120 g/L,
 * "56 %" of dichlor and "70 %" of calcium hypochlorite what is available, "99 %" of dichlor the substance. */
static void the_percent_on_a_box(void **state)
{
    (void)state;
    const struct { tw_substance_id like; double on_box, mg_per_g, per_l; } CASES[] = {
        {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0.12, 0.0, 120.0}, {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0.05, 0.0, 50.0},
        {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_50, 0.125, 0.0, 125.0},
        {TW_SUBSTANCE_DICHLOR_DIHYDRATE, 0.56, 560.0, 0.0}, {TW_SUBSTANCE_DICHLOR_DIHYDRATE, 0.99, 0.99 * 2e3 * 70.906 / 255.977, 0.0},
        {TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, 0.7, 700.0, 0.0}};
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        const tw_substance s = tw_dose_substance_of_strength(sub(CASES[i].like), CASES[i].on_box);
        const double mg_per_g = 70.906e3 * s.total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE];
        assert_near_rel(CASES[i].per_l > 0.0 ? mg_per_g * s.density_kg_per_l : mg_per_g, CASES[i].per_l + CASES[i].mg_per_g, 1e-3);
    }
    /* 100 mL of 10 % hydrochloric acid are 104.7 g, whatever row it is written as: 10.47 g of HCl. */
    const tw_substance acid = tw_dose_substance_of_strength(sub(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45), 0.1);
    assert_near_rel(100.0 * acid.density_kg_per_l * acid.total_mol_per_g[TW_TOTAL_CL] * 36.4609, 10.47, 1e-3);
}

/* Old hypochlorite: weaker, saltier, as alkaline once spent; known less well. */
static void hypochlorite_ages(void **state)
{
    (void)state;
    const tw_substance *fresh = sub(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120);
    const tw_substance old = tw_dose_substance_aged(fresh, 3.0);
    const double a = fresh->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE], b = old.total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE];
    assert_near_rel(b, a * pow(1 - fresh->loss_per_month, 3), 1e-12);
    assert_near_rel(b + old.total_mol_per_g[TW_TOTAL_CL], a + fresh->total_mol_per_g[TW_TOTAL_CL], 1e-14);
    assert_near(tw_dose_alk_eq_per_g(&old) - b, tw_dose_alk_eq_per_g(fresh) - a, 1e-17);
    assert_true(old.assay_sd_ln > fresh->assay_sd_ln);
    const tw_substance twice = tw_dose_substance_aged(&old, 0.0);
    assert_near(twice.total_mol_per_g[TW_TOTAL_CL], old.total_mol_per_g[TW_TOTAL_CL], 0.0);
    const tw_substance salt = tw_dose_substance_aged(sub(TW_SUBSTANCE_SODIUM_CHLORIDE), 60);
    assert_near(salt.total_mol_per_g[TW_TOTAL_CL], sub(TW_SUBSTANCE_SODIUM_CHLORIDE)->total_mol_per_g[TW_TOTAL_CL], 0.0);
}

static void what_a_person_measures(void **state)
{
    (void)state;
    assert_near(tw_dose_measure_g(sub(TW_SUBSTANCE_SODIUM_BICARBONATE)), 1.0, 0.0);
    assert_near(tw_dose_measure_g(sub(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45)), 5 * 1.157, 1e-12);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_can_be_found), cmocka_unit_test(alkalinity_of_a_gram), cmocka_unit_test(who_may_pour),
        cmocka_unit_test(no_product_is_heavier_than_itself), cmocka_unit_test(chlorine_weighs_the_same_everywhere),
        cmocka_unit_test(another_strength_scales_everything), cmocka_unit_test(the_percent_on_a_box),
        cmocka_unit_test(hypochlorite_ages),
        cmocka_unit_test(what_a_person_measures)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
