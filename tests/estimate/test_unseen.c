/* tests/estimate/test_unseen.c: what nobody wrote and no reading shows: how many members do it, when, how much, and when not. */
#include "support/check.h"

#include "estimate/forecast.h"
#include "estimate/later.h"
#include "estimate/unseen.h"
#include "gen/estimate_tables.h"
#include "num/normal.h"
#include "plain.h"

#define MEMBERS 1024

static void *memory[3];

static double per_h(int act) { return tw_estimate_unlogged[act].per_day / 24.0; }

/* Share of members that do one or the other within so many hours. */
static double share_within(double hours)
{
    return 1.0 - exp(-(per_h(TW_UNLOGGED_CHLORINE_USED) + per_h(TW_UNLOGGED_CHLORINE_POURED)) * hours);
}

static tw_belief laid(int place)
{
    const size_t bytes = tw_estimate_belief_bytes(MEMBERS);
    tw_belief b;
    memory[place] = memory[place] != NULL ? memory[place] : malloc(bytes);
    tw_arena arena = {memory[place], bytes};
    tw_estimate_belief_lay(&b, MEMBERS, &arena);
    assert_non_null(b.block);
    return b;
}

/* Members that are all one tub at its steady 3 mg/L and know no chance of days: who is elsewhere later did something. */
static tw_belief one_tub(uint64_t seed)
{
    tw_belief b = laid(0), small = plain_belief(1000.0, 3.0, 3.0, 0.02, 0.06);
    small.block = b.block;
    for (int c = 0; c < TW_COLUMNS; c++)
        for (size_t i = 0; i < MEMBERS; i++)
            b.column[c][i] = small.column[c][0];
    for (int t = 0; t < TW_TOTALS; t++)
        for (size_t i = 0; i < MEMBERS; i++)
            b.total[t][i] = small.total[t][0];
    for (size_t i = 0; i < MEMBERS; i++)
        b.column[TW_COLUMN_DEMAND_RATE][i] = 0.01;
    memcpy(small.column, b.column, sizeof b.column);
    memcpy(small.total, b.total, sizeof b.total);
    small.scratch = b.scratch;
    small.n = MEMBERS;
    small.seed = seed;
    small.film_age_h = 50.0;
    small.day_sd = 0.0;
    return small;
}

static tw_belief after(const tw_belief *b, double hours, int place)
{
    const size_t bytes = tw_estimate_later_bytes(MEMBERS);
    void *mem = malloc(bytes);
    tw_arena arena = {mem, bytes};
    tw_belief out = laid(place);
    assert_int_equal(tw_estimate_later(b, NULL, 0, 10.0, 10.0 + hours, arena, &out), TW_OK);
    free(mem);
    return out;
}

/* Shares of members in which chlorine was used up, and poured. */
typedef struct {
    double used, poured;
} deeds;

static deeds of(const tw_belief *b)
{
    deeds d = {0.0, 0.0};
    const double *c = b->column[TW_COLUMN_CHLORINE_MG_PER_KG], *e = b->column[TW_COLUMN_DEMAND_MG_PER_KG];
    for (size_t i = 0; i < b->n; i++) {
        d.used += (e[i] > 1e-9 || c[i] < 3.0 - 1e-6) / (double)b->n;
        d.poured += (e[i] <= 1e-9 && c[i] > 3.0 + 1e-6) / (double)b->n;
    }
    return d;
}

static double sd_of_share(double share) { return sqrt(share * (1.0 - share) / MEMBERS); }

static void as_many_do_something_as_the_rates_say(void **state)
{
    static const double HOURS[] = {6.0, 24.0, 60.0, 168.0};
    (void)state;
    for (size_t i = 0; i < sizeof HOURS / sizeof *HOURS; i++) {
        const tw_belief b = one_tub(7 + i), then = after(&b, HOURS[i], 1);
        const double want = share_within(HOURS[i]);
        const double used = per_h(TW_UNLOGGED_CHLORINE_USED) / (per_h(TW_UNLOGGED_CHLORINE_USED) + per_h(TW_UNLOGGED_CHLORINE_POURED));
        const deeds d = of(&then);
        print_message("# %.0f h: %.3f of the members, %.3f by the rates; %.3f used it up, %.3f poured\n", HOURS[i], d.used + d.poured, want,
                      d.used, d.poured);
        assert_near(d.used, used * want, 4.0 * sd_of_share(used * want));
        assert_near(d.poured, (1.0 - used) * want, 4.0 * sd_of_share((1.0 - used) * want));
        /* Rates twice as high or half as high would be seen. */
        if (HOURS[i] > 20.0) {
            assert_true(fabs(d.used + d.poured - share_within(2.0 * HOURS[i])) > 4.0 * sd_of_share(want));
            assert_true(fabs(d.used + d.poured - share_within(0.5 * HOURS[i])) > 4.0 * sd_of_share(want));
        }
    }
}

