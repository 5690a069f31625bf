/* water/edge.h: from the trade's mg/L to mol per kg of water and back.
 *
 * `solvent_kg_per_l` is the mass of water in a litre (tw_water_solvent_kg_per_l; about 0.99); the
 * reference tables count mg per kg of water: then it is 1. Molar masses: data/molar.csv. */
#ifndef TW_WATER_EDGE_H
#define TW_WATER_EDGE_H

#include "gen/water_tables.h"

/* What a concentration is expressed as: TW_MOLAR_CACO3, _NACL, _SO4, _K, _B, _CL2, _CYA, ... */
double tw_water_mol_per_kg_from_mg_per_l(tw_molar as, double mg_per_l, double solvent_kg_per_l);
double tw_water_mg_per_l_from_mol_per_kg(tw_molar as, double mol_per_kg, double solvent_kg_per_l);

/* Alkalinity: one mol of CaCO3 takes two protons. */
double tw_water_alk_mol_per_kg_from_mg_per_l_caco3(double alk_mg_per_l_caco3, double solvent_kg_per_l);
double tw_water_alk_mg_per_l_caco3_from_mol_per_kg(double alk_mol_per_kg, double solvent_kg_per_l);

/* g/mol of one thing. */
double tw_water_g_per_mol(tw_molar as);

/* kg of water in a litre at this temperature with about so much dissolved, without a speciation:
 * pure density less the volume of dissolved sodium chloride. Within 0.0005 of the full value. */
double tw_water_solvent_kg_per_l_about(double temp_c, double salt_mg_per_l);

#endif
