/* water/inactivation.h: concentration times time (CT) of a chlorine residual that decays.
 *
 * Published values are for free chlorine in clear water at a stated pH and temperature, without cyanurate. They say
 * nothing of slime on pipes and filters, where germs outlive any CT: a reached CT is one fact among others and
 * never a verdict on a tub. Values, sources and marks: data/inactivation.csv. Pure. */
#ifndef TW_WATER_INACTIVATION_H
#define TW_WATER_INACTIVATION_H

#include "gen/inactivation_tables.h"
#include "num/status.h"

/* CT of a residual that starts at start_mg_per_l and falls by the first order, mg min/L: 60 C0 (1 - e^(-k t))/k,
 * 60 C0 t without loss. NaN for a negative or non-finite argument. */
double tw_water_ct_mg_min_per_l(double start_mg_per_l, double loss_per_h, double hours);

/* Hours until that CT is reached; the inverse of the above.
 *   TW_ERR_RANGE    an argument is negative or not a number
 *   TW_ERR_NO_ROOT  the residual is gone first: 60 C0/k is all it ever gives
 * Then *hours is NaN. */
tw_status tw_water_ct_hours(double start_mg_per_l, double loss_per_h, double ct_mg_min_per_l, double *hours);

/* CT of readings: the area under straight lines between them. hours rise, mg/L 0 or more; NaN when they do
 * not, or for n < 1. Straight lines lie above a curve that decays: read often enough (a residual that halves
 * between two readings counts 4 % too much). */
double tw_water_ct_of_readings(const double *hours, const double *mg_per_l, int n);

/* What the published CT of a germ asks for as HOCl, mg min/L as Cl2: times the share of HOCl without cyanurate at
 * the pH and temperature of its test (Morris 1966); NaN for no germ of the table. To be met by the HOCl that is really free (water/chlorine.h), it
 * carries the value over to cyanurate and to another pH, in so far as HOCl alone disinfects (Falk and others 2019). */
double tw_water_ct_as_hocl_mg_min_per_l(tw_germ germ);

#endif
