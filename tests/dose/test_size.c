/* Grams in one known water: the full solver against published and independently computed figures.
 * Carbonate figures: computed with an independent geochemistry code's constants, checked (tolerance 2 %);
 * stoichiometry from IUPAC atomic weights, computed. */
#include "support/check.h"

#include "dose/size.h"
#include "num/status.h"
#include "waters.h"

static const tw_substance *sub(tw_substance_id id)
{
    return &tw_dose_substances[id];
}

static double grams_to(const tw_water *w, double kg, tw_substance_id id, tw_quantity_of_water of, double target)
{
    double grams = -1.0;
    assert_ok(tw_dose_grams_to(w, kg, sub(id), of, target, 1.0, &grams));
    return grams;
}

/* Closed water at 38 C: 3.41 mg/L of alkalinity, 8.80 g/m3 of bisulfate 93 %. */
static void trim_of_7_8_to_7_4_at_alkalinity_80(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.8, 80, 100, 10, 2000, 30});
    const double grams = grams_to(&w, 1000, TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_OF_PH, 7.4);
    assert_near_rel(grams, 8.80, 0.02);
    const tw_water after = tw_dose_apply(w, 1000, sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), grams);
    assert_near(ph_of_water(&after), 7.4, 1e-9);
    assert_near_rel(tw_dose_quantity(TW_OF_ALKALINITY, w.total_mol_per_kg, 1.0) -
                        tw_dose_quantity(TW_OF_ALKALINITY, after.total_mol_per_kg, 1.0), 3.41, 0.02);
}

static void trims_at_alkalinity_100_and_120(void **state)
{
    (void)state;
    static const struct { double ta, from, want; } rows[] = {{100, 8.0, 5.69}, {120, 8.2, 8.48}};
    for (size_t i = 0; i < 2; i++) {
        const tw_water w = kit_water((kit){38, rows[i].from, rows[i].ta, 100, 10, 2000, 30});
        const double grams = grams_to(&w, 1000, TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, TW_OF_PH, 7.4);
        assert_near_rel(grams * -tw_dose_alk_eq_per_g(sub(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45)) * 100086.9 / 2 / 1000,
                        rows[i].want, 0.02);
    }
}

/* Hard well water, 38 C, -40/-80/-120/-155 mg/L by HCl without air: 6.859/6.498/6.206/5.943. */
static void the_closed_ladder_falls_through_the_floor(void **state)
{
    (void)state;
    static const double cut[] = {40, 80, 120, 155}, want[] = {6.859, 6.498, 6.206, 5.943};
    const tw_water w = kit_water((kit){38, 7.6, 235, 280, 20, 50, 20});
    for (size_t i = 0; i < 4; i++) {
        const double grams = grams_to(&w, 1130, TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, TW_OF_ALKALINITY, 235 - cut[i]);
        const tw_water after = tw_dose_apply(w, 1130, sub(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45), grams);
        assert_near(ph_of_water(&after), want[i], 0.01);
    }
}

/* 235 -> 80 in 1,130 L by 31.45 % acid: 350.7 mL, salt + 181 mg/L. */
static void acid_cut_and_its_chloride(void **state)
{
    (void)state;
    const tw_substance *acid = sub(TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45);
    const tw_water w = kit_water((kit){38, 7.6, 235, 280, 20, 50, 20});
    const double grams = grams_to(&w, 1130, TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45, TW_OF_ALKALINITY, 80);
    assert_near_rel(grams / acid->density_kg_per_l, 350.7, 0.005);
    const tw_water after = tw_dose_apply(w, 1130, acid, grams);
    assert_near_rel(tw_dose_quantity(TW_OF_SALT, after.total_mol_per_kg, 1.0) -
                        tw_dose_quantity(TW_OF_SALT, w.total_mol_per_kg, 1.0), 181.0, 0.005);
}

/* +10 mg/L free chlorine by dichlor: cyanuric acid +9.10; once spent alkalinity -3.53, chloride +5.00. */
static void dichlor_ledger(void **state)
{
    (void)state;
    tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 2000, 30});
    const double grams = grams_to(&w, 1000, TW_SUBSTANCE_DICHLOR_DIHYDRATE, TW_OF_CHLORINE, 10);
    assert_near_rel(grams, 18.05, 0.002);
    const tw_water dosed = tw_dose_apply(w, 1000, sub(TW_SUBSTANCE_DICHLOR_DIHYDRATE), grams);
    assert_near_rel(tw_dose_quantity(TW_OF_CYANURATE, dosed.total_mol_per_kg, 1.0), 9.10, 0.005);
    const tw_water spent = tw_dose_spend_chlorine(dosed, 1.0);
    assert_near_rel(tw_dose_quantity(TW_OF_ALKALINITY, spent.total_mol_per_kg, 1.0) - 80.0, -3.53, 0.005);
    assert_near_rel((spent.total_mol_per_kg[TW_TOTAL_CL] - w.total_mol_per_kg[TW_TOTAL_CL]) * 35453, 5.00, 0.005);
}

