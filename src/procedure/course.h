/* procedure/course.h: the planner of whole courses (dose/course.h), asked for the water of one tub.
 *
 * What is open is what the conditions of data/conditions.csv ask to be poured for: nothing else gets a target, so the
 * planner pours for no band's edge. Bands and limits, the stock as it was written down, the instruments that read last,
 * what went in before and the hour asked for come from the entries; the water from the belief. Pure. */
#ifndef TW_PROCEDURE_COURSE_H
#define TW_PROCEDURE_COURSE_H

#include "dose/course.h"
#include "procedure/scene.h"

/* Chance that a whole course ever crosses a hard limit. */
#define TW_PROCEDURE_RISK 0.05

/* Cyanuric acid that a stabilised chlorine may bring, mg/L (common practice). */
#define TW_PROCEDURE_CYANURATE_MOST 30.0

/* pH to which air brings the water before more acid (common practice). */
#define TW_PROCEDURE_PH_AT_REST 7.6

/* A job of pouring: the condition that asks for it, its act, the effect that does it, what it moves, and the largest
 * change of one step in that quantity's unit: a cap that no mistake in what is believed can lift (common practice). */
typedef struct {
    tw_condition condition; /* TW_CONDITIONS: a guard or the hold asks for it, no condition */
    tw_act_id act;
    tw_effect effect;       /* TW_EFFECTS: nothing on a shelf does it, other water does */
    tw_quantity_of_water of;
    double largest_change;
    int by_steps;           /* 1: the card counts its steps */
} tw_job;

/* The jobs, in the order in which they may follow each other in one visit, but for those from the holding dose on. What takes
 * out what is over a limit (LESS) is a visit of its own: what it moved is read before anything is poured. */
enum tw_job_id {
    TW_JOB_ACID, TW_JOB_BICARBONATE, TW_JOB_TRIM, TW_JOB_CALCIUM, TW_JOB_LANTHANUM, TW_JOB_SALT, TW_JOB_CHLORINE,
    TW_JOB_HOLDING, TW_JOB_BRIDGE, TW_JOB_LESS_SALT, TW_JOB_LESS_CYANURATE,
    TW_JOB_LESS_CHLORINE, TW_JOBS
};

/* One row for each job. */
extern const tw_job tw_procedure_jobs[TW_JOBS];

/* A set of jobs: the bit 1 << job. */
typedef uint32_t tw_job_set;

/* The job of an act that pours, or of an exchange that this condition asks for; TW_JOBS when it is none. */
int tw_procedure_job_of(tw_act_id act, tw_condition unmet);

/* The jobs that the conditions ask for now, all stages together. A stage that first needs a reading or another act has none. */
tw_job_set tw_procedure_jobs_open(const tw_scene *scene);

/* The jobs of the card that pours for this one: with it, whatever else is open and does not rest on a reading that may be
 * another since an entry was taken back. */
tw_job_set tw_procedure_jobs_of_card(const tw_scene *scene, int job);

/* The same, looked at beyond what must be read or done first. */
tw_job_set tw_procedure_jobs_foreseen(const tw_scene *scene);

/* The visit that has begun: what went in since anything was read. */
typedef struct {
    uint32_t pours;
    uint32_t effects;         /* bits 1 << effect         */
    double mixing_h;          /* until the last has mixed */
} tw_visit_so_far;

/* Look for it. */
void tw_procedure_visit(const tw_scene *scene, tw_visit_so_far *out);

/* What is read after the visit, each once, behind what the act asks for already: a test of all that it has moved. Not of
 * acid, where air comes first and a reading ends it, nor of what can be read a day later only. */
void tw_procedure_ask_visit(const tw_visit_so_far *visit, tw_act *act);

/* The jobs with which a visit may go on before its retest: later ones in the order, that rest on nothing which the
 * visit has moved. 0: none, or no visit has begun. */
tw_job_set tw_procedure_jobs_next(const tw_scene *scene, const tw_visit_so_far *visit);

/* What the planner is asked, and which product stands for which row of the table. */
typedef struct {
    tw_course_ask ask;
    tw_waters waters;
    const tw_substance *row[TW_COURSE_STOCK];
    int listed[TW_COURSE_STOCK]; /* 1: it stands in the stock list                        */
    tw_job_set jobs;
    uint32_t pours;              /* of this course that have had their share of the risk */
} tw_course_of_tub;

/* Bytes of working memory for a belief of n members. */
size_t tw_procedure_course_bytes(size_t members);

/* Ask for these jobs; visits_most as in tw_course_ask. scene->belief is not NULL. Statuses of tw_dose_course. */
tw_status tw_procedure_course(const tw_scene *scene, tw_job_set jobs, size_t visits_most, tw_course_of_tub *asked, tw_course *out);

/* The job that an addition of the course does, for jobs of which `own` is the one that was asked for first. */
int tw_procedure_job_of_addition(const tw_course_of_tub *asked, uint32_t stock, int own);

/* Minutes from now to the hour at which all shall be in its bands; NaN when none is asked for, or it is past. */
double tw_procedure_ready_by_min(const tw_scene *scene);

/* Grams as the person measures them: kg from 1 kg, mL of liquids. */
double tw_procedure_measured(const tw_substance *substance, double grams, int *decimals, const char **unit);

#endif
