/* cli/solve_waters.c: rows of the tables equilibrium, dosing and chain. */
#include "cli/solve.h"

#include <stdlib.h>
#include <string.h>

#include "num/elementary.h"
#include "water/ccpp.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/inverse.h"

#define PER_KG 1.0 /* the tables count per kg of water: no density */
#define WATER_KG_PER_MOL 18.0153e-3

const tw_solve_column tw_cli_solve_equilibrium_in[] = {TW_SOLVE_WATER(""), {NULL, TW_SOLVE_NUMBER}};

const char *const tw_cli_solve_equilibrium_out[] = {
    "Na_total_mmol_per_kgw", "Cl_total_mmol_per_kgw", "DIC_mmol_per_kgw", "CO2aq_mmol_per_kgw",
    "HCO3_mmol_per_kgw", "CO3_mmol_per_kgw", "log10_pCO2_atm", "ionic_strength_mol_per_kgw", "log10_gamma_HCO3",
    "log10_gamma_CO3", "log10_gamma_Ca", "log10_gamma_H", "SI_calcite_log10", "CCPP_closed_mg_per_kgw_as_CaCO3",
    "pH_at_calcite_equilibrium", "alkalinity_at_calcite_equilibrium_mg_per_kgw_as_CaCO3",
    "buffer_intensity_dAlk_dpH_mmol_per_kgw_per_pH", "specific_conductance_at_T_uS_per_cm", "density_kg_per_L",
    "Ca_free_mmol_per_kgw", "CaHCO3_pair_mmol_per_kgw", "CaCO3_pair_mmol_per_kgw", "CaSO4_pair_mmol_per_kgw",
    "borate_H2BO3_mmol_per_kgw", NULL};

const tw_solve_column tw_cli_solve_dosing_in[] = {TW_SOLVE_WATER("initial_"),
                                                  {"dose_NaHCO3_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_Na2CO3_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_NaHSO4_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_HCl_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_CaCl2_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_NaCl_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_NaOH_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"dose_CO2_mmol_per_kgw", TW_SOLVE_NUMBER},
                                                  {"final_temperature_C", TW_SOLVE_NUMBER},
                                                  {"imposed_log10_pCO2_atm", TW_SOLVE_NUMBER_OR_EMPTY},
                                                  {NULL, TW_SOLVE_NUMBER}};
enum { DOSE_FIRST = TW_SOLVE_WATER_COLUMNS, DOSES = 8, DOSING_TEMPERATURE = DOSE_FIRST + DOSES, DOSING_PCO2 };

#define FINAL_COLUMNS                                                                                        \
    "final_pH", "final_alkalinity_mg_per_kgw_as_CaCO3", "final_DIC_mmol_per_kgw",                            \
        "final_Ca_total_mmol_per_kgw", "final_SI_calcite_log10", "final_log10_pCO2_atm",                     \
        "final_ionic_strength_mol_per_kgw", "final_Na_mmol_per_kgw", "final_Cl_mmol_per_kgw",                \
        "final_SO4_total_mmol_per_kgw", "final_water_mass_kg", "final_specific_conductance_at_T_uS_per_cm"

const char *const tw_cli_solve_dosing_out[] = {"initial_DIC_mmol_per_kgw", "initial_SI_calcite_log10",
                                               "initial_log10_pCO2_atm", FINAL_COLUMNS, NULL};

const tw_solve_column tw_cli_solve_chain_in[] = {TW_SOLVE_WATER("initial_"),
                                                 {"chain_id", TW_SOLVE_WORD},
                                                 {"step", TW_SOLVE_NUMBER},
                                                 {"chemical", TW_SOLVE_WORD_OR_EMPTY},
                                                 {"amount_mmol_per_kgw", TW_SOLVE_NUMBER_OR_EMPTY},
                                                 {"temperature_C", TW_SOLVE_NUMBER},
                                                 {"imposed_log10_pCO2_atm", TW_SOLVE_NUMBER_OR_EMPTY},
                                                 {NULL, TW_SOLVE_NUMBER}};
enum { CHAIN_CHEMICAL = TW_SOLVE_WATER_COLUMNS + 2, CHAIN_AMOUNT, CHAIN_TEMPERATURE, CHAIN_PCO2 };

const char *const tw_cli_solve_chain_out[] = {FINAL_COLUMNS, NULL};

/* ------------------------------------------------------------------------------------------ a water */

static void say(tw_solve_row *row, const char *what, const tw_speciation *sp)
{
    if (row->why[0] != '\0')
        return;
    snprintf(row->why, sizeof row->why, "%s%s", what, tw_water_fault_text(sp->fault));
    if (sp->fault == TW_WATER_FAULT_TOTAL) {
        const size_t n = strlen(row->why);
        snprintf(row->why + n, sizeof row->why - n, " (%s)", tw_water_total_name(sp->fault_total));
    }
}

/* The water of the first nine columns. */
static int water_of(tw_solve_row *row, tw_constants *at, tw_water *water, tw_speciation *sp)
{
    const double *in = row->in;
    const double temp_k = in[0] + TW_WATER_ZERO_C_K;
    tw_water_constants_at(temp_k, at);
    const tw_tests tests = {
        .temp_k = temp_k,
        .ph = in[1],
        .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(in[2], PER_KG),
        .alk_kind = TW_ALK_STRONG_ION,
        .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, in[3], PER_KG),
        .magnesium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, in[4], PER_KG),
        .salt_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, in[5], PER_KG),
        .sulfate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_SO4, in[6], PER_KG),
        .potassium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_K, in[7], PER_KG),
        .boron_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_B, in[8], PER_KG)};
    if (tw_water_from_tests(at, &tests, water, sp) == TW_OK)
        return 1;
    say(row, "", sp);
    return 0;
}

