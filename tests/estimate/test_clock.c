/* tests/estimate/test_clock.c: readings written down from memory, whose hour is not sure. */
#include "support/check.h"

#include <math.h>

#include "lines_problem.h"
#include "estimate/model.h"
#include "estimate/timeline.h"
#include "plain.h"

static void filled(const char *method)
{
    char volume[120];
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    lines_add("plate", 0, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    lines_add("exchange", 1, "\"cause\":\"fill\",\"in\":\"1250\",\"volume_unit\":\"L\",\"temperature\":\"37\",\"temperature_unit\":\"Cel\"");
    (void)snprintf(volume, sizeof volume, "\"volume\":\"1250\",\"volume_unit\":\"L\",\"method\":\"%s\"", method);
    lines_add("volume", 1.1, volume);
    lines_add("setting", 1.2, "\"what\":\"temperature\",\"value\":\"37\",\"unit\":\"Cel\"");
}

static void pour(double hours, double written, const char *what, const char *grams)
{
    char members[200];
    (void)snprintf(members, sizeof members, "\"substance\":\"%s\",\"amount\":\"%s\",\"amount_unit\":\"g\",\"measured\":\"weighed\"",
                   what, grams);
    lines_add_later("addition", hours, written, members);
}

static void read_chlorine(double hours, double written, const char *mg_per_l)
{
    char members[200];
    (void)snprintf(members, sizeof members,
                   "\"analyte\":\"free-chlorine\",\"form\":\"value\",\"value\":\"%s\",\"unit\":\"mg/L\",\"instrument\":\"photometer\"", mg_per_l);
    lines_add_later("reading", hours, written, members);
}

#define HYPOCHLORITE "sodium-hypochlorite-120"

/* Written six hours later, an hour's sd of 0.9; the dose half an hour before. P(before it) = Phi(-0.556), the mean hour there by the
 * inverse Mills ratio; both from tables of the normal distribution. The clock ends where it was written, 6.7 sd on. */
static void a_recalled_hour_has_two_sides_of_a_dose(void **state)
{
    (void)state;
    filled("meter");
    pour(20, 20, HYPOCHLORITE, "55");
    read_chlorine(20.5, 26.5, "2.0");
    const tw_problem *p = problem_at(27);
    assert_int_equal(p->looks, 3);
    assert_near(p->look[0].share, 0.2892, 2e-4);
    assert_near(p->look[0].at_h + 1.0, 20.5 - 0.9 * 1.1821, 2e-3);
    /* Of the own piece half stays where it was written. Towards the dose lie 0.2108 (Phi(0.556) - Phi(0)) with a second moment of 1 - 0.556*0.3418/0.2108 in
     * sd, beyond it a half with 1: each is left its probability and its second moment. */
    assert_near(p->reading[p->look[0].reading].own_share, 0.5 * 0.7108, 2e-4);
    assert_near(p->look[1].share, 0.5 * 0.2108, 2e-4);
    assert_near(p->look[1].at_h + 1.0, 20.5 - 0.9 * sqrt(2.0 * (1.0 - 0.5556 * 0.3418 / 0.2108)), 2e-3);
    assert_near(p->look[2].share, 0.25, 1e-3);
    assert_near(p->look[2].at_h + 1.0, 20.5 + 0.9 * sqrt(2.0), 2e-3);
    /* Three doses, two of them before: three pieces and the own one, which sum to one. */
    filled("meter");
    pour(19.5, 19.5, HYPOCHLORITE, "55");
    pour(20, 20, HYPOCHLORITE, "55");
    read_chlorine(20.5, 26.5, "2.0");
    pour(21.5, 21.5, HYPOCHLORITE, "55");
    p = problem_at(27);
    assert_int_equal(p->looks, 5);
    double sum = p->reading[p->look[0].reading].own_share;
    for (size_t i = 0; i < p->looks; i++)
        sum += p->look[i].share;
    assert_near(sum, 1.0, 1e-12);
    /* Phi((20 - 20.5)/0.9) - Phi((19.5 - 20.5)/0.9), Phi(-1/0.9), 1 - Phi(1/0.9) */
    assert_near(p->look[0].share, 0.1333, 3e-4);
    assert_near(p->look[1].share, 0.2892 - 0.1333, 3e-4);
    assert_near(p->look[4].share, 0.1333, 3e-4);
}

static void what_was_written_at_once_or_in_one_sitting_keeps_its_side(void **state)
{
    (void)state;
    filled("meter");
    pour(20, 20, HYPOCHLORITE, "55");
    read_chlorine(20.5, 20.6, "2.0");
    assert_int_equal(problem_at(27)->looks, 0);
    filled("meter");
    pour(20, 26.4, HYPOCHLORITE, "55"); /* both recalled together: the order is known */
    read_chlorine(20.5, 26.5, "2.0");
    assert_int_equal(problem_at(27)->looks, 0);
    filled("meter");
    pour(20, 20, "calcium-chloride-77", "55"); /* changes no chlorine */
    read_chlorine(20.5, 26.5, "2.0");
    assert_int_equal(problem_at(27)->looks, 0);
    filled("meter");
    pour(12, 12, HYPOCHLORITE, "55"); /* hours before */
    read_chlorine(20.5, 26.5, "2.0");
    assert_int_equal(problem_at(27)->looks, 0);
}

static tw_model model;
static tw_path path;

/* Water of which all is known: 2 mg/kg, 4 more at hour 10, nothing lost. */
static tw_problem *known(void)
{
    tw_problem *p = plain_start(20.0);
    plain_clean(p);
    plain_fix(p, TW_X_WATER, 1000.0);
    plain_fix(p, TW_X_LOSS, 1e-9);
    plain_fix(p, TW_X_CHLORINE0, 2.0);
    plain_setting(p, 0.0, 0.0);
    plain_chlorine(p, 10.0, 4000.0);
    return p;
}

/* The likelihood is the sum by hand, and each look's share of it what Bayes' rule says. */
static void a_reading_of_two_hours_is_a_mixture(void **state)
{
    (void)state;
    tw_problem *p = known();
    tw_reading *r = plain_value(p, 10.5, TW_OBSERVED_FREE_CHLORINE, 2.6, 0.5);
    r->rubbish = 0.02;
    r->own_share = 0.7;
    p->looks = 1;
    p->look[0] = (tw_look){9.4, 0.3, 0};
    void *mem = malloc(tw_estimate_timeline_bytes());
    static tw_lanes x[TW_MAX_DIMS];
    assert_int_equal(tw_estimate_model_make(p, &model, mem), TW_OK);
    tw_lanes ln;
    tw_estimate_forward(&model, x, &path);
    tw_estimate_likelihood(&model, &path, 1.0, &ln);
    assert_near(path.eta[0].v[0], 6.0, 1e-6);
    assert_near(path.eta[1].v[0], 2.0, 1e-6);
    const double after = 0.7 * exp(-0.5 * 6.8 * 6.8), before = 0.3 * exp(-0.5 * 1.2 * 1.2);
    const double floor_at = 0.02 * 0.5 * sqrt(2.0 * 3.14159265358979) / 20.0; /* even over the span of 20, in units of the peak */
    const double whole = 0.98 * (after + before) + floor_at;
    assert_near(ln.v[0], log(whole), 1e-6);
    assert_near(path.says[1].v[0], 0.98 * before / whole, 1e-6);
    assert_near(path.rubbish[0].v[0], floor_at / whole, 1e-6);
    tw_estimate_soft_likelihood(&model, &path, 1.0, &ln);
    const double soft = 0.7 * pow(1.0 + 6.8 * 6.8 / 4.0, -2.5) + 0.3 * pow(1.0 + 1.2 * 1.2 / 4.0, -2.5);
    assert_near(ln.v[0], log(soft), 1e-6);
    free(mem);
}

typedef struct {
    tw_spread volume;
    double loss;
    uint32_t contradictions;
} learned;

/* Three days of 2 mg/L each in 1,250 L at 0.012 1/h: a photometer before each dose and the day after. Each morning's reading is written a
 * second time as of 50 minutes after the dose, `late` hours after that hour; 0: never. */
static learned after_wrong_hours(double late)
{
    static const char *const READ[4] = {"1.50", "2.63", "3.48", "4.12"};
    filled("guess");
    for (int day = 0; day < 4; day++) {
        const double at = 20.0 + 24.0 * day;
        read_chlorine(at - 0.2, at - 0.2, READ[day]);
        if (day == 3)
            break;
        pour(at, at, HYPOCHLORITE, "25.1");
        if (late > 0.0)
            read_chlorine(at + 0.83, at + 0.83 + late, READ[day]);
    }
    const tw_belief b = lines_fold(lines_book(NULL), 93, NULL);
    const double *loss = b.column[TW_COLUMN_LOSS_38_PER_H];
    double mean = 0.0;
    for (size_t i = 0; i < b.n; i++)
        mean += loss[i] / (double)b.n;
    return (learned){tw_estimate_volume_l(&b), mean, b.contradictions};
}

static double off_by(double value, double right)
{
    return fabs(log(value / right));
}

static void an_hour_off_right_after_a_dose_bends_nothing(void **state)
{
    (void)state;
    const learned without = after_wrong_hours(0.0), recalled = after_wrong_hours(7.0), at_once = after_wrong_hours(0.01);
    print_message("# volume %.0f L, with readings of a wrong hour %.0f if recalled, %.0f if at once; loss %.4f, %.4f, %.4f 1/h; doubted %u, %u, %u\n",
                  without.volume.q50, recalled.volume.q50, at_once.volume.q50, without.loss, recalled.loss, at_once.loss,
                  without.contradictions, recalled.contradictions, at_once.contradictions);
    assert_true(off_by(recalled.volume.q50, without.volume.q50) < 0.03);
    assert_true(off_by(recalled.loss, without.loss) < 0.1);
    assert_int_equal(recalled.contradictions, without.contradictions);
    /* Believed as of that minute they say that the chlorine was used up. */
    assert_true(off_by(at_once.loss, without.loss) > 0.2 || off_by(at_once.volume.q50, without.volume.q50) > 0.1 ||
                at_once.contradictions > without.contradictions);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_recalled_hour_has_two_sides_of_a_dose),
        cmocka_unit_test(what_was_written_at_once_or_in_one_sitting_keeps_its_side),
        cmocka_unit_test(a_reading_of_two_hours_is_a_mixture),
        cmocka_unit_test(an_hour_off_right_after_a_dose_bends_nothing),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
