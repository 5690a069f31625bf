/* estimate/drain.c: days to each limit in every member, and which comes first. */
#include "estimate/drain.h"

#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/sampler.h"
#include "num/elementary.h"

#define UNREAD 0.2          /* share learned under which it is assumed   */

size_t tw_estimate_drain_bytes(size_t n)
{
    return (TW_DRAIN_RULES + 2) * n * sizeof(double) + (TW_DRAIN_RULES + 3) * TW_ARENA_ALIGN;
}

/* A rate of so many acts, one draw of it: log-normal around what was seen. */
static double drawn(double rate, double acts, double z)
{
    const double sd = acts > 1.0 ? 1.0 / sqrt(acts) : acts > 0.0 ? 1.0 : 0.0;
    return rate * tw_exp(sd * z - 0.5 * sd * sd);
}

static double bounded(double days)
{
    return !(days > 0.0) ? 0.0 : days > TW_DRAIN_HORIZON_DAYS ? TW_DRAIN_HORIZON_DAYS : days;
}

/* Days until what is there and grows reaches a limit. */
static double to_limit(double there, double limit, double per_day)
{
    if (there >= limit)
        return 0.0;
    return per_day > 0.0 ? bounded((limit - there) / per_day) : TW_DRAIN_HORIZON_DAYS;
}

/* One member's days by every rule; the order of the draws is fixed. */
static void member_days(const tw_belief *b, const tw_drain_facts *f, size_t i, double *const days[TW_DRAIN_RULES])
{
    const tw_drain_row *row = tw_estimate_drain_rows;
    const double litres = b->column[TW_COLUMN_WATER_KG][i] / b->density_kg_per_l;
    const double cyanurate = 129074.2 * b->total[TW_TOTAL_CYANURATE][i] * b->density_kg_per_l;
    tw_stream stream = tw_stream_make(b->seed, b->segment, TW_PURPOSE_DRAIN, (uint32_t)i);
    const double z_solids = tw_stream_normal(&stream);
    const double z_cyanurate = tw_stream_normal(&stream);
    const double z_bathers = tw_stream_normal(&stream);
    const double age_at = tw_stream_uniform(&stream);
    days[TW_DRAIN_SOLIDS][i] = to_limit(1e3 * f->solids_g / litres, row[TW_DRAIN_SOLIDS].high,
                                        1e3 * drawn(f->solids_g_per_day, f->solids_acts, z_solids) / litres);
    days[TW_DRAIN_CYANURATE][i] = to_limit(cyanurate, row[TW_DRAIN_CYANURATE].high,
                                           1e3 * drawn(f->cyanurate_g_per_day, f->cyanurate_acts, z_cyanurate) / litres);
    days[TW_DRAIN_COMBINED][i] = f->oxidations >= 2 ? 0.0 : TW_DRAIN_HORIZON_DAYS;
    days[TW_DRAIN_AGE][i] =
        bounded(row[TW_DRAIN_AGE].low + age_at * (row[TW_DRAIN_AGE].high - row[TW_DRAIN_AGE].low) - f->age_days);
    const double bathers = drawn(f->bathers_per_day, f->bathing_acts, z_bathers);
    days[TW_DRAIN_BATHERS][i] = bathers > 0.0 ? bounded(litres / (row[TW_DRAIN_BATHERS].high * bathers) - f->age_days)
                                              : TW_DRAIN_HORIZON_DAYS;
    days[TW_DRAIN_BUSINESS][i] = bounded(row[TW_DRAIN_BUSINESS].high - f->age_days);
}

