/* answer/core.h: the inside of a tw_core: the book, working memory and the last belief.
 *
 * Nothing here is kept beyond what can be made again: the belief is a cache keyed by tub, time and
 * the number of lines. What the sampler made of the tub up to its last entry serves any later time. */
#ifndef TW_ANSWER_CORE_H
#define TW_ANSWER_CORE_H

#include <stddef.h>
#include <stdint.h>

#include "answer/sink.h"
#include "estimate/belief.h"
#include "estimate/fold.h"
#include "estimate/forecast.h"
#include "estimate/held.h"
#include "logbook/book.h"
#include "procedure/act.h"
#include "tubwright/tubwright.h"
#include "units/shown.h"
#include "units/time.h"

#define TW_ASK_LINES 32 /* most drafts that one question may carry */
#define TW_ID_LENGTH 36 /* characters of an id                        */
#define TW_VERSION "0.1.0" /* of the program; meson.build says the same   */

/* A question, read. */
typedef struct {
    tw_text word;          /* "now", "water", ...                                */
    tw_text tub;           /* id or name, empty: the only one                    */
    tw_text profile;       /* another guidance profile, empty: the tub's         */
    tw_time now;
    int form;              /* enum tw_as                                         */
    size_t width;          /* of text                                            */
    uint32_t hours;        /* forecast: how far; 0 default                       */
    uint32_t step;         /* forecast: hours a line; 0 default                  */
    uint32_t last;         /* logbook: how many entries; 0 all                   */
    double duty;           /* forecast: 0..1, negative: as it is                 */
    double temp_c;         /* forecast: water temperature, when has_temp         */
    int has_temp;
    double bathers_a_day;  /* ahead: booked, 0: as the logbook shows               */
    double bather_minutes; /* each                                                 */
    tw_text plan;          /* forecast: items of answer/plan.h; empty: none        */
    tw_shown shown;        /* units for people                                   */
    size_t lines;          /* drafts that came with the question                 */
    tw_text line[TW_ASK_LINES];
} tw_ask;

/* In which form an answer is wanted. */
typedef enum tw_as { TW_AS_JSON, TW_AS_TEXT } tw_as;

/* How an answer ended; the numbers are the program's exit codes (data/exit_codes.csv). */
typedef enum tw_outcome_code {
    TW_ENDED_ANSWERED = 0,
    TW_ENDED_ASKED = 1,
    TW_ENDED_STOPPED = 4,
    TW_ENDED_NEWER = 6
} tw_outcome_code;

struct tw_core {
    tw_book *book;
    int outcome;
    int has_language;
    tw_language language;      /* of the words of answers; English when there is none            */
    void *fold_mem;            /* the belief lies here                                       */
    size_t fold_bytes;
    void *work;                /* for one question at a time                                 */
    size_t work_bytes;
    void *room;                /* seven arrays of a belief's members: what is kept beside the work */
    int has_belief, has_fan;
    tw_status belief_status;
    tw_belief belief;
    tw_settled settled;        /* of belief_tub, up to its last entry                        */
    char belief_tub[TW_ID_LENGTH];
    tw_time belief_at;
    size_t belief_lines;       /* lines in the book when it was folded                       */
    int has_act;
    tw_act act;
    tw_schedule fan_plan;
    tw_fan fan;
    const uint8_t *kept;       /* a belief of an earlier time, as tw_core_keep wrote it; NULL: none */
    size_t kept_bytes;
    uint8_t kept_program[32];
    int folded;                /* 1: something was sampled since tw_core_kept                */
    tw_crew *crew;             /* the caller's, after tw_core_init(); NULL: folds in turn    */
    tw_taught_shelf shelf;     /* what earlier waters taught: of this process and of what was kept */
};

#define TW_ANSWER_FAN_HOURS 168 /* the one forecast that card, chart, sheet and JSON share: 7 days */

/* What is known of a tub at the time of the question. Folded at most once for each question of the
 * same tub and time. NULL when it cannot be folded (*status says why). */
const tw_belief *tw_answer_belief(tw_core *core, const tw_tub *tub, tw_time now, tw_status *status);

/* The forecast of a plan (NULL: everything stays as it is) over so many hours, up to TW_FAN_HOURS; 7 days at least, so that
 * what is shown of less is the shared one. NULL when it cannot be made. */
const tw_fan *tw_answer_fan_over(tw_core *core, const tw_belief *belief, const tw_schedule *plan, uint32_t hours, tw_status *status);

/* Tell the name of that forecast (NULL: everything stays as it is), and for people where the card speaks of it. */
void tw_answer_tell_forecast(const tw_belief *belief, const tw_schedule *plan, uint32_t hours, int to_people, tw_sink *sink);

/* The language of answers; NULL is English. */
const tw_language *tw_answer_language(const tw_core *core);

/* Read a question. now_given is required for every word. TW_ERR_FORMAT, TW_ERR_UNKNOWN (a word or
 * an option that is not known), TW_ERR_MISSING (no at=). */
tw_status tw_answer_ask_read(tw_text question, tw_ask *out);

/* The tub that a question means: by id, by name (upper or lower case), or the only one.
 * TW_ERR_MISSING no tub yet; TW_ERR_AMBIGUOUS more than one and none named; TW_ERR_UNKNOWN. */
tw_status tw_answer_tub(const tw_core *core, const tw_ask *ask, tw_tub *out);

/* The head of every answer: question, version, tub, clock, digest of the logbook. */
void tw_answer_head(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);

#endif