static double alk_mg(double mol_per_kg)
{
    return tw_water_alk_mg_per_l_caco3_from_mol_per_kg(mol_per_kg, PER_KG);
}

void tw_cli_solve_equilibrium_row(tw_solve_row *row)
{
    tw_constants at;
    tw_water water;
    tw_speciation sp;
    if (!water_of(row, &at, &water, &sp))
        return;
    double *o = row->out;
    const double *m = sp.mol_per_kg;
    *o++ = 1e3 * water.total_mol_per_kg[TW_TOTAL_NA];
    *o++ = 1e3 * water.total_mol_per_kg[TW_TOTAL_CL];
    *o++ = 1e3 * sp.dic_mol_per_kg;
    *o++ = 1e3 * m[TW_SPECIES_CO2];
    *o++ = 1e3 * m[TW_SPECIES_HCO3];
    *o++ = 1e3 * m[TW_SPECIES_CO3];
    *o++ = sp.log10_pco2_atm;
    *o++ = sp.ionic_strength_mol_per_kg;
    *o++ = tw_water_log10_gamma(&sp, TW_SPECIES_HCO3);
    *o++ = tw_water_log10_gamma(&sp, TW_SPECIES_CO3);
    *o++ = tw_water_log10_gamma(&sp, TW_SPECIES_CA);
    *o++ = tw_water_log10_gamma(&sp, TW_SPECIES_H);
    *o++ = sp.si_calcite;
    tw_ccpp ccpp;
    if (tw_water_ccpp(&at, &water, &ccpp) != TW_OK)
        say(row, "balance with calcite: ", &ccpp.at_calcite);
    *o++ = 1e3 * tw_water_g_per_mol(TW_MOLAR_CACO3) * ccpp.ccpp_mol_per_kg;
    *o++ = ccpp.at_calcite.ph;
    *o++ = alk_mg(ccpp.at_calcite.strong_ion_alk_mol_per_kg);
    double buffer = 0.0;
    if (tw_water_buffer_intensity(&at, &water, &buffer) != TW_OK && row->why[0] == '\0')
        snprintf(row->why, sizeof row->why, "buffer intensity: no water of a pH nearby");
    *o++ = 1e3 * buffer;
    *o++ = tw_water_conductivity_us_per_cm(&at, &sp);
    *o++ = tw_water_density_kg_per_l(&at, &sp);
    *o++ = 1e3 * m[TW_SPECIES_CA];
    *o++ = 1e3 * m[TW_SPECIES_CAHCO3];
    *o++ = 1e3 * m[TW_SPECIES_CACO3];
    *o++ = 1e3 * m[TW_SPECIES_CASO4];
    *o++ = 1e3 * m[TW_SPECIES_H2BO3];
}

/* ---------------------------------------------------------------------------------- doses and chains */

