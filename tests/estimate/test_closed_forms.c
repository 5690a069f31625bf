/* tests/estimate/test_closed_forms.c: answers that can be worked out by hand, through the whole fold.
 *
 * Beside these: volume from a salt rise, blocks of strips, decay pair, production pair, chance of rubbish, a reading that
 * is wrong by four (test_sample.c); plateau, arrival, duty for a level, power cut, off-test (test_held.c); the guest
 * lodge's and the cabin's verdicts (test_fold.c); the random numbers' known answers (num/test_philox.c). */
#include "support/check.h"

#include "book_lines.h"
#include "calibration.h"
#include "estimate/held.h"
#include "gen/tail_tables.h"
#include "num/normal.h"
#include "plain.h"

static unsigned char work[1 << 20];

/* ---- linear and Gaussian: what any correct estimator must find */

#define MOST 12

/* Condition N(mean, cov) of n unknowns on y = h*x + N(0, r), one reading. */
static void condition(int n, double mean[MOST], double cov[MOST][MOST], const double h[MOST], double y, double r)
{
    double ch[MOST], s = r, off = y;
    for (int i = 0; i < n; i++) {
        ch[i] = 0.0;
        for (int k = 0; k < n; k++)
            ch[i] += cov[i][k] * h[k];
        off -= h[i] * mean[i];
    }
    for (int i = 0; i < n; i++)
        s += h[i] * ch[i];
    for (int i = 0; i < n; i++) {
        mean[i] += ch[i] * off / s;
        for (int k = 0; k < n; k++)
            cov[i][k] -= ch[i] * ch[k] / s;
    }
}

/* x_t = 0.9 x_(t-1) + N(0, 0.1), y_t = x_t + N(0, 0.2), x_0 of N(0, 1), y = 1.0, 0.5, 1.5, 0.8 (Kalman 1960, computed). */
static void the_conditioning_of_these_tests_is_kalmans(void **state)
{
    (void)state;
    const double y[4] = {1.0, 0.5, 1.5, 0.8}, mean_want[4] = {0.819820, 0.609904, 1.008660, 0.856988};
    const double var_want[4] = {0.163964, 0.107581, 0.0966783, 0.0942665};
    double mean[MOST] = {0.0}, cov[MOST][MOST] = {{0.0}};
    for (int i = 0; i < 5; i++) /* the joint prior of x_0 .. x_4 */
        for (int k = 0; k < 5; k++) {
            double var = 1.0;
            for (int t = 0; t < (i < k ? i : k); t++)
                var = 0.81 * var + 0.1;
            cov[i][k] = var * pow(0.9, abs(i - k));
        }
    for (int t = 0; t < 4; t++) {
        double h[MOST] = {0.0};
        h[t + 1] = 1.0;
        condition(5, mean, cov, h, y[t], 0.2);
        assert_near(mean[t + 1], mean_want[t], 1e-6);
        assert_near(cov[t + 1][t + 1], var_want[t], 1e-6);
    }
}

/* Six days without generator, ln of chlorine read each day to 2 %: with loss 0.02 and a tenth of chance from day to day,
 * ln C = ln C0 - 24 k (days + 0.1 * sum of the days' deviations) to 0.2 %: linear in (ln C0, ln k, u_1 .. u_6), whose prior
 * is Gaussian with u an AR(1) of 0.8. */
