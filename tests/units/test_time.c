/* Civil time against the C library's gmtime, against known days, and every day of the range. */
#include <time.h>

#include "units/time.h"
#include "support/check.h"

#define LAST_DAY 84005 /* 2199-12-31 */

static void every_day_goes_round_and_follows_the_last(void **state)
{
    (void)state;
    int32_t year = 1969, month = 12, day = 31;
    for (int32_t days = 0; days <= LAST_DAY; days++) {
        int32_t y, m, d;
        tw_units_date_from_days(days, &y, &m, &d);
        assert_int_equal(tw_units_days_from_date(y, m, d), days);
        const int next_day = y == year && m == month && d == day + 1;
        const int next_month = y == year && m == month + 1 && d == 1;
        const int next_year = y == year + 1 && m == 1 && d == 1 && month == 12 && day == 31;
        assert_true(next_day || next_month || next_year);
        year = y, month = m, day = d;
        const time_t seconds = (time_t)days * 86400; /* the C library's own calendar */
        const struct tm *known = gmtime(&seconds);
        assert_non_null(known);
        assert_int_equal(y, known->tm_year + 1900);
        assert_int_equal(m, known->tm_mon + 1);
        assert_int_equal(d, known->tm_mday);
        assert_int_equal(tw_units_weekday(days) % 7, known->tm_wday);
    }
    assert_int_equal(year, 2199);
    assert_int_equal(tw_units_days_from_date(2199, 12, 31), LAST_DAY);
}

static tw_time at(const char *text)
{
    tw_time time = {-1, -1};
    assert_ok(tw_units_time_read(tw_units_text(text), &time));
    return time;
}

static void known_times_are_read(void **state)
{
    (void)state;
    assert_int_equal(at("1970-01-01T00:00:00+00:00").utc_s, 0);
    assert_int_equal(at("2001-09-09T01:46:40+00:00").utc_s, 1000000000);
    assert_int_equal(at("2026-03-24T10:40:00+01:00").utc_s, 1774345200);
    assert_int_equal(at("2026-03-24T10:40:00+01:00").offset_min, 60);
    assert_int_equal(at("2026-03-24T05:10:00-04:30").utc_s, 1774345200);
    assert_int_equal(at("2026-03-24T05:10:00-04:30").offset_min, -270);
    assert_int_equal(at("1970-01-01T00:00:00+14:00").utc_s, -50400);
    assert_int_equal(at("2199-12-31T23:59:59-14:00").utc_s, INT64_C(7258118400) + 50399);
    assert_int_equal(at("2000-02-29T12:00:00+00:00").utc_s, 951825600);
    assert_int_equal(at("2024-02-29T23:59:59+05:45").offset_min, 345);
}

static void other_text_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        tw_status want;
    } row[] = {
        {"", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00Z", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00+0100", TW_ERR_FORMAT},
        {"2026-03-24 10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-03-24t10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00-00:00", TW_ERR_FORMAT},
        {"2026-03-24T10:40:60+01:00", TW_ERR_FORMAT},
        {"2026-03-24T10:60:00+01:00", TW_ERR_FORMAT},
        {"2026-03-24T24:00:00+01:00", TW_ERR_FORMAT},
        {"2026-02-29T10:40:00+01:00", TW_ERR_FORMAT},
        {"2100-02-29T10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-04-31T10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-00-10T10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-13-10T10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-12-00T10:40:00+01:00", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00+01:60", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00*01:00", TW_ERR_FORMAT},
        {"2026-03-24T1a:40:00+01:00", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00+01:0 ", TW_ERR_FORMAT},
        {"2026-03-24T10:40:00+01:000", TW_ERR_FORMAT},
        {"-026-03-24T10:40:00+01:00", TW_ERR_FORMAT},
        {"1969-12-31T23:59:59+00:00", TW_ERR_RANGE},
        {"2200-01-01T00:00:00+00:00", TW_ERR_RANGE},
        {"2026-03-24T10:40:00+14:01", TW_ERR_RANGE},
        {"2026-03-24T10:40:00-14:01", TW_ERR_RANGE},
        {"2026-03-24T10:40:00+99:00", TW_ERR_RANGE},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        tw_time time = {42, 42};
        const tw_status got = tw_units_time_read(tw_units_text(row[i].text), &time);
        if (got != row[i].want)
            print_error("# %s\n", row[i].text);
        assert_status(got, row[i].want);
        assert_true(time.utc_s == 42 && time.offset_min == 42);
    }
}

