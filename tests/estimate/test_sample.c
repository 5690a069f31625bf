/* tests/estimate/test_sample.c: the sampler where the answer is known in closed form, and its laws. */
#include "support/check.h"

#include "estimate/held.h"
#include "plain.h"

static double mean_of(const double *v, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    return sum / (double)n;
}

static double sd_of(const double *v, size_t n)
{
    const double m = mean_of(v, n);
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (v[i] - m) * (v[i] - m);
    return sqrt(sum / (double)n);
}

/* Volume known to 12 %, 2,000 g of salt raise the salt by 1.62 +- 0.05 g/L. In ln V the rise has the
 * curvature (1.62/0.05)^2 = 32.4^2 = 1,050 and the prior 69: V 1,235.5 L, sd 3.0 % (statistics). */
static void volume_from_a_salt_rise(void **state)
{
    (void)state;
    tw_problem *p = plain_start(10.0);
    tw_belief b;
    plain_ln(p, TW_X_WATER, 1250.0, 0.12);
    plain_fix(p, TW_X_CHLORIDE, 1e-6);
    plain_setting(p, 0.0, 0.0);
    tw_dose_event *d = plain_chlorine(p, 1.0, 0.0);
    d->mmol[TW_TOTAL_CL] = d->mmol[TW_TOTAL_NA] = 2000.0 / 58.443 * 1e3;
    plain_value(p, 5.0, TW_OBSERVED_CHLORIDE, 1.62e3 / 58.443, 0.05e3 / 58.443);
    assert_int_equal(plain_sample(p, 1, NULL, &b), TW_OK);
    const double *v = b.column[TW_COLUMN_WATER_KG];
    assert_near(mean_of(v, b.n), 1235.5, 0.15 * 37.0);
    assert_near(sd_of(v, b.n), 37.0, 3.5);
    assert_true(b.learned[TW_KNOWN_WATER] > 0.9);
}

/* Invented blocks 1 2 4 8 16, one "4" seen, nothing else known of ln C: P(C >= 3) = 0.809. */
static void strips_are_intervals_and_a_bottle_shares_its_bias(void **state)
{
    (void)state;
    for (int strips = 1; strips <= 3; strips += 2) {
        tw_problem *p = plain_start(0.01);
        tw_belief b;
        plain_clean(p);
        plain_fix(p, TW_X_LOSS, 1e-6);
        plain_ln(p, TW_X_CHLORINE0, 4.0, 3.0);
        plain_setting(p, 0.0, 0.0);
        p->biases = 1;
        p->bias_sd[0] = strips == 1 ? 1e-9 : 0.15;
        for (int i = 0; i < strips; i++) {
            tw_reading *r = plain_reading(p, 0.01, TW_OBSERVED_FREE_CHLORINE);
            r->form = TW_FORM_INTERVAL;
            r->link = TW_LINK_LN;
            r->low = log(sqrt(8.0));
            r->high = log(sqrt(32.0));
            r->sd = 0.25;
            r->bias = 0;
            r->rubbish = 1e-6;
        }
        assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
        const double p3 = 1.0 - tw_estimate_below(&b, TW_COLUMN_CHLORINE_MG_PER_KG, 3.0);
        assert_near(p3, strips == 1 ? 0.809 : 0.878, 0.025);
    }
}

