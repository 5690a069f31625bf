/* estimate/from_book.h: from the entries of a tub to plain events. Internal to this room.
 *
 * What an entry cannot say is taken as is usual, and docs/estimate.md says what that is. Entries that
 * do not bear on the estimate are passed over. */
#ifndef TW_ESTIMATE_FROM_BOOK_H
#define TW_ESTIMATE_FROM_BOOK_H

#include "estimate/belief.h"
#include "estimate/events.h"
#include "estimate/segment.h"
#include "logbook/book.h"
#include "num/status.h"

/* What the adapter knows while it reads. */
typedef struct {
    const tw_book *book;
    tw_text tub;
    tw_time now;              /* of the question: what was taken back by then          */
    tw_time end;              /* of this water: `now`, or just before the next fill    */
    tw_time until;            /* the sampler follows it: `end`, or the last entry that moves its clock */
    const tw_taught *taught;  /* by the water before; NULL or empty: nothing           */
    tw_time start;            /* of this water, or of what is followed of it           */
    tw_time began;            /* of this water: its fill                               */
    tw_text source;           /* name of the source water of the fill; may be empty    */
    uint32_t segment;         /* number of fills before this water                     */
    int cut, goes_on;         /* as in stretches.h: from `cut_at` on, not from the fill */
    tw_time cut_at;
    double longest_h;         /* follow at most so much of it; 0: all                  */
    int fresh;                /* 1: newly filled; 0: found running                     */
    int started;              /* 1: there is a fill or something of the tub's water    */
    uint32_t flags;           /* TW_BELIEF_...                                         */
    double fill_temp_c;
    double plate_output_g_per_h, heater_kw, jets_stop_h, blower_stop_h;
    double volume_l;          /* best single guess, for heating and the like           */
    size_t most_entries;      /* of this water that are used: the latest ones          */
    tw_problem *problem;
} tw_from_book;

/* The next used entry of this tub up to the end of this water; as tw_logbook_book_next. */
const tw_entry *tw_estimate_book_next(const tw_from_book *f, size_t *cursor);

/* 1: the entry fills the tub anew. 1: it says something of the water in the tub. */
int tw_estimate_is_fill(const tw_entry *entry);
int tw_estimate_concerns_water(const tw_entry *entry);

/* 1: something happened in the tub at the time of the entry, or was read. */
int tw_estimate_moves_clock(const tw_entry *entry);

/* 1: the same, or a care or response: what counts when a crowded water is shortened or cut. */
int tw_estimate_is_event(const tw_entry *entry);

/* A name by the first eight bytes of a digest of two kinds and a text; never 0. */
uint64_t tw_estimate_book_name(int a, int b, tw_text name);

/* Everything: fills problem and the fields above. TW_ERR_UNKNOWN: no entry of this tub. */
tw_status tw_estimate_from_book(tw_from_book *f);

/* Its parts, in this order. */
tw_status tw_estimate_book_start(tw_from_book *f);   /* start.c: fill, plate, volumes        */
void tw_estimate_book_doses(tw_from_book *f);        /* doses.c: additions, intents, bathers */
void tw_estimate_book_exchanges(tw_from_book *f);    /* doses.c                              */
void tw_estimate_book_settings(tw_from_book *f);     /* settings.c: needs the doses          */
void tw_estimate_book_readings(tw_from_book *f);     /* readings.c: needs the settings       */
void tw_estimate_book_clock(tw_from_book *f);        /* clock.c: needs all of these          */

/* 1: the dose changes what is read of this (enum tw_observed) by more than a reading of it would overlook. */
int tw_estimate_dose_moves(const tw_from_book *f, const tw_dose_event *dose, int observed);

/* Hours from the start of the water to a time. */
double tw_estimate_book_hours(const tw_from_book *f, tw_time at);

/* Density of water, kg/L; of the tub at an hour; and its temperature by the settings. */
double tw_estimate_water_density(double temp_c);
double tw_estimate_book_temp_c(const tw_from_book *f, double at_h);

#endif
