/* tests/estimate/test_later.c: a belief is made once of the entries, and walks to any later hour. */
#include "support/check.h"

#include <math.h>

#include "book_lines.h"
#include "estimate/carbonate.h"
#include "estimate/checkpoint.h"
#include "estimate/conductivity.h"
#include "estimate/forecast.h"
#include "estimate/from_book.h"
#include "estimate/walk.h"
#include "gen/estimate_tables.h"

static tw_settled settled;
static void *memory;

static tw_belief at(const tw_book *book, double hours)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    const size_t bytes = tw_estimate_bytes(&quick);
    tw_belief b;
    memory = memory != NULL ? memory : malloc(bytes);
    assert_non_null(memory);
    assert_int_equal(tw_estimate_fold_kept(book, tw_units_text(LINES_TUB), lines_now(hours), &quick, NULL, &settled, memory, bytes, &b), TW_OK);
    return b;
}

static void forget(void)
{
    memset(&settled, 0, sizeof settled);
    lines_count = 0;
}

/* A fill, cold water that is heated, salt with jets that stop by themselves, chlorine, the generator. */
static void start_up(void)
{
    forget();
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    lines_add("plate", 0, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\",\"volume\":\"1250\",\"volume_unit\":\"L\"");
    lines_add("exchange", 1, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    lines_add("volume", 1.1, "\"volume\":\"1128\",\"volume_unit\":\"L\",\"method\":\"meter\"");
    lines_add("setting", 2, "\"what\":\"temperature\",\"value\":\"37\",\"unit\":\"Cel\"");
    lines_reading(20, "ph", "7.8", "pH", "photometer", "\"serial\":\"P1\"");
    lines_reading(20, "total-alkalinity", "120", "mg/L", "drops", "\"step\":\"10\"");
    lines_add("addition", 21, "\"substance\":\"sodium-hypochlorite-120\",\"amount\":\"50\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    lines_reading(23, "free-chlorine", "3.4", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_add("setting", 24, "\"what\":\"duty\",\"value\":\"60\",\"unit\":\"pct\"");
    lines_reading(33, "free-chlorine", "2.6", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_add("addition", 34, "\"substance\":\"sodium-chloride\",\"amount\":\"1800\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    lines_add("setting", 34.1, "\"what\":\"jets\",\"state\":\"on\"");
    lines_add("setting", 34.2, "\"what\":\"cover\",\"state\":\"open\"");
}

/* Ten hours in no order, one fold; each answer has the bits of a fold of its own. */
static void ten_later_hours_are_one_fold(void **state)
{
    static const double HOURS[10] = {35, 61.7, 34.25, 400.5, 34.3, 96, 58.2, 58.1997, 207.9, 36};
    const tw_estimate_options quick = tw_estimate_options_quick();
    (void)state;
    start_up();
    const tw_book *book = lines_book(NULL);
    for (int i = 0; i < 10; i++) {
        const tw_belief kept = at(book, HOURS[i]), alone = lines_fold(book, HOURS[i], &quick);
        assert_memory_equal(kept.digest, alone.digest, sizeof kept.digest);
        assert_true(kept.at_utc_s == lines_now(HOURS[i]).utc_s);
    }
    assert_int_equal(settled.folded, 1u);
    /* A note changes nothing; a reading does; so does one that was written ahead, when its hour has come. */
    lines_add("note", 59, "\"words\":\"windy\"");
    (void)at(lines_book(NULL), 60);
    assert_int_equal(settled.folded, 1u);
    lines_reading(59, "free-chlorine", "2.4", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_add("setting", 70, "\"what\":\"duty\",\"value\":\"30\",\"unit\":\"pct\"");
    book = lines_book(NULL);
    (void)at(book, 60);
    (void)at(book, 69.9);
    assert_int_equal(settled.folded, 2u);
    const tw_belief b = at(book, 70.5);
    assert_int_equal(settled.folded, 3u);
    assert_near(b.duty, 0.3, 1e-12);
    (void)at(book, 90);
    assert_int_equal(settled.folded, 3u);
}

static tw_spread of_fan(const tw_spread *series, uint32_t hour) { return series[hour]; }

/* Members that are elsewhere than a walk of their own from `now` took them: they did what nobody wrote. */
static size_t elsewhere(const tw_belief *now, const tw_belief *then, uint32_t hours)
{
    tw_walk walk;
    tw_arena arena = {malloc(tw_estimate_walk_bytes(now->n)), tw_estimate_walk_bytes(now->n)};
    void *mem = arena.at;
    size_t count = 0;
    assert_true(tw_estimate_walk_start(&walk, now, &arena));
    tw_acid_constants acid;
    tw_estimate_acid_constants(now->temp_set_c, now->ionic_mol_per_kg, &acid);
    const double gas = exp(0.0237165 * (now->temp_set_c - 20.0)); /* of an hour, at 20 C: as the pH goes, so does the loss */
    for (uint32_t h = 0; h < hours; h++) {
        tw_estimate_walk_on(&walk, 1.0, now->duty, now->temp_set_c);
        for (size_t first = 0; first < now->n; first += TW_ESTIMATE_LANES)
            tw_estimate_walk_carbon(&walk, first, 1.0, gas, 0.0, &acid, NULL, NULL);
    }
    for (size_t i = 0; i < now->n; i++)
        count += fabs(walk.chlorine[i] - then->column[TW_COLUMN_CHLORINE_MG_PER_KG][i]) > 0.02 ||
                 fabs(walk.demand[i] - then->column[TW_COLUMN_DEMAND_MG_PER_KG][i]) > 0.02;
    free(mem);
    return count;
}

/* What was foreseen for an hour is what is believed then, when nothing was written meanwhile: the same chance of new days, and
 * of the members no more did something than the rates of data/unlogged.csv let, as many as they let where it still shows. */
static void what_was_foreseen_comes(void **state)
{
    static tw_fan fan;
    static const uint32_t HOURS[] = {1, 6, 24, 72, 168};
    const double per_h = (tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_USED].per_day + tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_POURED].per_day) / 24.0;
    (void)state;
    start_up();
    lines_count -= 3; /* no salt, no jets: everything stays as it is */
    const tw_book *book = lines_book(NULL);
    const tw_belief first = at(book, 60);
    tw_belief now;
    const size_t bytes = tw_estimate_forecast_bytes(first.n, 168);
    void *mem = malloc(bytes), *copy = malloc(tw_estimate_belief_bytes(first.n));
    tw_arena arena = {copy, tw_estimate_belief_bytes(first.n)};
    tw_estimate_belief_lay(&now, first.n, &arena);
    tw_estimate_belief_copy(&first, &now); /* the next answer takes the place of this one */
    const tw_schedule same = tw_estimate_schedule_same(&now);
    assert_int_equal(tw_estimate_forecast(&now, &same, 168, mem, bytes, &fan), TW_OK);
    free(mem);
    for (size_t i = 0; i < sizeof HOURS / sizeof *HOURS; i++) {
        const tw_belief then = at(book, 60 + HOURS[i]);
        const double n = (double)then.n, from = 27.0, until = from + HOURS[i];
        const double share = exp(-per_h * from) - exp(-per_h * until), sd = sqrt(share * (1.0 - share) / n);
        const double did = (double)elsewhere(&now, &then, HOURS[i]) / n;
        const tw_spread c = tw_estimate_column_mg_per_l(&then, TW_COLUMN_CHLORINE_MG_PER_KG), f = of_fan(fan.chlorine, HOURS[i]);
        print_message("# %u h: %.3f foreseen %.3f mg/L; %.3f of the members did something, %.3f by the rates\n", HOURS[i], c.q50, f.q50, did, share);
        const tw_spread ph = tw_estimate_column(&then, TW_COLUMN_PH), fph = of_fan(fan.ph, HOURS[i]);
        assert_true(did < share + 4.0 * sd);
        assert_true(did > 0.5 * share - 4.0 * sd);
        assert_near(ph.q50, fph.q50, 0.01);
        assert_near(then.film_age_h, now.film_age_h + HOURS[i], 1e-6);
    }
    free(copy);
    assert_int_equal(settled.folded, 1u);
}

/* The sampler itself followed to the same hour says the same, as far as two samples can: heating, salt on the floor, jets that stop. */
static void the_sampler_followed_to_that_hour_says_the_same(void **state)
{
    static tw_problem problem;
    static const int COLUMNS[] = {TW_COLUMN_CHLORINE_MG_PER_KG, TW_COLUMN_MADE_MG_PER_KG, TW_COLUMN_DEMAND_MG_PER_KG, TW_COLUMN_UNDISSOLVED_G,
                                  TW_COLUMN_PH, TW_COLUMN_LOSS_NOW_PER_H, TW_COLUMN_FILM_PER_H, TW_COLUMN_OUTPUT_G_PER_H, TW_COLUMN_WATER_KG};
    static const double HOURS[] = {35, 42, 90};
    tw_estimate_options many = tw_estimate_options_default();
    many.chains *= 4; /* the end of a tail of 1,024 members is a fifth off by chance */
    const size_t bytes = tw_estimate_sample_bytes(&many);
    void *mem = malloc(bytes);
    static double scratch[4096];
    (void)state;
    start_up();
    const tw_book *book = lines_book(NULL);
    for (size_t i = 0; i < sizeof HOURS / sizeof *HOURS; i++) {
        const tw_belief walked = lines_fold(book, HOURS[i], &many);
        tw_belief sampled;
        tw_from_book f;
        memset(&f, 0, sizeof f);
        f.book = book;
        f.tub = tw_units_text(LINES_TUB);
        f.now = f.end = f.until = lines_now(HOURS[i]);
        f.most_entries = 400;
        f.problem = &problem;
        assert_int_equal(tw_estimate_from_book(&f), TW_OK);
        tw_estimate_fit_conductivity(&problem.conductivity);
        assert_int_equal(tw_estimate_sample(&problem, walked.seed, walked.segment, &many, mem, bytes, &sampled), TW_OK);
        assert_near(walked.temp_set_c, sampled.temp_set_c, 0.05);
        assert_near(walked.duty, sampled.duty, 1e-12);
        assert_near(walked.day_left_h, sampled.day_left_h, 1e-6);
        assert_near(walked.stirred_h, sampled.stirred_h, 0.01 * sampled.stirred_h);
        assert_near(walked.hours_since_dose, sampled.hours_since_dose, 1e-6);
        for (size_t k = 0; k < sizeof COLUMNS / sizeof *COLUMNS; k++) {
            const tw_spread a = tw_estimate_spread(walked.column[COLUMNS[k]], walked.n, scratch);
            const tw_spread b = tw_estimate_spread(sampled.column[COLUMNS[k]], sampled.n, scratch);
            const double sd = (b.q95 - b.q05) / 3.29;
            print_message("# after %.0f h, column %d: %.4f (%.4f to %.4f), sampled %.4f (%.4f to %.4f)\n", HOURS[i], COLUMNS[k], a.q50,
                          a.q05, a.q95, b.q50, b.q05, b.q95);
            /* 4,096 members: 0.02 sd each, and chains differ; hours of jets are cut finer here (later.c). */
            assert_true(fabs(a.q50 - b.q50) < 0.35 * sd + (COLUMNS[k] == TW_COLUMN_PH ? 0.03 : 1e-4));
            assert_true((a.q95 - a.q05) < 1.35 * (b.q95 - b.q05) + 1e-4 && (a.q95 - a.q05) > 0.7 * (b.q95 - b.q05) - 1e-4);
        }
    }
    free(mem);
}

/* On the way nothing comes from nowhere: alkalinity, chloride with the salt of the floor, charges. */
static void nothing_comes_from_nowhere(void **state)
{
    (void)state;
    start_up();
    const tw_book *book = lines_book(NULL);
    tw_belief b = at(book, 34.2);
    const size_t n = b.n;
    double *had = malloc(4 * n * sizeof *had);
    size_t poured = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < n; i++) {
            const double active = b.total[TW_TOTAL_ACTIVE_CHLORINE][i], kg = b.column[TW_COLUMN_WATER_KG][i];
            /* Calcium goes as carbonate alone, if at all: what the others leave stays. */
            const double calcium = b.total[TW_TOTAL_CA][i];
            const double charge = b.total[TW_TOTAL_NA][i] + 2 * b.total[TW_TOTAL_MG][i] -
                                  b.total[TW_TOTAL_CL][i] - 2 * b.total[TW_TOTAL_SO4][i] - b.total[TW_TOTAL_OTHER][i] - active;
            const double chloride = b.total[TW_TOTAL_CL][i] + active + b.column[TW_COLUMN_UNDISSOLVED_G][i] / 58.443 / kg;
            if (pass == 0) {
                had[i] = charge;
                had[3 * n + i] = calcium;
                had[n + i] = chloride;
                had[2 * n + i] = b.column[TW_COLUMN_UNDISSOLVED_G][i];
                continue;
            }
            assert_near(charge, had[i], 1e-12);
            assert_true(calcium <= had[3 * n + i] && calcium > 0.0);
            poured += chloride > had[n + i] + 1e-12; /* by who did what nobody wrote */
            assert_true(chloride > had[n + i] - 1e-12);
            assert_true(b.column[TW_COLUMN_UNDISSOLVED_G][i] < had[2 * n + i]);
            assert_near(b.column[TW_COLUMN_MADE_MG_PER_KG][i] + b.column[TW_COLUMN_REMNANT_MG_PER_KG][i],
                        b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i], 1e-12);
        }
        b = at(book, 80);
    }
    const double share = 1.0 - exp(-tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_POURED].per_day * 45.8 / 24.0);
    print_message("# chlorine poured: %zu of %zu\n", poured, n);
    assert_true(fabs((double)poured / (double)n - share) < 4.0 * sqrt(share / (double)n));
    assert_int_equal(settled.folded, 1u);
    free(had);
}

/* A tub of which nothing is known but its name has the same prior at every hour. */
static void before_any_water_nothing_walks(void **state)
{
    (void)state;
    forget();
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    const tw_book *book = lines_book(NULL);
    const tw_belief soon = at(book, 1);
    const double c = tw_estimate_column(&soon, TW_COLUMN_LOSS_38_PER_H).q50;
    const tw_belief late = at(book, 5000);
    assert_true(late.flags & TW_BELIEF_NOT_STARTED);
    assert_near(tw_estimate_column(&late, TW_COLUMN_LOSS_38_PER_H).q50, c, 1e-15);
    assert_int_equal(settled.folded, 1u);
    assert_int_equal(late.days_drawn, 0u);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_later_hours_are_one_fold),
        cmocka_unit_test(what_was_foreseen_comes),
        cmocka_unit_test(the_sampler_followed_to_that_hour_says_the_same),
        cmocka_unit_test(nothing_comes_from_nowhere),
        cmocka_unit_test(before_any_water_nothing_walks),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(memory);
    free(lines_book_memory);
    free(lines_fold_memory);
    return failed;
}