/* 2.50 to 2.16 mg/L in 12 h without generator, drops of sd 0.1: k 0.0122, sd 0.0051. */
static void loss_from_an_off_pair(void **state)
{
    (void)state;
    tw_problem *p = plain_start(12.0);
    tw_belief b;
    plain_clean(p);
    p->film_from_h = 100.0; /* nobody does anything unwritten: that begins with the first chlorine */
    plain_ln(p, TW_X_CHLORINE0, 2.5, 1.0);
    plain_setting(p, 0.0, 0.0);
    p->prior[TW_X_LOSS].kind = TW_PRIOR_PLAIN; /* flat: the pair alone speaks */
    p->prior[TW_X_LOSS].middle = 0.02;
    p->prior[TW_X_LOSS].sd = 0.05;
    plain_value(p, 0.0, TW_OBSERVED_FREE_CHLORINE, 2.50, 0.1);
    plain_value(p, 12.0, TW_OBSERVED_FREE_CHLORINE, 2.16, 0.1);
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    const double *k = b.column[TW_COLUMN_LOSS_38_PER_H];
    assert_near(mean_of(k, b.n), 0.0122, 0.0006);
    assert_near(sd_of(k, b.n), 0.0051, 0.0005);
}

/* The cabin: off 2.50 to 2.16, on 2.50 to 2.38 and to 2.28, plate 0.16 g/h: it is the production. After the first half day
 * somebody may have used the rest up and not written it (once in a fortnight, as seldom as a cell so weak). */
static void weak_or_thirsty(double now_h, tw_held *h, double *output)
{
    tw_problem *p = plain_start(now_h);
    tw_belief b;
    plain_ln(p, TW_X_WATER, 1020.0, 0.03);
    plain_ln(p, TW_X_CHLORINE0, 2.5, 0.5);
    p->prior[TW_X_FILM].middle = 0.001;
    p->prior[TW_X_DEMAND0].middle = 0.05;
    p->plate_output_g_per_h = 0.16;
    plain_setting(p, 0.0, 0.0);
    plain_setting(p, 12.0, 1.0);
    plain_value(p, 0.0, TW_OBSERVED_FREE_CHLORINE, 2.50, 0.1);
    plain_value(p, 11.99, TW_OBSERVED_FREE_CHLORINE, 2.16, 0.1);
    plain_chlorine(p, 12.0, 0.34 * 1020.0);
    plain_value(p, 12.01, TW_OBSERVED_FREE_CHLORINE, 2.50, 0.1);
    plain_value(p, 24.0, TW_OBSERVED_FREE_CHLORINE, 2.38, 0.1);
    if (now_h > 30.0)
        plain_value(p, 36.0, TW_OBSERVED_FREE_CHLORINE, 2.28, 0.1);
    assert_int_equal(plain_sample(p, 7, NULL, &b), TW_OK);
    static unsigned char work[1 << 20];
    const tw_held_ask ask = {.duty = 1.0, .floor_mg_per_l = 3.0};
    assert_int_equal(tw_estimate_held(&b, &ask, work, sizeof work, h), TW_OK);
    print_message("# after %.0f h: weak %.3f, thirsty %.3f\n", now_h, h->p_weak, h->p_demand);
    *output = tw_estimate_column(&b, TW_COLUMN_OUTPUT_G_PER_H).q50;
}

static void a_weak_cell_is_told_from_a_thirsty_tub(void **state)
{
    (void)state;
    tw_held h;
    double output = 0.0;
    weak_or_thirsty(24.0, &h, &output);
    assert_true(h.p_weak > 0.8 && h.p_weak < 0.95);
    assert_true(h.p_demand < 0.2);
    assert_int_equal(h.held, 0);
    weak_or_thirsty(36.0, &h, &output);
    assert_true(h.p_weak >= 0.95);
    assert_true(h.p_demand < 0.2);
    assert_int_equal(h.held, 0);
    assert_near(output, 0.020, 0.015);
}

