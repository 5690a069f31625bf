/* bench/year.h: a year of a tub as lines of a logbook, made up by a small generator of its own.
 *
 * Nothing of the estimator is in it: chlorine falls and is made by the hour (Euler), people bathe every other day with
 * jets on, test with strips every third day, once a week with drops, top up and give acid once a week, and refill
 * four times. The same seed gives the same lines on every machine that has IEEE doubles. */
#ifndef TW_BENCH_YEAR_H
#define TW_BENCH_YEAR_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/compose.h"
#include "num/elementary.h"
#include "num/sha256.h"
#include "units/time.h"

#define YEAR_LINES 2600
#define YEAR_FROM INT64_C(1767225600) /* 2026-01-01 00:00 UTC */

typedef struct {
    char (*line)[640];
    size_t n;
    uint64_t random;
    char tub[40];
    unsigned number;         /* of the tub */
    double c, ph, alk, salt, volume, k, output, duty, hour;
    const char *lot;
} year;

static inline double year_uniform(year *y)
{
    y->random += UINT64_C(0x9E3779B97F4A7C15); /* splitmix64 */
    uint64_t z = y->random;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return ((double)((z ^ (z >> 31)) >> 12) + 0.5) * 0x1p-52;
}

/* Near enough to a normal: the sum of twelve uniforms. */
static inline double year_normal(year *y)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++)
        sum += year_uniform(y);
    return sum;
}

/* One entry: kind and "field=value;field=value". */
static inline void year_add(year *y, const char *kind, const char *members)
{
    tw_typed typed[24];
    char id[40], number[16], prev[72], time[TW_TIME_BYTES], copy[400];
    const tw_time at = {YEAR_FROM + (int64_t)(y->hour * 3600.0) + (int64_t)(y->n % 50), 60};
    size_t n = 0, length = 0;
    (void)snprintf(id, sizeof id, "0195c000-0000-7000-8000-%04x%08zx", y->number, y->n + 1);
    (void)snprintf(number, sizeof number, "%zu", y->n + 1);
    if (y->n > 0) { /* a true chain: one head, as one writer's logbook has */
        uint8_t hash[TW_SHA256_BYTES];
        tw_sha256(y->line[y->n - 1], strlen(y->line[y->n - 1]), hash);
        tw_sha256_hex(hash, prev);
    }
    (void)tw_units_time_write(at, time, sizeof time);
    typed[n++] = (tw_typed){tw_units_text("kind"), tw_units_text(kind)};
    typed[n++] = (tw_typed){tw_units_text("at"), tw_units_text(time)};
    typed[n++] = (tw_typed){tw_units_text("entered"), tw_units_text(time)};
    typed[n++] = (tw_typed){tw_units_text("id"), tw_units_text(id)};
    typed[n++] = (tw_typed){tw_units_text("tub"), tw_units_text(y->tub)};
    typed[n++] = (tw_typed){tw_units_text("writer"), tw_units_text("0195c000-0000-7000-8000-0000000000ff")};
    typed[n++] = (tw_typed){tw_units_text("n"), tw_units_text(number)};
    if (y->n > 0)
        typed[n++] = (tw_typed){tw_units_text("prev"), tw_units_text(prev)};
    (void)snprintf(copy, sizeof copy, "%s", members);
    for (char *at_field = copy; *at_field != '\0' && n < 24;) {
        char *equals = strchr(at_field, '='), *end = strchr(at_field, ';');
        if (end != NULL)
            *end = '\0';
        *equals = '\0';
        typed[n++] = (tw_typed){tw_units_text(at_field), tw_units_text(equals + 1)};
        at_field = end != NULL ? end + 1 : equals + 1 + strlen(equals + 1);
    }
    tw_fault fault;
    if (y->n == YEAR_LINES ||
        tw_logbook_compose(typed, n, TW_CHECK_IMPORTED, y->line[y->n], sizeof y->line[0] - 1, &length, &fault) != TW_OK) {
        char text[300] = "";
        (void)tw_logbook_fault_text(&fault, NULL, text, sizeof text);
        (void)fprintf(stderr, "bench: no entry: %s %s (%s)\n", kind, members, text);
        abort();
    }
    y->line[y->n++][length] = '\0';
}

