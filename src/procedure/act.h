/* procedure/act.h: the next act of one tub, as data.
 *
 * For any logbook there is exactly one next act, or a named reason for none (verb WAIT, ASK or STOP
 * with its reasons). What is said stands in lists of messages (units/said.h) in the order in which a
 * card shows them; numbers that a program may want stand beside them as fields. Pure. */
#ifndef TW_PROCEDURE_ACT_H
#define TW_PROCEDURE_ACT_H

#include <stdint.h>

#include "dose/substance.h"
#include "gen/procedure_tables.h" /* enum tw_stage, tw_act_id, tw_condition, tw_profile_id */
#include "units/said.h"
#include "units/time.h"

/* What kind of thing is to be done. */
typedef enum tw_verb {
    TW_VERB_ADD,   /* pour: substance and amount are set                          */
    TW_VERB_AIR,   /* aerate with the cover off                                   */
    TW_VERB_TEST,  /* read something                                              */
    TW_VERB_WAIT,  /* nothing until `until`                                       */
    TW_VERB_SET,   /* change a setting: setting and setting_value are set         */
    TW_VERB_ASK,   /* answer a question                                           */
    TW_VERB_DO,    /* another act by hand: flush, purge, heat, fit, swap water    */
    TW_VERB_STOP,  /* stopped: reasons and what lifts it                          */
    TW_VERB_NONE,  /* nothing is due                                              */
    TW_VERBS
} tw_verb;

/* Where the stage stands; the words of the card's second line. */
typedef enum tw_stands {
    TW_STANDS_TO_DO,
    TW_STANDS_WAITING,
    TW_STANDS_RETEST_DUE,
    TW_STANDS_DOUBTFUL,
    TW_STANDS_NOT_PROVEN,
    TW_STANDS_STOPPED,
    TW_STANDS_CLOSED,
    TW_STANDS_HELD,
    TW_STANDS_HANDED_OVER,
    TW_STANDS
} tw_stands;

#define TW_ACT_LINES 8 /* most lines of one list */

/* A short list of things said. */
typedef struct {
    uint32_t n;
    tw_said line[TW_ACT_LINES];
} tw_lines;

/* How likely a limit is crossed by the act, and which one. */
typedef struct {
    tw_said what;      /* "pH under 6.8"                      */
    double limit;
    double chance;     /* 0..1 */
} tw_act_limit;

/* Most limits that an act names. */
#define TW_ACT_LIMITS 6

typedef struct tw_act {
    tw_verb verb;
    tw_act_id id;                 /* row of data/acts.csv                                          */
    tw_stage stage;               /* where the tub stands                                          */
    tw_stands state;
    uint32_t step, steps;         /* "step 2 of 4"; 0 when there is one                            */
    tw_said head;                 /* the act in one line: ADD 97 g dry acid ...                    */
    /* ADD */
    int substance;                /* row of the substances, -1 when none                           */
    double amount;                /* as the person measures it                                     */
    int amount_decimals;
    const char *amount_unit;      /* "g" or "mL", of water "L"; NULL when there is no amount        */
    double amount_g;              /* the same in grams; 0 when none                                */
    double label_amount;          /* what a single table dose to the target would be, same unit; 0 */
    tw_text source;               /* exchange: name of the water it is refilled with; n 0: no name    */
    /* SET */
    int setting;                  /* TW_SETTING_..., -1 when none                                  */
    double setting_value;         /* duty 0..1, temperature in Cel                                 */
    /* what is read next: TW_ANALYTE_... */
    uint32_t tests;
    int test[8];
    tw_time next;                 /* hour of the next test or act                                  */
    tw_time until;                /* WAIT: the end of the wait; else the same as next              */
    tw_time good_until;           /* acting later than this asks first                             */
    double chance;                /* the number behind SURE, 0..1; negative when there is none     */
    tw_lines first, how, then_, next_lines, why, sure, because, lift, meanwhile, cautions;
    uint32_t limits;
    tw_act_limit limit[TW_ACT_LIMITS]; /* chance at each limit; the one that bound stands first   */
    /* predicted after the act: 5, 50, 95 %; NaN where not predicted */
    double predicted_ph[3], predicted_ta[3], predicted_salt[3], predicted_chlorine[3];
    tw_condition unmet;           /* the condition that asks for this act                          */
    int may_waive;                /* 1: a named role may set the condition aside with a reason     */
    uint8_t digest[32];           /* of the advice: entries seen, tables, act, amount              */
} tw_act;

#endif
