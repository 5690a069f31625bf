/* water/balance.h: the equations behind every solve of this room. Internal to src/water.
 *
 * Unknowns are the logarithms of the activities of H+, CO3, SO4, PO4 and HOCl. Every species is a product
 * of those (species.csv); Na, K, Ca, Mg, borate and cyanurate are taken out of the problem exactly: each is
 * one total shared out among its species, so its own activity follows in closed form from the unknowns.
 *
 * For frozen activity coefficients the residuals  R = sum nu_i m_i - total  are the gradient of
 *     F(u) = sum over free species of m_i(u) + sum over groups of T ln(sum of weights) - total . u,
 * a convex function (exponentials and log-sum-exps of linear forms; for Na2SO4, which holds sodium twice,
 * the same function after the minimum over ln a_Na): one minimum, where all balances hold. The Jacobian
 * is its Hessian: symmetric, positive definite. Open to CO2 or in balance with calcite the minimum is sought
 * on a plane through the same function (two logarithms tied by a constant), which keeps all of this. */
#ifndef TW_WATER_BALANCE_H
#define TW_WATER_BALANCE_H

#include "water/speciate.h"

/* What is solved for: the logarithms of the free activities. */
#define TW_UNKNOWNS 5
enum { TW_U_H, TW_U_CO3, TW_U_SO4, TW_U_PO4, TW_U_HOCL };
/* Room for the species, rounded up so that loops over them fill whole vectors. */
#define TW_BALANCE_SPECIES ((TW_SPECIES + 7) / 8 * 8)

/* The total that is shared out within a group; -1: none. In the order of tw_species_group. */
#define TW_BALANCE_TOTAL_OF_GROUP                                                                          \
    {                                                                                                      \
        -1, TW_TOTAL_NA, TW_TOTAL_K, TW_TOTAL_CA, TW_TOTAL_MG, TW_TOTAL_BORATE, TW_TOTAL_CYANURATE,        \
            TW_TOTAL_CL, TW_TOTAL_OTHER                                                                    \
    }

/* Which question is asked. */
typedef enum {
    TW_ASK_PH,      /* all totals given                                              */
    TW_ASK_OPEN,    /* CO2 pressure given instead of DIC                             */
    TW_ASK_CALCITE, /* balance with calcite: Ca and DIC follow                       */
    TW_ASK_AT_PH,   /* pH and all totals given, the charge is left to strong ions    */
    TW_ASK_DIC      /* pH and strong-ion (or titrated) alkalinity given instead of DIC */
} tw_ask;

typedef struct {
    const tw_constants *at;
    tw_ask ask;
    double total[TW_TOTALS];
    double alk;                 /* strong-ion (PH, OPEN, CALCITE, DIC) or titrated (DIC)   */
    int titrated;               /* DIC: alk is the titrated one                            */
    double ln_co2;              /* OPEN: ln of the activity of CO2(aq)                     */
    /* Active species, packed: their number, which, and their laws. */
    int n;
    unsigned char which[TW_BALANCE_SPECIES];
    double base[TW_BALANCE_SPECIES], z2[TW_BALANCE_SPECIES], law_z2[TW_BALANCE_SPECIES],
        law_size[TW_BALANCE_SPECIES], law_per_i[TW_BALANCE_SPECIES], water[TW_BALANCE_SPECIES],
        count[TW_BALANCE_SPECIES], nu[TW_UNKNOWNS][TW_BALANCE_SPECIES];
    int begin[TW_GROUPS + 1];
    int twice;                  /* the species that holds its group's part twice, -1: none */
    int present[TW_UNKNOWNS];   /* the unknown is part of the water                        */
    double inert_mol_per_kg;    /* chloride and the other anion                            */
    /* Where the search is. */
    double u[TW_UNKNOWNS], ionic_strength, ln_water;
    /* What stands there (tw_water_balance_evaluate). */
    double m[TW_BALANCE_SPECIES], by_i[TW_BALANCE_SPECIES]; /* molality; d ln gamma/dI      */
    double sum[TW_UNKNOWNS];                    /* of nu m                                 */
    double jacobian[TW_UNKNOWNS][TW_UNKNOWNS];  /* d sum / d u                             */
    double sum_by_i[TW_UNKNOWNS];
    double strength, strength_by_u[TW_UNKNOWNS], strength_by_i;
    double solutes, solutes_by_u[TW_UNKNOWNS], solutes_by_i;
    double calcium;             /* CALCITE: calcium in solution                            */
    double held_chlorine, held_by_u[TW_UNKNOWNS]; /* doubly chlorinated cyanurate          */
    double dual;                /* F above, when asked                                     */
    int steps;
} tw_balance;

/* Lay out the problem. Totals are known to be finite and not negative. ph: AT_PH and DIC only. */
void tw_water_balance_begin(tw_balance *b, const tw_constants *at, const tw_water *water, tw_ask ask, double ph,
                      double ln_co2);

/* A start without knowledge: carbonate alone in closed form. */
void tw_water_balance_start_cold(tw_balance *b);

/* A start from a solved water. */
void tw_water_balance_start_from(tw_balance *b, const tw_speciation *sp);

/* All sums and derivatives at the present place; the dual function too when with_dual. */
void tw_water_balance_evaluate(tw_balance *b, int with_dual);

/* Molalities, their sum and dissolved calcium alone, for the last look. */
void tw_water_balance_molalities(tw_balance *b);

/* Move to the solution. 1 when settled, with everything evaluated there. */
int tw_water_balance_settle(tw_balance *b);

/* What stands there as an answer. */
void tw_water_balance_report(const tw_balance *b, tw_speciation *out);

/* All numbers NaN, and the fault. */
void tw_water_balance_fail(tw_speciation *out, tw_water_fault fault, tw_total total);

#endif
