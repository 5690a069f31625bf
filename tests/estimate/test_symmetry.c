/* tests/estimate/test_symmetry.c: what may not change when something else does. Where the same bits are claimed,
 * it is because every number only grows by a power of two, or because the set of entries is the same. */
#include "support/check.h"

#include "book_lines.h"
#include "estimate/forecast.h"
#include "estimate/held.h"
#include "plain.h"

static unsigned char work[1 << 20];

/* ---- twice the tub, twice the cell, twice all grams: through the search, the chains, the members, the forecast */

/* The volume's prior is a plain normal here: a logarithm of two volumes would differ by ln 2 only to rounding. */
static tw_problem *tub_of(double size)
{
    tw_problem *p = plain_start(150.0);
    p->prior[TW_X_WATER] = (tw_prior){1200.0 * size, 120.0 * size, TW_PRIOR_PLAIN};
    p->plate_output_g_per_h = 0.15 * size;
    p->film_from_h = p->days_from_h = 30.0;
    p->biases = 1;
    p->bias_sd[0] = 0.15;
    p->products = 1;
    p->product_sd[0] = 0.08;
    const double at[5] = {0, 14, 16, 34, 100}, duty[5] = {0, 0, 0, 1, 0.5};
    for (int i = 0; i < 5; i++) {
        tw_setting_event *s = plain_setting(p, at[i], duty[i]);
        s->jets = i == 1 ? 0.5 : 0.02;
        s->temp_c = i == 0 ? 12.0 : 38.0;
    }
    for (int i = 0; i < 3; i++) {
        tw_dose_event *d = plain_chlorine(p, 30.0 + 45.0 * i, (i == 2 ? -1000.0 : 6000.0) * size);
        d->product = i == 2 ? -1 : 0;
        d->amount_sd = i == 1 ? 0.2 : 0.0;
        d->demand_mg = i == 1 ? 300.0 * size : 0.0;
    }
    tw_dose_event *salt = plain_chlorine(p, 15.0, 0.0);
    salt->mmol[TW_TOTAL_CL] = salt->mmol[TW_TOTAL_NA] = 34000.0 * size;
    salt->solid_salt = 1;
    tw_dose_event *acid = plain_chlorine(p, 14.0, 0.0);
    acid->mmol[TW_TOTAL_CL] = 900.0 * size;
    acid->alk_meq = -900.0 * size;
    p->exchanges = 1;
    p->exchange[0].at_h = 90.0;
    p->exchange[0].out_kg = 100.0 * size;
    p->exchange[0].in_kg = 110.0 * size;
    p->bathers = 1;
    p->bather[0].at_h = 60.0;
    p->bather[0].person_h = 2.0 * size;
    plain_value(p, 1.0, TW_OBSERVED_WATER, 1250.0 * size, 80.0 * size)->span = 4000.0 * size;
    plain_value(p, 10.0, TW_OBSERVED_ALKALINITY, 2.4, 0.2);
    plain_value(p, 20.0, TW_OBSERVED_CONDUCTIVITY, 3300.0, 60.0)->span = 8000.0;
    plain_value(p, 28.0, TW_OBSERVED_PH, 7.6, 0.1);
    for (int i = 0; i < 8; i++) {
        tw_reading *r = plain_value(p, 31.0 + 14.0 * i, TW_OBSERVED_FREE_CHLORINE, log(4.0 + 0.3 * (i % 3)), 0.2);
        r->link = TW_LINK_LN;
        r->bias = i % 2 ? 0 : -1;
        r->rubbish = 0.02;
    }
    return p;
}

/* By how much a column grows with the tub. */
static double grows(int column)
{
    return column == TW_COLUMN_WATER_KG || column == TW_COLUMN_OUTPUT_G_PER_H || column == TW_COLUMN_UNDISSOLVED_G ? 2.0 : 1.0;
}

