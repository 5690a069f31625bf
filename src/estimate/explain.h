/* estimate/explain.h: what may stand behind a reading that the rest of the logbook makes hard to believe.
 *
 * Either the reading is wrong, or scale fell out, or somebody did something and did not write it. Each unlogged act has a rate
 * and a range of sizes (data/unlogged.csv); each is weighed by how well the members, after it, show the
 * reading and those taken with it. Pure. */
#ifndef TW_ESTIMATE_EXPLAIN_H
#define TW_ESTIMATE_EXPLAIN_H

#include <stddef.h>

#include "estimate/belief.h"
#include "estimate/instrument.h"
#include "logbook/book.h"

/* What may have been done and not written. */
typedef enum tw_unlogged {
    TW_UNLOGGED_CHLORINE_POURED,
    TW_UNLOGGED_CHLORINE_USED,
    TW_UNLOGGED_GENERATOR_OFF,
    TW_UNLOGGED_ACID_POURED,
    TW_UNLOGGED_BASE_POURED,
    TW_UNLOGGED_AIRED,
    TW_UNLOGGED_WATER_ADDED,
    TW_UNLOGGED_SALT_POURED,
    TW_UNLOGGED_ACTS,
    TW_UNLOGGED_NONE = TW_UNLOGGED_ACTS /* nothing was done: the reading is wrong */
} tw_unlogged;

/* A row of the table: how often a day, least and greatest size (even on ln). */
typedef struct {
    double per_day, low, high;
} tw_unlogged_row;

typedef struct {
    int act;            /* enum tw_unlogged, or TW_EXPLAINED_SCALE                                 */
    double probability; /* of all explanations together 1                                          */
    double size;        /* its mean, by the table's unit; 0 when nothing was done                  */
} tw_explanation;

#define TW_EXPLAINED_SCALE (TW_UNLOGGED_NONE + 1) /* nobody's act: scale fell out, more than the members' own rates say (data/scale.csv); size: its rate, 1/h */
#define TW_EXPLANATIONS (TW_EXPLAINED_SCALE + 1)

typedef struct {
    size_t count;                          /* of the list; under 1 % is left out                   */
    tw_explanation why[TW_EXPLANATIONS];   /* likeliest first                                      */
    int retest;                            /* enum tw_observed: the reading that separates the two
                                              likeliest best, the same analyte if that will do; -1
                                              when there is one explanation only                   */
    double apart;                          /* by how many standard deviations it does              */
    double hours;                          /* since when it may have been done                     */
} tw_explained;

/* Weigh the explanations of one reading, by the members that take the logbook as it is written.
 *   beside      readings taken with it (at most TW_BESIDE; others are passed over)
 *   hours_open  since it was last known that nothing had been done: the last believed reading
 *   TW_ERR_UNKNOWN  no model for this reading, or it speaks of the volume
 *   TW_ERR_RANGE    every member believes in an act that nobody wrote already (belief.h: unwritten) */
#define TW_BESIDE 8
tw_status tw_estimate_explain(const tw_belief *belief, const tw_written_reading *odd,
                              const tw_written_reading *beside, size_t n_beside, double hours_open,
                              tw_explained *out);

/* The same for one of the belief's contradictions, with what the book says beside it.
 *   TW_ERR_RANGE    it is older than a day, or something was poured or let in since: the water is another */
tw_status tw_estimate_explain_entry(const tw_belief *belief, const tw_book *book, tw_text tub, tw_time now,
                                    const tw_contradiction *contradiction, tw_explained *out);

#endif