/* A reading is doubted by those who did nothing: they are known, whoever poured or used up is not among them. */
static void who_did_something_is_known(void **state)
{
    (void)state;
    const tw_belief b = one_tub(17), then = after(&b, 30.0, 1);
    size_t did = 0, odd = 0;
    for (size_t i = 0; i < then.n; i++) {
        const int elsewhere = fabs(then.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] - 3.0) > 1e-9 || then.column[TW_COLUMN_DEMAND_MG_PER_KG][i] > 1e-9;
        did += tw_estimate_did_something(&then, i) != 0;
        odd += elsewhere != (tw_estimate_did_something(&then, i) != 0);
        assert_false(tw_estimate_did_something(&b, i));
    }
    assert_int_equal(odd, 0);
    assert_near((double)did / MEMBERS, share_within(30.0), 4.0 * sd_of_share(share_within(30.0)));
}

/* ln size has mean and variance of an even chance from the table's least to its greatest. */
static void how_much_is_as_the_table_says(void **state)
{
    static const int ACT[2] = {TW_UNLOGGED_CHLORINE_USED, TW_UNLOGGED_CHLORINE_POURED};
    (void)state;
    for (int a = 0; a < 2; a++) {
        const tw_unlogged_row *row = &tw_estimate_unlogged[ACT[a]];
        double mean = 0.0, square = 0.0;
        for (int k = 0; k < 1000; k++) {
            const double ln = log(tw_estimate_unseen_size(ACT[a], tw_normal_quantile((k + 0.5) / 1000.0)));
            mean += ln / 1000.0;
            square += ln * ln / 1000.0;
        }
        assert_near(mean, 0.5 * log(row->low * row->high), 1e-6);
        assert_near_rel(square - mean * mean, pow(log(row->high / row->low), 2.0) / 12.0, 0.01);
    }
}

/* At the hour of the last entry everybody stands where the sampler left him; who does something does it later. */
static void nothing_is_done_before_the_last_entry(void **state)
{
    (void)state;
    const size_t bytes = (size_t)(TW_COLUMNS + TW_TOTALS) * MEMBERS * sizeof(double);
    const tw_belief b = one_tub(3), same = after(&b, 0.0, 1);
    assert_memory_equal(same.block, b.block, bytes);
    const tw_belief soon = after(&b, 0.01, 1);
    assert_true(of(&soon).used + of(&soon).poured < 3.0 / MEMBERS);
    /* What was done by an hour has been done at any later one: the longest of ten hours last. */
    double did = 0.0;
    for (int h = 1; h <= 10; h++) {
        const tw_belief then = after(&b, 12.0 * h, 1);
        const double now = of(&then).used + of(&then).poured;
        assert_true(now >= did - 3.0 / MEMBERS); /* who poured little stands near the others again after days */
        did = now;
    }
}

static void before_the_first_chlorine_nobody_does_anything(void **state)
{
    (void)state;
    tw_belief b = one_tub(3);
    b.film_age_h = -500.0;
    const tw_belief then = after(&b, 72.0, 1);
    assert_near(of(&then).used + of(&then).poured, 0.0, 0.0);
}

/* An hour asked twice, or by way of others, has the same bits. */
static void an_hour_has_the_same_bits_whenever_it_is_asked(void **state)
{
    (void)state;
    const size_t bytes = (size_t)(TW_COLUMNS + TW_TOTALS) * MEMBERS * sizeof(double);
    const tw_belief b = one_tub(5), first = after(&b, 30.0, 1);
    (void)after(&b, 80.5, 2);
    const tw_belief again = after(&b, 30.0, 2);
    assert_memory_equal(first.block, again.block, bytes);
}

static double spread_of(const tw_belief *b)
{
    double mean = 0.0, square = 0.0;
    for (size_t i = 0; i < b->n; i++)
        mean += b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] / (double)b->n;
    for (size_t i = 0; i < b->n; i++) {
        const double off = b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] - mean;
        square += off * off / (double)b->n;
    }
    return sqrt(square);
}

static void the_longer_nothing_was_read_the_wider(void **state)
{
    static const double HOURS[] = {0.0, 6.0, 24.0, 72.0};
    (void)state;
    const tw_belief b = one_tub(11);
    double was = -1.0, narrow = 0.0, wide = 0.0;
    for (size_t i = 0; i < sizeof HOURS / sizeof *HOURS; i++) {
        const tw_belief then = after(&b, HOURS[i], 1);
        const tw_spread c = tw_estimate_column(&then, TW_COLUMN_CHLORINE_MG_PER_KG);
        assert_true(spread_of(&then) > was);
        was = spread_of(&then);
        wide = c.q95 - c.q05;
        narrow = i == 0 ? wide : narrow;
    }
    assert_true(wide > narrow + 0.05);
}

