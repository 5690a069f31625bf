/* Water known as many possibilities: a member, the middle, how many they count for, the share of a risk. */
#include "support/check.h"

#include <math.h>

#include "num/normal.h"
#include "num/status.h"
#include "waters.h"

static unsigned char room[1u << 16];
static waters W;

static const kit KIT = {38, 7.5, 80, 60, 10, 500, 20};

/* n waters of one kind with the mass drawn at its quantiles: N(mean, sd). */
static void masses(const tw_water *one, size_t n, double mean, double sd)
{
    waters_clear(&W);
    for (size_t i = 0; i < n; i++)
        waters_add(&W, one, mean + sd * tw_normal_quantile(((double)i + 0.5) / (double)n));
}

/* A little under zero, as a Gaussian has it, is zero, and sodium keeps the alkalinity: by the charge of each. */
static void a_total_under_zero_is_none_and_keeps_the_alkalinity(void **state)
{
    (void)state;
    static const struct { int total; double charge; } IONS[] = {{TW_TOTAL_K, 1}, {TW_TOTAL_CA, 2}, {TW_TOTAL_MG, 2}, {TW_TOTAL_CL, -1},
        {TW_TOTAL_SO4, -2}, {TW_TOTAL_OTHER, -1}, {TW_TOTAL_CYANURATE, 0}, {TW_TOTAL_PHOSPHATE, 0}, {TW_TOTAL_ACTIVE_CHLORINE, 0}};
    const tw_water w = kit_water(KIT);
    for (size_t k = 0; k < sizeof IONS / sizeof *IONS; k++) {
        masses(&w, 3, 1000, 50);
        W.total[IONS[k].total][1] = -1e-6;
        const tw_water m = tw_dose_member(&W.view, 1), other = tw_dose_member(&W.view, 2);
        assert_near(m.total_mol_per_kg[IONS[k].total], 0.0, 0.0);
        assert_near(m.total_mol_per_kg[TW_TOTAL_NA], w.total_mol_per_kg[TW_TOTAL_NA] - 1e-6 * IONS[k].charge, 1e-18);
        assert_near(m.temp_k, w.temp_k, 0.0);
        for (int t = 0; t < TW_TOTALS; t++)
            assert_near(other.total_mol_per_kg[t], w.total_mol_per_kg[t], 0.0);
    }
}

/* Each total's median; the alkalinity that the members have in their middle, by the sodium; where that would be less than
 * none, by chloride. */
static void the_middle_is_of_medians_and_balances(void **state)
{
    (void)state;
    const tw_water a = kit_water(KIT), b = kit_water((kit){30, 7.8, 140, 200, 10, 900, 60}), c = kit_water((kit){34, 7.2, 100, 20, 10, 1400, 5});
    tw_water middle;
    double kg = 0.0;
    waters_clear(&W);
    waters_add(&W, &a, 900);
    waters_add(&W, &b, 1300);
    waters_add(&W, &c, 1000);
    assert_ok(tw_dose_middle(&W.view, room, sizeof room, &middle, &kg));
    assert_near(kg, 1000, 0);
    assert_near(middle.temp_k, c.temp_k, 0);
    assert_near(middle.total_mol_per_kg[TW_TOTAL_CL], b.total_mol_per_kg[TW_TOTAL_CL], 0);
    assert_near(middle.total_mol_per_kg[TW_TOTAL_CA], a.total_mol_per_kg[TW_TOTAL_CA], 0);
    assert_near(tw_water_strong_ion_alk_mol_per_kg(&middle), tw_water_strong_ion_alk_mol_per_kg(&c), 1e-15);
    /* 1, 4, 5 of weight: the middle is the third. */
    W.view.weight = W.weight;
    W.weight[0] = 1;
    W.weight[1] = 4;
    W.weight[2] = 9;
    assert_ok(tw_dose_middle(&W.view, room, sizeof room, &middle, &kg));
    assert_near(middle.total_mol_per_kg[TW_TOTAL_CL], c.total_mol_per_kg[TW_TOTAL_CL], 0);
    /* A median under zero is none, and sodium keeps the alkalinity. */
    W.view.weight = NULL;
    for (int i = 0; i < 3; i++) {
        W.total[TW_TOTAL_SO4][i] = -1e-6 * (i + 1);
        W.total[TW_TOTAL_PHOSPHATE][i] = -1e-7;
    }
    assert_ok(tw_dose_middle(&W.view, room, sizeof room, &middle, &kg));
    assert_near(middle.total_mol_per_kg[TW_TOTAL_SO4], 0.0, 0.0);
    assert_near(middle.total_mol_per_kg[TW_TOTAL_PHOSPHATE], 0.0, 0.0);
    double of_members[3];
    for (size_t i = 0; i < 3; i++) {
        const tw_water m = tw_dose_member(&W.view, i);
        of_members[i] = tw_water_strong_ion_alk_mol_per_kg(&m);
    }
    assert_true((of_members[2] > of_members[0]) != (of_members[2] > of_members[1])); /* the third is the middle one */
    assert_near(tw_water_strong_ion_alk_mol_per_kg(&middle), of_members[2], 1e-15);
    /* Hard water without sodium: members whose calcium and chloride go together, medians that do not. */
    waters_clear(&W);
    for (int i = 0; i < 3; i++) {
        tw_water hard = a;
        double *t = hard.total_mol_per_kg;
        t[TW_TOTAL_NA] = 0.0;
        t[TW_TOTAL_CA] = i == 0 ? 1e-3 : 3e-3;
        t[TW_TOTAL_CL] = i == 1 ? 2.5e-3 : 0.5e-3;
        t[TW_TOTAL_OTHER] = 2.0 * t[TW_TOTAL_CA] - t[TW_TOTAL_CL] > 1e-3 ? 2.0 * t[TW_TOTAL_CA] - t[TW_TOTAL_CL] - 1e-3 : 0.0;
        waters_add(&W, &hard, 1000);
    }
    double alk[3];
    for (size_t i = 0; i < 3; i++) {
        const tw_water m = tw_dose_member(&W.view, i);
        alk[i] = tw_water_strong_ion_alk_mol_per_kg(&m);
    }
    const double median = alk[0] + alk[1] + alk[2] - fmax(alk[0], fmax(alk[1], alk[2])) - fmin(alk[0], fmin(alk[1], alk[2]));
    assert_ok(tw_dose_middle(&W.view, room, sizeof room, &middle, &kg));
    assert_near(tw_water_strong_ion_alk_mol_per_kg(&middle), median, 1e-15);
    assert_true(middle.total_mol_per_kg[TW_TOTAL_NA] >= 0.0);
}