static void twice_the_tub_twice_the_cell_twice_the_grams_is_the_same_to_the_bit(void **state)
{
    (void)state;
    static tw_fan one, two;
    static double kept[TW_COLUMNS + TW_TOTALS][256];
    const tw_estimate_options quick = tw_estimate_options_quick();
    tw_belief b;
    assert_int_equal(plain_sample(tub_of(1.0), 5, &quick, &b), TW_OK);
    for (int c = 0; c < TW_COLUMNS; c++)
        memcpy(kept[c], b.column[c], sizeof kept[c]);
    for (int t = 0; t < TW_TOTALS; t++)
        memcpy(kept[TW_COLUMNS + t], b.total[t], sizeof kept[t]);
    tw_schedule plan = tw_estimate_schedule_same(&b);
    plan.doses = plan.bathers = 1;
    plan.dose[0] = (tw_planned_dose){6, 2000.0, 28.0, 0.0};
    plan.bather[0] = (tw_planned_bathers){20, 2.0};
    assert_int_equal(tw_estimate_forecast(&b, &plan, 96, work, sizeof work, &one), TW_OK);
    const double acceptance = b.acceptance, floor_ln = b.log_evidence_floor;
    assert_int_equal(plain_sample(tub_of(2.0), 5, &quick, &b), TW_OK);
    assert_int_equal(b.n, 256u);
    assert_same_bits(b.acceptance, acceptance);
    assert_same_bits(b.log_evidence_floor, floor_ln);
    for (size_t i = 0; i < b.n; i++) {
        for (int c = 0; c < TW_COLUMNS; c++)
            assert_same_bits(b.column[c][i], grows(c) * kept[c][i]);
        for (int t = 0; t < TW_TOTALS; t++)
            assert_same_bits(b.total[t][i], kept[TW_COLUMNS + t][i]);
    }
    plan.dose[0].chlorine_mg *= 2.0;
    plan.dose[0].alk_meq *= 2.0;
    plan.bather[0].person_h *= 2.0;
    assert_int_equal(tw_estimate_forecast(&b, &plan, 96, work, sizeof work, &two), TW_OK);
    assert_memory_equal(one.digest, two.digest, sizeof one.digest);
    /* And the comparison can fail: another size is another water. */
    assert_int_equal(plain_sample(tub_of(1.5), 5, &quick, &b), TW_OK);
    size_t other = 0;
    for (size_t i = 0; i < b.n; i++)
        other += fabs(b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] - kept[TW_COLUMN_CHLORINE_MG_PER_KG][i]) > 0.0;
    assert_true(other > 0);
}

/* Without any loss chlorine only adds up: one hour at full duty is two at half of it. */
static void without_loss_two_half_hours_are_one_full_hour_in_the_fold(void **state)
{
    (void)state;
    const tw_prior none = {0.0, 0.0, TW_PRIOR_PLAIN};
    const tw_estimate_options few = {8, 1, 1, 4, 0.5, NULL};
    double chlorine[2];
    for (int halves = 0; halves < 2; halves++) {
        tw_problem *p = plain_start(6.0);
        tw_belief b;
        plain_clean(p);
        p->prior[TW_X_WATER] = (tw_prior){1000.0, 0.0, TW_PRIOR_PLAIN};
        p->prior[TW_X_LOSS] = p->prior[TW_X_FILM] = p->prior[TW_X_INFLOW] = p->prior[TW_X_DEMAND0] = none;
        p->prior[TW_X_CHLORINE0] = (tw_prior){1.0, 0.0, TW_PRIOR_PLAIN};
        p->day_sd = 0.0;
        p->days_from_h = 6.0;
        plain_setting(p, 0.0, 0.0);
        plain_setting(p, 2.0, halves ? 0.5 : 1.0);
        plain_setting(p, halves ? 4.0 : 3.0, 0.0);
        assert_int_equal(plain_sample(p, 9, &few, &b), TW_OK);
        chlorine[halves] = b.column[TW_COLUMN_CHLORINE_MG_PER_KG][0];
        assert_near(chlorine[halves], 1.0 + b.column[TW_COLUMN_OUTPUT_G_PER_H][0], 1e-13);
    }
    assert_near(chlorine[1], chlorine[0], 1e-15);
}

