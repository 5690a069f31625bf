/* dose/pairs.h: may this follow that, now; in the same place, vessel, box?
 *
 * The gas and the fire come from concentrates that meet in a bucket, a scoop, a skimmer or a filter well,
 * so time in the water is only half of it: `apart` asks for another place and another vessel.
 * Rows, sources and marks: data/pairs.csv. Pure. */
#ifndef TW_DOSE_PAIRS_H
#define TW_DOSE_PAIRS_H

#include "dose/substance.h"
#include "gen/dose_pairs.h" /* TW_PAIRS */
#include "gen/text_tables.h"

typedef struct {
    tw_family a, b;
    double wait_min;    /* between one and the other in the same water; negative: waiting does not help */
    int apart;          /* another place and another vessel, always                      */
    int boxes;          /* never in one box, cupboard or van compartment                 */
    tw_message why;
    const char *source, *mark;
} tw_dose_pair;

/* All pairs. */
extern const tw_dose_pair tw_dose_pairs[TW_PAIRS];

/* The row of two families, in either order; NULL when nothing is known against them. */
const tw_dose_pair *tw_dose_pair_of(tw_family a, tw_family b);

typedef struct {
    int may;               /* 1: may follow now, with the marks below                     */
    double wait_left_min;  /* minutes until it may; negative: waiting does not help       */
    int apart;             /* 1: another place and another vessel than the first had      */
    int boxes;             /* 1: not in one box                                            */
    const tw_dose_pair *pair; /* the rule, or NULL                                         */
} tw_dose_pair_verdict;

/* May `now` follow a family that went in so many minutes ago? Also NaN or negative minutes (not known
 * when, clock ahead) count as just now. same_place: 1 when it is meant for the same place or vessel:
 * then a pair that must be apart may not. */
tw_dose_pair_verdict tw_dose_may_follow(tw_family before, double minutes_ago, tw_family now, int same_place);

/* Family by its word ("acid", "sequestrant"); TW_FAMILIES when there is none. */
tw_family tw_dose_family_find(tw_text word);

#endif
