/* estimate/problem.c: a problem before any event: priors of the table, no tub. */
#include "estimate/events.h"

#include <string.h>

#include "gen/estimate_tables.h"

void tw_estimate_problem_init(tw_problem *p, tw_estimate_water water)
{
    memset(p, 0, sizeof *p);
    memcpy(p->prior, water == TW_WATER_FRESH     ? tw_estimate_priors_fresh
                     : water == TW_WATER_RUNNING ? tw_estimate_priors_running : tw_estimate_priors_found, sizeof p->prior);
    p->filled = water == TW_WATER_FRESH;
    p->plate_output_g_per_h = 0.15;
    p->day_sd = 0.1;
    p->cells = 1;
    /* Fallback of tw_estimate_fit_conductivity: limiting conductivities at 25 C less a tenth. */
    p->conductivity.per_alk = 85.0;
    p->conductivity.per_ca = 20.0;
    p->conductivity.per_mg = 12.0;
    p->conductivity.per_so4 = 45.0;
    p->conductivity.cl[0] = 126.0;
    p->conductivity.cl[1] = -1.5;
}
