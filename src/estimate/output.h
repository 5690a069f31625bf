/* estimate/output.h: which share of its output a cell makes in this water. Internal.
 *
 * Where chloride is short oxygen takes its place, and cold water carries less current: production falls below the
 * plate's salt and below a warm tub's temperature (docs/estimate.md). Nobody publishes by how much, so both laws are
 * plain and smooth, and the cell's own factor, which is wide, takes up what they are off at one condition. */
#ifndef TW_ESTIMATE_OUTPUT_H
#define TW_ESTIMATE_OUTPUT_H

#include "estimate/lanes.h"

#define TW_OUTPUT_COLD_FROM_C 25.0 /* from memory: output is stated for water of 25 C and warmer            */
#define TW_OUTPUT_COLD_PER_K 0.02  /* common practice: conductivity of salt water falls by 2 % a kelvin     */

/* 1 from 25 C up, 2 % less for each kelvin below, never under a half. */
static inline double tw_estimate_cold_share(double temp_c)
{
    const double short_k = TW_OUTPUT_COLD_FROM_C - temp_c;
    return short_k <= 0.0 ? 1.0 : short_k < 25.0 ? 1.0 - TW_OUTPUT_COLD_PER_K * short_k : 0.5;
}

/* x(2 - x) of chloride over the plate's (mmol per kg both), 1 from the plate's on: 0.96 at four fifths, 0.75 at half, none without
 * salt; from memory. slope: its derivative by chloride; NULL: not asked. */
TW_INLINE void tw_estimate_salt_share(const tw_lanes *chloride, double plate, tw_lanes *share, tw_lanes *slope)
{
    const double per = 1.0 / plate;
    tw_lanes s, d;
    TW_EACH_LANE(l)
    {
        double left = 1.0 - chloride->v[l] * per;
        left = left > 0.0 ? left : 0.0;
        left = left < 1.0 ? left : 1.0;
        s.v[l] = 1.0 - left * left;
        d.v[l] = 2.0 * per * left;
    }
    *share = s;
    if (slope != NULL)
        *slope = d;
}

#endif