static void a_lone_wrong_reading_is_named_and_moves_little(void **state)
{
    (void)state;
    double middle[2];
    for (int wrong = 0; wrong < 2; wrong++) {
        tw_problem *p = plain_start(48.0);
        tw_belief b;
        plain_ln(p, TW_X_CHLORINE0, 4.0, 0.5);
        plain_setting(p, 0.0, 1.0);
        for (int i = 0; i < 5; i++) {
            tw_reading *r = plain_value(p, 10.0 * i + 1.0, TW_OBSERVED_FREE_CHLORINE, i == 3 && wrong ? 16.0 : 4.0, 0.2);
            r->rubbish = 0.02;
        }
        assert_int_equal(plain_sample(p, 9, NULL, &b), TW_OK);
        middle[wrong] = tw_estimate_column(&b, TW_COLUMN_CHLORINE_MG_PER_KG).q50;
        assert_int_equal(b.contradictions, (uint32_t)wrong);
        if (wrong) {
            assert_int_equal(b.contradiction[0].entry, 4u);
            assert_true(b.contradiction[0].probability > 0.95);
            assert_near(b.contradiction[0].expected[1], 4.0, 0.5);
        }
    }
    assert_near(middle[1], middle[0], 0.1 * middle[0]);
}

/* Two readings that exclude each other, a third by which one of them is likelier rubbish: what was to be expected of that
 * one is what the other says, not a blend that holds them both. */
static void what_was_to_be_expected_is_said_without_the_reading(void **state)
{
    (void)state;
    tw_problem *p = plain_start(4.0);
    tw_belief b;
    plain_ln(p, TW_X_CHLORINE0, 4.6, 0.5);
    const double value[] = {4.0, 5.5, 4.9}, sd[] = {0.1, 0.1, 0.8};
    for (int i = 0; i < 3; i++)
        plain_value(p, 1.0 + i, TW_OBSERVED_FREE_CHLORINE, value[i], sd[i])->rubbish = 0.02;
    assert_int_equal(plain_sample(p, 9, NULL, &b), TW_OK);
    assert_true(b.contradictions > 0);
    printf("# %.2f rubbish, expected %.2f to %.2f\n", b.contradiction[0].probability, b.contradiction[0].expected[0], b.contradiction[0].expected[2]);
    for (uint32_t i = 0; i < b.contradictions; i++) {
        const double read = value[b.contradiction[i].entry - 1];
        assert_true(read < b.contradiction[i].expected[0] || read > b.contradiction[i].expected[2]);
    }
}

/* Chlorine known to be 4, a reading 4.2 sd off, 2 % rubbish over a span of 20: by Bayes' rule
 * 0.02*sqrt(2 pi)*0.2/20 against 0.98*exp(-8.82): 0.773. */
static void the_chance_of_rubbish_is_bayes_rule(void **state)
{
    (void)state;
    tw_problem *p = plain_start(1.0);
    tw_belief b;
    plain_clean(p);
    plain_fix(p, TW_X_CHLORINE0, 4.0);
    plain_fix(p, TW_X_LOSS, 1e-9);
    plain_setting(p, 0.0, 0.0);
    p->filled = 0; /* nothing was poured with the fill */
    plain_value(p, 0.5, TW_OBSERVED_FREE_CHLORINE, 4.84, 0.2)->rubbish = 0.02;
    assert_int_equal(plain_sample(p, 23, NULL, &b), TW_OK);
    const double even = 0.02 * sqrt(2.0 * 3.14159265358979) * 0.2 / 20.0, good = 0.98 * exp(-0.5 * 4.2 * 4.2);
    assert_int_equal(b.contradictions, 1u);
    assert_near(b.contradiction[0].probability, even / (even + good), 0.002);
}

/* A lot that reads 15 % high moves what the cell seems to make per litre, not the loss. */
static void a_lot_bias_leaves_the_loss_alone(void **state)
{
    (void)state;
    double loss[2];
    for (int high = 0; high < 2; high++) {
        tw_problem *p = plain_start(60.0);
        tw_belief b;
        plain_clean(p);
        plain_ln(p, TW_X_CHLORINE0, 4.0, 1.0);
        plain_setting(p, 0.0, 0.0);
        p->biases = 1;
        p->bias_sd[0] = 0.15;
        for (int i = 0; i < 6; i++) {
            tw_reading *r = plain_value(p, 10.0 * i, TW_OBSERVED_FREE_CHLORINE,
                                        log(6.0 * exp(-0.02 * 10.0 * i)) + 0.15 * high, 0.05);
            r->link = TW_LINK_LN;
            r->bias = 0;
        }
        assert_int_equal(plain_sample(p, 11, NULL, &b), TW_OK);
        loss[high] = tw_estimate_column(&b, TW_COLUMN_LOSS_38_PER_H).q50;
    }
    assert_near(loss[0], 0.02, 0.002);
    assert_near(loss[1], loss[0], 0.0008);
}

