/* answer/fan.h: the forecast drawn with characters: time runs down the margin, amounts across. */
#ifndef TW_ANSWER_FAN_H
#define TW_ANSWER_FAN_H

#include <stddef.h>

#include "estimate/forecast.h"

#define TW_FAN_LINE 256 /* bytes of a line, with its zero */

/* The scale of a drawing: mg/L across. */
typedef struct {
    double top;      /* mg/L at the right edge                  */
    size_t columns;  /* of the drawing, without the margin      */
    double floor_mg_per_l, ceiling_mg_per_l; /* 0: not drawn    */
} tw_fan_scale;

/* A scale that holds everything up to `hours` and the band, in `columns` characters (20..80). */
tw_fan_scale tw_answer_fan_scale(const tw_fan *fan, uint32_t hours, size_t columns, double floor_mg_per_l,
                                 double ceiling_mg_per_l);

/* The figures of the scale; returns the bytes written, zero-ended. */
size_t tw_answer_fan_axis(const tw_fan_scale *scale, char buf[TW_FAN_LINE]);

/* One hour: [ and ] the 90 % interval, = the half in the middle, o the median, m the median of the
 * generator's own part, | the band. */
size_t tw_answer_fan_line(const tw_fan_scale *scale, const tw_fan *fan, uint32_t hour, char buf[TW_FAN_LINE]);

#endif
