/* estimate/worth.h: what a test would be worth before it is done, and whether it would decide.
 *
 * A test is one reading or a few, whose values every member foretells. Outcomes are drawn from the instrument's own
 * predictive: a member, a bias of the bottle or meter, and an error each. Under each outcome the members are weighed
 * again by its likelihood and the decision is made again. What-if only: nothing of it is ever a fact. Pure; asked
 * twice, the same bits. */
#ifndef TW_ESTIMATE_WORTH_H
#define TW_ESTIMATE_WORTH_H

#include <stddef.h>

#include "estimate/belief.h"
#include "num/status.h"

#define TW_WORTH_READINGS 4  /* most of one test */
#define TW_WORTH_OUTCOMES 64 /* for a value; a chance of deciding takes more */

/* A test, foretold. value[r][i]: what is there in member i when reading r is taken, in the unit of estimate/events.h. */
typedef struct {
    int instrument;       /* enum tw_tool                                  */
    int observed;         /* enum tw_observed                              */
    double step;          /* of drops, in the trade's unit; 0: the table's */
    size_t readings;
    const double *value[TW_WORTH_READINGS];
} tw_worth_test;

/* The kinds of decisions. */
typedef enum tw_worth_kind {
    TW_WORTH_YES, /* act when `event` is sure with 0.95, else wait                            */
    TW_WORTH_WHICH, /* act on `event` or on its contrary, whichever is sure with 0.95, else wait */
    TW_WORTH_DOSE /* how much: the target, and over `most` with 5 % at the most               */
} tw_worth_kind;

/* The decision at hand. Its loss is counted in hours. */
typedef struct {
    int kind;                  /* enum tw_worth_kind                                            */
    const double *event;       /* YES, WHICH: 1 where it is so, else 0; n values                */
    const double *least, *target, *most; /* DOSE: amounts that reach the band, its target, and the limit, in
                                  any one unit; n values each; least under 0: it is there already  */
    double wait_h;             /* YES, WHICH: of waiting where acting was right (a wrong act costs
                                  19 times that, so that acting begins at 0.95); DOSE: of one visit more */
    double spoilt_h;           /* DOSE: of an overshoot                                         */
} tw_worth_decision;

typedef struct {
    double loss_h;       /* expected, without the test                                            */
    double gain_h;       /* by how much the test is expected to lower it                          */
    double p_changes;    /* chance that another act follows (DOSE: more than a tenth more or less) */
    double p_decides;    /* YES, WHICH: chance that the event or its contrary is then sure with 0.95  */
    double p_wrong;      /* and is not so                                                         */
} tw_worth;

/* Bytes of working memory for n members. */
size_t tw_estimate_worth_bytes(size_t n);

/* Foresee a test. outcomes: TW_WORTH_OUTCOMES, or more where the chance itself is the answer.
 *   TW_ERR_UNKNOWN   this instrument has no model for this analyte
 *   TW_ERR_RANGE     no readings or too many; no outcomes
 *   TW_ERR_CAPACITY  mem is too small */
tw_status tw_estimate_worth(const tw_belief *belief, const tw_worth_decision *decision, const tw_worth_test *test,
                            size_t outcomes, void *mem, size_t bytes, tw_worth *out);

#endif
