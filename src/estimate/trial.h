/* estimate/trial.h: demand or production? The smallest test with the generator off and on that would decide.
 *
 * Read, leave the generator off for some hours, read, leave it on at full duty for as many, read: nobody in, covered.
 * The loss shows while it is off, what is made while it is on. Weak: the cell makes under half of its plate. Pure. */
#ifndef TW_ESTIMATE_TRIAL_H
#define TW_ESTIMATE_TRIAL_H

#include <stddef.h>

#include "estimate/belief.h"
#include "num/status.h"

#define TW_TRIAL_STOP_MG_PER_L 2.0 /* free chlorine must not fall under this ...          */
#define TW_TRIAL_STOP_P 0.05       /* ... with this chance or more                         */
#define TW_TRIAL_GOOD 0.8          /* the shortest test that decides as often is proposed  */
#define TW_TRIAL_LEAST 0.5         /* one that decides less often is none                  */
#define TW_TRIAL_WEAK 0.5          /* a cell that makes less of its plate's output is weak  */

typedef enum tw_trial_state {
    TW_TRIAL_PROPOSED,
    TW_TRIAL_DECIDED,  /* one of both is sure with 0.95 already                                */
    TW_TRIAL_TOO_LOW,  /* the shortest would leave less than 2 mg/L too often                  */
    TW_TRIAL_CANNOT    /* this instrument decides in fewer than half of the cases              */
} tw_trial_state;

typedef struct {
    int state;              /* enum tw_trial_state                                                 */
    double p_weak;          /* now                                                                 */
    double hours;           /* off, and then as many on; of the best one when none is proposed     */
    double p_below;         /* chance of under 2 mg/L at its end                                   */
    double p_decides;       /* promised: chance that one of both is then sure with 0.95            */
    double p_wrong;         /* and is not so                                                       */
    tw_spread off_mg_per_l; /* after the hours off                                                 */
    tw_spread on_mg_per_l;  /* after the hours on                                                  */
} tw_trial;

/* Bytes of working memory for n members. */
size_t tw_estimate_trial_bytes(size_t n);

/* Find the smallest with this instrument (enum tw_tool; step of drops in mg/L, 0: the table's).
 *   TW_ERR_UNKNOWN   it does not read free chlorine
 *   TW_ERR_CAPACITY  mem is too small */
tw_status tw_estimate_trial(const tw_belief *belief, int instrument, double step, void *mem, size_t bytes, tw_trial *out);

/* What every member foretells of such a test, free chlorine in mg per kg: after so many hours off, after as many on; n
 * values each. TW_ERR_CAPACITY: mem is smaller than tw_estimate_trial_bytes(). */
tw_status tw_estimate_trial_foretell(const tw_belief *belief, double hours, void *mem, size_t bytes, double *off, double *on);

#endif