/* ---- through the logbook */

static double middle_of(const double *v, size_t n)
{
    static double scratch[1024];
    return tw_estimate_spread(v, n, scratch).q50;
}

/* Made chlorine a litre: what readings alone can tell, mg/L/h. */
static double made_per_litre(const tw_belief *b)
{
    static double v[1024];
    for (size_t i = 0; i < b->n; i++)
        v[i] = 1e3 * b->column[TW_COLUMN_OUTPUT_G_PER_H][i] / b->column[TW_COLUMN_WATER_KG][i];
    return middle_of(v, b->n);
}

static const char *write_number(double x, int decimals)
{
    static char text[32];
    (void)snprintf(text, sizeof text, "%.*f", decimals, x);
    return text;
}

#define OFF_H 96.0

/* A tub in care: generator off for four days, on for four days; loss 0.02 1/h, 0.13 g/h in 1,000 L. */
static double chlorine_of_the_tub(double hours)
{
    const double k = 0.02, level = 0.13 / k, low = 8.0 * exp(-OFF_H * k);
    return hours < OFF_H ? 8.0 * exp(-k * hours) : level + (low - level) * exp(-k * (hours - OFF_H));
}

static const double SCALE[16] = {0.8, 0.95, 1.1, 1.3, 1.55, 1.8, 2.1, 2.5, 2.9, 3.4, 4, 4.7, 5.5, 6.5, 7.7, 9};

static void tub_in_care(const char *volume, const char *plate)
{
    char members[200];
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Fern\",\"start\":\"care\"");
    if (plate[0]) {
        (void)snprintf(members, sizeof members, "\"cell_output\":\"%s\",\"cell_output_unit\":\"g/h\"", plate);
        lines_add("plate", 0, members);
    }
    (void)snprintf(members, sizeof members, "\"volume\":\"%s\",\"volume_unit\":\"L\",\"method\":\"meter\"", volume);
    lines_add("volume", 0, members);
    lines_add("setting", 0.1, "\"what\":\"temperature\",\"value\":\"38\",\"unit\":\"Cel\"");
    lines_add("setting", 0.1, "\"what\":\"generator\",\"state\":\"off\"");
    lines_add("setting", OFF_H, "\"what\":\"generator\",\"state\":\"on\"");
    lines_add("setting", OFF_H, "\"what\":\"duty\",\"value\":\"100\",\"unit\":\"pct\"");
}

/* Sixty-four strips of one bottle over eight days on a fine scale, noise of 0.1 in ln, all `times` too high. */
static void strips_of_one_bottle(uint64_t seed, double times)
{
    char more[128];
    const char *id = lines_add("definition", 0.2,
                               "\"defines\":\"strip-scale\",\"name\":\"fine\",\"analyte\":\"free-chlorine\",\"unit\":\"mg/L\",\"blocks\":"
                               "\"0.8 0.95 1.1 1.3 1.55 1.8 2.1 2.5 2.9 3.4 4 4.7 5.5 6.5 7.7 9\"");
    (void)snprintf(more, sizeof more, "\"scale\":\"%s\",\"lot\":\"A\"", id);
    for (int i = 0; i < 64; i++) {
        const double hours = 0.5 + 3.0 * i;
        double noise = 0.0;
        for (int k = 0; k < 12; k++)
            noise += check_uniform(&seed, -0.5, 0.5);
        const double seen = chlorine_of_the_tub(hours) * times * exp(0.1 * noise);
        int block = 0;
        while (block < 15 && seen > sqrt(SCALE[block] * SCALE[block + 1]))
            block++;
        lines_reading(hours, "free-chlorine", write_number(SCALE[block], 2), "mg/L", "strip", more);
    }
}

