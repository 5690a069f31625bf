/* estimate/forecast.h: what the water will do, under a plan. One forecast object serves card,
 * chart, sheet and JSON; its name says that they speak of the same one. Pure. */
#ifndef TW_ESTIMATE_FORECAST_H
#define TW_ESTIMATE_FORECAST_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"
#include "num/status.h"

#define TW_FAN_HOURS 336 /* 14 days */

/* A dose of chlorine (negative: sulfite) planned at a whole hour. */
typedef struct {
    uint32_t hour;          /* from now                              */
    double chlorine_mg;     /* as Cl2, altogether; negative takes away */
    double alk_meq;         /* strong-ion alkalinity that it brings  */
    double dic_mmol;        /* carbon that it brings                 */
} tw_planned_dose;

typedef struct {
    uint32_t hour;
    double person_h;        /* bathers times hours                   */
} tw_planned_bathers;

/* A plan by the hour; set_hour[k] says from which hour duty[k], temp_c[k], jets[k] hold. */
#define TW_PLAN_STEPS 16
#define TW_PLAN_DOSES 16
typedef struct {
    size_t settings, doses, bathers;
    uint32_t set_hour[TW_PLAN_STEPS];  /* rising, the first is 0                    */
    double duty[TW_PLAN_STEPS];        /* 0..1                                      */
    double temp_c[TW_PLAN_STEPS];
    double jets[TW_PLAN_STEPS];        /* share of time with jets or air, cover off */
    tw_planned_dose dose[TW_PLAN_DOSES];
    tw_planned_bathers bather[TW_PLAN_DOSES];
} tw_schedule;

/* The plan "leave everything as it is": present duty and temperature, no dose, nobody in. */
tw_schedule tw_estimate_schedule_same(const tw_belief *belief);

/* Hour h of the fan is h hours from the belief's time; 0 is now. mg/L. */
typedef struct {
    uint32_t hours;                         /* last hour, 1..TW_FAN_HOURS */
    tw_spread chlorine[TW_FAN_HOURS + 1];   /* free chlorine              */
    tw_spread made[TW_FAN_HOURS + 1];       /* the generator's part       */
    tw_spread remnant[TW_FAN_HOURS + 1];    /* the part out of a bottle   */
    tw_spread ph[TW_FAN_HOURS + 1];
    uint8_t digest[32];                     /* of all of them             */
} tw_fan;

/* The name of a forecast: of the belief, the plan and the hours that it is made of. The same name, the same numbers; where
 * only the name is told, nothing need be worked out. */
void tw_estimate_forecast_name(const tw_belief *belief, const tw_schedule *plan, uint32_t hours, uint8_t name[32]);

/* Bytes of working memory for a forecast of n members over so many hours. */
size_t tw_estimate_forecast_bytes(size_t n, uint32_t hours);

/* Run every member forward. New day-to-day chance is drawn from the tub's own streams, so asking
 * twice gives the same bits and asking writes nothing.
 *   TW_ERR_RANGE     hours is 0 or above TW_FAN_HOURS, or the schedule is not in order
 *   TW_ERR_CAPACITY  mem is too small */
tw_status tw_estimate_forecast(const tw_belief *belief, const tw_schedule *plan, uint32_t hours,
                               void *mem, size_t bytes, tw_fan *out);

#endif
