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

#include <stdbool.h>

#include "gen/water_sums.h"
#include "num/elementary_inline.h" /* TW_LANES */
#include "water/speciate.h"

/* What is solved for: the logarithms of the free activities. */
#define TW_UNKNOWNS 5
enum { TW_U_H, TW_U_CO3, TW_U_SO4, TW_U_PO4, TW_U_HOCL };

/* More than this of all totals together is refused unseen: far beyond the ionic strength that the law covers. */
#define TW_BALANCE_MOST_MOL_PER_KG 10.0

/* Which question is asked. */
typedef enum {
    TW_ASK_PH,      /* all totals given                                              */
    TW_ASK_OPEN,    /* CO2 pressure given instead of DIC                             */
    TW_ASK_CALCITE, /* balance with calcite: Ca and DIC follow                       */
    TW_ASK_AT_PH,   /* pH and all totals given, the charge is left to strong ions    */
    TW_ASK_DIC      /* pH and strong-ion alkalinity given instead of DIC               */
} tw_ask;

typedef struct {
    const tw_constants *at;
    tw_ask ask;
    double total[TW_TOTALS];
    double alk;                 /* strong-ion (PH, OPEN, CALCITE, DIC)                     */
    double ln_co2;              /* OPEN: ln of the activity of CO2(aq)                     */
    unsigned have;              /* bits as in TW_WATER_WANTS: what the water is made of    */
    bool present[TW_UNKNOWNS];  /* the same of the unknowns: it is part of the water       */
    bool is_plain;              /* neither PO4 nor HOCl is                                 */
    int n, unknown[TW_UNKNOWNS]; /* so many are sought, namely                             */
    double wanted[TW_UNKNOWNS]; /* what the sum of nu m shall be                           */
    int groups, blocks;         /* so many groups and blocks of lanes take part, namely    */
    tw_species_group group[TW_GROUPS];
    double to_share[TW_GROUPS]; /* the total of each; 0: its species follow from the unknowns */
    int block[TW_WATER_LANES / TW_LANES];
    double inert_mol_per_kg;    /* chloride and the other anion                            */
    /* Where the search is. */
    double u[TW_UNKNOWNS], ionic_strength, ln_water, solutes; /* ln_water: of so many solutes */
    /* What stands there (tw_water_balance_evaluate). */
    double m[TW_WATER_LANES];                   /* molality                                */
    double ln_gamma[TW_WATER_LANES], by_i[TW_WATER_LANES]; /* and its slope in I           */
    tw_water_sums here;                         /* and what they add up to                 */
    double calcium;             /* CALCITE: calcium in solution                            */
    bool is_carried;            /* molalities and matrix are those of a water nearby       */
    bool has_slopes;            /* by_i is that of this place                              */
    tw_newton newton;           /* matrix of the last full step                            */
    int solves_ago;             /* 0: made from nothing here; else carried over so often   */
    int steps;
} tw_balance;

/* Lay out the problem. Totals are known to be finite and not negative. ph: AT_PH and DIC only. */
void tw_water_balance_begin(tw_balance *b, const tw_constants *at, const tw_water *water, tw_ask ask, double ph,
                      double ln_co2);

/* A start without knowledge: carbonate alone in closed form. */
void tw_water_balance_start_cold(tw_balance *b);

/* A start from a solved water; where the pH is sought (PH, OPEN, CALCITE). */
void tw_water_balance_start_from(tw_balance *b, const tw_speciation *sp);

/* Molalities at the present place, from nothing. */
void tw_water_balance_weigh(tw_balance *b);

/* The same from the answer for a water nearby, and its matrix, when it was made of the same things by the same
 * constants for the same question (b->is_carried). */
void tw_water_balance_carry_over(tw_balance *b, const tw_speciation *sp);

/* The same after a step from the place `from`, `strength`, `ln_water` where the molalities were last known. */
void tw_water_balance_move(tw_balance *b, const double from[TW_UNKNOWNS], double strength, double ln_water);

/* All sums and derivatives of the molalities that stand there. */
void tw_water_balance_add_up(tw_balance *b);

/* Sums of nu m, of solutes, their strength and dissolved calcium alone, none of them tied to another. */
void tw_water_balance_total_up(tw_balance *b);

/* A logarithm that is tied to others by the question: CO3 open to CO2. */
void tw_water_balance_tie(tw_balance *b);

/* Move to the solution. True when settled, with everything evaluated there. */
bool tw_water_balance_settle(tw_balance *b);

/* What stands there as an answer. */
void tw_water_balance_report(const tw_balance *b, tw_speciation *out);

/* All numbers NaN, and the fault. */
void tw_water_balance_fail(tw_speciation *out, tw_water_fault fault, tw_total total);

#endif