static void an_open_intent_is_between_none_and_all(void **state)
{
    (void)state;
    tw_problem *p = plain_start(2.0);
    tw_belief b;
    plain_clean(p);
    plain_fix(p, TW_X_WATER, 1000.0);
    plain_fix(p, TW_X_CHLORINE0, 1.0);
    plain_setting(p, 0.0, 0.0);
    plain_chlorine(p, 1.0, 4000.0)->form = TW_AMOUNT_POSSIBLE;
    assert_int_equal(plain_sample(p, 13, NULL, &b), TW_OK);
    const tw_spread c = tw_estimate_column(&b, TW_COLUMN_CHLORINE_MG_PER_KG);
    assert_true(c.q05 < 1.3 && c.q95 > 4.5 && c.q05 > 0.9 && c.q95 < 5.01);
    /* A reading after it settles the question. */
    plain_value(p, 1.9, TW_OBSERVED_FREE_CHLORINE, 4.9, 0.1);
    assert_int_equal(plain_sample(p, 13, NULL, &b), TW_OK);
    assert_true(tw_estimate_column(&b, TW_COLUMN_CHLORINE_MG_PER_KG).q05 > 4.4);
}

static void the_same_events_give_the_same_bits(void **state)
{
    (void)state;
    tw_problem *p = plain_start(48.0);
    tw_belief a, b;
    plain_setting(p, 0.0, 1.0);
    plain_chlorine(p, 0.0, 6000.0);
    for (int i = 0; i < 8; i++)
        plain_value(p, 5.0 * i + 1.0, TW_OBSERVED_FREE_CHLORINE, 4.0 + 0.1 * i, 0.2);
    assert_int_equal(plain_sample(p, 17, NULL, &a), TW_OK);
    assert_int_equal(plain_sample(p, 17, NULL, &b), TW_OK);
    assert_memory_equal(a.digest, b.digest, sizeof a.digest);
    /* Dirty memory must not show: fold once more into memory full of ones. */
    const size_t bytes = tw_estimate_sample_bytes(NULL);
    void *dirty = malloc(bytes);
    memset(dirty, 0xff, bytes);
    tw_belief c;
    assert_int_equal(tw_estimate_sample(p, 17, 0, NULL, dirty, bytes, &c), TW_OK);
    assert_memory_equal(a.digest, c.digest, sizeof a.digest);
    /* Another tub draws other numbers. */
    assert_int_equal(tw_estimate_sample(p, 18, 0, NULL, dirty, bytes, &c), TW_OK);
    assert_memory_not_equal(a.digest, c.digest, sizeof a.digest);
    /* Events in lists of another order are the same events. */
    const tw_dose_event kept = p->dose[0];
    plain_chlorine(p, 20.0, 1000.0);
    assert_int_equal(plain_sample(p, 17, NULL, &a), TW_OK);
    p->dose[0] = p->dose[1];
    p->dose[1] = kept;
    assert_int_equal(plain_sample(p, 17, NULL, &b), TW_OK);
    assert_memory_equal(a.digest, b.digest, sizeof a.digest);
    free(dirty);
}

