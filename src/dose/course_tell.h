/* dose/course_tell.h: a chosen visit said as data: order, waits, places, times, side effects. Advanced: dose/course.h. */
#ifndef TW_DOSE_COURSE_TELL_H
#define TW_DOSE_COURSE_TELL_H

#include "dose/course_set.h"
#include "dose/course_visit.h"

/* Hours of air until this water stands at to_ph, at most `most`; *reached: pH it stands at then. Carbon dioxide leaves
 * at kla (CO2 - that of the air); the time is the integral over the carbon, alkalinity stays. */
double tw_dose_air_hours(const tw_reduced *acids, const tw_water *water, double kla_per_h, double co2_atm, double to_ph,
                         double most, double *reached);

/* Hours of air, at most `most`, until water that has less carbon dioxide than the air gives has taken up that share (0..1)
 * of what is missing; 0 for water that misses none. *reached: the lower pH that it stands at then. */
double tw_dose_air_in_hours(const tw_reduced *acids, const tw_water *water, double kla_per_h, double co2_atm, double share,
                            double most, double *reached);

/* The middle water after the first `additions` of a visit, its exchange before them. */
tw_water tw_dose_tell_middle(const tw_rows *rows, const tw_visit *visit, size_t additions);

/* A visit's exchange, air and waiting; returns its attended minutes. */
double tw_dose_tell_moves(const tw_rows *rows, const tw_visit *visit, tw_course_moves *out);

/* Order, waits, places, times, sides and air of the candidate's visit into *out; spreads, chances and risk are the
 * caller's. Sets out->moves.air_to_ph to what the air reaches. */
void tw_dose_tell_visit(const tw_rows *rows, const tw_candidate *candidate, tw_course_visit *out);

#endif