/* +10 mg/L by calcium hypochlorite: calcium hardness +7.06, alkalinity 0 once spent (lime is not in the row). */
static void calcium_hypochlorite_ledger(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 2000, 30});
    const double grams = grams_to(&w, 1000, TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, TW_OF_CHLORINE, 10);
    const tw_water dosed = tw_dose_apply(w, 1000, sub(TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65), grams);
    assert_near_rel(tw_dose_quantity(TW_OF_CALCIUM, dosed.total_mol_per_kg, 1.0) - 60.0, 7.06, 0.005);
    const tw_water spent = tw_dose_spend_chlorine(dosed, 1.0);
    assert_near(tw_dose_quantity(TW_OF_ALKALINITY, spent.total_mol_per_kg, 1.0), 80.0, 1e-9);
}

/* 3.1 mg/L phosphate in 1,130 L: 13.70 g of lanthanum chloride; in practice one and a half times: 20.5. */
static void lanthanum_for_phosphate(void **state)
{
    (void)state;
    tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 50, 30});
    w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_PO4, 3.1, 1.0);
    const double grams = grams_to(&w, 1130, TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE, TW_OF_PHOSPHATE, 0.0);
    assert_near_rel(grams, 13.70, 0.002);
    assert_near(grams * TW_DOSE_LANTHANUM_PRACTICE, 20.5, 0.1);
}

/* Main effects, g in a cubic metre for 1 mg/L (stoichiometry, published table of atomic weights). */
static void grams_for_one_mg_per_litre(void **state)
{
    (void)state;
    static const struct { tw_substance_id id; tw_quantity_of_water of; double g, tol; } rows[] = {
        {TW_SUBSTANCE_SODIUM_BICARBONATE, TW_OF_ALKALINITY, 1.6787, 1e-4},
        {TW_SUBSTANCE_SODIUM_CARBONATE, TW_OF_ALKALINITY, 1.0590, 1e-4},
        {TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_OF_ALKALINITY, 2.5797, 1e-4},
        {TW_SUBSTANCE_SULFURIC_ACID_37_4, TW_OF_ALKALINITY, 2.6201, 1e-4},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, TW_OF_CALCIUM, 1.4689, 1e-4},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS, TW_OF_CALCIUM, 1.1797, 1e-4},
        {TW_SUBSTANCE_SODIUM_CHLORIDE, TW_OF_SALT, 1.0050, 1e-4},
        {TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, TW_OF_CHLORINE, 9.8333, 1e-4},
        {TW_SUBSTANCE_CYANURIC_ACID, TW_OF_CYANURATE, 1.0101, 1e-4},
        {TW_SUBSTANCE_SODIUM_SULFITE, TW_OF_CHLORINE, 1.8326, 1e-4},
        {TW_SUBSTANCE_SODIUM_THIOSULFATE_PENTAHYDRATE, TW_OF_CHLORINE, 0.8750, 1e-4},
        {TW_SUBSTANCE_HYDROGEN_PEROXIDE_3, TW_OF_CHLORINE, 15.9905, 1e-4},
        {TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE, TW_OF_PHOSPHATE, 3.9104, 1e-4}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_near_rel(tw_dose_grams_for_change(1000, sub(rows[i].id), rows[i].of, 1.0, 1.0), rows[i].g, rows[i].tol);
}

