/* units/time.h: civil time with its offset, exact in whole seconds. No clock, no time zone table:
 * the shell says what the offset is. Proleptic Gregorian calendar, years 1970..2199. */
#ifndef TW_UNITS_TIME_H
#define TW_UNITS_TIME_H

#include <stddef.h>
#include <stdint.h>

#include "num/status.h"
#include "units/text.h"

#define TW_TIME_CHARS 25 /* "2026-03-24T10:40:00+01:00"  */
#define TW_DATE_CHARS 10 /* "2026-03-24"                 */
#define TW_TIME_BYTES 32 /* enough for every text here, with its zero */

typedef struct {
    int64_t utc_s;      /* seconds since 1970-01-01T00:00:00Z, without leap seconds */
    int32_t offset_min; /* local clock minus UTC, -840..840                         */
} tw_time;

typedef struct {
    int32_t year;    /* 1970..2199 */
    int32_t month;   /* 1..12      */
    int32_t day;     /* 1..31      */
    int32_t hour;    /* 0..23      */
    int32_t minute;  /* 0..59      */
    int32_t second;  /* 0..59      */
    int32_t weekday; /* 1 Monday .. 7 Sunday (ISO 8601); ignored when going from civil */
} tw_civil;

/* Read "YYYY-MM-DDTHH:MM:SS+HH:MM", exactly 25 characters. "Z", "-00:00", a second of 60 and dates
 * that do not exist are TW_ERR_FORMAT; a local year outside 1970..2199 or an offset beyond 14 hours
 * is TW_ERR_RANGE. write(read(x)) == x. */
tw_status tw_units_time_read(tw_text text, tw_time *out);

/* Read a time as a person or another program types it (RFC 3339, ISO 8601): as above, and also without seconds, with "Z"
 * for +00:00, with small letters or a blank for the "T". Fractions of a second, "-00:00" and a clock without offset are
 * TW_ERR_FORMAT. What is written of it is canonical. */
tw_status tw_units_time_typed(tw_text text, tw_time *out);

/* Write the canonical text, zero-ended. TW_ERR_RANGE when the local year is outside 1970..2199 or
 * the offset beyond 14 hours; TW_ERR_CAPACITY when cap < 26. buf is then the empty text. */
tw_status tw_units_time_write(tw_time time, char *buf, size_t cap);

/* Local civil date and clock of a time. TW_ERR_RANGE as above. */
tw_status tw_units_time_civil(tw_time time, tw_civil *out);

/* The time at which a local clock shows this. TW_ERR_RANGE when a field is outside its range. */
tw_status tw_units_time_from_civil(const tw_civil *civil, int32_t offset_min, tw_time *out);

/* Read and write "YYYY-MM-DD" as days since 1970-01-01. */
tw_status tw_units_date_read(tw_text text, int32_t *days);
tw_status tw_units_date_write(int32_t days, char *buf, size_t cap);

/* Days since 1970-01-01 of a date, and the date of days; years 1970..2199 (TW_REQUIRE). */
int32_t tw_units_days_from_date(int32_t year, int32_t month, int32_t day);
void tw_units_date_from_days(int32_t days, int32_t *year, int32_t *month, int32_t *day);

/* ISO weekday of days since 1970-01-01: 1 Monday .. 7 Sunday. */
int32_t tw_units_weekday(int32_t days);

/* Text for people in the local clock: "Tue 24 Mar 10:40" (always 16 characters, days below 10
 * with a blank in front). Statuses as tw_units_time_write. */
tw_status tw_units_time_clock(tw_time time, char *buf, size_t cap);

/* Hours from a to b, b - a. Exact for spans under 2^53 seconds up to the one division by 3600. */
double tw_units_hours_between(tw_time a, tw_time b);

/* Order in time: negative, 0, positive. The offset does not count. */
int tw_units_time_compare(tw_time a, tw_time b);

#endif