static void days_of_chance_are_conditioned_as_the_linear_case(void **state)
{
    (void)state;
    enum { DAYS = 6, UNKNOWNS = 2 + DAYS };
    const double k = 0.02, read_sd = 0.02, u_true[DAYS] = {0.8, 1.1, 0.3, -0.9, -1.6, -0.7};
    double mean[MOST] = {0.0}, cov[MOST][MOST] = {{0.0}}, ln_c = log(8.0), sum = 0.0;
    tw_problem *p = plain_start(24.0 * DAYS);
    tw_belief b;
    plain_clean(p);
    plain_ln(p, TW_X_CHLORINE0, 8.0, 0.3);
    plain_ln(p, TW_X_LOSS, k, 0.05);
    p->day_sd = 0.1;
    p->days_from_h = 0.0;
    plain_setting(p, 0.0, 0.0);
    cov[0][0] = 0.3 * 0.3;
    cov[1][1] = 0.05 * 0.05;
    for (int i = 0; i < DAYS; i++)
        for (int j = 0; j < DAYS; j++)
            cov[2 + i][2 + j] = pow(0.8, abs(i - j));
    for (int day = 0; day < DAYS; day++) {
        ln_c -= 24.0 * k * exp(0.1 * u_true[day]);
        const double seen = ln_c + read_sd * (day % 2 ? 0.6 : -0.8);
        tw_reading *r = plain_value(p, 24.0 * (day + 1), TW_OBSERVED_FREE_CHLORINE, seen, read_sd);
        r->link = TW_LINK_LN;
        r->rubbish = 1e-6;
        /* y = ln C0 - 24 k (1 + x) (days + 0.1 sum u): linear in x = ln(k/0.02) and u */
        double h[MOST] = {0.0};
        sum += 24.0 * k;
        h[0] = 1.0;
        h[1] = -sum;
        for (int i = 0; i <= day; i++)
            h[2 + i] = -24.0 * k * 0.1;
        condition(UNKNOWNS, mean, cov, h, seen - log(8.0) + sum, read_sd * read_sd);
    }
    assert_int_equal(plain_sample(p, 31, NULL, &b), TW_OK);
    const double *u = b.column[TW_COLUMN_LOSS_DAY], *loss = b.column[TW_COLUMN_LOSS_38_PER_H];
    double m = 0.0, v = 0.0, lm = 0.0;
    for (size_t i = 0; i < b.n; i++) {
        m += u[i] / (double)b.n;
        lm += log(loss[i] / k) / (double)b.n;
    }
    for (size_t i = 0; i < b.n; i++)
        v += (u[i] - m) * (u[i] - m) / (double)b.n;
    const double sd = sqrt(cov[UNKNOWNS - 1][UNKNOWNS - 1]);
    print_message("# the last day's deviation: %.3f +- %.3f, linear case %.3f +- %.3f; ln loss %.4f, linear case %.4f\n", m, sqrt(v),
                  mean[UNKNOWNS - 1], sd, lm, mean[1]);
    /* 1,024 draws, about 700 of them independent: a mean is off by 0.04 sd, a deviation by 3 %; the curvature 0.1 sd more. */
    assert_near(m, mean[UNKNOWNS - 1], 0.2 * sd);
    assert_near(sqrt(v), sd, 0.12 * sd);
    assert_near(lm, mean[1], 0.2 * sqrt(cov[1][1]));
    assert_true(sd < 0.8); /* the case is not the prior */
}

/* Of N(0, 1): 0.2336950 at 0 and 0.6024414 at 1 (Gneiting and Raftery 2007, computed). */
static void the_score_is_the_published_one(void **state)
{
    (void)state;
    static double draw[4000];
    for (int i = 0; i < 4000; i++)
        draw[i] = tw_normal_quantile(((double)i + 0.5) / 4000.0);
    assert_near(cal_crps(draw, 4000, 0.0), 0.2336950, 2e-4);
    assert_near(cal_crps(draw, 4000, 1.0), 0.6024414, 2e-4);
}

/* ---- what the job asks */

static void fresh_tub(const char *volume, const char *method)
{
    char members[128];
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Mill\",\"start\":\"start-up\"");
    lines_add("exchange", 1, "\"cause\":\"fill\",\"in\":\"1250\",\"volume_unit\":\"L\",\"temperature\":\"25\",\"temperature_unit\":\"Cel\"");
    if (volume[0]) {
        (void)snprintf(members, sizeof members, "\"volume\":\"%s\",\"volume_unit\":\"L\",\"method\":\"%s\"", volume, method);
        lines_add("volume", 1, members);
    }
    lines_add("setting", 1.1, "\"what\":\"temperature\",\"value\":\"25\",\"unit\":\"Cel\"");
}

/* 1,000 g of 99.5 % salt, conductivity from 350 up by 1,555 uS/cm at 25 C: about 1,255 L by the water model; a flat 2.02
 * uS/cm per mg/L would say 1,293. Within 1 %. Alkalinity and hardness read, so that the ions that are there are known. */
