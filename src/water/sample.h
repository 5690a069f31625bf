/* water/sample.h: what a sample reads at its own temperature.
 *
 * A sample that cools on the table is closed water: its totals stay, its pH moves (about +0.06 from 38 to 25 C), and
 * so do conductivity and saturation. That is a change of the water; what a probe makes of it comes on top. */
#ifndef TW_WATER_SAMPLE_H
#define TW_WATER_SAMPLE_H

#include "water/speciate.h"

/* The same closed water at the temperature of at_sample: its totals, solved there. Also closed heating and
 * cooling of a whole tub. *there (may be NULL) is the water with that temperature. Statuses as tw_water_speciate. */
tw_status tw_water_sample_at(const tw_constants *at_sample, const tw_water *tub, tw_water *there,
                             tw_speciation *out);

/* Millivolts for one pH of a perfect glass electrode: R T ln 10/F (59.16 at 25 C). */
double tw_water_electrode_mv_per_ph(double temp_k);

/* What a meter shows that takes the electrode for one at set_temp_k while the sample has temp_k: 7 + (pH - 7) T/T_set
 * (isopotential at pH 7). Compensation by temperature mends this and never the change of the water itself. */
double tw_water_electrode_reads(double ph, double temp_k, double set_temp_k);

#endif