/* What each does beside its job, mg/L for 10 g (10 mL of liquids) in a cubic metre. */
static void side_effects_of_ten_grams(void **state)
{
    (void)state;
    static const struct { tw_substance_id id; double fc, cya, ch, ta, cl, so4; } rows[] = {
        {TW_SUBSTANCE_SODIUM_BICARBONATE, 0, 0, 0, 5.957, 0, 0},
        {TW_SUBSTANCE_SODIUM_CARBONATE, 0, 0, 0, 9.443, 0, 0},
        {TW_SUBSTANCE_SODIUM_BISULFATE_93, 0, 0, 0, -3.876, 0, 7.44},
        {TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 0, 0, 6.808, 0, 4.823, 0},
        {TW_SUBSTANCE_SODIUM_CHLORIDE, 0, 0, 0, 0, 6.036, 0},
        {TW_SUBSTANCE_DICHLOR_DIHYDRATE, 5.540, 5.042, 0, -1.955, 2.770, 0},
        {TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, 6.496, 0, 4.585, 0, 3.248, 0},
        {TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE, 0, 0, 0, -4.043, 2.864, 0},
        {TW_SUBSTANCE_SODIUM_SULFITE, -5.457, 0, 0, -3.851, 2.728, 7.393}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 500, 30});
        w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 1e-3;
        w.total_mol_per_kg[TW_TOTAL_PHOSPHATE] = 1e-3;
        const tw_water dosed = tw_dose_apply(w, 1000, sub(rows[i].id), 10.0);
        const double fc = tw_dose_quantity(TW_OF_CHLORINE, dosed.total_mol_per_kg, 1.0) -
                          tw_dose_quantity(TW_OF_CHLORINE, w.total_mol_per_kg, 1.0);
        const tw_water after = fc > 0.0 ? tw_dose_spend_chlorine(dosed, fc / 70906) : dosed;
        assert_near(fc, rows[i].fc, 0.002);
        assert_near(after.total_mol_per_kg[TW_TOTAL_CYANURATE] * 129074.2, rows[i].cya, 0.002);
        assert_near(tw_dose_quantity(TW_OF_CALCIUM, after.total_mol_per_kg, 1.0) - 60.0, rows[i].ch, 0.002);
        assert_near(tw_dose_quantity(TW_OF_ALKALINITY, after.total_mol_per_kg, 1.0) - 80.0, rows[i].ta, 0.003);
        assert_near((after.total_mol_per_kg[TW_TOTAL_CL] - w.total_mol_per_kg[TW_TOTAL_CL]) * 35453, rows[i].cl, 0.002);
        assert_near((after.total_mol_per_kg[TW_TOTAL_SO4] - w.total_mol_per_kg[TW_TOTAL_SO4]) * 96062.6, rows[i].so4, 0.01);
    }
}

/* 280 -> 100 by water without hardness: 0.643 of the fill; 203 g of CaCO3 for 1,130 L. */
static void blending_and_resin(void **state)
{
    (void)state;
    double f = 0.0;
    assert_ok(tw_dose_blend_fraction(280, 0, 100, &f));
    assert_near(f, 0.643, 0.0005);
    assert_near(tw_dose_resin_g_caco3(280, 0, f, 1130), 203.4, 0.1);
    assert_near(tw_dose_g_from_grains(1000), 64.8, 0.01);
    assert_ok(tw_dose_blend_fraction(80, 0, 100, &f));
    assert_near(f, 0.0, 0.0);
    assert_status(tw_dose_blend_fraction(280, 120, 100, &f), TW_ERR_NO_ROOT);
}

/* 2,440 -> 2,000 mg/L of salt by water without: 18 % of it. The exchange itself lands there. */
static void swapping_water(void **state)
{
    (void)state;
    double f = 0.0;
    assert_ok(tw_dose_swap_fraction(2440, 0, 2000, &f));
    assert_near(f, 0.180, 0.0005);
    const tw_water salt = kit_water((kit){38, 7.5, 80, 60, 10, 2440, 0}), soft = kit_water((kit){12, 7.5, 80, 60, 10, 10, 0});
    const double now = tw_dose_quantity(TW_OF_SALT, salt.total_mol_per_kg, 1.0);
    const double fill = tw_dose_quantity(TW_OF_SALT, soft.total_mol_per_kg, 1.0);
    assert_ok(tw_dose_swap_fraction(now, fill, 2000, &f));
    const tw_water after = tw_dose_exchange(salt, &soft, f);
    assert_near(tw_dose_quantity(TW_OF_SALT, after.total_mol_per_kg, 1.0), 2000, 1e-9);
    assert_status(tw_dose_swap_fraction(1000, 10, 2000, &f), TW_ERR_NO_ROOT);
}

/* 1,130 L from 10 to 38 C at 2.76 kW: 36.6 to 36.8 kWh, 13.3 h. */
static void heating(void **state)
{
    (void)state;
    double hours = 0.0, kwh = 0.0;
    assert_ok(tw_dose_heat_hours(1130, 28, 3, 0.92, 0, &hours, &kwh));
    assert_near(kwh, 36.8, 0.1);
    assert_near(hours, 13.3, 0.2);
    assert_status(tw_dose_heat_hours(1130, 28, 0.2, 1, 0.3, &hours, &kwh), TW_ERR_NO_ROOT);
}

