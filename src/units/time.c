/* units/time.c: civil time and its text. Days are counted from 1 March of a year divisible by 400,
 * so that the leap day is the last of its year and of its cycle. */
#include "units/time.h"

#include <string.h>

#include "num/require.h"

#define FIRST_YEAR 1970
#define LAST_YEAR 2199
#define MAX_OFFSET_MIN 840
#define DAY_S 86400

static int is_leap(int32_t year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int32_t days_in_month(int32_t year, int32_t month)
{
    static const int32_t DAYS[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return DAYS[month - 1] + (month == 2 && is_leap(year));
}

static int is_date(int32_t year, int32_t month, int32_t day)
{
    return month >= 1 && month <= 12 && day >= 1 && day <= days_in_month(year, month);
}

/* Days before 1 March of a month counted from March: 0, 31, 61, 92, ... */
static int32_t days_before(int32_t month_from_march)
{
    return (153 * month_from_march + 2) / 5;
}

int32_t tw_units_days_from_date(int32_t year, int32_t month, int32_t day)
{
    TW_REQUIRE(year >= FIRST_YEAR && year <= LAST_YEAR && is_date(year, month, day));
    const int32_t from_march = (month + 9) % 12;
    const int32_t y = year - (from_march >= 10); /* January and February belong to the year before */
    const int32_t leaps = y / 4 - y / 100 + y / 400;
    return 365 * y + leaps + days_before(from_march) + (day - 1) - 719468; /* 1970-01-01 from 0000-03-01 */
}

void tw_units_date_from_days(int32_t days, int32_t *year, int32_t *month, int32_t *day)
{
    TW_REQUIRE(days >= 0 && days <= 84005); /* 2199-12-31 */
    const int32_t since = days + 719468;
    const int32_t era = since / 146097; /* 400 years */
    const int32_t in_era = since % 146097;
    const int32_t y = (in_era - in_era / 1460 + in_era / 36524 - in_era / 146096) / 365;
    const int32_t in_year = in_era - (365 * y + y / 4 - y / 100);
    const int32_t from_march = (5 * in_year + 2) / 153;
    *day = in_year - days_before(from_march) + 1;
    *month = from_march < 10 ? from_march + 3 : from_march - 9;
    *year = 400 * era + y + (*month <= 2);
}

int32_t tw_units_weekday(int32_t days)
{
    const int32_t rest = (int32_t)(((int64_t)days + 3) % 7); /* 1970-01-01 was a Thursday */
    return (rest < 0 ? rest + 7 : rest) + 1;
}

/* n digits from text.at[at]; -1 when one is no digit. */
static int32_t digits(tw_text text, size_t at, size_t n)
{
    int32_t value = 0;
    for (size_t i = at; i < at + n; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return -1;
        value = value * 10 + (text.at[i] - '0');
    }
    return value;
}

static void put(char *buf, size_t at, int n, int32_t value)
{
    for (int i = n - 1; i >= 0; i--) {
        buf[at + (size_t)i] = (char)('0' + value % 10);
        value /= 10;
    }
}

static tw_status date_of(tw_text text, int32_t *year, int32_t *month, int32_t *day)
{
    *year = digits(text, 0, 4);
    *month = digits(text, 5, 2);
    *day = digits(text, 8, 2);
    if (*year < 0 || text.at[4] != '-' || text.at[7] != '-' || !is_date(*year, *month, *day))
        return TW_ERR_FORMAT;
    return *year < FIRST_YEAR || *year > LAST_YEAR ? TW_ERR_RANGE : TW_OK;
}

tw_status tw_units_date_read(tw_text text, int32_t *days)
{
    int32_t year, month, day;
    if (text.n != TW_DATE_CHARS)
        return TW_ERR_FORMAT;
    const tw_status status = date_of(text, &year, &month, &day);
    if (status == TW_OK)
        *days = tw_units_days_from_date(year, month, day);
    return status;
}

tw_status tw_units_date_write(int32_t days, char *buf, size_t cap)
{
    int32_t year, month, day;
    if (cap > 0)
        buf[0] = '\0';
    if (cap < TW_DATE_CHARS + 1)
        return TW_ERR_CAPACITY;
    if (days < 0 || days > 84005)
        return TW_ERR_RANGE;
    tw_units_date_from_days(days, &year, &month, &day);
    memcpy(buf, "0000-00-00", TW_DATE_CHARS + 1);
    put(buf, 0, 4, year);
    put(buf, 5, 2, month);
    put(buf, 8, 2, day);
    return TW_OK;
}

tw_status tw_units_time_from_civil(const tw_civil *civil, int32_t offset_min, tw_time *out)
{
    if (civil->year < FIRST_YEAR || civil->year > LAST_YEAR || !is_date(civil->year, civil->month, civil->day)
        || civil->hour < 0 || civil->hour > 23 || civil->minute < 0 || civil->minute > 59 || civil->second < 0
        || civil->second > 59 || offset_min < -MAX_OFFSET_MIN || offset_min > MAX_OFFSET_MIN)
        return TW_ERR_RANGE;
    const int64_t days = tw_units_days_from_date(civil->year, civil->month, civil->day);
    out->utc_s = days * DAY_S + civil->hour * 3600 + civil->minute * 60 + civil->second - (int64_t)offset_min * 60;
    out->offset_min = offset_min;
    return TW_OK;
}

tw_status tw_units_time_civil(tw_time time, tw_civil *out)
{
    if (time.offset_min < -MAX_OFFSET_MIN || time.offset_min > MAX_OFFSET_MIN)
        return TW_ERR_RANGE;
    if (time.utc_s < -(int64_t)DAY_S || time.utc_s > (int64_t)84007 * DAY_S)
        return TW_ERR_RANGE; /* also keeps the sum below from overflowing */
    const int64_t local = time.utc_s + (int64_t)time.offset_min * 60;
    if (local < 0 || local > (int64_t)84006 * DAY_S - 1)
        return TW_ERR_RANGE;
    const int32_t days = (int32_t)(local / DAY_S);
    const int32_t second = (int32_t)(local % DAY_S);
    tw_units_date_from_days(days, &out->year, &out->month, &out->day);
    out->hour = second / 3600;
    out->minute = second / 60 % 60;
    out->second = second % 60;
    out->weekday = tw_units_weekday(days);
    return TW_OK;
}

tw_status tw_units_time_read(tw_text text, tw_time *out)
{
    tw_civil civil = {0};
    if (text.n != TW_TIME_CHARS)
        return TW_ERR_FORMAT;
    const tw_status status = date_of(text, &civil.year, &civil.month, &civil.day);
    if (status == TW_ERR_FORMAT)
        return status;
    civil.hour = digits(text, 11, 2);
    civil.minute = digits(text, 14, 2);
    civil.second = digits(text, 17, 2);
    const int32_t offset_h = digits(text, 20, 2);
    const int32_t offset_m = digits(text, 23, 2);
    const char sign = text.at[19];
    if (text.at[10] != 'T' || text.at[13] != ':' || text.at[16] != ':' || text.at[22] != ':'
        || (sign != '+' && sign != '-') || civil.hour < 0 || civil.hour > 23 || civil.minute < 0
        || civil.minute > 59 || civil.second < 0 || civil.second > 59 || offset_h < 0 || offset_m < 0
        || offset_m > 59)
        return TW_ERR_FORMAT;
    const int32_t offset = offset_h * 60 + offset_m;
    if (sign == '-' && offset == 0)
        return TW_ERR_FORMAT; /* a second way to write +00:00 */
    if (status != TW_OK)
        return status;
    return tw_units_time_from_civil(&civil, sign == '-' ? -offset : offset, out);
}

tw_status tw_units_time_typed(tw_text text, tw_time *out)
{
    enum { MINUTE_END = 16, SECOND_END = 19 }; /* "2026-03-24T10:40", "2026-03-24T10:40:00" */
    char canonical[TW_TIME_CHARS];
    if (text.n <= MINUTE_END || (text.at[10] != 'T' && text.at[10] != 't' && text.at[10] != ' '))
        return TW_ERR_FORMAT;
    const size_t clock = text.at[MINUTE_END] == ':' ? SECOND_END : MINUTE_END;
    const size_t offset = text.n > clock ? text.n - clock : 0;
    const int is_utc = offset == 1 && (text.at[clock] == 'Z' || text.at[clock] == 'z');
    if (!is_utc && offset != TW_TIME_CHARS - SECOND_END)
        return TW_ERR_FORMAT;
    memcpy(canonical, "0000-00-00T00:00:00+00:00", TW_TIME_CHARS);
    memcpy(canonical, text.at, clock);
    canonical[10] = 'T';
    if (!is_utc)
        memcpy(canonical + SECOND_END, text.at + clock, offset);
    return tw_units_time_read((tw_text){canonical, TW_TIME_CHARS}, out);
}

tw_status tw_units_time_write(tw_time time, char *buf, size_t cap)
{
    tw_civil civil;
    if (cap > 0)
        buf[0] = '\0';
    if (cap < TW_TIME_CHARS + 1)
        return TW_ERR_CAPACITY;
    const tw_status status = tw_units_time_civil(time, &civil);
    if (status != TW_OK)
        return status;
    const int32_t offset = time.offset_min < 0 ? -time.offset_min : time.offset_min;
    memcpy(buf, "0000-00-00T00:00:00+00:00", TW_TIME_CHARS + 1);
    put(buf, 0, 4, civil.year);
    put(buf, 5, 2, civil.month);
    put(buf, 8, 2, civil.day);
    put(buf, 11, 2, civil.hour);
    put(buf, 14, 2, civil.minute);
    put(buf, 17, 2, civil.second);
    if (time.offset_min < 0)
        buf[19] = '-';
    put(buf, 20, 2, offset / 60);
    put(buf, 23, 2, offset % 60);
    return TW_OK;
}

tw_status tw_units_time_clock(tw_time time, char *buf, size_t cap)
{
    static const char DAY[7][4] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    static const char MONTH[12][4] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                      "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    tw_civil civil;
    if (cap > 0)
        buf[0] = '\0';
    if (cap < 17)
        return TW_ERR_CAPACITY;
    const tw_status status = tw_units_time_civil(time, &civil);
    if (status != TW_OK)
        return status;
    memcpy(buf, "ddd 00 mmm 00:00", 17);
    memcpy(buf, DAY[civil.weekday - 1], 3);
    put(buf, 4, 2, civil.day);
    if (civil.day < 10)
        buf[4] = ' ';
    memcpy(buf + 7, MONTH[civil.month - 1], 3);
    put(buf, 11, 2, civil.hour);
    put(buf, 14, 2, civil.minute);
    return TW_OK;
}

double tw_units_hours_between(tw_time a, tw_time b)
{
    return (double)(b.utc_s - a.utc_s) / 3600.0;
}

int tw_units_time_compare(tw_time a, tw_time b)
{
    return (a.utc_s > b.utc_s) - (a.utc_s < b.utc_s);
}
