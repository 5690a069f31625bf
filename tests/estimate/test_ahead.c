/* tests/estimate/test_ahead.c: the last day of a water by each rule, the cell's end, the duty for a planned use:
 * closed forms, and published examples of the trade's rules. */
#include "support/check.h"

#include "estimate/cell.h"
#include "estimate/drain.h"
#include "estimate/use.h"
#include "plain.h"

static unsigned char work[1 << 20];

static tw_drain_facts young_water(void)
{
    const tw_drain_facts f = {.age_days = 0.0, .seen_days = 30.0, .bathers_per_day = -1.0, .combined_mg_per_l = 0.2};
    return f;
}

static tw_drain drain(const tw_belief *b, const tw_drain_facts *f)
{
    tw_drain d;
    assert_int_equal(tw_estimate_drain(b, f, work, sizeof work, &d), TW_OK);
    return d;
}

/* Four guests twice a day in 1,130 L: 1130/(11.36*8) = 12.43 days; a let house's week comes first. */
static void bathers_share_the_water_and_the_week_binds_a_let_house(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1130.0, 4.0, 4.0, 0.015, 0.15);
    tw_drain_facts f = young_water();
    f.bathers_per_day = 8.0;
    tw_drain d = drain(&b, &f);
    assert_int_equal(d.rule[TW_DRAIN_BATHERS].state, TW_DRAIN_DATED);
    assert_near(d.rule[TW_DRAIN_BATHERS].days.q50, 12.43, 0.01);
    assert_int_equal(d.rule[TW_DRAIN_BUSINESS].state, TW_DRAIN_NOT_ASKED);
    assert_int_equal(d.first, TW_DRAIN_BATHERS);
    assert_near(d.rule[TW_DRAIN_BATHERS].p_first, 1.0, 1e-12);
    f.business = 1;
    d = drain(&b, &f);
    assert_near(d.days.q50, 7.0, 1e-12);
    assert_int_equal(d.first, TW_DRAIN_BUSINESS);
    f.age_days = 7.5;
    d = drain(&b, &f);
    assert_int_equal(d.rule[TW_DRAIN_BUSINESS].state, TW_DRAIN_DUE);
    assert_near(d.rule[TW_DRAIN_BATHERS].days.q50, 4.93, 0.01);
}

/* 300 g in 1,000 L, 20 g a day more: 60 days to 1,500 mg/L; from four additions the pace is known within a factor
 * exp(1.645/2). */
static void what_is_poured_adds_up_to_the_limit(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 4.0, 4.0, 0.015, 0.15);
    tw_drain_facts f = young_water();
    f.solids_g = 300.0;
    f.solids_g_per_day = 20.0;
    tw_drain d = drain(&b, &f);
    assert_near(d.rule[TW_DRAIN_SOLIDS].days.q50, 60.0, 1e-9);
    f.solids_acts = 4.0;
    d = drain(&b, &f);
    const tw_spread *s = &d.rule[TW_DRAIN_SOLIDS].days;
    assert_near(log(s->q95 / s->q05), 2.0 * 1.645 * 0.5, 0.35);
    f.solids_g = 1600.0;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_SOLIDS].state, TW_DRAIN_DUE);
    f.seen_days = 1.0;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_SOLIDS].state, TW_DRAIN_NOT_KNOWN);
}

/* 10 mg/L of cyanuric acid and 2 mg/L a day by dichlor: ten days to 30. */
static void cyanuric_acid_grows_to_its_cap(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 4.0, 4.0, 0.015, 0.15);
    for (int i = 0; i < 64; i++)
        b.total[TW_TOTAL_CYANURATE][i] = 10.0 / 129074.2;
    tw_drain_facts f = young_water();
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_CYANURATE].state, TW_DRAIN_NOT_SEEN);
    f.cyanurate_g_per_day = 2.0;
    assert_near(drain(&b, &f).rule[TW_DRAIN_CYANURATE].days.q50, 10.0, 1e-6);
    /* The first doses of a water are no rate. */
    f.seen_days = 0.3;
    f.cyanurate_g_per_day = 60.0;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_CYANURATE].state, TW_DRAIN_NOT_KNOWN);
    assert_int_not_equal(drain(&b, &f).first, TW_DRAIN_CYANURATE);
    f = young_water();
    f.cyanurate_g_per_day = 2.0;
    /* Never read, and over the cap in every fourth possible tub. */
    for (int i = 0; i < 64; i += 4)
        b.total[TW_TOTAL_CYANURATE][i] = 40.0 / 129074.2;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_CYANURATE].state, TW_DRAIN_NOT_KNOWN);
}

