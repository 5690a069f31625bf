/* water/reduced.h: pH for a million waters: the acids alone, everything else frozen.
 *
 * Activity coefficients, ion pairs and water activity are frozen at one reference water (temperature,
 * ionic strength, metals); what is left are two balances in two unknowns, solved to the last digits, so
 * that pH is a smooth function of the totals with exact derivatives. Against the full solve at 38 C: within 1e-6
 * pH at the reference water; after acid or base up to half the alkalinity and 30 % of the carbon, 6e-4 on
 * average, at most 0.002 below pH 7.8 and 0.03 at pH 8.8; a fifth more salt is worth 0.003 (at most 0.009): freeze
 * again after a step. Scalar form and arrays give the same bits. All amounts mol/kg; h is the activity of H+. */
#ifndef TW_WATER_REDUCED_H
#define TW_WATER_REDUCED_H

#include <stddef.h>

#include "water/speciate.h"

/* Constants as they act on concentrations, ion pairs folded in. h is the activity of H+. */
typedef struct {
    double temp_k, ionic_strength_mol_per_kg;
    double k1, k2;        /* h (HCO3- + pairs)/CO2 ; h (CO3-2 + pairs)/(HCO3- + pairs)           */
    double kw;            /* h (OH- + CaOH+ + MgOH+)                                            */
    double per_h;         /* H+ + HSO4- + CaHSO4+ for each unit of h                            */
    double kb;            /* h H2BO3-/H3BO3                                                     */
    double kocl;          /* h OCl-/HOCl                                                        */
    double kcy, kcy2;     /* h H2Cy-/H3Cy ; h HCy-2/H2Cy-                                       */
    double one[3];        /* rings with one chlorine over H3Cy HOCl: one[0] + one[1]/h + one[2]/h^2
                             (H2ClCy, HClCy-, ClCy-2)                                           */
    double two[2];        /* with two, over H3Cy HOCl^2: two[0] + two[1]/h (HCl2Cy, Cl2Cy-)     */
    double kp1, kp2, kp3; /* phosphate, pairs folded in                                         */
    double co2_per_atm;   /* molality of CO2 in balance with 1 atm                              */
    double calcite;       /* calcium with its pairs times (CO3-2 + pairs) at saturation with calcite; 0: the
                             reference water holds no calcium                                   */
} tw_reduced;

/* What is asked of a water: totals that have no acid do not matter beyond the alkalinity. */
typedef struct {
    double alk; /* strong-ion alkalinity, mol/kg */
    double dic, borate, cyanurate, active_chlorine, phosphate; /* mol/kg, 0 or more */
} tw_reduced_water;

typedef struct {
    double ph;
    double co2;       /* molality of CO2(aq)             */
    double hocl;      /* molality of free HOCl           */
    double ph_by_alk; /* d pH / d alkalinity, per mol/kg */
    double ph_by_dic; /* d pH / d DIC, per mol/kg        */
    double co2_by_alk, co2_by_dic;
} tw_reduced_answer;

/* The acids of a water whose totals stand one after the other (TW_TOTALS of them, mol/kg). */
tw_reduced_water tw_water_reduced_acids(const double *total);

/* Freeze the constants around a speciated water (temperature, ionic strength, free metals as there). *sp is a
 * TW_OK result made with the same constants. */
void tw_water_reduced_from(const tw_constants *at, const tw_speciation *sp, tw_reduced *out);

/* The same when no water is at hand: sodium chloride water of this ionic strength with calcium and
 * magnesium of the stated totals and free of sulfate. Statuses as tw_water_speciate. */
tw_status tw_water_reduced_at(const tw_constants *at, double ionic_strength_mol_per_kg,
                              double calcium_mol_per_kg, double magnesium_mol_per_kg, tw_reduced *out);

/* pH, CO2, free HOCl and derivatives. pH is kept within 2..12 (then the derivatives are those there). */
void tw_water_reduced_solve(const tw_reduced *k, const tw_reduced_water *water, tw_reduced_answer *out);

/* n waters at once; each array n long, results too. Any result pointer but ph may be NULL. */
typedef struct {
    const double *alk, *dic, *borate, *cyanurate, *active_chlorine, *phosphate; /* NULL = zero */
} tw_reduced_waters;
typedef struct {
    double *ph, *co2, *hocl, *ph_by_alk, *ph_by_dic, *co2_by_alk, *co2_by_dic;
} tw_reduced_answers;
void tw_water_reduced_solve_many(const tw_reduced *k, size_t n, const tw_reduced_waters *waters,
                                 const tw_reduced_answers *out);

/* Strong-ion alkalinity at which the pH is this one; closed form, exact inverse of the above. Water->alk
 * is ignored. For pH limits: the dose threshold follows without a search. */
double tw_water_reduced_alk_at_ph(const tw_reduced *k, const tw_reduced_water *water, double ph);

/* DIC at which the pH is this one with the alkalinity as it is; closed form. Negative when the other
 * acids alone hold more alkalinity than there is. Water->dic is ignored. */
double tw_water_reduced_dic_at_ph(const tw_reduced *k, const tw_reduced_water *water, double ph);

/* Free HOCl, mol/kg, at a given pH. */
double tw_water_reduced_hocl(const tw_reduced *k, double ph, double active_chlorine, double cyanurate);

#endif
