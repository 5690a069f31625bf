/* tests/estimate/test_segment.c: what one water teaches the next, and what was kept of it. */
#include "support/check.h"

#include <math.h>

#include "book_lines.h"
#include "estimate/stretches.h"

static void tub(void)
{
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    lines_add("plate", 0, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    lines_add("volume", 0.5, "\"volume\":\"1200\",\"volume_unit\":\"L\",\"method\":\"geometry\"");
    lines_add("setting", 0.5, "\"what\":\"temperature\",\"value\":\"38\",\"unit\":\"Cel\"");
}

/* A water of 1,000 L of a dull bottle of strips: salt that tells the volume, chlorine that tells the loss. */
static void water(double from, const char *lot)
{
    char more[64];
    lines_add("exchange", from, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    lines_reading(from + 24, "conductivity", "420", "uS/cm", "meter", "\"serial\":\"M7\"");
    lines_add("addition", from + 24.5,
              "\"substance\":\"sodium-chloride\",\"amount\":\"2000\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    lines_add("setting", from + 24.6, "\"what\":\"jets\",\"state\":\"on\"");
    lines_reading(from + 48, "conductivity", "4230", "uS/cm", "meter", "\"serial\":\"M7\"");
    lines_add("addition", from + 48.5,
              "\"substance\":\"sodium-hypochlorite-120\",\"amount\":\"45\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    (void)snprintf(more, sizeof more, "\"lot\":\"%s\"", lot);
    for (int i = 0; i < 6; i++) {
        static const char *const DROPS[] = {"4.4", "3.6", "2.8", "2.2", "1.8", "1.4"};
        static const char *const STRIP[] = {"3", "3", "3", "1", "1", "1"};
        lines_reading(from + 50 + 12 * i, "free-chlorine", DROPS[i], "mg/L", "drops", "\"step\":\"0.2\"");
        lines_reading(from + 50 + 12 * i, "free-chlorine", STRIP[i], "mg/L", "strip", more);
    }
}

static tw_taught_shelf shelf;
static tw_settled settled;

static tw_belief kept_fold(const tw_book *book, double hours)
{
    static void *memory;
    const tw_estimate_options quick = tw_estimate_options_quick();
    const size_t bytes = tw_estimate_bytes(&quick);
    tw_belief b;
    memory = memory != NULL ? memory : malloc(bytes); /* what was settled lies in it */
    assert_non_null(memory);
    assert_int_equal(tw_estimate_fold_kept(book, tw_units_text(LINES_TUB), lines_now(hours), &quick, &shelf, &settled, memory, bytes, &b), TW_OK);
    return b;
}

static void same(const tw_belief *a, const tw_belief *b)
{
    assert_memory_equal(a->digest, b->digest, sizeof a->digest);
}

static double width(tw_spread s)
{
    return (s.q95 - s.q05) / s.q50;
}

#define SECOND 700.0

static void the_first_water_is_taught_by_none(void **state)
{
    (void)state;
    tub();
    water(1, "A");
    const tw_belief b = lines_fold(lines_book(NULL), 150, NULL);
    assert_int_equal(b.before.waters, 0u);
    assert_true(b.before.water_kg[1] <= 0.0);
}

static void the_second_begins_with_what_the_first_taught(void **state)
{
    (void)state;
    tub();
    water(1, "A");
    tw_belief b = lines_fold(lines_book(NULL), SECOND - 1, NULL);
    const tw_spread learned = tw_estimate_volume_l(&b), loss = tw_estimate_column(&b, TW_COLUMN_LOSS_38_PER_H);
    /* A fill and nothing read yet: the volume is that of before, a little wider; the water itself is unknown. */
    lines_add("exchange", SECOND, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    b = lines_fold(lines_book(NULL), SECOND + 1, NULL);
    const tw_spread volume = tw_estimate_volume_l(&b), after = tw_estimate_column(&b, TW_COLUMN_LOSS_38_PER_H);
    print_message("# volume %.0f (%.0f to %.0f), then %.0f (%.0f to %.0f)\n", learned.q50, learned.q05, learned.q95,
                  volume.q50, volume.q05, volume.q95);
    assert_int_equal(b.before.waters, 1u);
    assert_true(fabs(volume.q50 / learned.q50 - 1.0) < 0.02);
    assert_true(width(volume) > width(learned) && width(volume) < width(learned) + 0.06);
    assert_true(fabs(log(after.q50 / loss.q50)) < 0.15 && width(after) > width(loss));
    assert_true(b.before.water_kg[0] < b.before.water_kg[1] && b.before.water_kg[1] < b.before.water_kg[2]);
    assert_true(b.learned[TW_KNOWN_WATER] > 0.8); /* learned, if not from this water */
    assert_true(b.learned[TW_KNOWN_CHLORIDE] < 0.2);
}

static double bias_sd_of_strips(const char *lot)
{
    tub();
    water(1, "A");
    for (int i = 0; i < 20; i++) {
        static const char *const DROPS[] = {"1.2", "1.0", "1.0", "0.8", "0.8", "0.6"};
        static const char *const STRIP[] = {"1", "1", "1", "1", "1", "0.5"};
        const int k = i < 5 ? i : 5;
        lines_reading(124 + 12 * i, "free-chlorine", DROPS[k], "mg/L", "drops", "\"step\":\"0.2\"");
        lines_reading(124 + 12 * i, "free-chlorine", STRIP[k], "mg/L", "strip", "\"lot\":\"A\"");
    }
    lines_add("exchange", SECOND, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    char more[64];
    (void)snprintf(more, sizeof more, "\"lot\":\"%s\"", lot);
    lines_reading(SECOND + 2, "free-chlorine", "0", "mg/L", "strip", more);
    const tw_belief b = lines_fold(lines_book(NULL), SECOND + 3, NULL);
    assert_true(b.biases > 0);
    return b.bias[0].shift.q95 - b.bias[0].shift.q05;
}

static void a_bottle_is_known_by_its_lot(void **state)
{
    (void)state;
    const double known = bias_sd_of_strips("A"), other = bias_sd_of_strips("B");
    print_message("# width of the shift: the same bottle %.3f, another %.3f\n", known, other);
    assert_true(known < 0.85 * other);
}

/* Chlorine falls with the generator off, and falls on when it runs: a weak cell. */
static double cell_factor(const char *kind, const char *members)
{
    tub();
    water(1, "A");
    lines_add("setting", 113, "\"what\":\"duty\",\"value\":\"100\",\"unit\":\"pct\"");
    lines_reading(136, "free-chlorine", "1", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_reading(160, "free-chlorine", "0.8", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_reading(184, "free-chlorine", "0.8", "mg/L", "drops", "\"step\":\"0.2\"");
    if (kind[0])
        lines_add(kind, SECOND - 5, members);
    lines_add("exchange", SECOND, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    const tw_belief b = lines_fold(lines_book(NULL), SECOND + 1, NULL);
    return tw_estimate_column(&b, TW_COLUMN_CELL_FACTOR).q50;
}

static void a_new_cell_is_not_the_old_one(void **state)
{
    (void)state;
    const double same_cell = cell_factor("", ""), other = cell_factor("part", "\"part\":\"cell\",\"act\":\"fitted\"");
    print_message("# the cell's factor: the same %.2f, a new one %.2f\n", same_cell, other);
    assert_true(same_cell < 0.6 && other > 0.85);
}

/* Whatever belongs to the tub goes into the next fill, how its loss follows HOCl and how fast scale forms too; the water does not. */
static void all_of_the_tub_is_carried(void **state)
{
    static tw_taught taught;
    static tw_problem next;
    (void)state;
    memset(&taught, 0, sizeof taught);
    tw_estimate_problem_init(&next, TW_WATER_FRESH);
    for (uint32_t i = 0; i < TW_OF_THE_TUB; i++)
        taught.what[taught.n++] = tw_estimate_of_the_tub[i];
    taught.what[taught.n++] = TW_X_CHLORIDE;
    for (uint32_t i = 0; i < taught.n; i++) {
        taught.mean[i] = 0.1 * i;
        taught.covariance[i * (i + 1) / 2 + i] = 0.25;
    }
    tw_estimate_carry_make(&taught, 1.0, 0, &next);
    assert_int_equal(next.carry.n, TW_OF_THE_TUB);
    for (uint32_t i = 0; i < TW_OF_THE_TUB; i++) {
        assert_int_equal(next.carry.what[i], tw_estimate_of_the_tub[i]);
        assert_near(next.carry.mean[i], 0.1 * i, 1e-12);
    }
}

static double film_after(int purged)
{
    tub();
    water(1, "A");
    if (purged)
        lines_add("care", SECOND - 8, "\"job\":\"purge\",\"state\":\"done\"");
    lines_add("exchange", SECOND, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    const tw_belief b = lines_fold(lines_book(NULL), SECOND + 1, NULL);
    return tw_estimate_column(&b, TW_COLUMN_FILM_PER_H).q50;
}

static void a_purge_takes_the_knowledge_of_the_film(void **state)
{
    (void)state;
    const double left = film_after(0), fresh = film_after(1);
    print_message("# film: %.4f without, %.4f 1/h after a purge\n", left, fresh);
    assert_true(left < 0.7 * fresh);
    assert_near(fresh, 0.015, 0.004);
}

/* Built up entry by entry with a shelf, or at once without: the same bits; only what changed is folded. */
static void what_was_kept_changes_no_bit(void **state)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    (void)state;
    memset(&shelf, 0, sizeof shelf);
    tub();
    water(1, "A");
    water(SECOND, "A");
    for (size_t i = 4; i <= lines_count; i += 5) {
        const size_t all = lines_count;
        lines_count = i;
        const tw_belief with = kept_fold(lines_book(NULL), 1400);
        const tw_belief without = lines_fold(lines_book(NULL), 1400, &quick);
        same(&with, &without);
        lines_count = all;
    }
    assert_int_equal(shelf.folded, 1u); /* the first water, once, however much came to the second */
    lines_add("exchange", 1300, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    (void)kept_fold(lines_book(NULL), 1400);
    assert_int_equal(shelf.folded, 2u);
}

/* A reading of the first water that comes late, or is taken back, makes both waters again. */
static void late_and_voided_entries_are_folded_again(void **state)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    char members[80];
    (void)state;
    memset(&shelf, 0, sizeof shelf);
    tub();
    water(1, "A");
    water(SECOND, "A");
    lines_add("exchange", 1300, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    const tw_belief before = kept_fold(lines_book(NULL), 1400);
    uint8_t digest[32];
    memcpy(digest, before.digest, sizeof digest);
    assert_int_equal(shelf.folded, 2u);
    const char *id = lines_reading(72, "conductivity", "4700", "uS/cm", "meter", "\"serial\":\"M7\"");
    (void)snprintf(members, sizeof members, "\"target\":\"%s\"", id);
    tw_belief late = kept_fold(lines_book(NULL), 1400);
    assert_int_equal(shelf.folded, 4u);
    assert_memory_not_equal(late.digest, digest, sizeof digest); /* two waters on, it still tells */
    const tw_belief anew = lines_fold(lines_book(NULL), 1400, &quick);
    same(&late, &anew);
    lines_add("void", 1399, members);
    late = kept_fold(lines_book(NULL), 1400);
    const tw_belief anew_too = lines_fold(lines_book(NULL), 1400, &quick);
    same(&late, &anew_too);
    assert_memory_equal(late.digest, digest, sizeof digest); /* as if it had never been */
}

/* A water of many weeks on its generator: salted on the second day, read every third. */
static void long_water(double days)
{
    tub();
    lines_add("exchange", 1, "\"cause\":\"fill\",\"temperature\":\"12\",\"temperature_unit\":\"Cel\"");
    lines_reading(25, "conductivity", "420", "uS/cm", "meter", "\"serial\":\"M7\"");
    lines_add("addition", 25.5,
              "\"substance\":\"sodium-chloride\",\"amount\":\"2000\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    lines_add("setting", 25.6, "\"what\":\"jets\",\"state\":\"on\"");
    lines_reading(48, "conductivity", "4230", "uS/cm", "meter", "\"serial\":\"M7\"");
    lines_add("setting", 49, "\"what\":\"duty\",\"value\":\"45\",\"unit\":\"pct\"");
    for (int day = 3; day < days; day += 3) {
        static const char *const DROPS[] = {"3.2", "3.6", "3.4", "3.8", "3.2"}, *const PH[] = {"7.6", "7.5", "7.7"};
        lines_reading(24 * day + 8, "free-chlorine", DROPS[day / 3 % 5], "mg/L", "drops", "\"step\":\"0.2\"");
        lines_reading(24 * day + 8.1, "ph", PH[day / 3 % 3], "pH", "photometer", "");
        if (day % 9 == 0)
            lines_reading(24 * day + 8.2, "conductivity", "4260", "uS/cm", "meter", "\"serial\":\"M7\"");
    }
}

#define CUT_H (21 * 24.0)

/* Three months of it: the salting of the second day still tells the volume, and the water is known. */
static void a_long_water_forgets_nothing(void **state)
{
    (void)state;
    long_water(91);
    tw_belief b = lines_fold(lines_book(NULL), 24 * 12, NULL);
    const tw_spread salted = tw_estimate_volume_l(&b), salt = tw_estimate_now(&b, TW_OBSERVED_CHLORIDE);
    b = lines_fold(lines_book(NULL), 24 * 91, NULL);
    const tw_spread volume = tw_estimate_volume_l(&b), now = tw_estimate_now(&b, TW_OBSERVED_CHLORIDE);
    print_message("# volume %.0f (%.0f to %.0f), after three months %.0f (%.0f to %.0f); salt %.0f (%.0f to %.0f), %.0f (%.0f to %.0f)\n",
                  salted.q50, salted.q05, salted.q95, volume.q50, volume.q05, volume.q95, salt.q50, salt.q05, salt.q95, now.q50,
                  now.q05, now.q95);
    assert_true(width(volume) < 1.15 * width(salted));
    assert_true(fabs(volume.q50 / salted.q50 - 1.0) < 0.03 && fabs(now.q50 / salt.q50 - 1.0) < 0.04);
    assert_true(width(now) < 1.15 * width(salt));
    assert_false(b.flags & TW_BELIEF_TRUNCATED);
    assert_int_equal(b.chlorine_readings, 30u);
    assert_int_equal(b.before.waters, 0u);
    assert_true(b.learned[TW_KNOWN_CHLORIDE] > 0.9); /* of the water as it was at the last cut */
    assert_true(b.hours_since_any_dose > 24 * 89 && b.hours_since_any_dose < 24 * 91);
}

/* A reading of the first weeks that nobody can believe is still listed where it was, after the cuts. */
static void what_was_hard_to_believe_stays_listed(void **state)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    (void)state;
    long_water(70);
    lines_reading(24 * 10, "free-chlorine", "16", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_book *book = lines_book(NULL);
    tw_belief b = lines_fold(book, 24 * 12, &quick);
    assert_true(b.contradictions >= 1);
    const uint32_t entry = b.contradiction[0].entry;
    b = lines_fold(book, 24 * 70, &quick);
    int found = 0;
    for (uint32_t i = 0; i < b.contradictions; i++)
        found |= b.contradiction[i].entry == entry && b.contradiction[i].probability > 0.9;
    assert_true(found);
}

/* An entry more folds the last stretch only, a late one from its stretch on; at once or step by step: the same bits. */
static void cuts_change_no_bit_of_what_was_kept(void **state)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    (void)state;
    memset(&shelf, 0, sizeof shelf);
    long_water(70);
    const size_t all = lines_count;
    for (lines_count = 25; lines_count < all; lines_count += 9) {
        const tw_belief with = kept_fold(lines_book(NULL), 24 * 70);
        const tw_belief without = lines_fold(lines_book(NULL), 24 * 70, &quick);
        same(&with, &without);
    }
    lines_count = all;
    (void)kept_fold(lines_book(NULL), 24 * 70);
    assert_int_equal(shelf.folded, 3u); /* cut after 21, 42 and 63 days, each stretch once */
    lines_reading(24 * 69.5, "free-chlorine", "3.4", "mg/L", "drops", "\"step\":\"0.2\"");
    (void)kept_fold(lines_book(NULL), 24 * 70);
    assert_int_equal(shelf.folded, 3u);
    lines_reading(CUT_H + 30, "free-chlorine", "3.6", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_belief late = kept_fold(lines_book(NULL), 24 * 70);
    assert_int_equal(shelf.folded, 5u); /* the second stretch and the third */
    const tw_belief anew = lines_fold(lines_book(NULL), 24 * 70, &quick);
    same(&late, &anew);
}

static tw_stretches cut_up(double now)
{
    tw_stretches s;
    tw_estimate_stretches(lines_book(NULL), tw_units_text(LINES_TUB), lines_now(now), &s);
    return s;
}

/* Cuts are counted from the fill: a late entry moves none; weeks without entries are not cut up. */
static void cuts_lie_at_whole_three_weeks(void **state)
{
    (void)state;
    long_water(70);
    tw_stretches s = cut_up(24 * 70);
    assert_int_equal(s.n, 5u); /* what was set before the fill, and four */
    assert_false(s.list[1].cut || s.list[1].goes_on || s.list[0].is_cut);
    for (size_t i = 2; i < s.n; i++) {
        assert_int_equal(s.list[i].from.utc_s, lines_now(1 + (double)(i - 1) * CUT_H).utc_s);
        assert_int_equal(s.list[i - 1].end.utc_s, s.list[i].from.utc_s - 1);
        assert_true(s.list[i].goes_on && s.list[i - 1].is_cut && s.list[i].part == i - 1);
    }
    lines_reading(100, "free-chlorine", "3.4", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_stretches late = cut_up(24 * 70);
    assert_memory_equal(&late, &s, sizeof s);
    s = cut_up(24 * 200); /* nothing came after the 70th day */
    assert_int_equal(s.n, 5u);
    lines_add("exchange", 24 * 100, "\"cause\":\"fill\"");
    s = cut_up(24 * 101);
    assert_int_equal(s.n, 6u);
    assert_true(!s.list[5].cut && !s.list[4].is_cut && s.list[5].part == 0);
}

static void the_order_of_arrival_does_not_show(void **state)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    size_t order[LINES_MAX];
    uint8_t digest[32];
    (void)state;
    tub();
    water(1, "A");
    water(SECOND, "B");
    for (size_t i = 0; i < lines_count; i++)
        order[i] = (i * 7 + 3) % lines_count; /* a permutation: no line count here divides by seven */
    assert_true(lines_count % 7 != 0);
    const tw_belief a = lines_fold(lines_book(NULL), 1000, &quick);
    memcpy(digest, a.digest, sizeof digest);
    const tw_belief b = lines_fold(lines_book(order), 1000, &quick);
    assert_memory_equal(b.digest, digest, sizeof digest);
}

static void what_was_taught_survives_as_bytes(void **state)
{
    static uint8_t bytes[TW_TAUGHT_BYTES];
    (void)state;
    memset(&shelf, 0, sizeof shelf);
    tub();
    water(1, "A");
    water(SECOND, "A");
    (void)kept_fold(lines_book(NULL), 1000);
    tw_taught back;
    tw_estimate_taught_write(&shelf.taught[0], bytes);
    tw_estimate_taught_read(bytes, &back);
    assert_true(back.n > 6);
    assert_memory_equal(&back, &shelf.taught[0], sizeof back);
    /* And where the water goes on: everything of the cut too. */
    memset(&shelf, 0, sizeof shelf);
    long_water(30);
    (void)kept_fold(lines_book(NULL), 24 * 30);
    tw_estimate_taught_write(&shelf.taught[0], bytes);
    tw_estimate_taught_read(bytes, &back);
    assert_true(back.goes_on && back.n > 25 && back.cut.readings > 10);
    assert_memory_equal(&back, &shelf.taught[0], sizeof back);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_water_is_taught_by_none),
        cmocka_unit_test(the_second_begins_with_what_the_first_taught),
        cmocka_unit_test(a_bottle_is_known_by_its_lot),
        cmocka_unit_test(a_new_cell_is_not_the_old_one),
        cmocka_unit_test(all_of_the_tub_is_carried),
        cmocka_unit_test(a_purge_takes_the_knowledge_of_the_film),
        cmocka_unit_test(what_was_kept_changes_no_bit),
        cmocka_unit_test(late_and_voided_entries_are_folded_again),
        cmocka_unit_test(a_long_water_forgets_nothing),
        cmocka_unit_test(what_was_hard_to_believe_stays_listed),
        cmocka_unit_test(cuts_change_no_bit_of_what_was_kept),
        cmocka_unit_test(cuts_lie_at_whole_three_weeks),
        cmocka_unit_test(the_order_of_arrival_does_not_show),
        cmocka_unit_test(what_was_taught_survives_as_bytes),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
