/* estimate/from_clock.c: readings that were written down from memory, whose hour is not sure.
 *
 * The hour's sd is a share of the time until it was written (data/clock.csv). Acts remembered in the same sitting are
 * ends: people forget the hour and know the order. Acts keep their own hour, and so do readings that were written at
 * once. */
#include <math.h>

#include "estimate/from_book.h"
#include "estimate/recalled.h"
#include "gen/clock_tables.h"

#define MOST_CUTS 2         /* acts on each side that may have been on the other */
#define REACH 2.5           /* sd: further off an act is on its own side         */
#define EXCHANGE_SHARE 0.01 /* of the tub's water: less is not seen              */

/* Acts near a reading that change what it reads, on one side of it, from the nearest one out. */
typedef struct {
    double cut_h[MOST_CUTS];
    size_t cuts;
    double end_h; /* it was surely not read beyond this */
} side;

typedef struct {
    const tw_from_book *f;
    const tw_reading *reading;
    const tw_entry *written;
    double sd_h;
    side before, after;
} recalled;

static double hours_between(tw_time from, tw_time to)
{
    return (double)(to.utc_s - from.utc_s) / 3600.0;
}

/* The acts are met in no order: keep the nearest ones. */
static void keep(side *s, double at_h, double hour, int is_end)
{
    const double far = fabs(hour - at_h);
    if (far > fabs(s->end_h - at_h))
        return;
    if (is_end) {
        s->end_h = hour;
        while (s->cuts > 0 && fabs(s->cut_h[s->cuts - 1] - at_h) >= far)
            s->cuts--;
        return;
    }
    size_t i = 0;
    while (i < s->cuts && fabs(s->cut_h[i] - at_h) < far)
        i++;
    if (i == MOST_CUTS || (i < s->cuts && !(fabs(s->cut_h[i] - at_h) > far)))
        return;
    s->cuts += s->cuts < MOST_CUTS;
    for (size_t k = s->cuts - 1; k > i; k--)
        s->cut_h[k] = s->cut_h[k - 1];
    s->cut_h[i] = hour;
}

/* An act: before the reading or after it, by the order of the entries where the minute is the same. */
static void meet(recalled *r, double hour, uint32_t entry)
{
    const double at_h = r->reading->at_h, off = hour - at_h;
    if (fabs(off) > REACH * r->sd_h)
        return;
    const tw_entry *act = tw_logbook_book_at(r->f->book, entry);
    const int together = fabs(hours_between(act->entered, r->written->entered)) <= TW_CLOCK_SITTING;
    const int is_before = off < 0.0 || (!(off > 0.0) && entry < r->reading->entry);
    keep(is_before ? &r->before : &r->after, at_h, hour, together);
}

static int is_of_chlorine(int observed)
{
    return observed == TW_OBSERVED_FREE_CHLORINE || observed == TW_OBSERVED_TOTAL_CHLORINE ||
           observed == TW_OBSERVED_COMBINED_CHLORINE;
}

static void meet_acts(recalled *r)
{
    const tw_problem *p = r->f->problem;
    for (size_t i = 0; i < p->doses; i++)
        if (tw_estimate_dose_moves(r->f, &p->dose[i], r->reading->observed))
            meet(r, p->dose[i].at_h, p->dose[i].entry);
    for (size_t i = 0; i < p->exchanges; i++)
        if (!p->exchange[i].pure && p->exchange[i].in_kg > EXCHANGE_SHARE * r->f->volume_l)
            meet(r, p->exchange[i].at_h, p->exchange[i].entry);
    for (size_t i = 0; i < p->bathers && is_of_chlorine(r->reading->observed); i++)
        meet(r, p->bather[i].at_h, p->bather[i].entry);
}

static void look_around(tw_from_book *f, size_t reading, const recalled *r)
{
    double cut_h[2 * MOST_CUTS];
    size_t n = 0;
    for (size_t i = r->before.cuts; i-- > 0;)
        cut_h[n++] = r->before.cut_h[i];
    for (size_t i = 0; i < r->after.cuts; i++)
        cut_h[n++] = r->after.cut_h[i];
    if (n > 0)
        tw_estimate_recalled(f->problem, reading, r->sd_h, cut_h, n, r->before.end_h, r->after.end_h);
}

void tw_estimate_book_clock(tw_from_book *f)
{
    tw_problem *p = f->problem;
    for (size_t i = 0; i < p->readings; i++) {
        recalled r = {.f = f, .reading = &p->reading[i]};
        if (r.reading->source || r.reading->standard || r.reading->observed == TW_OBSERVED_WATER)
            continue;
        r.written = tw_logbook_book_at(f->book, r.reading->entry);
        const double late_h = hours_between(r.written->at, r.written->entered);
        if (r.written->kind != TW_KIND_READING || !(late_h > TW_CLOCK_PROMPT))
            continue;
        r.sd_h = TW_CLOCK_SHARE * late_h < TW_CLOCK_MOST ? TW_CLOCK_SHARE * late_h : TW_CLOCK_MOST;
        /* Not before this water began, not after the hour asked about, not after it was written. */
        const double at_h = r.reading->at_h, far = 8.0 * r.sd_h;
        r.before.end_h = at_h - far > 0.0 ? at_h - far : 0.0;
        r.after.end_h = at_h + (far < late_h ? far : late_h);
        r.after.end_h = r.after.end_h < p->now_h ? r.after.end_h : p->now_h;
        meet_acts(&r);
        look_around(f, i, &r);
    }
}