/* A forecast begins where members stand now and adds nothing that is not in the plan: members that stand together stay
 * together, whatever the rates are; those apart come no further apart than chemistry brings them. */
static void what_is_foreseen_is_of_the_plan_alone(void **state)
{
    static tw_fan fan;
    (void)state;
    const size_t bytes = tw_estimate_forecast_bytes(MEMBERS, 72);
    void *mem = malloc(bytes);
    const tw_belief b = one_tub(13);
    const tw_schedule same = tw_estimate_schedule_same(&b);
    assert_int_equal(tw_estimate_forecast(&b, &same, 72, mem, bytes, &fan), TW_OK);
    for (int h = 0; h <= 72; h++)
        assert_near(fan.chlorine[h].q95, fan.chlorine[h].q05, 1e-12);
    const tw_belief then = after(&b, 72.0, 1);
    assert_true(of(&then).used > 0.1);
    assert_int_equal(tw_estimate_forecast(&then, &same, 72, mem, bytes, &fan), TW_OK);
    assert_true(fan.chlorine[0].q95 - fan.chlorine[0].q05 > 0.05);
    assert_true(fan.chlorine[72].q95 - fan.chlorine[72].q05 < fan.chlorine[0].q95 - fan.chlorine[0].q05);
    free(mem);
}

/* A tub of which everything is known: its members differ by what nobody wrote alone. Read with drops at 10 and 34 h, the last time
 * by an instrument that is off by `sd`; asked at `now_h`. */
static tw_problem *known_tub(double last, double sd, double now_h)
{
    tw_problem *p = plain_start(now_h);
    plain_clean(p);
    plain_fix(p, TW_X_LOSS, 0.02);
    plain_fix(p, TW_X_CHLORINE0, 3.0);
    plain_fix(p, TW_X_DEMAND_RATE, 0.01);
    plain_fix(p, TW_X_WATER, 1000.0);
    p->output_sd = 1e-9;
    p->plate_output_g_per_h = 0.06;
    plain_setting(p, 0.0, 0.0);
    plain_value(p, 10.0, TW_OBSERVED_FREE_CHLORINE, 3.0 * exp(-0.2), 0.1);
    plain_value(p, 34.0, TW_OBSERVED_FREE_CHLORINE, last, sd);
    return p;
}

static deeds sampled(const tw_problem *p, double left)
{
    tw_belief b;
    deeds d = {0.0, 0.0};
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    for (size_t i = 0; i < b.n; i++) {
        const double c = b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i], e = b.column[TW_COLUMN_DEMAND_MG_PER_KG][i];
        assert_true(!tw_estimate_did_something(&b, i) || e > 0.001 || c > left + 0.001);
        d.used += (e > 0.01) / (double)b.n;
        d.poured += (c > left + 0.01 && e <= 0.01) / (double)b.n;
    }
    return d;
}

/* Between the last two readings: as many as by the rates where the last one says little, hardly any who poured where it
 * speaks against it; since then: by the hours. */
static void the_last_reading_speaks_to_what_was_done_before_it(void **state)
{
    (void)state;
    tw_unseen_gap gap[2];
    const double left = 3.0 * exp(-0.02 * 34.0);
    const double used = 1.0 - exp(-per_h(TW_UNLOGGED_CHLORINE_USED) * 24.0), poured = 1.0 - exp(-per_h(TW_UNLOGGED_CHLORINE_POURED) * 24.0);
    const tw_problem *p = known_tub(left, 50.0, 34.0);
    tw_estimate_unseen_gaps(p, gap);
    assert_near(gap[0].from_h, 10.0, 0.0);
    assert_near(gap[0].until_h, 34.0, 0.0);
    assert_near(gap[1].until_h - gap[1].from_h, 0.0, 0.0);
    const deeds vague = sampled(p, left), sharp = sampled(known_tub(left, 0.1, 34.0), left), since = sampled(known_tub(left, 0.1, 58.0), left * exp(-0.48));
    print_message("# used %.3f, poured %.3f by the rates; the last reading vague %.3f, %.3f, sharp %.3f, %.3f, a day ago %.3f, %.3f\n", used, poured,
                  vague.used, vague.poured, sharp.used, sharp.poured, since.used, since.poured);
    assert_near(vague.used, used, 4.0 * sd_of_share(used));
    assert_near(vague.poured, poured, 4.0 * sd_of_share(poured));
    assert_true(sharp.poured < 0.3 * poured);
    assert_true(sharp.used < used + 2.0 * sd_of_share(used));
    assert_near(since.poured - sharp.poured, poured, 4.0 * sd_of_share(poured));
}

