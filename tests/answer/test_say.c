/* Sentences: what people read of numbers, chances, durations and times. */
#include <math.h>
#include <string.h>

#include "support/check.h"

#include "answer/say.h"
#include "answer/views.h"

static tw_time at(const char *text)
{
    tw_time time = {0, 0};
    assert_int_equal(tw_units_time_read(tw_units_text(text), &time), TW_OK);
    return time;
}

static void a_mass_is_shown_as_a_scale_shows_it(void **state)
{
    static const struct {
        double g;
        const char *text;
    } ROWS[] = {{97.4, "97 g"}, {0.5, "0.5 g"}, {9.0, "9 g"}, {999.0, "999 g"}, {1000.0, "1 kg"}, {2104.0, "2.1 kg"}, {1936.0, "1.94 kg"}};
    char buf[32];
    (void)state;
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++) {
        assert_true(tw_answer_mass_text(ROWS[i].g, buf, sizeof buf) > 0);
        assert_string_equal(buf, ROWS[i].text);
    }
}

static void a_duration_is_minutes_then_hours_then_days(void **state)
{
    static const struct {
        double hours;
        const char *text;
    } ROWS[] = {{23.0 / 60.0, "23 min"}, {1.5, "90 min"}, {2.0, "2 h"}, {2.5, "2.5 h"}, {36.0, "36 h"}, {72.0, "3 days"}, {84.0, "3.5 days"}};
    char buf[32];
    (void)state;
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++) {
        assert_true(tw_answer_hours_text(ROWS[i].hours, buf, sizeof buf) > 0);
        assert_string_equal(buf, ROWS[i].text);
    }
    assert_int_equal(tw_answer_hours_text(-1.0, buf, sizeof buf), 0);
}

static void no_chance_is_ever_0_or_100_percent(void **state)
{
    char buf[32];
    (void)state;
    assert_true(tw_answer_chance_text(0.0, buf, sizeof buf) > 0);
    assert_string_equal(buf, "under 1 %");
    assert_true(tw_answer_chance_text(1.0, buf, sizeof buf) > 0);
    assert_string_equal(buf, "over 99 %");
    assert_true(tw_answer_chance_text(0.864, buf, sizeof buf) > 0);
    assert_string_equal(buf, "86 %");
    assert_int_equal(tw_answer_chance_text(1.5, buf, sizeof buf), 0);
}

static void a_time_leaves_out_what_the_reader_knows(void **state)
{
    const tw_time now = at("2026-03-24T10:40:00+01:00");
    char buf[32];
    (void)state;
    assert_true(tw_answer_time_text(at("2026-03-24T12:50:00+01:00"), NULL, now, buf, sizeof buf) > 0);
    assert_string_equal(buf, "12:50");
    assert_true(tw_answer_time_text(at("2026-03-27T17:00:00+01:00"), NULL, now, buf, sizeof buf) > 0);
    assert_string_equal(buf, "Fri 17:00");
    assert_true(tw_answer_time_text(at("2026-04-04T17:00:00+02:00"), NULL, now, buf, sizeof buf) > 0);
    assert_string_equal(buf, "Sat 4 Apr 17:00");
}

static void a_sentence_is_filled_by_name(void **state)
{
    char buf[TW_SENTENCE_BYTES];
    size_t n = 0;
    (void)state;
    tw_said said = tw_units_say(TW_SAY_ENTRY_READING_BETWEEN);
    tw_units_say_amount(&said, "high", 7.3, 1, (tw_text){"", 0});
    tw_units_say_message(&said, "by", TW_SAY_BY_STRIP);
    tw_units_say_amount(&said, "value", 6.9, 1, (tw_text){"", 0});
    tw_units_say_message(&said, "what", TW_SAY_ANALYTE_PH);
    assert_int_equal(tw_answer_say(&said, NULL, 0, at("2026-03-24T10:40:00+01:00"), buf, sizeof buf, &n), TW_OK);
    assert_string_equal(buf, "pH between 6.9 and 7.3, strip");
    assert_int_equal(n, strlen(buf));
}

static void a_missing_or_wrong_argument_is_refused(void **state)
{
    char buf[TW_SENTENCE_BYTES];
    size_t n = 7;
    (void)state;
    tw_said said = tw_units_say(TW_SAY_CLOCK);
    assert_int_equal(tw_answer_say(&said, NULL, 0, at("2026-03-24T10:40:00+01:00"), buf, sizeof buf, &n), TW_ERR_MISSING);
    assert_int_equal(n, 0);
    tw_units_say_number(&said, "at", 12.0);
    assert_int_equal(tw_answer_say(&said, NULL, 0, at("2026-03-24T10:40:00+01:00"), buf, sizeof buf, &n), TW_ERR_MISSING);
    assert_string_equal(buf, "");
}

static void what_is_not_known_is_a_question_mark(void **state)
{
    char buf[32];
    const double unknown = (double)NAN;
    (void)state;
    assert_true(tw_answer_mass_text(unknown, buf, sizeof buf) > 0);
    assert_string_equal(buf, "? g");
    assert_true(tw_answer_chance_text(unknown, buf, sizeof buf) > 0);
    assert_string_equal(buf, "?");
    assert_int_equal(tw_answer_mass_text(1e300, buf, sizeof buf), 0);
}

static void a_short_buffer_gets_nothing(void **state)
{
    char buf[8];
    size_t n = 7;
    (void)state;
    tw_said said = tw_units_say(TW_SAY_NO_TUB_YET);
    assert_int_equal(tw_answer_say(&said, NULL, 0, at("2026-03-24T10:40:00+01:00"), buf, sizeof buf, &n), TW_ERR_CAPACITY);
    assert_string_equal(buf, "");
}

static void every_id_finds_its_row(void **state)
{
    (void)state;
    for (int i = 0; i < TW_MESSAGES; i++)
        assert_int_equal(tw_units_message_find(tw_units_text(tw_units_message_id((tw_message)i))), i);
    assert_int_equal(tw_units_message_find(tw_units_text("no-such-message")), TW_MESSAGES);
}

/* Of a kind that this program knows no entry is "of a newer version", but a reading of no known form. */
static void every_kind_has_a_sentence(void **state)
{
    tw_entry entry;
    (void)state;
    memset(&entry, 0, sizeof entry);
    for (int kind = 0; kind < TW_KINDS; kind++) {
        entry.kind = (tw_kind)kind;
        if (kind != TW_KIND_READING)
            assert_int_not_equal(tw_answer_describe(&entry).message, TW_SAY_ENTRY_NEWER);
    }
    entry.kind = TW_KINDS;
    assert_int_equal(tw_answer_describe(&entry).message, TW_SAY_ENTRY_NEWER);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_mass_is_shown_as_a_scale_shows_it), cmocka_unit_test(a_duration_is_minutes_then_hours_then_days),
        cmocka_unit_test(no_chance_is_ever_0_or_100_percent),  cmocka_unit_test(a_time_leaves_out_what_the_reader_knows),
        cmocka_unit_test(a_sentence_is_filled_by_name),        cmocka_unit_test(a_missing_or_wrong_argument_is_refused),
        cmocka_unit_test(a_short_buffer_gets_nothing), cmocka_unit_test(what_is_not_known_is_a_question_mark),
        cmocka_unit_test(every_id_finds_its_row), cmocka_unit_test(every_kind_has_a_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
