/* estimate/drain.h: when this water has to go, by each rule of data/drain.csv.
 *
 * Growth is what the logbook shows so far, a day; how far that may mislead is one over the root of the number of
 * acts that it was seen from. Volume and cyanuric acid are the members'. Pure. */
#ifndef TW_ESTIMATE_DRAIN_H
#define TW_ESTIMATE_DRAIN_H

#include <stddef.h>

#include "estimate/belief.h"
#include "gen/drain_tables.h"
#include "num/status.h"

#define TW_DRAIN_SEEN_LEAST_DAYS 3.0 /* under this nothing is said of a rate (assumed) */
#define TW_DRAIN_HORIZON_DAYS 365.0 /* a date beyond it is "not within a year" */

/* What the logbook shows of this water. */
typedef struct {
    double age_days;                 /* since the fill; negative: nobody wrote one                    */
    double seen_days;                /* over which what follows was seen; 0: nothing yet              */
    double solids_g, solids_g_per_day;
    double solids_acts;              /* from how many additions; 0: none                              */
    double cyanurate_g_per_day, cyanurate_acts;
    double bathers_per_day;          /* negative: not known                                           */
    double bathing_acts;             /* from how many entries; 0: by somebody's word, taken as it is  */
    int business;                    /* 1: a let house or public use                                  */
    double combined_mg_per_l;        /* last reading; negative: never read                            */
    int oxidations;                  /* chlorine given since it was first read over its limit         */
} tw_drain_facts;

/* What a rule says. */
typedef enum tw_drain_state {
    TW_DRAIN_DATED,      /* by a date                                    */
    TW_DRAIN_DUE,        /* now                                          */
    TW_DRAIN_NOT_SEEN,   /* nothing grows towards it within a year       */
    TW_DRAIN_NOT_KNOWN,  /* something that it needs was never written    */
    TW_DRAIN_NOT_ASKED   /* it is not for this tub                       */
} tw_drain_state;

typedef struct {
    int state;           /* enum tw_drain_state                                             */
    tw_spread days;      /* from now; TW_DRAIN_HORIZON_DAYS: not within it; 0: now          */
    double p_first;      /* chance that this rule is the first of those with a date         */
} tw_drain_date;

typedef struct {
    tw_drain_date rule[TW_DRAIN_RULES];
    int first;           /* the rule most likely to bind first, -1: none has a date         */
    tw_spread days;      /* of the first of all of them                                     */
} tw_drain;

/* Bytes of working memory for a belief of n members. */
size_t tw_estimate_drain_bytes(size_t n);

/* TW_ERR_CAPACITY: mem is too small. Chance comes from the tub's own streams: asked twice, the same bits. */
tw_status tw_estimate_drain(const tw_belief *belief, const tw_drain_facts *facts, void *mem, size_t bytes, tw_drain *out);

#endif
