/* water/chlorine.h: how much of the active chlorine is really free, at a stated pH.
 *
 * The full solve (water/speciate.h) has the same chemistry in its charge balance; this is the part by
 * itself, for tables, for a reading's meaning and for the spread between published constants. */
#ifndef TW_WATER_CHLORINE_H
#define TW_WATER_CHLORINE_H

#include "water/constants.h"

/* Which species and constants there are. */
typedef enum tw_chlorine_model {
    TW_CHLORINE_1974,        /* all ten cyanurates, O'Brien, Morris and Butler 1974, 25 C; pK HOCl 7.54 */
    TW_CHLORINE_MORRIS,      /* no cyanurate; Morris 1966 for HOCl                                     */
    TW_CHLORINE_2019_SIMPLE, /* H3Cy, H2Cy-, HClCy-, Cl2Cy- alone; Wahman 2018, 2019; Morris 1966     */
    TW_CHLORINE_MODELS
} tw_chlorine_model;

typedef struct {
    double hocl, ocl, bound;   /* mol/kg as Cl2: bound counts each chlorine on a ring */
    double h3cy, h2cy, hcy, cy, hclcy, h2clcy, clcy, cl2cy, hcl2cy, cl3cy; /* mol/kg  */
    double pka_hocl, pk6, pk7a, pk9a; /* as used, I = 0; NaN where the model has none */
    double ionic_strength_mol_per_kg; /* 0 when ideal                                 */
    double log10_gamma_1;             /* of a monovalent anion; 0 when ideal          */
} tw_chlorine;

/* All activity coefficients 1, [H+] = 10^-pH. Amounts mol/kg, 0 or more; pH 2..12; 0..45 C (the published
 * ranges are narrower: docs/water.md). TW_ERR_RANGE otherwise, and every number NaN. */
tw_status tw_water_chlorine_ideal(tw_chlorine_model model, double temp_k, double ph,
                                  double chlorine_mol_per_kg, double cyanurate_mol_per_kg,
                                  tw_chlorine *out);

/* Davies activity coefficients for all ions (neutral species 1), water activity in the hydrolyses, pH as
 * activity; a background of sodium chloride, sodium balancing the charge. */
tw_status tw_water_chlorine_activity(tw_chlorine_model model, double temp_k, double ph,
                                     double chlorine_mol_per_kg, double cyanurate_mol_per_kg,
                                     double salt_mol_per_kg, tw_chlorine *out);

/* Free HOCl by both published sets of cyanurate constants, mol/kg, the lower and the higher first (activity form):
 * the gap is what is really known. Equal to the digits where there is no cyanurate only in so far as both
 * constants of HOCl agree (Morris 1966; 7.54 at every temperature). *low and *high NaN on an error. */
tw_status tw_water_chlorine_spread(double temp_k, double ph, double chlorine_mol_per_kg,
                                   double cyanurate_mol_per_kg, double salt_mol_per_kg, double *low,
                                   double *high);

#endif
