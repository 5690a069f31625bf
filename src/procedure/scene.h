/* procedure/scene.h: what the entries say, found once for a question. */
#ifndef TW_PROCEDURE_SCENE_H
#define TW_PROCEDURE_SCENE_H

#include "dose/members.h"
#include "estimate/belief.h"
#include "estimate/held.h"
#include "logbook/book.h"
#include "procedure/tables.h"

/* The verdict on the present duty over seven days, once somebody has asked for it: it is asked more than once for a card. */
typedef struct {
    int is;                    /* 1: it was made */
    tw_status status;
    tw_held of;
} tw_scene_verdict;

typedef struct {
    const tw_book *book;
    const tw_tub *tub;
    tw_time now;
    const tw_belief *belief;   /* may be NULL */
    const tw_profile *profile;
    void *mem;
    size_t bytes;
    /* since the last fill */
    int64_t start_s;           /* of this water; INT64_MIN before any fill          */
    const tw_entry *fill;      /* NULL: no fill is written                          */
    int water_in;              /* 1: there is water in the tub: filled, or read     */
    const tw_entry *read[TW_ANALYTE_WORDS];       /* last usable reading of the tub's water    */
    const tw_entry *source_read[TW_ANALYTE_WORDS];/* of the source, or a word that it was not  */
    const tw_entry *poured[TW_EFFECTS];           /* last addition of each effect              */
    uint32_t pours[TW_EFFECTS];                   /* how many                                  */
    const tw_entry *last_pour; /* of anything                                       */
    const tw_entry *unknown;   /* last addition of which nobody can say what or how much it was */
    const tw_entry *symptom;   /* last one that closes the tub                      */
    const tw_entry *aired;     /* last care of air                                  */
    const tw_entry *exchanged; /* last exchange of part of the water                */
    const tw_entry *bathers;
    double drained_l;          /* let out since water last went in; over 0 at the end only where the tub stands empty */
    int generated;             /* 1: a duty above nothing was set in this water         */
    int in_care;               /* handed over in this water, or a tub that starts in care */
    int technician;            /* a technician or manager writes this book          */
    int stock_listed;          /* 1: the person has written down what there is      */
    const tw_substance *prefer; /* NULL; else of its effect this one, when it stands in the list */
    uint32_t chlorine_additions;
    tw_scene_verdict *verdict; /* NULL; else where tw_procedure_verdict() keeps what it said */
} tw_scene;

/* Look through the entries of the tub. */
void tw_procedure_scene(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                        const tw_profile *profile, void *mem, size_t bytes, tw_scene *out);

/* Hours since an entry; 1e9 for NULL. */
double tw_procedure_hours_since(const tw_scene *scene, const tw_entry *entry);

/* The last reply to a question (TW_YES_NO_UNKNOWN_...), -1 when there is none. */
int tw_procedure_reply(const tw_scene *scene, const char *question);

/* The same, of replies at or after an hour (UTC seconds). */
int tw_procedure_reply_since(const tw_scene *scene, const char *question, int64_t since_s);

/* The next reading of an analyte in the tub's own water since its fill; NULL at the end. *cursor begins at 0. */
const tw_entry *tw_procedure_next_reading(const tw_scene *scene, int analyte, size_t *cursor);

/* The last care entry of a job in this state (TW_JOB_STATE_...), NULL when there is none; since the
 * last fill only when `this_water`. */
const tw_entry *tw_procedure_care(const tw_scene *scene, int job, int state, int this_water);

/* The entry that fitted this part and is still true, of any water; NULL: it is not in. */
const tw_entry *tw_procedure_fitted(const tw_scene *scene, int part);

/* 1 when a named role has set this condition aside, or the act was answered "not applicable". */
int tw_procedure_set_aside(const tw_scene *scene, tw_condition condition);

/* A number of the plate by its field, in inside units; NaN when it is not there. */
double tw_procedure_plate(const tw_scene *scene, tw_field field);

/* What an addition or intent names, by its id or by a definition of the user's; NULL when it is not known. */
const tw_substance *tw_procedure_substance_of(const tw_scene *scene, const tw_entry *entry);

/* Its effect; TW_EFFECTS when it is not known. */
tw_effect tw_procedure_effect_of(const tw_scene *scene, const tw_entry *entry);

/* The substance that serves an effect here: what is in stock first, then what the trade prefers,
 * within the plate's and the person's bounds. What is used up by the list is not in it. NULL: the stock list has nothing for it. *listed: 1 when
 * it stands in the stock list. *strength gets the row at the stock's strength. */
const tw_substance *tw_procedure_substance(const tw_scene *scene, tw_effect effect, int *listed, tw_substance *strength);

/* Another product of the stock list that has this effect, may be poured here and is not used up: of several what the trade
 * reaches for first. NULL: there is none. */
const tw_substance *tw_procedure_other_listed(const tw_scene *scene, tw_effect effect, const tw_substance *taken);

/* Why a product of the stock list that has this effect, and of which something is left, is not advised here, and which;
 * TW_MESSAGES: there is none. */
tw_message tw_procedure_barred(const tw_scene *scene, tw_effect effect, const tw_substance **out);

/* The first in the trade's order that has this effect and may be poured here, in the list or not; NULL: none. */
const tw_substance *tw_procedure_usual(const tw_scene *scene, tw_effect effect);

/* Grams of a stock entry or an addition of a substance; NaN when they cannot be told. */
double tw_procedure_grams_of(const tw_scene *scene, const tw_entry *entry, const tw_substance *substance);

/* Grams of a substance that are left of what the stock list last said, less what was poured since; NaN: not listed, or
 * listed without an amount. */
double tw_procedure_left_g(const tw_scene *scene, const tw_substance *substance);

/* The band of a quantity as it counts for this tub: the plate wins over the table. */
tw_band tw_procedure_band(const tw_scene *scene, tw_band_id id);

/* The possible waters of the belief, as the planner wants them. */
tw_waters tw_procedure_waters(const tw_scene *scene);

/* The middle of what is known of a quantity now; NaN without a belief. observed: enum tw_observed. */
double tw_procedure_middle(const tw_scene *scene, int observed);

/* A time so many hours after another. */
tw_time tw_procedure_later(tw_time at, double hours);

#endif