static inline void year_read(year *y, const char *analyte, double value, int decimals, const char *unit, const char *tool, const char *more)
{
    char members[300];
    (void)snprintf(members, sizeof members, "analyte=%s;form=value;value=%.*f;unit=%s;instrument=%s%s%s", analyte, decimals,
                   value > 0.0 ? value : 0.0, unit, tool, more[0] ? ";" : "", more);
    year_add(y, "reading", members);
}

static inline void year_pour(year *y, const char *what, double grams)
{
    char members[200];
    (void)snprintf(members, sizeof members, "substance=%s;amount=%.0f;amount_unit=g;measured=weighed", what, grams);
    year_add(y, "addition", members);
}

static inline void year_set(year *y, const char *what, const char *how)
{
    char members[200];
    (void)snprintf(members, sizeof members, "what=%s;%s", what, how);
    year_add(y, "setting", members);
}

static inline double year_block(double x, const double *block, size_t n)
{
    size_t best = 0;
    for (size_t i = 1; i < n; i++)
        best = (x - block[i]) * (x - block[i]) < (x - block[best]) * (x - block[best]) ? i : best;
    return block[best];
}

static inline void year_strip(year *y)
{
    static const double FC[] = {0, 0.5, 1, 3, 5, 10}, PH[] = {6.4, 6.8, 7.2, 7.8, 8.4}, TA[] = {0, 40, 80, 120, 180, 240};
    char lot[32];
    (void)snprintf(lot, sizeof lot, "lot=%s", y->lot);
    year_read(y, "free-chlorine", year_block(y->c * (1.0 + 0.15 * year_normal(y)), FC, 6), 1, "mg/L", "strip", lot);
    year_read(y, "ph", year_block(y->ph + 0.15 * year_normal(y), PH, 5), 1, "pH", "strip", lot);
    year_read(y, "total-alkalinity", year_block(y->alk + 12.0 * year_normal(y), TA, 6), 0, "mg/L", "strip", lot);
    year_read(y, "temperature", 38.0 + 0.3 * year_normal(y), 1, "Cel", "thermometer", "");
}

static inline void year_drops(year *y)
{
    const double seen = y->c + 0.1 * year_normal(y);
    year_read(y, "free-chlorine", 0.2 * (double)(int)(seen / 0.2 + 1.0), 1, "mg/L", "drops", "step=0.2");
    year_read(y, "ph", y->ph + 0.05 * year_normal(y), 2, "pH", "meter", "serial=P3");
    year_read(y, "conductivity", 1.9 * y->salt + 350.0 + 20.0 * year_normal(y), 0, "uS/cm", "meter", "serial=E9");
}

/* Hours pass, in steps of an hour. */
static inline void year_go(year *y, double hours, double bathers)
{
    for (int i = 0; i < (int)hours; i++) {
        y->c += y->output * y->duty / y->volume * 1e3 - y->k * y->c - 0.4 * bathers;
        y->c = y->c > 0.0 ? y->c : 0.0;
        y->ph += 0.006 * (8.3 - y->ph);
        y->hour += 1.0;
    }
}

static inline void year_fill(year *y)
{
    char members[120];
    y->c = 0.1;
    y->ph = 7.7;
    y->alk = 120.0;
    y->salt = 40.0;
    (void)snprintf(members, sizeof members, "cause=fill;temperature=12;temperature_unit=Cel");
    year_add(y, "exchange", members);
    year_set(y, "temperature", "value=38;unit=Cel");
    year_go(y, 20, 0);
    year_drops(y);
    year_pour(y, "sodium-chloride", 1.7 * y->volume);
    y->salt += 1700.0;
    year_set(y, "jets", "state=on");
    year_go(y, 2, 0);
    year_set(y, "jets", "state=off");
    year_go(y, 18, 0);
    year_drops(y);
    year_pour(y, "sodium-hypochlorite-120", 0.04 * y->volume);
    y->c += 4.0;
    year_set(y, "duty", "value=50;unit=pct");
    year_go(y, 1, 0);
    year_drops(y);
    year_go(y, 7, 0);
}