static void age_and_what_nobody_wrote(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 4.0, 4.0, 0.015, 0.15);
    tw_drain_facts f = young_water();
    f.age_days = 50.0;
    tw_drain d = drain(&b, &f);
    assert_true(d.rule[TW_DRAIN_AGE].days.q05 >= 41.0 && d.rule[TW_DRAIN_AGE].days.q95 <= 72.0);
    assert_int_equal(d.rule[TW_DRAIN_COMBINED].state, TW_DRAIN_NOT_SEEN);
    f.combined_mg_per_l = 0.8;
    f.oxidations = 1;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_COMBINED].state, TW_DRAIN_NOT_KNOWN);
    f.oxidations = 2;
    assert_int_equal(drain(&b, &f).rule[TW_DRAIN_COMBINED].state, TW_DRAIN_DUE);
    f.age_days = -1.0;
    f.combined_mg_per_l = -1.0;
    d = drain(&b, &f);
    assert_int_equal(d.rule[TW_DRAIN_AGE].state, TW_DRAIN_NOT_KNOWN);
    assert_int_equal(d.rule[TW_DRAIN_COMBINED].state, TW_DRAIN_NOT_KNOWN);
    assert_int_equal(d.rule[TW_DRAIN_BATHERS].state, TW_DRAIN_NOT_KNOWN);
}

/* Output falls along a line from 0.15 to 0.07 g/h in 118 days; 0.065 g/h is needed: day 125.4. Levels of 14 days each,
 * known to 0.005 g/h; what the members say is the last of them. */
static tw_cell cell_at(double day, double fall_per_day)
{
    tw_cell_level level[TW_CELL_LEVELS];
    size_t n = 0;
    double last = day - 7.0;
    const double first = last - 14.0 * (TW_CELL_LEVELS - 1) > 7.0 ? last - 14.0 * (TW_CELL_LEVELS - 1) : 7.0;
    for (double at = first; at <= last + 1e-9 && n < TW_CELL_LEVELS; at += 14.0) {
        level[n].day = at - day;
        level[n].g_per_h = 0.15 - fall_per_day * at;
        level[n++].sd_g_per_h = 0.005;
    }
    const double here = level[n - 1].g_per_h;
    tw_belief b = plain_belief(1000.0, 4.0, 4.0, 0.065 / 3.0, 0.15);
    for (int i = 0; i < 64; i++)
        b.column[TW_COLUMN_CELL_FACTOR][i] = (here + 0.005 * (-1.6 + 3.2 * (double)i / 63.0)) / 0.15;
    const tw_cell_need need = {0.0, 3.0};
    tw_cell c;
    assert_int_equal(tw_estimate_cell(&b, level, n, &need, work, sizeof work, &c), TW_OK);
    assert_near(c.need_q90_g_per_h, 0.065, 1e-9);
    return c;
}

static void a_falling_cell_is_flagged_ten_days_before(void **state)
{
    (void)state;
    const double fall = (0.15 - 0.07) / 118.0;
    int flagged = 0;
    for (double day = 21.0; day <= 116.0 && !flagged; day += 1.0)
        if (cell_at(day, fall).flagged)
            flagged = (int)day;
    print_message("# flagged on day %d\n", flagged);
    assert_true(flagged >= 60 && flagged <= 116);
    const tw_cell c = cell_at(116.0, fall);
    assert_int_equal(c.flagged, 1);
    assert_near(116.0 + c.days.q50, 125.4, 4.0);
    assert_true(c.days.q05 < 9.4 && c.days.q95 > 9.4);
    assert_true(c.fall_learned > 0.8);
    assert_near(c.fall_pct_per_week, 700.0 * fall / 0.15, 0.5);
    /* A cell that does not fall is not flagged. */
    for (double day = 30.0; day <= 116.0; day += 4.0)
        assert_int_equal(cell_at(day, 0.0).flagged, 0);
}