/* A bottle that reads 15 % high cannot be told from a better cell: its shift (sd 0.15) and ln output (sd 0.2 to 0.25
 * about the plate) share the 0.14 by their variances, so made per litre rises by half of it to three quarters. Loss is
 * a slope of ln and stays. Over seeds of the noise the mean difference of eight pairs scatters by 0.011 (medians of
 * 256 members, and strips that fall on other blocks): the bound of the loss is nearly four of these. */
static void a_bottle_that_reads_high_moves_output_not_loss(void **state)
{
    (void)state;
    const tw_estimate_options quick = tw_estimate_options_quick();
    double d_loss = 0.0, d_made = 0.0;
    const int pairs = 8;
    for (int k = 0; k < pairs; k++) {
        double loss[2], made[2];
        for (int high = 0; high < 2; high++) {
            tub_in_care("1000", "0.13");
            strips_of_one_bottle(check_seed + 1000 * (uint64_t)k, high ? 1.15 : 1.0);
            const tw_belief b = lines_fold(lines_book(NULL), 192.0, &quick);
            loss[high] = middle_of(b.column[TW_COLUMN_LOSS_38_PER_H], b.n);
            made[high] = made_per_litre(&b);
        }
        d_loss += log(loss[1] / loss[0]) / pairs;
        d_made += log(made[1] / made[0]) / pairs;
    }
    print_message("# bottle 15 %% high: made per litre %+.3f, loss %+.3f (of ln)\n", d_made, d_loss);
    assert_true(fabs(d_loss) < 0.04);
    assert_true(d_made > 0.04 && d_made < 0.14);
}

/* Nothing that was read speaks of litres: said to be 10 % larger, the tub has the same loss, the same made per litre, the
 * same duty for a level and the same hours; only grams grow. No plate, so that the cell may be larger too. */
static void a_wrong_volume_moves_no_ratio(void **state)
{
    (void)state;
    double seen[2][5];
    for (int wrong = 0; wrong < 2; wrong++) {
        tub_in_care(wrong ? "1100" : "1000", "");
        for (int i = 0; i < 32; i++)
            lines_reading(0.5 + 6.0 * i, "free-chlorine", write_number(floor(chlorine_of_the_tub(0.5 + 6.0 * i) * 5.0 + 0.5) / 5.0, 1), "mg/L",
                          "drops", "\"step\":\"0.2\"");
        const tw_belief b = lines_fold(lines_book(NULL), 192.0, NULL);
        tw_duty d;
        assert_int_equal(tw_estimate_duty(&b, 4.0, 3.0, 0.0, 38.0, work, sizeof work, &d), TW_OK);
        const double row[5] = {middle_of(b.column[TW_COLUMN_LOSS_38_PER_H], b.n), made_per_litre(&b), d.for_target.q50,
                               tw_estimate_hours_to(&b, 1.0).q50, tw_estimate_column(&b, TW_COLUMN_OUTPUT_G_PER_H).q50};
        memcpy(seen[wrong], row, sizeof row);
    }
    print_message("# volume 10 %% wrong: loss %+.3f, made per litre %+.3f, duty %+.3f, hours to 1 mg/L %+.3f; grams an hour %+.3f (of ln)\n",
                  log(seen[1][0] / seen[0][0]), log(seen[1][1] / seen[0][1]), log(seen[1][2] / seen[0][2]), log(seen[1][3] / seen[0][3]),
                  log(seen[1][4] / seen[0][4]));
    for (int i = 0; i < 4; i++)
        assert_near(log(seen[1][i] / seen[0][i]), 0.0, 0.03);
    assert_near(log(seen[1][4] / seen[0][4]), log(1.1), 0.03);
}