static void a_pad_takes_its_time(void **state)
{
    (void)state;
    double hours = 0.0, grams = 0.0;
    assert_ok(tw_dose_pad_hours(280, 30, 100, 24, 1130, &hours, &grams));
    assert_near(hours, 24 * 1.2729657, 1e-5);
    assert_near(grams, 203.4, 1e-9);
    assert_status(tw_dose_pad_hours(280, 120, 100, 24, 1130, &hours, &grams), TW_ERR_NO_ROOT);
}

/* A dose to the target and what cannot reach it. */
static void no_amount_is_a_status(void **state)
{
    (void)state;
    double g = -1.0;
    tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 2000, 30});
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_CALCIUM, 100, 1, &g), TW_ERR_UNKNOWN);
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_BICARBONATE), TW_OF_PH, 9.5, 1, &g), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), TW_OF_PH, 7.8, 1, &g));
    assert_near(g, 0.0, 0.0); /* acid does not raise pH: it is past the target */
    w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = 1e-5;
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_SULFITE), TW_OF_ALKALINITY, 60, 1, &g), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_SULFITE), TW_OF_CHLORINE, 0, 1, &g));
    assert_near(g, 1e-5 * 1000 / 7.6958e-3, 1e-5);
}

/* Any target between, by any product that moves pH, from any water: the full solver stands there, and a gram less or more does
 * not; the other quantities by their own sums. */
static void grams_lead_to_the_target(void **state)
{
    (void)state;
    static const tw_substance_id IDS[] = {TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, TW_SUBSTANCE_SODIUM_CARBONATE,
        TW_SUBSTANCE_SODIUM_HYDROXIDE, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, TW_SUBSTANCE_BORAX_DECAHYDRATE};
    uint64_t s = check_seed + 31;
    for (int k = 0; k < 120; k++) {
        const tw_substance *one = sub(IDS[k % 6]);
        const double start = check_uniform(&s, 6.9, 8.0), kg = check_uniform(&s, 300, 2500), by = check_uniform(&s, 0.02, 0.6);
        tw_water w = kit_water((kit){check_uniform(&s, 10, 39), start, check_uniform(&s, 40, 220), 100, 10, check_uniform(&s, 50, 2500), 30});
        w.total_mol_per_kg[TW_TOTAL_CYANURATE] = k % 3 ? 0.0 : 2e-4;
        w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] = k % 3 ? 0.0 : 5e-5;
        const double from = ph_of_water(&w), target = k % 6 < 2 ? from - by : from + by;
        double g = -1.0, back = -1.0;
        const tw_status status = tw_dose_grams_to(&w, kg, one, TW_OF_PH, target, 1.0, &g);
        if (status == TW_ERR_NO_ROOT)
            continue; /* hypochlorite or borax may never come so far */
        assert_ok(status);
        tw_water after = tw_dose_apply(w, kg, one, g);
        assert_near(ph_of_water(&after), target, 1e-9);
        assert_ok(tw_dose_grams_to(&w, 2.0 * kg, one, TW_OF_PH, target, 1.0, &back));
        assert_near_rel(back, 2.0 * g, 1e-7);
        assert_ok(tw_dose_grams_to(&w, kg, one, TW_OF_PH, k % 6 < 2 ? from + by : from - by, 1.0, &back));
        assert_near(back, 0.0, 0.0); /* it moves away from there */
    }
    const tw_water w = kit_water((kit){38, 7.5, 80, 60, 10, 2000, 30});
    double g = -1.0;
    assert_ok(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), TW_OF_PH, ph_of_water(&w), 1.0, &g));
    assert_near(g, 0.0, 1e-9);
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_SULFITE), TW_OF_PH, 7.2, 1.0, &g), TW_ERR_UNKNOWN);
    assert_status(tw_dose_grams_to(&w, 0.0, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, 3000, 1.0, &g), TW_ERR_RANGE);
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, 3000, 0.0, &g), TW_ERR_RANGE);
    /* 20 g in a kg is no dose: 20 kg of salt in 1,000 kg bring 19.9 g/L. */
    const double now = tw_dose_quantity(TW_OF_SALT, w.total_mol_per_kg, 1.0), most = tw_dose_quantity(TW_OF_SALT, sub(TW_SUBSTANCE_SODIUM_CHLORIDE)->total_mol_per_g, 1.0) * 20.0;
    assert_ok(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, now + 0.999 * most, 1.0, &g));
    assert_near_rel(g, 19980, 1e-9);
    assert_status(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, now + 1.001 * most, 1.0, &g), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_grams_to(&w, 1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, now - 5.0, 1.0, &g));
    assert_near(g, 0.0, 0.0);
    assert_near(tw_dose_grams_for_change(1000, sub(TW_SUBSTANCE_SODIUM_BISULFATE_93), TW_OF_CYANURATE, 10, 1.0), 0.0, 0.0);
    assert_near_rel(tw_dose_grams_for_change(1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, -10, 1.0),
                    tw_dose_grams_for_change(1000, sub(TW_SUBSTANCE_SODIUM_CHLORIDE), TW_OF_SALT, 10, 1.0), 0.0);
}