/* The examples of RFC 3339, section 5.8, as far as they are whole seconds of these years, and ISO 8601 to the minute. */
static void typed_times_are_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t utc_s;
        int32_t offset_min;
    } ROWS[] = {{"1996-12-19T16:39:57-08:00", 851042397, -480},
                {"1996-12-20T00:39:57Z", 851042397, 0},
                {"1996-12-20t00:39:57z", 851042397, 0},
                {"1996-12-20 00:39:57Z", 851042397, 0},
                {"2026-03-24T10:40+01:00", 1774345200, 60},
                {"2026-03-24T09:40Z", 1774345200, 0},
                {"2026-03-24T05:10-04:30", 1774345200, -270}};
    static const char *const BAD[] = {"", "2026-03-24", "2026-03-24T10:40", "2026-03-24T10:40:00", "2026-03-24T10Z", "2026-03-24T10:40:Z",
                                      "2026-03-24T10:4Z", "2026-03-24T10:40:00.5Z", "2026-03-24T10:40:00ZZ", "2026-03-24T10:40+0100",
                                      "2026-03-24T10:40-00:00", "2026-02-29T10:40Z", "2026-03-24T24:00Z", "2026-03-24T10:60Z",
                                      "2026-03-24T10:40:60Z", "2026-03-24x10:40Z", "2026-03-24T10:40Y", " 2026-03-24T10:40Z"};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        tw_time time = {-1, -1};
        assert_ok(tw_units_time_typed(tw_units_text(ROWS[i].text), &time));
        assert_int_equal(time.utc_s, ROWS[i].utc_s);
        assert_int_equal(time.offset_min, ROWS[i].offset_min);
    }
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        tw_time time = {-1, -1};
        assert_int_equal(tw_units_time_typed(tw_units_text(BAD[i]), &time), TW_ERR_FORMAT);
    }
    tw_time time;
    assert_int_equal(tw_units_time_typed(tw_units_text("2200-01-01T00:00Z"), &time), TW_ERR_RANGE);
    assert_int_equal(tw_units_time_typed(tw_units_text("2026-03-24T10:40+15:00"), &time), TW_ERR_RANGE);
    /* The logbook's own text stays the one canonical text. */
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T09:40:00Z"), &time), TW_ERR_FORMAT);
}

static void random_times_go_round(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < 200000; i++) {
        const int64_t local = (int64_t)(random_bits(&random) % ((uint64_t)(LAST_DAY + 1) * 86400));
        const int32_t offset = (int32_t)(random_bits(&random) % 1681) - 840;
        const tw_time time = {local - (int64_t)offset * 60, offset};
        char text[TW_TIME_BYTES];
        assert_ok(tw_units_time_write(time, text, sizeof text));
        assert_int_equal(strlen(text), TW_TIME_CHARS);
        tw_time again;
        assert_ok(tw_units_time_read(tw_units_text(text), &again));
        assert_true(again.utc_s == time.utc_s && again.offset_min == time.offset_min);
        tw_civil civil;
        assert_ok(tw_units_time_civil(time, &civil));
        assert_ok(tw_units_time_from_civil(&civil, offset, &again));
        assert_true(again.utc_s == time.utc_s);
        const time_t seconds = (time_t)local;
        const struct tm *known = gmtime(&seconds);
        assert_non_null(known);
        assert_int_equal(civil.hour, known->tm_hour);
        assert_int_equal(civil.minute, known->tm_min);
        assert_int_equal(civil.second, known->tm_sec);
        assert_int_equal(civil.day, known->tm_mday);
    }
}

