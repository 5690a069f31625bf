/* estimate/stretches.c: see stretches.h. */
#include "estimate/stretches.h"

#include <string.h>

#include "estimate/from_book.h"

#define DAY_S INT64_C(86400)
#define CUT_S (21 * DAY_S)
#define LONGEST_S (126 * DAY_S) /* of weeks without an entry; the sampler holds half a year */
#define MOST_ENTRIES 300        /* of one stretch, hours of a monitor not counted           */

typedef struct {
    tw_stretches *out;
    tw_stretch now;      /* the stretch that is open                */
    int open;
    tw_time origin;      /* of this water: cuts are counted from it */
    tw_time last;        /* entry of this water                     */
    size_t entries;      /* of the open stretch                     */
} cutter;

static void push(cutter *c, tw_time end, int is_cut)
{
    tw_stretches *s = c->out;
    if (s->n == TW_MOST_STRETCHES) {
        s->n -= TW_STRETCHES_AT_ONCE;
        memmove(s->list, s->list + TW_STRETCHES_AT_ONCE, s->n * sizeof *s->list);
        s->list[0].goes_on = 0;
    }
    c->now.end = end;
    c->now.is_cut = is_cut;
    s->list[s->n++] = c->now;
}

static void begin(cutter *c, tw_time at)
{
    memset(&c->now, 0, sizeof c->now);
    c->now.from = c->origin = c->last = at;
    c->open = 1;
    c->entries = 0;
}

static void cut_at(cutter *c, tw_time at)
{
    tw_time end = at;
    end.utc_s -= 1;
    const uint32_t part = c->now.part + 1;
    push(c, end, 1);
    memset(&c->now, 0, sizeof c->now);
    c->now.from = at;
    c->now.cut = c->now.goes_on = 1;
    c->now.part = part;
    c->entries = 0;
}

/* The first whole three weeks after the last entry. */
static tw_time next_cut(const cutter *c)
{
    tw_time t = c->origin;
    t.utc_s += ((c->last.utc_s - c->origin.utc_s) / CUT_S + 1) * CUT_S;
    return t;
}

/* Nothing was entered for long: cut it where it would be cut, and again every four months. */
static void cut_idle(cutter *c, tw_time until)
{
    tw_time at = next_cut(c);
    if (until.utc_s - c->now.from.utc_s > LONGEST_S && at.utc_s > c->now.from.utc_s && at.utc_s < until.utc_s)
        cut_at(c, at);
    while (until.utc_s - c->now.from.utc_s > LONGEST_S) {
        at = c->now.from;
        at.utc_s += LONGEST_S;
        cut_at(c, at);
    }
}

static void take(cutter *c, const tw_entry *e)
{
    const tw_time at = next_cut(c);
    if (at.utc_s <= e->at.utc_s && at.utc_s > c->now.from.utc_s)
        cut_at(c, at);
    cut_idle(c, e->at);
    if (c->entries >= MOST_ENTRIES && e->at.utc_s > c->last.utc_s && e->at.utc_s > c->now.from.utc_s)
        cut_at(c, e->at);
    c->entries += e->kind != TW_KIND_MONITOR_HOUR;
    c->last = e->at;
}

void tw_estimate_stretches(const tw_book *book, tw_text tub, tw_time now, tw_stretches *out)
{
    cutter c;
    size_t cursor = 0;
    const tw_entry *e;
    memset(&c, 0, sizeof c);
    memset(out, 0, sizeof *out);
    c.out = out;
    while ((e = tw_logbook_book_next(book, tub, now, &cursor)) != NULL) {
        if (tw_estimate_is_fill(e)) {
            tw_time end = e->at;
            end.utc_s -= 1;
            if (c.open) {
                cut_idle(&c, end);
                push(&c, end, 0);
            }
            begin(&c, e->at);
        } else if (c.open && tw_estimate_is_event(e)) {
            take(&c, e);
        } else if (!c.open && tw_estimate_concerns_water(e)) {
            begin(&c, e->at);
        }
    }
    push(&c, now, 0);
}
