/* cli/clock.c: clock and typed times. */
#define _POSIX_C_SOURCE 200809L

#include "cli/clock.h"

#include <string.h>
#include <time.h>

#include "units/decimal.h"

static int64_t civil_seconds(const struct tm *at)
{
    const int32_t days = tw_units_days_from_date(at->tm_year + 1900, at->tm_mon + 1, at->tm_mday);
    return (int64_t)days * 86400 + at->tm_hour * 3600 + at->tm_min * 60 + at->tm_sec;
}

/* What the zone of this machine has the clock show at an instant, minutes ahead of UTC. 0: it cannot be said. */
static int offset_at(int64_t utc_s, int32_t *offset_min)
{
    const time_t at = (time_t)utc_s;
    struct tm local;
    struct tm utc;
    if (localtime_r(&at, &local) == NULL || gmtime_r(&at, &utc) == NULL)
        return 0;
    *offset_min = (int32_t)((civil_seconds(&local) - civil_seconds(&utc)) / 60);
    return 1;
}

tw_time tw_cli_clock(void)
{
    tw_time out = {.utc_s = (int64_t)time(NULL), .offset_min = 0};
    tzset();
    (void)offset_at(out.utc_s, &out.offset_min);
    return out;
}

/* A clock without its offset. When `now` is a time of this machine's zone, the zone says which offset there was:
 * before a change of the clock it was another one, in the night of the change there are none or two. */
static tw_status in_zone(const tw_civil *civil, tw_time now, tw_time *out)
{
    static const int32_t CHANGES[] = {0, 60, -60, 30, -30};
    int32_t shown = 0;
    size_t found = 0;
    const tw_status status = tw_units_time_from_civil(civil, now.offset_min, out);
    if (status != TW_OK || !offset_at(now.utc_s, &shown) || shown != now.offset_min)
        return status;
    for (size_t i = 0; i < sizeof CHANGES / sizeof CHANGES[0]; i++) {
        tw_time other;
        if (tw_units_time_from_civil(civil, now.offset_min + CHANGES[i], &other) == TW_OK &&
            offset_at(other.utc_s, &shown) && shown == other.offset_min && found++ == 0)
            *out = other;
    }
    return found == 1 ? TW_OK : found == 0 ? TW_ERR_RANGE : TW_ERR_AMBIGUOUS;
}

static int digits(tw_text text, size_t from, size_t n, int32_t *out)
{
    int32_t value = 0;
    if (from + n > text.n)
        return 0;
    for (size_t i = from; i < from + n; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return 0;
        value = value * 10 + (text.at[i] - '0');
    }
    *out = value;
    return 1;
}

/* "H:MM" or "HH:MM" into hour and minute of a civil time. */
static int read_hour(tw_text text, tw_civil *civil)
{
    const size_t hours = text.n == 4 ? 1 : 2;
    if (text.n != hours + 3 || text.at[hours] != ':')
        return 0;
    civil->second = 0;
    return digits(text, 0, hours, &civil->hour) && digits(text, hours + 1, 2, &civil->minute) && civil->hour < 24 &&
           civil->minute < 60;
}

static int32_t weekday_named(tw_text text)
{
    static const char NAMES[7][4] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
    if (text.n < 3)
        return 0;
    for (int32_t day = 0; day < 7; day++) {
        int same = 1;
        for (int i = 0; i < 3; i++)
            same = same && (char)(text.at[i] | 0x20) == NAMES[day][i];
        if (same)
            return day + 1;
    }
    return 0;
}

/* The last such weekday, today included when its hour has passed. */
static tw_status of_weekday(int32_t weekday, tw_text hour, tw_time now, tw_time *out)
{
    tw_civil civil;
    if (tw_units_time_civil(now, &civil) != TW_OK || !read_hour(hour, &civil))
        return TW_ERR_FORMAT;
    const int32_t today = tw_units_days_from_date(civil.year, civil.month, civil.day);
    int32_t back = tw_units_weekday(today) - weekday;
    if (back < 0)
        back += 7;
    tw_units_date_from_days(today - back, &civil.year, &civil.month, &civil.day);
    const tw_status status = in_zone(&civil, now, out);
    if (status == TW_OK && back == 0 && tw_units_time_compare(*out, now) > 0)
        out->utc_s -= 7 * 86400;
    return status;
}

/* "20 min ago": number and unit with or without a blank between. */
static tw_status before_now(tw_text typed, tw_time now, tw_time *out)
{
    static const struct {
        const char *unit;
        double seconds;
    } UNITS[] = {{"min", 60.0}, {"h", 3600.0}, {"d", 86400.0}, {"days", 86400.0}, {"day", 86400.0}, {"hours", 3600.0}, {"hour", 3600.0}};
    size_t n = 0;
    while (n < typed.n && ((typed.at[n] >= '0' && typed.at[n] <= '9') || typed.at[n] == '.'))
        n++;
    double number = 0.0;
    if (tw_units_decimal_read((tw_text){typed.at, n}, &number, NULL) != TW_OK)
        return TW_ERR_FORMAT;
    while (n < typed.n && typed.at[n] == ' ')
        n++;
    size_t end = n;
    while (end < typed.n && typed.at[end] != ' ')
        end++;
    for (size_t i = 0; i < sizeof UNITS / sizeof UNITS[0]; i++)
        if (tw_units_text_is((tw_text){typed.at + n, end - n}, UNITS[i].unit) && number < 4000.0) {
            *out = now;
            out->utc_s -= (int64_t)(number * UNITS[i].seconds + 0.5);
            return TW_OK;
        }
    return TW_ERR_FORMAT;
}

tw_status tw_cli_time_typed(tw_text typed, tw_time now, tw_time *out)
{
    tw_civil civil;
    if (tw_units_text_is(typed, "now")) {
        *out = now;
        return TW_OK;
    }
    if (tw_units_time_typed(typed, out) == TW_OK)
        return TW_OK;
    if (typed.n > 4 && tw_units_text_is((tw_text){typed.at + typed.n - 4, 4}, " ago"))
        return before_now((tw_text){typed.at, typed.n - 4}, now, out);
    if (tw_units_time_civil(now, &civil) != TW_OK)
        return TW_ERR_FORMAT;
    if (read_hour(typed, &civil))
        return in_zone(&civil, now, out);
    size_t blank = 0;
    while (blank < typed.n && typed.at[blank] != ' ' && typed.at[blank] != 'T')
        blank++;
    if (blank + 1 >= typed.n)
        return TW_ERR_FORMAT;
    const tw_text hour = {typed.at + blank + 1, typed.n - blank - 1};
    const int32_t weekday = typed.at[blank] == ' ' ? weekday_named((tw_text){typed.at, blank}) : 0;
    if (weekday > 0)
        return of_weekday(weekday, hour, now, out);
    int32_t days = 0;
    if (tw_units_date_read((tw_text){typed.at, blank}, &days) != TW_OK || !read_hour(hour, &civil))
        return TW_ERR_FORMAT;
    tw_units_date_from_days(days, &civil.year, &civil.month, &civil.day);
    return in_zone(&civil, now, out);
}

const char *tw_cli_time_instead(tw_status status)
{
    if (status == TW_ERR_RANGE)
        return "The clock was put forward over that hour: write the hour that it showed.";
    if (status == TW_ERR_AMBIGUOUS)
        return "The clock was put back and that hour came twice: write it with its offset, 2026-10-25T02:30:00+02:00.";
    return "Write: at 10:30, or: at Mon 10:30.";
}