/* The edges of the balances: nothing to do is nothing, what is never reached says so. */
static void balances_at_their_edges(void **state)
{
    (void)state;
    double f = -1.0, hours = -1.0, kwh = -1.0, g = -1.0;
    assert_ok(tw_dose_blend_fraction(100, 0, 100, &f));
    assert_near(f, 0.0, 0.0);
    assert_status(tw_dose_blend_fraction(280, 100, 100, &f), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_blend_fraction(280, 20, 100, &f)); /* 20 of the softener, 280 past it: 100 = 280 - 260 f */
    assert_near(f, 180.0 / 260.0, 1e-12);
    assert_near(tw_dose_resin_g_caco3(280, 20, 0.5, 1000), 130.0, 1e-12);
    assert_near(tw_dose_g_from_grains(1), 0.06479891, 1e-12); /* international grain, exact */
    assert_ok(tw_dose_swap_fraction(2000, 2000, 2000, &f));
    assert_near(f, 0.0, 0.0);
    assert_status(tw_dose_swap_fraction(2440, 2440, 2000, &f), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_swap_fraction(2440, 2000, 2000, &f)); /* all of it */
    assert_near(f, 1.0, 0.0);
    assert_status(tw_dose_swap_fraction(2440, 2001, 2000, &f), TW_ERR_NO_ROOT);
    assert_status(tw_dose_swap_fraction(2000, 0, 2440, &f), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_swap_fraction(20, 120, 70, &f)); /* upwards too */
    assert_near(f, 0.5, 1e-12);
    assert_ok(tw_dose_heat_hours(1000, 0, 0, 1, 0, &hours, &kwh));
    assert_near(hours, 0.0, 0.0);
    assert_near(kwh, 0.0, 0.0);
    assert_ok(tw_dose_heat_hours(1000, 10, 2, 0.9, 0.3, &hours, &kwh)); /* 4.187 kJ/(kg K): 11.63 kWh at 1.5 kW */
    assert_near(kwh, 11.6306, 1e-4);
    assert_near(hours, 11.6306 / 1.5, 1e-4);
    assert_status(tw_dose_heat_hours(1000, 10, 1, 1, 1, &hours, &kwh), TW_ERR_NO_ROOT);
    assert_ok(tw_dose_pad_hours(100, 30, 100, 24, 1000, &hours, &g));
    assert_near(hours, 0.0, 0.0);
    assert_near(g, 0.0, 0.0);
    assert_status(tw_dose_pad_hours(280, 100, 100, 24, 1000, &hours, &g), TW_ERR_NO_ROOT);
    assert_status(tw_dose_pad_hours(280, 30, 100, 0, 1000, &hours, &g), TW_ERR_NO_ROOT);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trim_of_7_8_to_7_4_at_alkalinity_80), cmocka_unit_test(trims_at_alkalinity_100_and_120),
        cmocka_unit_test(the_closed_ladder_falls_through_the_floor), cmocka_unit_test(acid_cut_and_its_chloride),
        cmocka_unit_test(dichlor_ledger), cmocka_unit_test(calcium_hypochlorite_ledger),
        cmocka_unit_test(lanthanum_for_phosphate), cmocka_unit_test(grams_for_one_mg_per_litre),
        cmocka_unit_test(side_effects_of_ten_grams), cmocka_unit_test(blending_and_resin),
        cmocka_unit_test(swapping_water), cmocka_unit_test(heating), cmocka_unit_test(a_pad_takes_its_time),
        cmocka_unit_test(no_amount_is_a_status), cmocka_unit_test(grams_lead_to_the_target), cmocka_unit_test(balances_at_their_edges)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