/* Kish 1965: (sum w)^2 / sum w^2; the one-sided 95 % bound of a share that so many members find. */
static void members_count_by_their_weights(void **state)
{
    (void)state;
    const tw_water w = kit_water(KIT);
    masses(&w, 50, 1000, 50);
    assert_near(tw_dose_effective(&W.view), 50, 1e-12);
    W.view.weight = W.weight;
    for (int i = 0; i < 50; i++)
        W.weight[i] = i % 2 ? 2.0 : 1.0;
    assert_near(tw_dose_effective(&W.view), 75.0 * 75.0 / 125.0, 1e-12);
    for (int i = 0; i < 50; i++)
        W.weight[i] = i == 20;
    assert_near(tw_dose_effective(&W.view), 1.0, 1e-12);
    assert_near(tw_dose_worked_at(0.05, 1000), 0.0387, 5e-5); /* computed: 1.645 sqrt(0.05 0.95/1000) = 0.0113 */
    assert_near(tw_dose_worked_at(0.3, 45), 0.3 - 1.645 * sqrt(0.3 * 0.7 / 45), 1e-15);
    assert_near(tw_dose_worked_at(0.001, 1000), 0.0, 0.0);
}

/* Masses do not move what stands in the water; salt at its quantiles has the quantiles of the normal law. */
static void quantiles_of_a_quantity(void **state)
{
    (void)state;
    const tw_water one = kit_water(KIT);
    double q[3];
    masses(&one, 200, 1200, 80);
    assert_ok(tw_dose_spread_of(&W.view, TW_OF_PH, room, sizeof room, q));
    for (int k = 0; k < 3; k++)
        assert_near(q[k], 7.5, 0.003);
    waters_clear(&W);
    for (int i = 0; i < 1000; i++) {
        tw_water w = one;
        const double more = 1e-3 * (1.0 + 0.1 * tw_normal_quantile((i + 0.5) / 1000));
        w.total_mol_per_kg[TW_TOTAL_CL] += more;
        w.total_mol_per_kg[TW_TOTAL_NA] += more;
        waters_add(&W, &w, 1000);
    }
    const double now = tw_dose_quantity(TW_OF_SALT, one.total_mol_per_kg, 1.0);
    assert_ok(tw_dose_spread_of(&W.view, TW_OF_SALT, room, sizeof room, q));
    for (int k = 0; k < 3; k++)
        assert_near(q[k], now + 58.4428 * (1.0 + 0.16449 * (k - 1)), 0.05);
    waters_clear(&W);
    waters_add(&W, &one, 1000); /* one alone is its own middle and edges */
    assert_ok(tw_dose_spread_of(&W.view, TW_OF_SALT, room, sizeof room, q));
    assert_near(q[0], now, 1e-9);
    assert_near(q[2], now, 1e-9);
    waters_clear(&W);
    for (int i = 0; i < 1000; i++) {
        tw_water w = one;
        w.total_mol_per_kg[TW_TOTAL_CL] += 2e-3 * (i == 999);
        w.total_mol_per_kg[TW_TOTAL_NA] += 2e-3 * (i == 999);
        waters_add(&W, &w, 1000);
    }
    W.view.weight = W.weight; /* all weight on one */
    for (int i = 0; i < 1000; i++)
        W.weight[i] = i == 999;
    assert_ok(tw_dose_spread_of(&W.view, TW_OF_SALT, room, sizeof room, q));
    assert_near(q[0], q[2], 0.0);
    assert_near(q[0], now + 2 * 58.4428, 0.01);
}