/* One day, from some hour in the morning. */
static inline void year_day(year *y, int day)
{
    char members[120];
    if (day % 3 == 0)
        year_strip(y);
    if (day % 7 == 2) {
        year_drops(y);
        year_pour(y, "hydrochloric-acid-28", 0.03 * y->volume * (y->ph - 7.2 > 0.0 ? y->ph - 7.2 : 0.1) * 3.0);
        y->ph = 7.3;
        y->alk -= 6.0;
        (void)snprintf(members, sizeof members, "cause=top-up;in=%.0f;volume_unit=L", 20.0 + 10.0 * year_uniform(y));
        year_add(y, "exchange", members);
        y->duty = y->c > 4.0 ? 0.3 : (y->c < 2.0 ? 0.8 : 0.5);
        (void)snprintf(members, sizeof members, "value=%.0f;unit=pct", 100.0 * y->duty);
        year_set(y, "duty", members);
        if (y->alk < 70.0) {
            year_pour(y, "sodium-bicarbonate", 0.07 * y->volume);
            y->alk += 40.0;
        }
    }
    year_go(y, 10, 0);
    if (day % 2 == 0) {
        const int people = 1 + (int)(3.0 * year_uniform(y));
        year_set(y, "cover", "state=open");
        year_set(y, "jets", "state=on");
        (void)snprintf(members, sizeof members, "count=%d;minutes=45", people);
        year_add(y, "bathers", members);
        year_go(y, 1, (double)people);
        year_set(y, "jets", "state=off");
        year_set(y, "cover", "state=closed");
    } else {
        year_go(y, 1, 0);
    }
    if (day % 5 != 1) {
        year_add(y, "note", "words=as usual");
    }
    year_go(y, 13, 0);
}

/* A year with its refills; days: of the year that are written. Returns lines. */
static inline size_t year_make(year *y, char (*line)[640], unsigned number, int days)
{
    static const char *const LOT[] = {"K41", "K52", "K63", "K74"};
    memset(y, 0, sizeof *y);
    y->line = line;
    y->number = number;
    y->random = number * UINT64_C(0xD1342543DE82EF95) + 7;
    (void)snprintf(y->tub, sizeof y->tub, "0195c000-0000-7000-8000-%04x00000001", number);
    y->volume = 900.0 + 600.0 * year_uniform(y);
    y->k = 0.01 + 0.012 * year_uniform(y);
    y->output = 0.1 + 0.08 * year_uniform(y);
    y->duty = 0.5;
    y->lot = LOT[0];
    y->hour = 8.0;
    char members[160];
    (void)snprintf(members, sizeof members, "name=Tub %u;use=private;start=care", number);
    year_add(y, "tub", members);
    static const char *const GONE[] = {"bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone"};
    for (size_t i = 0; i < sizeof GONE / sizeof *GONE; i++) { /* so that the card speaks of the water */
        (void)snprintf(members, sizeof members, "question=%s;reply=no", GONE[i]);
        year_add(y, "reply", members);
    }
    year_add(y, "plate", "cell_output=0.15;cell_output_unit=g/h");
    (void)snprintf(members, sizeof members, "volume=%.0f;volume_unit=L;method=geometry", y->volume * (1.0 + 0.08 * year_normal(y)));
    year_add(y, "volume", members);
    for (int day = 0; day < days; day++) {
        if (day % 73 == 0)
            year_fill(y); /* the first one and four refills */
        y->lot = LOT[day / 92 % 4];
        y->hour = 8.0 + 24.0 * (day + 2);
        year_day(y, day);
    }
    return y->n;
}

#endif
