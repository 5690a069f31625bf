/* water/index.h: the saturation indices of the trade, to print beside the real one.
 *
 * They take the numbers as the trade has them (mg/L as CaCO3) and know nothing of ion pairs,
 * sulfate or borate; docs/water.md says how far they are off. */
#ifndef TW_WATER_INDEX_H
#define TW_WATER_INDEX_H

#include "num/status.h"

/* Simplified Langelier index: pH - pHs, pHs = (9.3 + A + B) - (C + D), A = (log TDS - 1)/10,
 * B = -13.12 log(t + 273) + 34.55, C = log CH - 0.4, D = log TA. t in C, the rest mg/L (CH and TA as CaCO3).
 * NaN unless all of TDS, CH, TA are above 0 and t above -273. */
double tw_water_langelier(double ph, double temp_c, double ca_hardness_mg_per_l, double alk_mg_per_l,
                          double tds_mg_per_l);

/* Table form of a US state's pool rule (Montana, ARM 37.115 table 7): pH + TF + CF + AF - 12.1 or, at a
 * TDS of 1000 and more, 12.2. Each factor is that of the nearest lower or higher printed row
 * whichever is nearer (the rule prints no interpolation; a tie takes the lower). NaN for NaN. */
double tw_water_table_index(double ph, double temp_f, double ca_hardness_mg_per_l, double alk_mg_per_l,
                            double tds_mg_per_l);


#endif
