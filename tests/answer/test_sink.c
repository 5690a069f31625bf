/* Sinks: keys are checked, JSON is canonical enough to compare, text never leaves its columns. */
#include <math.h>
#include <string.h>

#include "support/check.h"

#include "answer/say.h"
#include "answer/sink.h"

static char buf[16384];

static tw_time now(void)
{
    tw_time time = {0, 0};
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T10:40:00+01:00"), &time), TW_OK);
    return time;
}

static void is(const tw_sink *sink, const char *text)
{
    buf[sink->length] = '\0';
    assert_string_equal(buf, text);
}

static void json_has_fixed_decimals_and_null_for_unknown(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, sizeof buf - 1, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_number(&sink, TW_KEY_COUNT, 3.0);
    tw_answer_spread(&sink, TW_KEY_PH, 7.3, 7.4, NAN);
    tw_answer_close(&sink);
    assert_int_equal(tw_answer_sink_end(&sink), TW_OK);
    is(&sink, "{\n  \"count\": 3,\n  \"ph\": {\"median\": 7.40, \"low\": 7.30, \"high\": null}\n}\n");
}

static void json_escapes_what_must_be(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, sizeof buf - 1, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_string(&sink, TW_KEY_NAME, "a \"b\"\\c\n\001 \303\244");
    tw_answer_close(&sink);
    is(&sink, "{\n  \"name\": \"a \\\"b\\\"\\\\c\\n\\u0001 \303\244\"\n}\n");
}

static void an_unlisted_key_is_refused(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, sizeof buf - 1, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_string(&sink, TW_KEYS, "x");
    tw_answer_string(&sink, TW_KEY_NAME, "y");
    assert_int_equal(tw_answer_sink_end(&sink), TW_ERR_UNKNOWN);
}

static void a_key_of_another_type_is_refused(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, sizeof buf - 1, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_number(&sink, TW_KEY_NAME, 1.0);
    assert_int_equal(tw_answer_sink_end(&sink), TW_ERR_UNKNOWN);
}

static void a_full_buffer_is_said(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, 10, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_string(&sink, TW_KEY_NAME, "long enough");
    tw_answer_close(&sink);
    assert_int_equal(tw_answer_sink_end(&sink), TW_ERR_CAPACITY);
    assert_true(sink.length <= 10);
}

static void an_answer_left_open_is_said(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_json(&sink, buf, sizeof buf - 1, now());
    tw_answer_open(&sink, TW_KEY_ANSWER);
    assert_int_equal(tw_answer_sink_end(&sink), TW_ERR_FORMAT);
}

/* Every line of buf at most so many columns. */
static void assert_within(size_t length, size_t width)
{
    size_t from = 0;
    for (size_t i = 0; i <= length; i++)
        if (i == length || buf[i] == '\n') {
            assert_true(tw_answer_columns((tw_text){buf + from, i - from}) <= width);
            from = i + 1;
        }
}

static void text_never_leaves_its_columns(void **state)
{
    static const size_t WIDTHS[] = {40, 44, 60};
    (void)state;
    for (size_t w = 0; w < 3; w++) {
        tw_sink sink;
        tw_answer_sink_text(&sink, buf, sizeof buf - 1, now(), WIDTHS[w]);
        tw_answer_open(&sink, TW_KEY_ANSWER);
        tw_answer_string(&sink, TW_KEY_TUB, "a very long name of a tub that nobody would ever give, would they");
        tw_answer_time(&sink, TW_KEY_AT, now());
        tw_answer_string(&sink, TW_KEY_WEIGHT, "stop");
        tw_answer_open_list(&sink, TW_KEY_ASSUMED);
        for (int i = 0; i < 12; i++)
            tw_answer_message(&sink, TW_KEY_ASSUMED, TW_SAY_KNOWN_CALCIUM);
        tw_answer_close(&sink);
        tw_answer_open_list(&sink, TW_KEY_ENTRIES);
        tw_answer_item(&sink);
        tw_answer_time(&sink, TW_KEY_ENTRY_AT, now());
        tw_answer_string(&sink, TW_KEY_REMARK,
                         "wordthatisfarlongerthananylineofthisbookwouldeverbeandstillmustbeshownsomehow \302\260\302\260\302\260 end");
        tw_answer_close(&sink);
        tw_answer_close(&sink);
        tw_answer_close(&sink);
        assert_int_equal(tw_answer_sink_end(&sink), TW_OK);
        assert_within(sink.length, WIDTHS[w]);
    }
}

static void what_was_taken_back_stands_in_brackets(void **state)
{
    tw_sink sink;
    (void)state;
    tw_answer_sink_text(&sink, buf, sizeof buf - 1, now(), 60);
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_open_list(&sink, TW_KEY_ENTRIES);
    tw_answer_item(&sink);
    tw_answer_time(&sink, TW_KEY_ENTRY_AT, now());
    tw_answer_flag(&sink, TW_KEY_VOIDED, 1);
    tw_answer_message(&sink, TW_KEY_SAID, TW_SAY_ENTRY_VOID);
    tw_answer_close(&sink);
    tw_answer_close(&sink);
    tw_answer_close(&sink);
    is(&sink, "10:40 [takes back an entry]\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(json_has_fixed_decimals_and_null_for_unknown), cmocka_unit_test(json_escapes_what_must_be),
        cmocka_unit_test(an_unlisted_key_is_refused),                   cmocka_unit_test(a_key_of_another_type_is_refused),
        cmocka_unit_test(a_full_buffer_is_said),                        cmocka_unit_test(an_answer_left_open_is_said),
        cmocka_unit_test(text_never_leaves_its_columns),                cmocka_unit_test(what_was_taken_back_stands_in_brackets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