/* Chlorine of the known tub at 34 h when so much used it up (less than 0: was poured) at 22 h, by small steps. */
static double level_after(double used)
{
    double c = 3.0 * exp(-0.02 * 22.0) + (used < 0.0 ? -used : 0.0), e = used > 0.0 ? used : 0.0;
    for (int i = 0; i < 12000; i++) {
        const double gone = 1e-3 * 0.01 * c * e;
        c -= 1e-3 * 0.02 * c + gone;
        e -= gone;
    }
    return c;
}

/* Who did it is the posterior: of a tub of which all else is known, Bayes' rule over the sizes by hand. The screen alone, by one
 * step at the middle of each size, would be off. */
static void who_did_it_is_as_bayes_has_it(void **state)
{
    static const double LESS[] = {0.0, 0.3, 0.6};
    (void)state;
    const double left = 3.0 * exp(-0.02 * 34.0), sd = 0.3;
    for (size_t i = 0; i < sizeof LESS / sizeof *LESS; i++) {
        double odds[2] = {0.0, 0.0};
        for (int a = 0; a < 2; a++) {
            const int act = a == 0 ? TW_UNLOGGED_CHLORINE_USED : TW_UNLOGGED_CHLORINE_POURED;
            for (int k = 0; k < 400; k++) {
                const double size = tw_estimate_unseen_size(act, tw_normal_quantile((k + 0.5) / 400.0));
                const double c = level_after(a == 0 ? size : -size), z = (left - LESS[i] - c) / sd, none = LESS[i] / sd;
                odds[a] += (1.0 - exp(-per_h(act) * 24.0)) / 400.0 * (exp(-0.5 * z * z) + 3e-5) / (exp(-0.5 * none * none) + 3e-5);
            }
        }
        const double all = 1.0 + odds[0] + odds[1], used = odds[0] / all;
        const deeds d = sampled(known_tub(left - LESS[i], sd, 34.0), left - LESS[i] + 0.3);
        print_message("# %.1f mg/L less than expected: used %.3f of the members, %.3f by Bayes\n", LESS[i], d.used, used);
        assert_near(d.used, used, 4.0 * sd_of_share(used));
    }
}

/* Of two ways with odds of 1 to 4, foreseen as 1 to 4: three in five of those that tried stay (one in five of all, of two in six
 * that tried); half as likely as foreseen (1 to 8) or five times (5 to 4): as Bayes has it, as far as enough tried. */
static void an_act_stays_by_what_its_readings_are_worth(void **state)
{
    static const double WORTH[] = {1.0, 0.5, 5.0, 0.001};
    static tw_unseen u;
    static tw_sampler s;
    tw_lanes over;
    (void)state;
    s.last.act[0].odds = 0.2;
    s.last.act[1].odds = 0.05;
    const double tried = 2.0 * 0.25 / (1.0 + 2.0 * 0.25);
    for (size_t i = 0; i < sizeof WORTH / sizeof *WORTH; i++) {
        int stay = 0;
        for (int k = 0; k < 1000; k++) {
            for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
                u.before[l].act = TW_UNLOGGED_CHLORINE_USED;
                u.foreseen.v[l] = 1.5;
                u.move.v[l] = -1.0;
                u.dice[l] = (k + 0.5) / 1000.0;
                over.v[l] = 1.5 + log(WORTH[i]);
            }
            tw_estimate_unseen_keep(&s, &u, &over);
            stay += u.before[0].act == TW_UNLOGGED_CHLORINE_USED;
            assert_true((u.move.v[1] < 0.0) == (u.before[1].act == TW_UNLOGGED_CHLORINE_USED));
        }
        const double want = WORTH[i] * 0.25 / (1.0 + WORTH[i] * 0.25);
        assert_near(tried * stay / 1000.0, want < tried ? want : tried, 0.001);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_many_do_something_as_the_rates_say),
        cmocka_unit_test(who_did_something_is_known),
        cmocka_unit_test(how_much_is_as_the_table_says),
        cmocka_unit_test(nothing_is_done_before_the_last_entry),
        cmocka_unit_test(before_the_first_chlorine_nobody_does_anything),
        cmocka_unit_test(an_hour_has_the_same_bits_whenever_it_is_asked),
        cmocka_unit_test(the_longer_nothing_was_read_the_wider),
        cmocka_unit_test(what_is_foreseen_is_of_the_plan_alone),
        cmocka_unit_test(the_last_reading_speaks_to_what_was_done_before_it),
        cmocka_unit_test(who_did_it_is_as_bayes_has_it),
        cmocka_unit_test(an_act_stays_by_what_its_readings_are_worth),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    for (int i = 0; i < 3; i++)
        free(memory[i]);
    free(plain_memory);
    return failed;
}
