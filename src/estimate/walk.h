/* estimate/walk.h: members walked forward from now, all of them in step. Internal. */
#ifndef TW_ESTIMATE_WALK_H
#define TW_ESTIMATE_WALK_H

#include "estimate/arena.h"
#include "estimate/belief.h"
#include "estimate/model.h"
#include "num/philox.h"

typedef struct {
    const tw_belief *belief;
    size_t n;
    double hour;                     /* since now                                              */
    double day_left_h;
    uint32_t days;                   /* days that have begun on the way                        */
    double *chlorine, *made, *demand; /* mg per kg; the remnant is chlorine - made              */
    double *dic;                     /* mmol per kg                                            */
    double *scale;                   /* mmol per kg that fell out since now as calcium carbonate */
    double *loss_day, *made_day;     /* today's deviations                                     */
    double *loss;                    /* 1/h, first order, at `temp_c`, without the film; times follow */
    double *follow;                  /* what HOCl's share makes of it: 1 at the reference       */
    double *h;                       /* activity of H+, for that share                         */
    int follows, rings;              /* does it, in any member; does cyanurate count there     */
    double *output;                  /* mg/h at full duty today                                */
    tw_acid_constants acid;          /* at acid_temp_c                                         */
    double acid_temp_c;
    double temp_c;                   /* for which loss holds; NaN: not yet made                */
    tw_stream *stream;
} tw_walk;

/* Bytes of an arena for a walk of n members. */
size_t tw_estimate_walk_bytes(size_t n);

/* Lay out and start at now. 0 when the arena is too small. */
int tw_estimate_walk_start(tw_walk *walk, const tw_belief *belief, tw_arena *arena);

/* Go h hours (at most a few) with this duty and temperature. */
void tw_estimate_walk_on(tw_walk *walk, double h, double duty, double temp_c);

/* Exchange CO2 with the air, the group of members from `first` on: exposures in hours at 20 C, both 0 for none; in as many
 * `hours` scale forms where it does. extra_alk:
 * meq per kg of each member that the belief does not know of, or NULL. ph: of each member after it, or NULL. */
void tw_estimate_walk_carbon(tw_walk *walk, size_t first, double hours, double still_h, double jets_h, const tw_acid_constants *acid,
                             const double *extra_alk, double *ph);

/* Let h hours pass for the day-to-day chance alone; the state stays. */
void tw_estimate_walk_skip(tw_walk *walk, double h);

/* Loss and output of every member for this temperature and day; tw_estimate_walk_on does it itself. */
void tw_estimate_walk_rates(tw_walk *walk, double temp_c);

/* The share that HOCl has of the chlorine is that at this pH from here on: for whoever asks ahead without following the
 * pH. tw_estimate_walk_carbon sets the members' own. */
void tw_estimate_walk_keep_ph(tw_walk *walk, double ph);

/* follow of every member with its present chlorine and pH; tw_estimate_walk_on does it itself. */
void tw_estimate_walk_follow(tw_walk *walk, double temp_c);

/* A dose (mg Cl2 altogether; negative takes away), bathers (person hours). */
void tw_estimate_walk_dose(tw_walk *walk, double chlorine_mg);
void tw_estimate_walk_bathers(tw_walk *walk, double person_h);

/* What is left of the film's part of the loss after `hours` from now, member i, 1/h. */
double tw_estimate_walk_film(const tw_walk *walk, size_t i, double hours);

#endif
