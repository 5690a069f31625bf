/* procedure/air.c: see air.h. */
#include "procedure/air.h"

#include <math.h>

#include "dose/series.h"
#include "estimate/events.h"
#include "estimate/forecast.h"

#define LONGEST_H 4u
#define SHORTEST_H 0.5 /* with the mixing before it: what a pH reading after acid must have had */
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
    return ta > tw_procedure_band(s, TW_BAND_TA).high ? TW_DOSE_PH_AT_REST : tw_procedure_bands[TW_BAND_PH].target;
}

/* Where the middle of the fan comes to the aim, between the hours by a straight line. */
static double hours_to(const tw_fan *fan, double aim)
{
    for (uint32_t h = 0; h <= LONGEST_H; h++) {
        if (!(fan->ph[h].q50 >= aim))
            continue;
        return h == 0 ? 0.0 : h - (fan->ph[h].q50 - aim) / (fan->ph[h].q50 - fan->ph[h - 1].q50);
    }
    return LONGEST_H;
}

double tw_procedure_air_hours(const tw_scene *s, double aim, double alk_meq)
{
    if (s->belief == NULL)
        return UNKNOWN_H;
    tw_schedule plan = tw_estimate_schedule_same(s->belief);
    plan.jets[0] = 1.0;
    plan.doses = 1;
    plan.dose[0] = (tw_planned_dose){0, 0.0, alk_meq};
    tw_fan *fan = s->mem;
    if (tw_estimate_forecast(s->belief, &plan, LONGEST_H, (char *)s->mem + front(), s->bytes - front(), fan) != TW_OK)
        return UNKNOWN_H;
    const double hours = ceil(4.0 * hours_to(fan, aim) - 1e-9) / 4.0;
    return hours < SHORTEST_H ? SHORTEST_H : hours;
}