static void a_rise_of_conductivity_tells_the_volume(void **state)
{
    (void)state;
    fresh_tub("1250", "guess");
    lines_reading(2, "conductivity", "350", "uS/cm", "meter", "\"serial\":\"m1\"");
    lines_reading(2, "total-alkalinity", "62", "mg/L", "drops", "");
    lines_reading(2, "total-hardness", "95", "mg/L", "drops", "");
    lines_add("addition", 2.5, "\"substance\":\"sodium-chloride\",\"amount\":\"1000\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    for (int i = 0; i < 3; i++) /* long enough for the last grain */
        lines_reading(50.0 + i, "conductivity", "1905", "uS/cm", "meter", "\"serial\":\"m1\"");
    const tw_belief b = lines_fold(lines_book(NULL), 53.0, NULL);
    const tw_spread v = tw_estimate_volume_l(&b);
    print_message("# 995 g, +1,555 uS/cm: %.0f L, 90 %% between %.0f and %.0f\n", v.q50, v.q05, v.q95);
    assert_near(v.q50, 1255.0, 12.5);
    assert_true(v.q05 < 1255.0 && v.q95 > 1255.0);
    assert_true((v.q95 - v.q05) / 3.29 / v.q50 < 0.04); /* an EC meter: 2 to 4 % */
}

/* Three strips of one bottle that all say 4 on a scale of doubling blocks prove no 3; 4.4 by drops at both ends of a day,
 * five days after the last dose, do. */
static void a_hold_is_not_proven_by_one_bottle_but_by_drops(void **state)
{
    (void)state;
    for (int drops = 0; drops < 2; drops++) {
        char more[128], members[200];
        lines_count = 0;
        lines_add("tub", 0, "\"name\":\"Fern\",\"start\":\"start-up\"");
        lines_add("plate", 0, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
        lines_add("exchange", 1, "\"cause\":\"fill\",\"in\":\"1100\",\"volume_unit\":\"L\",\"temperature\":\"37\",\"temperature_unit\":\"Cel\"");
        lines_add("volume", 1, "\"volume\":\"1100\",\"volume_unit\":\"L\",\"method\":\"meter\"");
        lines_add("setting", 1.1, "\"what\":\"temperature\",\"value\":\"38\",\"unit\":\"Cel\"");
        const char *id = lines_add("definition", 1.2,
                                   "\"defines\":\"strip-scale\",\"name\":\"doubling\",\"analyte\":\"free-chlorine\",\"unit\":\"mg/L\",\"blocks\":\"1 2 4 8 16\"");
        (void)snprintf(more, sizeof more, "\"scale\":\"%s\",\"lot\":\"A\"", id);
        lines_add("addition", 2, "\"substance\":\"sodium-hypochlorite-120\",\"amount\":\"45\",\"amount_unit\":\"mL\",\"measured\":\"jug\"");
        lines_add("setting", 3, "\"what\":\"generator\",\"state\":\"on\"");
        (void)snprintf(members, sizeof members, "\"what\":\"duty\",\"value\":\"50\",\"unit\":\"pct\"");
        lines_add("setting", 3, members);
        double now = 146.5;
        if (drops) {
            for (int i = 0; i < 2; i++) /* five days after the dose, and the day after */
                lines_reading(122.0 + 24.0 * i, "free-chlorine", "4.4", "mg/L", "drops", "\"step\":\"0.2\"");
        } else {
            now = 30.5; /* the morning after the last dose, as it is commonly done */
            for (int i = 0; i < 3; i++)
                lines_reading(28.0 + i, "free-chlorine", "4", "mg/L", "strip", more);
        }
        const tw_belief b = lines_fold(lines_book(NULL), now, NULL);
        tw_held h;
        const tw_held_ask ask = {.duty = -1.0, .floor_mg_per_l = 3.0};
        assert_int_equal(tw_estimate_held(&b, &ask, work, sizeof work, &h), TW_OK);
        print_message("# %s: P(now) %.3f, P(7 days) %.3f, trade %.2f\n", drops ? "drops" : "one bottle", h.p_now, h.p_floor_7d, h.trade_p);
        assert_int_equal(h.held, drops);
        assert_true(drops || (h.p_now < 0.95 && h.trade_rule == 1));
    }
}

/* A meter that reads 6.62 in buffer 7.00 is 0.38 low: its 7.40 counts as 7.78, also one read before. Set to the buffer, it
 * reads true again; another meter is not moved by any of it. At 38 C the technical buffer is 6.98. */
static void a_buffer_tells_what_a_meter_is_off(void **state)
{
    (void)state;
    static const struct { const char *more; double ph; } ROWS[] = {
        {"", 7.78}, {",\"temperature\":\"38\",\"temperature_unit\":\"Cel\"", 7.76}, {",\"serial\":\"B\"", 7.40}, {",\"adjusted\":\"yes\"", 7.40}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        for (int late = 0; late < 2; late++) {
            char members[200];
            const int adjusted = strstr(ROWS[i].more, "adjusted") != NULL;
            fresh_tub("1250", "meter");
            (void)snprintf(members, sizeof members, "\"analyte\":\"ph\",\"nominal\":\"7.00\",\"value\":\"6.62\",\"instrument\":\"meter\"%s", ROWS[i].more);
            lines_add("standard", late && !adjusted ? 3.0 : 1.5, members);
            lines_reading(2, "ph", "7.40", "pH", "meter", "");
            const tw_belief b = lines_fold(lines_book(NULL), 3.1, NULL);
            const tw_spread ph = tw_estimate_now(&b, TW_OBSERVED_PH);
            print_message("# 6.62 in buffer 7.00%s: 7.40 counts as %.2f (%.2f to %.2f)\n", ROWS[i].more, ph.q50, ph.q05, ph.q95);
            assert_near(ph.q50, ROWS[i].ph, 0.04);
            assert_true(ph.q95 - ph.q05 < 0.25 && b.contradictions == 0);
        }
}

/* Six people for two hours in 1,600 L at 4 to 7 g of chlorine an hour each: 30 to 52 mg/L are used up. */
static void a_party_uses_up_thirty_to_fifty(void **state)
{
    (void)state;
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Fern\",\"start\":\"care\"");
    lines_add("volume", 0, "\"volume\":\"1600\",\"volume_unit\":\"L\",\"method\":\"meter\"");
    lines_reading(0.1, "free-chlorine", "0.4", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_add("setting", 0.2, "\"what\":\"generator\",\"state\":\"off\"");
    lines_add("bathers", 2, "\"count\":\"6\",\"minutes\":\"120\"");
    const tw_belief b = lines_fold(lines_book(NULL), 4.5, NULL);
    const tw_spread d = tw_estimate_column_mg_per_l(&b, TW_COLUMN_DEMAND_MG_PER_KG);
    print_message("# after the party: %.0f mg/L are wanted, half between %.0f and %.0f\n", d.q50, d.q25, d.q75);
    assert_true(d.q50 > 30.0 && d.q50 < 52.0);
    assert_true(d.q25 > 25.0 && d.q75 < 65.0);
}

/* Conductivity says 2,000 mg/L of salt, the generator's display 1,500: the display is a current, and the salt stays. */
static void a_display_that_says_salt_low_moves_no_salt(void **state)
{
    (void)state;
    double salt[2];
    for (int display = 0; display < 2; display++) {
        lines_count = 0;
        lines_add("tub", 0, "\"name\":\"Fern\",\"start\":\"care\"");
        lines_add("volume", 0, "\"volume\":\"1100\",\"volume_unit\":\"L\",\"method\":\"meter\"");
        lines_reading(1, "salt", "2000", "mg/L", "meter", "\"serial\":\"m1\"");
        lines_reading(20, "salt", "2000", "mg/L", "meter", "\"serial\":\"m1\"");
        lines_reading(22, "salt", "2000", "mg/L", "meter", "\"serial\":\"m1\"");
        if (display)
            lines_reading(24, "salt", "1500", "mg/L", "display", "");
        const tw_belief b = lines_fold(lines_book(NULL), 25.0, NULL);
        const tw_spread s = tw_estimate_now(&b, TW_OBSERVED_CHLORIDE);
        salt[display] = s.q50;
        assert_true(s.q05 > 1900.0 && s.q95 < 2100.0);
    }
    print_message("# salt by the meter %.0f mg/L, with the display beside it %.0f\n", salt[0], salt[1]);
    assert_near(salt[1], salt[0], 0.015 * salt[0]);
}

/* One alkalinity of five is four times too high: what would be poured changes by less than a tenth, and it is named. */
static void one_alkalinity_of_five_wrong_by_four_changes_little(void **state)
{
    (void)state;
    double alk[2];
    for (int wrong = 0; wrong < 2; wrong++) {
        fresh_tub("1250", "meter");
        for (int i = 0; i < 5; i++)
            lines_reading(2.0 + i, "total-alkalinity", wrong && i == 2 ? "320" : "80", "mg/L", "drops", "");
        const tw_belief b = lines_fold(lines_book(NULL), 8.0, NULL);
        alk[wrong] = tw_estimate_now(&b, TW_OBSERVED_ALKALINITY).q50;
        assert_int_equal(b.contradictions, (uint32_t)wrong);
    }
    assert_near(alk[1], alk[0], 0.1 * alk[0]);
}

/* Median of a shift of 0.15 of ln times the shape of data/tails.csv, seen once with such an error: by sums over a fine grid. */
static double median_shift(double seen, double sd)
{
    double all = 0.0, below = 0.0;
    for (int pass = 0; pass < 2; pass++)
        for (double z = -6.0; z < 6.0; z += 1e-4) {
            const double b = 0.15 * z * (1.0 + TW_TAIL_BOTTLE_OFF * (z * z - 2.705543454)), u = (seen - b) / sd;
            const double weight = exp(-0.5 * (z * z + u * u));
            if (pass == 0)
                all += weight;
            else if ((below += weight) > 0.5 * all)
                return b;
        }
    return (double)NAN;
}

/* A bottle reads 1.5 times what drops say, n pairs, each strip 0.25 and half a block: its shift as a long tail has it, within
 * a tenth of 1.5 after five; the more pairs, the nearer. */
static void a_bottle_is_learned_from_pairs_with_drops(void **state)
{
    (void)state;
    double shift[2];
    const int pairs[2] = {5, 20};
    for (int k = 0; k < 2; k++) {
        char more[128];
        lines_count = 0;
        lines_add("tub", 0, "\"name\":\"Fern\",\"start\":\"care\"");
        lines_add("volume", 0, "\"volume\":\"1100\",\"volume_unit\":\"L\",\"method\":\"meter\"");
        const char *id = lines_add("definition", 0.1,
                                   "\"defines\":\"strip-scale\",\"name\":\"fine\",\"analyte\":\"free-chlorine\",\"unit\":\"mg/L\",\"blocks\":"
                                   "\"1 1.5 2 2.5 3 3.5 4 4.5 5 5.5 6 6.5 7 7.5 8 9\"");
        (void)snprintf(more, sizeof more, "\"scale\":\"%s\",\"lot\":\"A\"", id);
        for (int i = 0; i < pairs[k]; i++) {
            lines_reading(1.0 + 3.0 * i, "free-chlorine", "4.0", "mg/L", "drops", "\"step\":\"0.2\"");
            lines_reading(1.0 + 3.0 * i, "free-chlorine", "6", "mg/L", "strip", more);
        }
        const tw_belief b = lines_fold(lines_book(NULL), 3.0 * pairs[k] + 1.0, NULL);
        shift[k] = NAN;
        for (uint32_t i = 0; i < b.biases; i++)
            if (b.bias[i].observed == TW_OBSERVED_FREE_CHLORINE)
                shift[k] = b.bias[i].shift.q50;
        const double want = median_shift(log(6.0 / 3.9), 0.25 / sqrt((double)pairs[k]));
        print_message("# %d pairs: the bottle reads %.3f times, closed form %.3f\n", pairs[k], exp(shift[k]), exp(want));
        assert_near(shift[k], want, 0.05);
        assert_true(exp(shift[k]) > 1.35 && exp(shift[k]) < 1.65);
    }
}

/* From 14 to 10 mg/L at loss 0.016 1/h: 21 h. */
static void too_much_chlorine_comes_down_by_its_loss(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1200.0, 14.0, 0.0, 0.016, 0.15);
    assert_near(tw_estimate_hours_to(&b, 10.0).q50, log(1.4) / 0.016, 0.02);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_conditioning_of_these_tests_is_kalmans),
        cmocka_unit_test(days_of_chance_are_conditioned_as_the_linear_case),
        cmocka_unit_test(the_score_is_the_published_one),
        cmocka_unit_test(a_rise_of_conductivity_tells_the_volume),
        cmocka_unit_test(a_hold_is_not_proven_by_one_bottle_but_by_drops),
        cmocka_unit_test(a_buffer_tells_what_a_meter_is_off),
        cmocka_unit_test(a_party_uses_up_thirty_to_fifty),
        cmocka_unit_test(a_display_that_says_salt_low_moves_no_salt),
        cmocka_unit_test(one_alkalinity_of_five_wrong_by_four_changes_little),
        cmocka_unit_test(a_bottle_is_learned_from_pairs_with_drops),
        cmocka_unit_test(too_much_chlorine_comes_down_by_its_loss),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(plain_memory);
    free(lines_book_memory);
    free(lines_fold_memory);
    return failed;
}