/* What 1 mol of a pure compound brings: totals, and water (NaOH is Na+ + H2O - H+; CO2 is CO3 + 2 H+ - H2O). */
typedef struct {
    const char *name;
    double na, k, ca, mg, cl, so4, dic, borate, water;
} compound;

static const compound COMPOUNDS[] = {
    {"NaHCO3", 1, 0, 0, 0, 0, 0, 1, 0, 0}, {"Na2CO3", 2, 0, 0, 0, 0, 0, 1, 0, 0},
    {"NaHSO4", 1, 0, 0, 0, 0, 1, 0, 0, 0}, {"HCl", 0, 0, 0, 0, 1, 0, 0, 0, 0},
    {"CaCl2", 0, 0, 1, 0, 2, 0, 0, 0, 0},  {"NaCl", 1, 0, 0, 0, 1, 0, 0, 0, 0},
    {"NaOH", 1, 0, 0, 0, 0, 0, 0, 0, 1},   {"CO2", 0, 0, 0, 0, 0, 0, 1, 0, -1},
    {"H2SO4", 0, 0, 0, 0, 0, 1, 0, 0, 0},  {"Na2SO4", 2, 0, 0, 0, 0, 1, 0, 0, 0},
    {"MgCl2", 0, 0, 0, 1, 2, 0, 0, 0, 0},  {"MgSO4", 0, 0, 0, 1, 0, 1, 0, 0, 0},
    {"CaSO4", 0, 0, 1, 0, 0, 1, 0, 0, 0},  {"KCl", 0, 1, 0, 0, 1, 0, 0, 0, 0},
    {"KHCO3", 0, 1, 0, 0, 0, 0, 1, 0, 0},  {"H3BO3", 0, 0, 0, 0, 0, 0, 0, 1, 0}};
#define COMPOUND_COUNT (sizeof COMPOUNDS / sizeof *COMPOUNDS)

/* What is in the vessel, mol, for 1 kg of water at the start: totals, and water with what the species hold of it. */
typedef struct {
    tw_water mol; /* total_mol_per_kg are mol here */
    double water_mol, water_kg;
    tw_speciation sp;
} vessel;

static void fill_vessel(vessel *v, const tw_water *water, const tw_speciation *sp)
{
    v->mol = *water;
    v->water_kg = 1.0;
    v->water_mol = 1.0 / WATER_KG_PER_MOL + tw_water_bound_mol_per_kg(sp);
    v->sp = *sp;
}

static void pour(vessel *v, const compound *what, double mol)
{
    double *t = v->mol.total_mol_per_kg;
    t[TW_TOTAL_NA] += mol * what->na;
    t[TW_TOTAL_K] += mol * what->k;
    t[TW_TOTAL_CA] += mol * what->ca;
    t[TW_TOTAL_MG] += mol * what->mg;
    t[TW_TOTAL_CL] += mol * what->cl;
    t[TW_TOTAL_SO4] += mol * what->so4;
    t[TW_TOTAL_DIC] += mol * what->dic;
    t[TW_TOTAL_BORATE] += mol * what->borate;
    v->water_mol += mol * what->water;
}

/* Bring the vessel to a temperature, closed, or open to a CO2 pressure. The mass of water follows from its own
 * balance; it moves by 1e-5 at most, so a few repetitions settle it to the last digit. */
static int settle(tw_solve_row *row, vessel *v, double temp_c, double log10_pco2, int open)
{
    tw_constants at;
    const double temp_k = temp_c + TW_WATER_ZERO_C_K, dic_before = v->mol.total_mol_per_kg[TW_TOTAL_DIC];
    const double water_before = v->water_mol;
    tw_water_constants_at(temp_k, &at);
    v->mol.temp_k = temp_k;
    for (int pass = 0; pass < 4; pass++) {
        tw_water now = v->mol;
        for (int i = 0; i < TW_TOTALS; i++)
            now.total_mol_per_kg[i] /= v->water_kg;
        const tw_status status = open ? tw_water_equilibrate_co2(&at, &now, log10_pco2, &v->sp)
                                      : tw_water_speciate(&at, &now, &v->sp);
        if (status != TW_OK) {
            say(row, "", &v->sp);
            return 0;
        }
        if (open) { /* a mol of CO2 that comes is CO3 + 2 H+ less a water */
            const double dic = now.total_mol_per_kg[TW_TOTAL_DIC] * v->water_kg;
            v->mol.total_mol_per_kg[TW_TOTAL_DIC] = dic;
            v->water_mol = water_before - (dic - dic_before);
        }
        v->water_kg = v->water_mol * WATER_KG_PER_MOL / (1.0 + WATER_KG_PER_MOL * tw_water_bound_mol_per_kg(&v->sp));
    }
    return 1;
}

