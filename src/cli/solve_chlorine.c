/* cli/solve_chlorine.c: rows of both chlorine tables; the column model says which. */
#include "cli/solve.h"

#include <string.h>

#include "water/chlorine.h"
#include "water/edge.h"

const tw_solve_column tw_cli_solve_chlorine_in[] = {{"model", TW_SOLVE_WORD},
                                                    {"temperature_C", TW_SOLVE_NUMBER},
                                                    {"pH", TW_SOLVE_NUMBER},
                                                    {"total_available_chlorine_mg_per_kgw_as_Cl2", TW_SOLVE_NUMBER},
                                                    {"cyanuric_acid_mg_per_kgw", TW_SOLVE_NUMBER},
                                                    {"NaCl_background_mg_per_kgw", TW_SOLVE_NUMBER_OR_EMPTY},
                                                    {NULL, TW_SOLVE_NUMBER}};
enum { MODEL, TEMPERATURE, PH, CHLORINE, CYANURIC, BACKGROUND };

const char *const tw_cli_solve_chlorine_out[] = {
    "pKa_HOCl_thermodynamic", "ideal_HOCl_mg_per_kgw_as_Cl2", "ideal_OCl_mg_per_kgw_as_Cl2",
    "ideal_bound_mg_per_kgw_as_Cl2", "ideal_HOCl_fraction_of_total", "ideal_OCl_fraction_of_total",
    "ideal_bound_fraction_of_total", "ideal_HOCl_mmol_per_kgw", "ideal_HClCy_mmol_per_kgw",
    "ideal_Cl2Cy_mmol_per_kgw", "ideal_H2ClCy_mmol_per_kgw", "ideal_H3Cy_mmol_per_kgw", "ideal_H2Cy_mmol_per_kgw",
    "activity_ionic_strength_mol_per_kgw", "activity_log10_gamma_monovalent_anion",
    "activity_HOCl_mg_per_kgw_as_Cl2", "activity_OCl_mg_per_kgw_as_Cl2", "activity_bound_mg_per_kgw_as_Cl2",
    "activity_HOCl_fraction_of_total", "activity_OCl_fraction_of_total", "activity_bound_fraction_of_total",
    /* the simple model */
    "pKa_HOCl", "pK6_H3Cy", "pK7a_Cl2Cy_hydrolysis", "pK9a_HClCy_hydrolysis", "HOCl_mg_per_kgw_as_Cl2",
    "OCl_mg_per_kgw_as_Cl2", "bound_mg_per_kgw_as_Cl2", "HOCl_fraction_of_total", "bound_fraction_of_total",
    "HClCy_mmol_per_kgw", "Cl2Cy_mmol_per_kgw", "H3Cy_mmol_per_kgw", "H2Cy_mmol_per_kgw", NULL};

static double as_cl2_mg(double mol_per_kg)
{
    return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, mol_per_kg, 1.0);
}

static void simple_row(tw_solve_row *row, const tw_chlorine *c, double chlorine)
{
    double *o = row->out + TW_SOLVE_CHLORINE_FIRST;
    *o++ = c->pka_hocl;
    *o++ = c->pk6;
    *o++ = c->pk7a;
    *o++ = c->pk9a;
    *o++ = as_cl2_mg(c->hocl);
    *o++ = as_cl2_mg(c->ocl);
    *o++ = as_cl2_mg(c->bound);
    *o++ = c->hocl / chlorine;
    *o++ = c->bound / chlorine;
    *o++ = 1e3 * c->hclcy;
    *o++ = 1e3 * c->cl2cy;
    *o++ = 1e3 * c->h3cy;
    *o++ = 1e3 * c->h2cy;
}

static double *free_and_bound(double *o, const tw_chlorine *c, double chlorine)
{
    *o++ = as_cl2_mg(c->hocl);
    *o++ = as_cl2_mg(c->ocl);
    *o++ = as_cl2_mg(c->bound);
    *o++ = c->hocl / chlorine;
    *o++ = c->ocl / chlorine;
    *o++ = c->bound / chlorine;
    return o;
}

static void full_row(tw_solve_row *row, const tw_chlorine *ideal, const tw_chlorine *real, double chlorine)
{
    double *o = row->out;
    *o++ = ideal->pka_hocl;
    o = free_and_bound(o, ideal, chlorine);
    *o++ = 1e3 * ideal->hocl;
    *o++ = 1e3 * ideal->hclcy;
    *o++ = 1e3 * ideal->cl2cy;
    *o++ = 1e3 * ideal->h2clcy;
    *o++ = 1e3 * ideal->h3cy;
    *o++ = 1e3 * ideal->h2cy;
    *o++ = real->ionic_strength_mol_per_kg;
    *o++ = real->log10_gamma_1;
    free_and_bound(o, real, chlorine);
}

void tw_cli_solve_chlorine_row(tw_solve_row *row)
{
    static const char *const names[TW_CHLORINE_MODELS] = {"obrien1974_25C", "morris_no_CYA",
                                                          "wahman2019_simple_ideal"};
    int model = 0;
    while (model < TW_CHLORINE_MODELS && strcmp(row->word[MODEL], names[model]) != 0)
        model++;
    row->shape = model == TW_CHLORINE_2019_SIMPLE ? 2 : 1;
    if (model == TW_CHLORINE_MODELS) {
        row->bad = 1;
        snprintf(row->why, sizeof row->why, "model is '%.60s'; known are %s, %s, %s", row->word[MODEL], names[0],
                 names[1], names[2]);
        return;
    }
    const double background = row->in[BACKGROUND];
    if (row->shape == 1 && background != background) {
        row->bad = 1;
        snprintf(row->why, sizeof row->why, "NaCl_background_mg_per_kgw is missing");
        return;
    }
    const double temp_k = row->in[TEMPERATURE] + TW_WATER_ZERO_C_K;
    const double chlorine = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CL2, row->in[CHLORINE], 1.0);
    const double ring = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CYA, row->in[CYANURIC], 1.0);
    tw_chlorine ideal, real;
    tw_status status = tw_water_chlorine_ideal((tw_chlorine_model)model, temp_k, row->in[PH], chlorine, ring, &ideal);
    if (status == TW_OK && row->shape == 1)
        status = tw_water_chlorine_activity((tw_chlorine_model)model, temp_k, row->in[PH], chlorine, ring,
                                            tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, background, 1.0), &real);
    if (status != TW_OK) {
        snprintf(row->why, sizeof row->why,
                 "a value is outside the range: 0 to 45 C, pH 2 to 12, amounts of 0 and more");
        return;
    }
    if (row->shape == 2)
        simple_row(row, &ideal, chlorine);
    else
        full_row(row, &ideal, &real, chlorine);
}
