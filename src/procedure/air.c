/* procedure/air.c: see air.h. */
#include "procedure/air.h"

#include <math.h>

#include "estimate/events.h"
#include "estimate/forecast.h"
#include "num/elementary.h"
#include "procedure/course.h"

#define LONGEST_H 4u
#define SHORTEST_H 0.25
#define UNKNOWN_H 2.0

/* The forecast's answer stands at the front of the working memory. */
static size_t front(void)
{
    const size_t unit = 64;
    return (sizeof(tw_fan) + unit - 1) / unit * unit;
}

size_t tw_procedure_air_bytes(size_t members)
{
    return front() + tw_estimate_forecast_bytes(members, LONGEST_H);
}

double tw_procedure_air_aim(const tw_scene *s)
{
    const double ta = tw_procedure_middle(s, TW_OBSERVED_ALKALINITY);
    return ta > tw_procedure_band(s, TW_BAND_TA).high ? TW_PROCEDURE_PH_AT_REST : tw_procedure_bands[TW_BAND_PH].target;
}

/* When the middle of the fan comes to the aim. CO2 falls to an end by an exponential, and with it the hydrogen ion
 * (alkalinity stays); the end is where Aitken's rule takes the first three hours. */
static double hours_to(const tw_fan *fan, double aim)
{
    double h[3];
    for (int i = 0; i < 3; i++)
        h[i] = tw_pow10(-fan->ph[i].q50);
    const double wanted = tw_pow10(-aim), bend = h[0] - 2.0 * h[1] + h[2];
    if (h[0] <= wanted)
        return 0.0;
    const double end = bend > 0.0 ? h[2] - (h[2] - h[1]) * (h[2] - h[1]) / bend : h[2];
    if (!(h[1] < h[0] && end < wanted && end < h[1]))
        return LONGEST_H;
    return tw_log((h[0] - end) / (wanted - end)) / tw_log((h[0] - end) / (h[1] - end));
}

double tw_procedure_air_hours(const tw_scene *s, double aim, double alk_meq)
{
    if (s->belief == NULL)
        return UNKNOWN_H;
    tw_schedule plan = tw_estimate_schedule_same(s->belief);
    plan.jets[0] = 1.0;
    plan.doses = 1;
    plan.dose[0] = (tw_planned_dose){0, 0.0, alk_meq, 0.0};
    tw_fan *fan = s->mem;
    if (tw_estimate_forecast(s->belief, &plan, LONGEST_H, (char *)s->mem + front(), s->bytes - front(), fan) != TW_OK)
        return UNKNOWN_H;
    const double hours = floor(4.0 * hours_to(fan, aim) + 0.5) / 4.0;
    return hours < SHORTEST_H ? SHORTEST_H : hours > LONGEST_H ? LONGEST_H : hours;
}