static void report(const vessel *v, double *o)
{
    const double *t = v->mol.total_mol_per_kg, per_kg = 1e3 / v->water_kg;
    tw_constants at;
    tw_water_constants_at(v->mol.temp_k, &at);
    *o++ = v->sp.ph;
    *o++ = alk_mg(v->sp.strong_ion_alk_mol_per_kg);
    *o++ = t[TW_TOTAL_DIC] * per_kg;
    *o++ = t[TW_TOTAL_CA] * per_kg;
    *o++ = v->sp.si_calcite;
    *o++ = v->sp.log10_pco2_atm;
    *o++ = v->sp.ionic_strength_mol_per_kg;
    *o++ = t[TW_TOTAL_NA] * per_kg;
    *o++ = t[TW_TOTAL_CL] * per_kg;
    *o++ = t[TW_TOTAL_SO4] * per_kg;
    *o++ = v->water_kg;
    *o++ = tw_water_conductivity_us_per_cm(&at, &v->sp);
}

void tw_cli_solve_dosing_row(tw_solve_row *row)
{
    tw_constants at;
    tw_water water;
    tw_speciation sp;
    vessel v;
    if (!water_of(row, &at, &water, &sp))
        return;
    row->out[0] = 1e3 * sp.dic_mol_per_kg;
    row->out[1] = sp.si_calcite;
    row->out[2] = sp.log10_pco2_atm;
    fill_vessel(&v, &water, &sp);
    for (int i = 0; i < DOSES; i++)
        pour(&v, &COMPOUNDS[i], 1e-3 * row->in[DOSE_FIRST + i]);
    const double pco2 = row->in[DOSING_PCO2];
    if (settle(row, &v, row->in[DOSING_TEMPERATURE], pco2, pco2 == pco2))
        report(&v, row->out + 3);
    else
        row->out[0] = row->out[1] = row->out[2] = TW_WATER_NAN;
}

static const compound *find_compound(const char *name)
{
    for (size_t i = 0; i < COMPOUND_COUNT; i++)
        if (strcmp(COMPOUNDS[i].name, name) == 0)
            return &COMPOUNDS[i];
    return NULL;
}

/* One step of a chain: what is poured, then temperature and gas. */
static int chain_step(tw_solve_row *row, vessel *v)
{
    const char *chemical = row->word[CHAIN_CHEMICAL];
    const double amount = row->in[CHAIN_AMOUNT], pco2 = row->in[CHAIN_PCO2];
    if (chemical[0] != '\0') {
        const compound *what = find_compound(chemical);
        if (!what || amount != amount) {
            row->bad = 1;
            snprintf(row->why, sizeof row->why, "%s",
                     what ? "amount_mmol_per_kgw is empty beside a chemical" : "the chemical is not known");
            return 0;
        }
        pour(v, what, 1e-3 * amount);
    }
    return settle(row, v, row->in[CHAIN_TEMPERATURE], pco2, pco2 == pco2);
}

void tw_cli_solve_chain(tw_solve_row **rows, size_t n)
{
    vessel v;
    for (size_t i = 0; i < n; i++) {
        tw_constants at;
        tw_water water;
        tw_speciation sp;
        const char *stopped = NULL;
        if (rows[i]->bad)
            stopped = "";
        else if (i == 0 && water_of(rows[i], &at, &water, &sp))
            fill_vessel(&v, &water, &sp);
        else if (i == 0)
            stopped = "";
        if (!stopped && chain_step(rows[i], &v)) {
            report(&v, rows[i]->out);
            continue;
        }
        for (size_t j = i + 1; j < n; j++)
            if (!rows[j]->bad)
                snprintf(rows[j]->why, sizeof rows[j]->why, "a step before it (%.100s) has no solution", rows[i]->id);
        return;
    }
}
