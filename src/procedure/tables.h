/* procedure/tables.h: the trade's rules as rows: stages, conditions, acts, bands, profiles.
 * Data: data/stages.csv, conditions.csv, acts.csv, bands.csv, profiles.csv, each row with its mark. */
#ifndef TW_PROCEDURE_TABLES_H
#define TW_PROCEDURE_TABLES_H

#include "gen/entry_tables.h"
#include "procedure/act.h"

/* A stage and what stands above its card. */
typedef struct {
    const char *id;
    tw_message title;
} tw_stage_row;

/* A guidance profile: limits with a name and a date. NaN: the profile does not say. */
typedef struct {
    const char *id, *title, *date, *mark;
    double fc_min_mg_per_l, fc_max_mg_per_l, ph_min, ph_max, cc_max_mg_per_l, temp_max_c, read_every_h;
    double stabilised; /* 0: chlorine that brings cyanuric acid is barred */
} tw_profile;

/* Where a quantity should be, and what it must never cross. */
typedef struct {
    double low, target, high, hard_low, hard_high;
    const char *source, *mark;
} tw_band;

typedef struct {
    const char *id;
    tw_stage stage;
    tw_predicate predicate;
    const char *subject; /* analyte, question, band or field, by the predicate */
    double high;         /* limit, where the predicate has one; NaN            */
    double hours;        /* how old a reading may be; NaN: any age             */
    int waivable;
    int in_care;         /* 1: asked of a tub in care as well                  */
    tw_act_id act;       /* what lifts it                                      */
    const char *source, *mark;
} tw_condition_row;

typedef struct {
    const char *id;
    tw_verb verb;
    tw_message head, first[TW_ACT_LIST], how[TW_ACT_LIST], then_[TW_ACT_LIST], why[TW_ACT_LIST];
    int test[8];         /* TW_ANALYTE_..., -1 ends    */
    double next_min;     /* until the next test or act */
    tw_aim aim;          /* of a dose                  */
} tw_act_row;

/* The tables, indexed by their enums. */
extern const tw_stage_row tw_procedure_stages[TW_STAGES];
extern const tw_profile tw_procedure_profiles[TW_PROFILES];
extern const tw_band tw_procedure_bands[TW_BANDS];
extern const tw_condition_row tw_procedure_conditions[TW_CONDITIONS];
extern const tw_act_row tw_procedure_acts[TW_ACTS];

/* A profile by its id; NULL when there is none. */
const tw_profile *tw_procedure_profile_find(tw_text id);

/* The profile of a tub: the one it names, else "three-to-five" for lodging and public use and
 * "three-and-above" for the rest. Never NULL. */
const tw_profile *tw_procedure_profile_of(tw_text named, int use);

/* 1: some condition that this act lifts may be set aside, so that "does not apply" may be said to it. */
int tw_procedure_may_be_set_aside(tw_act_id act);

/* 1: who has this role (TW_ROLE_...) answers for the tub and may set a condition aside. */
int tw_procedure_role_may_set_aside(int role);

/* Words of stages and states for people. */
tw_message tw_procedure_stage_message(tw_stage stage);
tw_message tw_procedure_state_message(tw_stands state);
tw_message tw_procedure_analyte_message(int analyte);

#endif