static void a_reading_taken_back_and_written_again_is_as_never_taken_back(void **state)
{
    (void)state;
    const tw_estimate_options quick = tw_estimate_options_quick();
    uint8_t digest[32];
    double kept[256];
    for (int again = 0; again < 2; again++) {
        tub_in_care("1000", "0.13");
        for (int i = 0; i < 8; i++)
            lines_reading(1.0 + 8.0 * i, "free-chlorine", write_number(floor(chlorine_of_the_tub(1.0 + 8.0 * i) * 5.0 + 0.5) / 5.0, 1), "mg/L", "drops",
                          "\"step\":\"0.2\"");
        const char *id = lines_reading(70.0, "free-chlorine", "2.2", "mg/L", "drops", "\"step\":\"0.2\"");
        if (again) {
            char target[80];
            (void)snprintf(target, sizeof target, "\"target\":\"%s\"", id);
            lines_add("void", 71.0, target);
            const tw_belief without = lines_fold(lines_book(NULL), 72.0, &quick);
            assert_memory_not_equal(digest, without.digest, sizeof digest); /* it mattered */
            lines_reading(70.0, "free-chlorine", "2.2", "mg/L", "drops", "\"step\":\"0.2\"");
        }
        const tw_belief b = lines_fold(lines_book(NULL), 72.0, &quick);
        if (again) {
            assert_memory_equal(kept, b.column[TW_COLUMN_CHLORINE_MG_PER_KG], sizeof kept);
            assert_memory_equal(digest, b.digest, sizeof digest);
        }
        memcpy(kept, b.column[TW_COLUMN_CHLORINE_MG_PER_KG], sizeof kept);
        memcpy(digest, b.digest, sizeof digest);
    }
}

/* Six readings and a dose of one minute, arriving in any order, in two halves or the last one late. */
static void entries_of_one_minute_may_arrive_in_any_order(void **state)
{
    (void)state;
    const tw_estimate_options quick = tw_estimate_options_quick();
    tub_in_care("1000", "0.13");
    const size_t first = lines_count;
    lines_reading(30, "free-chlorine", "4.0", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_reading(30, "free-chlorine", "3", "mg/L", "strip", "\"lot\":\"A\"");
    lines_add("addition", 30, "\"substance\":\"sodium-hypochlorite-120\",\"amount\":\"10\",\"amount_unit\":\"mL\",\"measured\":\"jug\"");
    lines_reading(30, "ph", "7.4", "pH", "photometer", "");
    lines_reading(30, "free-chlorine", "5", "mg/L", "strip", "\"lot\":\"B\"");
    lines_reading(30, "total-alkalinity", "80", "mg/L", "drops", "");
    lines_reading(30, "conductivity", "3960", "uS/cm", "meter", "\"serial\":\"m1\"");
    const size_t last = lines_count;
    uint8_t digest[32];
    size_t order[LINES_MAX];
    uint64_t random = check_seed;
    for (int round = 0; round < 8; round++) {
        for (size_t i = 0; i < lines_count; i++)
            order[i] = i;
        for (size_t i = last - 1; round > 0 && i > first; i--) {
            const size_t j = first + (size_t)(random_bits(&random) % (uint64_t)(i - first + 1)), other = order[i];
            order[i] = order[j];
            order[j] = other;
        }
        if (round == 6) /* the last one first, as from another book */
            for (size_t i = 0; i < lines_count; i++)
                order[i] = (i + lines_count - 1) % lines_count;
        if (round == 7) /* the second half, then the first */
            for (size_t i = 0; i < lines_count; i++)
                order[i] = (i + lines_count / 2) % lines_count;
        const tw_belief b = lines_fold(lines_book(order), 40.0, &quick);
        if (round == 0)
            memcpy(digest, b.digest, sizeof digest);
        assert_memory_equal(digest, b.digest, sizeof digest);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(twice_the_tub_twice_the_cell_twice_the_grams_is_the_same_to_the_bit),
        cmocka_unit_test(without_loss_two_half_hours_are_one_full_hour_in_the_fold),
        cmocka_unit_test(a_bottle_that_reads_high_moves_output_not_loss),
        cmocka_unit_test(a_wrong_volume_moves_no_ratio),
        cmocka_unit_test(a_reading_taken_back_and_written_again_is_as_never_taken_back),
        cmocka_unit_test(entries_of_one_minute_may_arrive_in_any_order),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(plain_memory);
    free(lines_book_memory);
    free(lines_fold_memory);
    return failed;
}