/* What keeps a rule from having a date; TW_DRAIN_DATED: nothing. */
static int without_date(const tw_drain_facts *f, int rule)
{
    const int aged = f->age_days >= 0.0, seen = f->seen_days >= TW_DRAIN_SEEN_LEAST_DAYS;
    const double limit = tw_estimate_drain_rows[TW_DRAIN_COMBINED].high;
    switch (rule) {
    case TW_DRAIN_SOLIDS: return seen ? TW_DRAIN_DATED : TW_DRAIN_NOT_KNOWN;
    case TW_DRAIN_COMBINED:
        if (f->combined_mg_per_l < 0.0 || (f->combined_mg_per_l > limit && f->oxidations < 2))
            return TW_DRAIN_NOT_KNOWN;
        return f->combined_mg_per_l > limit ? TW_DRAIN_DATED : TW_DRAIN_NOT_SEEN;
    case TW_DRAIN_AGE: return aged ? TW_DRAIN_DATED : TW_DRAIN_NOT_KNOWN;
    case TW_DRAIN_BATHERS: return aged && f->bathers_per_day >= 0.0 ? TW_DRAIN_DATED : TW_DRAIN_NOT_KNOWN;
    case TW_DRAIN_BUSINESS: return !f->business ? TW_DRAIN_NOT_ASKED : aged ? TW_DRAIN_DATED : TW_DRAIN_NOT_KNOWN;
    default: return TW_DRAIN_DATED;
    }
}

tw_status tw_estimate_drain(const tw_belief *b, const tw_drain_facts *f, void *mem, size_t bytes, tw_drain *out)
{
    tw_arena arena = {mem, bytes};
    double *days[TW_DRAIN_RULES];
    memset(out, 0, sizeof *out);
    for (int r = 0; r < TW_DRAIN_RULES; r++)
        days[r] = tw_arena_take(&arena, b->n * sizeof(double));
    double *first = tw_arena_take(&arena, b->n * sizeof(double)), *scratch = tw_arena_take(&arena, b->n * sizeof(double));
    if (scratch == NULL)
        return TW_ERR_CAPACITY;
    for (size_t i = 0; i < b->n; i++)
        member_days(b, f, i, days);
    for (int r = 0; r < TW_DRAIN_RULES; r++) {
        tw_drain_date *d = &out->rule[r];
        d->state = without_date(f, r);
        d->days = tw_estimate_spread(days[r], b->n, scratch);
        if (d->state == TW_DRAIN_DATED && d->days.q50 <= 0.0)
            d->state = TW_DRAIN_DUE;
        else if (d->state == TW_DRAIN_DATED && d->days.q05 >= TW_DRAIN_HORIZON_DAYS)
            d->state = TW_DRAIN_NOT_SEEN;
    }
    /* Cyanuric acid that nobody read, and that may or may not be over its limit already; or that was poured on the first days alone. */
    size_t over = 0;
    for (size_t i = 0; i < b->n; i++)
        over += days[TW_DRAIN_CYANURATE][i] <= 0.0;
    const double p_over = (double)over / (double)b->n;
    tw_drain_date *cyanurate = &out->rule[TW_DRAIN_CYANURATE];
    if ((b->learned[TW_KNOWN_CYANURATE] < UNREAD && p_over > 0.05 && p_over < 0.95) ||
        (cyanurate->state == TW_DRAIN_DATED && f->cyanurate_g_per_day > 0.0 && f->seen_days < TW_DRAIN_SEEN_LEAST_DAYS))
        cyanurate->state = TW_DRAIN_NOT_KNOWN;
    const double one = 1.0 / (double)b->n;
    out->first = -1;
    for (size_t i = 0; i < b->n; i++) {
        int which = -1;
        first[i] = TW_DRAIN_HORIZON_DAYS;
        for (int r = 0; r < TW_DRAIN_RULES; r++)
            if ((out->rule[r].state == TW_DRAIN_DATED || out->rule[r].state == TW_DRAIN_DUE) && days[r][i] < first[i]) {
                first[i] = days[r][i];
                which = r;
            }
        if (which >= 0)
            out->rule[which].p_first += one;
    }
    for (int r = 0; r < TW_DRAIN_RULES; r++)
        if (out->rule[r].p_first > 0.0 && (out->first < 0 || out->rule[r].p_first > out->rule[out->first].p_first))
            out->first = r;
    out->days = tw_estimate_spread(first, b->n, scratch);
    return TW_OK;
}