static void times_outside_are_refused(void **state)
{
    (void)state;
    char text[TW_TIME_BYTES] = "x";
    const tw_time outside[] = {{-1, 0}, {INT64_C(7258118400), 0}, {0, -1}, {0, 841}, {0, -841},
                               {INT64_MAX, 840}, {INT64_MIN, -840}, {1000000000, INT32_MIN}};
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        tw_civil civil;
        assert_status(tw_units_time_write(outside[i], text, sizeof text), TW_ERR_RANGE);
        assert_string_equal(text, "");
        assert_status(tw_units_time_civil(outside[i], &civil), TW_ERR_RANGE);
        assert_status(tw_units_time_clock(outside[i], text, sizeof text), TW_ERR_RANGE);
    }
    assert_ok(tw_units_time_write((tw_time){-60, 1}, text, sizeof text)); /* 1970-01-01T00:00:00+00:01 */
    assert_ok(tw_units_time_write((tw_time){INT64_C(7258118399), 0}, text, sizeof text));
    assert_string_equal(text, "2199-12-31T23:59:59+00:00");
    assert_status(tw_units_time_write((tw_time){0, 0}, text, 25), TW_ERR_CAPACITY);
    assert_ok(tw_units_time_write((tw_time){0, 0}, text, 26));
    assert_status(tw_units_time_clock((tw_time){0, 0}, text, 16), TW_ERR_CAPACITY);
    const tw_civil bad[] = {{1969, 12, 31, 0, 0, 0, 0}, {2026, 2, 29, 0, 0, 0, 0}, {2026, 1, 1, 24, 0, 0, 0},
                            {2026, 1, 1, 0, 60, 0, 0},  {2026, 1, 1, 0, 0, 60, 0}, {2026, 0, 1, 0, 0, 0, 0}};
    tw_time time;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_status(tw_units_time_from_civil(&bad[i], 0, &time), TW_ERR_RANGE);
}

static void dates_are_read_and_written(void **state)
{
    (void)state;
    int32_t days = -1;
    char text[TW_TIME_BYTES];
    assert_ok(tw_units_date_read(tw_units_text("2024-02-29"), &days));
    assert_int_equal(days, 19782);
    assert_ok(tw_units_date_write(days, text, sizeof text));
    assert_string_equal(text, "2024-02-29");
    assert_status(tw_units_date_read(tw_units_text("2023-02-29"), &days), TW_ERR_FORMAT);
    assert_status(tw_units_date_read(tw_units_text("2024-2-29"), &days), TW_ERR_FORMAT);
    assert_status(tw_units_date_read(tw_units_text("1900-01-01"), &days), TW_ERR_RANGE);
    assert_status(tw_units_date_write(-1, text, sizeof text), TW_ERR_RANGE);
    assert_status(tw_units_date_write(LAST_DAY + 1, text, sizeof text), TW_ERR_RANGE);
    assert_status(tw_units_date_write(0, text, 10), TW_ERR_CAPACITY);
}

static void the_clock_for_people(void **state)
{
    (void)state;
    char text[TW_TIME_BYTES];
    assert_ok(tw_units_time_clock(at("2026-03-24T10:40:00+01:00"), text, sizeof text));
    assert_string_equal(text, "Tue 24 Mar 10:40");
    assert_ok(tw_units_time_clock(at("2026-03-01T00:05:59-09:30"), text, sizeof text));
    assert_string_equal(text, "Sun  1 Mar 00:05");
}

static void order_and_distance_ignore_the_offset(void **state)
{
    (void)state;
    const tw_time a = at("2026-03-24T10:40:00+01:00"), b = at("2026-03-24T10:40:00+00:00");
    assert_true(tw_units_time_compare(a, b) < 0 && tw_units_time_compare(b, a) > 0);
    assert_true(tw_units_time_compare(a, at("2026-03-24T09:40:00+00:00")) == 0);
    assert_near(tw_units_hours_between(a, b), 1.0, 0.0);
    assert_near(tw_units_hours_between(b, a), -1.0, 0.0);
    assert_int_equal(tw_units_weekday(-1), 3);
    assert_int_equal(tw_units_weekday(-8), 3);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_day_goes_round_and_follows_the_last),
        cmocka_unit_test(known_times_are_read),
        cmocka_unit_test(other_text_is_refused),
        cmocka_unit_test(typed_times_are_read),
        cmocka_unit_test(random_times_go_round),
        cmocka_unit_test(times_outside_are_refused),
        cmocka_unit_test(dates_are_read_and_written),
        cmocka_unit_test(the_clock_for_people),
        cmocka_unit_test(order_and_distance_ignore_the_offset),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