/* Acids frozen at the middle give the middle's pH as the full solver does, and the distance kept from a limit of pH. */
static void acids_are_frozen_at_the_middle(void **state)
{
    (void)state;
    const tw_water w = kit_water(KIT);
    tw_water middle;
    double kg;
    tw_reduced acids;
    masses(&w, 21, 1000, 50);
    assert_ok(tw_dose_frozen(&W.view, room, sizeof room, &middle, &kg, &acids));
    assert_near(tw_dose_value(&acids, TW_OF_PH, &middle, 1.0), ph_of_water(&w), 1e-9);
    assert_near(tw_dose_value(&acids, TW_OF_SALT, &middle, 1.0), tw_dose_quantity(TW_OF_SALT, w.total_mol_per_kg, 1.0), 0.0);
    assert_near(tw_dose_ph_gap(6.8), 0.003, 0.0);
    assert_near(tw_dose_ph_gap(7.8), 0.003, 0.0);
    assert_near(tw_dose_ph_gap(8.2), 0.003 + 0.4 * 0.027, 1e-12);
    assert_near(tw_dose_ph_gap(8.8), 0.030, 1e-12);
    assert_near(tw_dose_ph_gap(9.5), 0.030, 1e-12);
}

static void waters_that_are_none(void **state)
{
    (void)state;
    const tw_water w = kit_water(KIT);
    tw_water middle;
    double kg, q[3];
    tw_reduced acids;
    masses(&w, 10, 1200, 50);
    const size_t bytes = tw_dose_waters_bytes(10);
    assert_ok(tw_dose_middle(&W.view, room, bytes, &middle, &kg));
    assert_status(tw_dose_middle(&W.view, room, bytes - 1, &middle, &kg), TW_ERR_CAPACITY);
    double *const spoiled[] = {&W.kg[3], &W.temp[3], &W.total[TW_TOTAL_DIC][9], &W.weight[3]};
    W.view.weight = W.weight;
    for (size_t k = 0; k < sizeof spoiled / sizeof *spoiled; k++) {
        const double was = *spoiled[k];
        *spoiled[k] = nan("");
        assert_status(tw_dose_middle(&W.view, room, bytes, &middle, &kg), TW_ERR_RANGE);
        *spoiled[k] = was;
    }
    W.kg[0] = 0.0;
    assert_status(tw_dose_spread_of(&W.view, TW_OF_PH, room, bytes, q), TW_ERR_RANGE);
    W.kg[0] = 1200;
    W.weight[2] = -1.0;
    assert_status(tw_dose_frozen(&W.view, room, bytes, &middle, &kg, &acids), TW_ERR_RANGE);
    for (int i = 0; i < 10; i++)
        W.weight[i] = 0.0;
    assert_status(tw_dose_middle(&W.view, room, bytes, &middle, &kg), TW_ERR_RANGE);
    W.view.weight = NULL;
    W.view.solvent_kg_per_l = 0.0;
    assert_status(tw_dose_middle(&W.view, room, bytes, &middle, &kg), TW_ERR_RANGE);
    W.view.solvent_kg_per_l = 1.0;
    W.view.n = 0;
    assert_status(tw_dose_middle(&W.view, room, bytes, &middle, &kg), TW_ERR_RANGE);
    W.view.n = 10;
    for (int i = 0; i < 10; i++)
        W.temp[i] = 500.0;
    assert_status(tw_dose_frozen(&W.view, room, bytes, &middle, &kg, &acids), TW_ERR_RANGE);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_total_under_zero_is_none_and_keeps_the_alkalinity), cmocka_unit_test(the_middle_is_of_medians_and_balances),
        cmocka_unit_test(members_count_by_their_weights), cmocka_unit_test(quantiles_of_a_quantity),
        cmocka_unit_test(acids_are_frozen_at_the_middle), cmocka_unit_test(waters_that_are_none)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
