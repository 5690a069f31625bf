/* procedure/residual.h: the generator, the duty that it is left at, and whether the residual holds on it. */
#ifndef TW_PROCEDURE_RESIDUAL_H
#define TW_PROCEDURE_RESIDUAL_H

#include "procedure/scene.h"

/* 1: a duty above nothing was set in this water and the generator was not switched off since. */
int tw_procedure_generating(const tw_scene *scene);

/* A hold test that runs: the generator off for some hours, then on at full duty for as many. */
typedef struct {
    double hours;      /* of each half, as its entry says, else twelve (common practice: a night without sun and people) */
    double since_h;    /* since the half that runs began                                                               */
    int on;            /* 1: the second half                                                                           */
} tw_hold_test;

/* The hold test that runs. 0: none, or its reading is more than an hour late. */
int tw_procedure_hold_test(const tw_scene *scene, tw_hold_test *out);

/* No reading is due because of people. */
#define TW_NO_PEOPLE_H 1e3

/* Hours until free chlorine is to be read after people: when they are out, where it may be under the floor and was not read since;
 * each hour while what they brought will eat it to the floor within a day. TW_NO_PEOPLE_H: none were in for a day, or it stays. */
double tw_procedure_hours_after_people(const tw_scene *scene);

/* The free chlorine to settle at, mg/L: the middle of the profile's band (a narrow one), else one above the floor. */
double tw_procedure_chlorine_target(const tw_scene *scene);

/* The balance of duty and level for the profile's band and that target. The scene has a belief. */
tw_status tw_procedure_balance(const tw_scene *scene, tw_duty *out);

/* The duty to be handed over by that balance, that settles there: 0.01..1, in hundredths. */
double tw_procedure_duty_wanted(const tw_duty *balance);

/* A level that is near enough to the target for its duty to stay: no see-saw over a hundredth. */
int tw_procedure_settles(const tw_scene *scene, double settled_mg_per_l);

/* The verdict on the profile's band over seven days; duty < 0: on the present one. The scene has a belief. */
tw_status tw_procedure_verdict(const tw_scene *scene, double duty, tw_held *out);

/* The same over the horizon, with the hours of hold and remnant. */
tw_status tw_procedure_verdict_far(const tw_scene *scene, double duty, tw_held *out);

/* Held by our rule at the present duty, read once since it was set, and the duty one to hand over. */
int tw_procedure_held(const tw_scene *scene);

#endif