static void without_levels_the_fall_is_the_prior(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 4.0, 4.0, 0.015, 0.15);
    tw_cell_need need = {0.0, 3.0};
    tw_cell c;
    assert_int_equal(tw_estimate_cell(&b, NULL, 0, &need, work, sizeof work, &c), TW_OK);
    assert_near(c.fall_learned, 0.0, 1e-6);
    assert_int_equal(c.flagged, 0);
    /* 6 g an hour of bathing; two hours a day are 0.5 g/h: more than the plate. */
    for (int i = 0; i < 64; i++)
        b.column[TW_COLUMN_BATHER_G_PER_H][i] = 6.0;
    need.person_h_per_day = 2.0;
    assert_int_equal(tw_estimate_cell(&b, NULL, 0, &need, work, sizeof work, &c), TW_OK);
    assert_int_equal(c.beyond_plate, 1);
    assert_near(c.booked_q90_g_per_h, 0.5 + 0.045, 1e-9);
    assert_near(c.need_q90_g_per_h, 0.045, 1e-9);
}

/* From 3.0 mg/L, loss 0.015 1/h, 1,000 L, 0.2 g/h: the floor of 3 is kept by 3*0.015*1000/0.2/1000 = 22.5 %; a bather
 * who takes 1 mg/L more at hour 24 is paid for by what was made before. */
static void the_least_duty_for_a_planned_use(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 3.0, 3.0, 0.015, 0.2);
    tw_schedule plan = tw_estimate_schedule_same(&b);
    tw_use u;
    assert_int_equal(tw_estimate_use(&b, &plan, 72, 3.0, 5.0, work, sizeof work, &u), TW_OK);
    assert_near(u.lowest, 0.23, 1e-9);
    /* 5 mg/L after 72 h: 5 = 3 e + (u*0.2/0.015)(1-e), e = exp(-1.08). */
    const double e = exp(-1.08), most = (5.0 - 3.0 * e) * 0.015 / 0.2 / (1.0 - e);
    assert_near(u.highest, floor(100.0 * most) / 100.0, 1e-9);
    for (int i = 0; i < 64; i++) {
        b.column[TW_COLUMN_BATHER_G_PER_H][i] = 1.0;
        b.column[TW_COLUMN_DEMAND_RATE][i] = 50.0; /* at once */
    }
    plan.bathers = 1;
    plan.bather[0].hour = 24;
    plan.bather[0].person_h = 1.0;
    assert_int_equal(tw_estimate_use(&b, &plan, 36, 3.0, 5.0, work, sizeof work, &u), TW_OK);
    /* Just before: 3 e + (u/0.075)(1 - e) with e = exp(-0.36); less 1 it must be 3, an hour later. */
    const double f = exp(-0.375), need = (3.0 + exp(-0.015) * 1.0 - 3.0 * f) * 0.075 / (1.0 - f);
    assert_near(u.lowest, ceil(100.0 * need) / 100.0, 0.0101);
    plan.bather[0].person_h = 8.0;
    assert_int_equal(tw_estimate_use(&b, &plan, 36, 3.0, 5.0, work, sizeof work, &u), TW_OK);
    assert_true(u.lowest > 1.0 && u.p_lowest < 0.01);
    assert_int_equal(tw_estimate_use(&b, &plan, 0, 3.0, 5.0, work, sizeof work, &u), TW_ERR_RANGE);
    assert_int_equal(tw_estimate_use(&b, &plan, 36, 3.0, 5.0, work, 100, &u), TW_ERR_CAPACITY);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bathers_share_the_water_and_the_week_binds_a_let_house),
        cmocka_unit_test(what_is_poured_adds_up_to_the_limit),
        cmocka_unit_test(cyanuric_acid_grows_to_its_cap),
        cmocka_unit_test(age_and_what_nobody_wrote),
        cmocka_unit_test(a_falling_cell_is_flagged_ten_days_before),
        cmocka_unit_test(without_levels_the_fall_is_the_prior),
        cmocka_unit_test(the_least_duty_for_a_planned_use),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
