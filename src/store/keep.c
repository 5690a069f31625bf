/* store/keep.c: which backups to keep. */
#include <stddef.h>

#include "store/backup.h"

#define DAY_S 86400
#define DAYS_TO_MONDAY 3 /* 1 January 1970 was a Thursday */

typedef enum { BY_DAY, BY_WEEK, BY_MONTH } span;

/* A number that all times of one day, week or month share. */
static int64_t of_span(int64_t at_s, span by)
{
    const int32_t day = (int32_t)(at_s / DAY_S);
    int32_t year = 0;
    int32_t month = 0;
    int32_t of_month = 0;
    switch (by) {
    case BY_WEEK:
        return (day + DAYS_TO_MONDAY) / 7;
    case BY_MONTH:
        tw_units_date_from_days(day, &year, &month, &of_month);
        return (int64_t)year * 12 + month;
    case BY_DAY:
    default:
        return day;
    }
}

/* The newest of those that are older than `before` (by time, then by place), or n. */
static size_t next_older(const int64_t *at_s, size_t n, size_t before)
{
    size_t newest = n;
    for (size_t i = 0; i < n; i++) {
        const int older = before == n || at_s[i] < at_s[before] || (at_s[i] == at_s[before] && i < before);
        if (older && (newest == n || at_s[i] > at_s[newest] || (at_s[i] == at_s[newest] && i > newest)))
            newest = i;
    }
    return newest;
}

static void keep_by(span by, unsigned count, const int64_t *at_s, size_t n, unsigned char *keep)
{
    int64_t seen = 0;
    int any = 0;
    for (size_t at = next_older(at_s, n, n); at < n && count > 0; at = next_older(at_s, n, at)) {
        const int64_t here = of_span(at_s[at], by);
        if (any && here == seen)
            continue;
        keep[at] = 1;
        seen = here;
        any = 1;
        count--;
    }
}

void tw_store_keep_which(const tw_store_keep *rule, const int64_t *at_s, size_t n, unsigned char *keep)
{
    unsigned last = rule->last;
    for (size_t i = 0; i < n; i++)
        keep[i] = 0;
    for (size_t at = next_older(at_s, n, n); at < n && last > 0; at = next_older(at_s, n, at)) {
        keep[at] = 1;
        last--;
    }
    keep_by(BY_DAY, rule->days, at_s, n, keep);
    keep_by(BY_WEEK, rule->weeks, at_s, n, keep);
    keep_by(BY_MONTH, rule->months, at_s, n, keep);
}

int tw_store_keep_read(tw_text text, tw_store_keep *out)
{
    unsigned *const part[] = {&out->last, &out->days, &out->weeks, &out->months};
    int seen[4] = {0, 0, 0, 0};
    size_t at = 0;
    *out = (tw_store_keep){0, 0, 0, 0};
    while (at < text.n) {
        unsigned number = 0;
        size_t digits = 0;
        for (; at < text.n && text.at[at] >= '0' && text.at[at] <= '9' && digits < 5; at++, digits++)
            number = 10 * number + (unsigned)(text.at[at] - '0');
        const char unit = at < text.n && text.at[at] != ',' ? text.at[at++] : '\0';
        const int which = unit == '\0' ? 0 : unit == 'd' ? 1 : unit == 'w' ? 2 : unit == 'm' ? 3 : -1;
        if (digits == 0 || which < 0 || seen[which] || (at < text.n && text.at[at] != ','))
            return 0;
        seen[which] = 1;
        *part[which] = number;
        if (at < text.n && ++at == text.n)
            return 0;
    }
    return out->last + out->days + out->weeks + out->months > 0;
}