static void every_number_is_finite_even_for_absurd_logs(void **state)
{
    (void)state;
    for (int kind = 0; kind < 6; kind++) {
        tw_problem *p = plain_start(100.0);
        tw_belief b;
        plain_setting(p, 0.0, 1.0);
        if (kind == 1) /* everything contradicts everything */
            for (int i = 0; i < 12; i++)
                plain_value(p, 8.0 * i, TW_OBSERVED_FREE_CHLORINE, i % 2 ? 19.0 : 0.1, 0.05);
        if (kind == 2) /* acid far beyond the alkalinity */
            for (int i = 0; i < 3; i++) {
                tw_dose_event *d = plain_chlorine(p, 10.0 + i, 0.0);
                d->mmol[TW_TOTAL_CL] = 8000.0;
                d->alk_meq = -8000.0;
                plain_value(p, 12.0 + i, TW_OBSERVED_PH, 7.5, 0.1);
            }
        if (kind == 3) { /* the tub emptied twice over */
            p->exchanges = 2;
            p->exchange[0].at_h = 20.0;
            p->exchange[0].out_kg = 90000.0;
            p->exchange[0].in_kg = 10.0;
            p->exchange[1].at_h = 30.0;
            p->exchange[1].in_kg = 5000.0;
            plain_value(p, 40.0, TW_OBSERVED_CALCIUM, 1.0, 0.05);
        }
        if (kind == 4) /* pools of chlorine, then all of it taken away */
            for (int i = 0; i < 4; i++) {
                plain_chlorine(p, 10.0 * i, i % 2 ? -1e6 : 1e6);
                plain_value(p, 10.0 * i + 1.0, TW_OBSERVED_FREE_CHLORINE, 3.0, 0.1);
            }
        if (kind == 5) { /* hundreds of bathers */
            p->bathers = 1;
            p->bather[0].at_h = 10.0;
            p->bather[0].person_h = 500.0;
            plain_value(p, 30.0, TW_OBSERVED_FREE_CHLORINE, 3.0, 0.1);
        }
        assert_int_equal(plain_sample(p, 19, NULL, &b), TW_OK);
        for (size_t i = 0; i < (TW_COLUMNS + TW_TOTALS) * b.n; i++)
            assert_true(b.block[i] - b.block[i] == 0.0);
        for (int t = 0; t < TW_TOTALS; t++)
            for (size_t i = 0; i < b.n; i++)
                assert_true(b.total[t][i] >= 0.0);
    }
}

static void too_little_memory_or_odd_options_are_refused(void **state)
{
    (void)state;
    tw_problem *p = plain_start(1.0);
    tw_belief b;
    static unsigned char little[4096];
    assert_int_equal(tw_estimate_sample(p, 1, 0, NULL, little, sizeof little, &b), TW_ERR_CAPACITY);
    tw_estimate_options o = tw_estimate_options_default();
    o.chains = 12;
    assert_int_equal(plain_sample(p, 1, &o, &b), TW_ERR_RANGE);
    o = tw_estimate_options_quick();
    assert_int_equal(plain_sample(p, 1, &o, &b), TW_OK);
    assert_int_equal(b.n, 256u);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(volume_from_a_salt_rise),
        cmocka_unit_test(strips_are_intervals_and_a_bottle_shares_its_bias),
        cmocka_unit_test(loss_from_an_off_pair),
        cmocka_unit_test(a_weak_cell_is_told_from_a_thirsty_tub),
        cmocka_unit_test(a_lone_wrong_reading_is_named_and_moves_little),
        cmocka_unit_test(what_was_to_be_expected_is_said_without_the_reading),
        cmocka_unit_test(the_chance_of_rubbish_is_bayes_rule),
        cmocka_unit_test(a_lot_bias_leaves_the_loss_alone),
        cmocka_unit_test(an_open_intent_is_between_none_and_all),
        cmocka_unit_test(the_same_events_give_the_same_bits),
        cmocka_unit_test(every_number_is_finite_even_for_absurd_logs),
        cmocka_unit_test(too_little_memory_or_odd_options_are_refused),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(plain_memory);
    return failed;
}
