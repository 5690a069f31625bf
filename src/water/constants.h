/* water/constants.h: every temperature-dependent constant of the model, made once a temperature.
 *
 * Coefficients, ranges and sources stand in data/constants.csv and data/species.csv (made into
 * gen/water_tables.h at build time). Many solves share one set. Pure. */
#ifndef TW_WATER_CONSTANTS_H
#define TW_WATER_CONSTANTS_H

#include "gen/water_tables.h"
#include "num/status.h"

/* Ends of the range of temperature, and 0 degrees Celsius. */
#define TW_WATER_TEMP_MIN_K 273.15
#define TW_WATER_TEMP_MAX_K 318.15
#define TW_WATER_ZERO_C_K 273.15
/* What a mol of solutes takes off the activity of water: a_w = 1 - 0.017 sum m, phreeqc.dat's code (Garrels and Christ
 * 1965, Solutions, minerals, and equilibria, p. 64). */
#define TW_WATER_LESS_PER_MOL 0.017
#define TW_WATER_NAN (TW_WATER_INFINITY - TW_WATER_INFINITY) /* the value of what has no answer */
#define TW_WATER_INFINITY (1e308 * 10.0)

/* Which published constants the chlorinated cyanurates have. The 2018/19 set follows temperature;
 * the species it lacks keep their 1974 values. The 1974 set is for 25 C and is used at every
 * temperature; the gap between both is an honest measure of what is known. */
typedef enum tw_cyanurate_set {
    TW_CYANURATE_2019, /* Wahman 2018; Wahman and Alexander 2019; advice uses this one */
    TW_CYANURATE_1974, /* O'Brien, Morris and Butler 1974, 25 C                         */
    TW_CYANURATE_SETS
} tw_cyanurate_set;

typedef struct {
    double temp_k;
    tw_cyanurate_set set;
    double ln_k[TW_REACTIONS];          /* natural log of each reaction's constant, I = 0          */
    double ln_beta[TW_SPECIES];         /* formation from H+, CO3, SO4, PO4, HOCl and the family   */
    double ln_gamma_z2[TW_SPECIES];     /* activity: ln g = -z2 r/(1 + size r) + per_i I, r = sqrt I */
    double ln_gamma_size[TW_SPECIES];
    double ln_gamma_per_i[TW_SPECIES];
    double ln_ksp_calcite, ln_ksp_aragonite; /* a_Ca a_CO3 at saturation                           */
    double ln_henry_co2;                     /* mol/kg CO2(aq) for 1 atm                           */
    double debye_a_log10, debye_b_per_angstrom; /* of the activity law                             */
    double dielectric;                       /* relative permittivity of water                     */
    double pure_density_kg_per_l;            /* Kell 1975, 1 atm                                   */
    double viscosity_mpa_s;                  /* Kestin, Sokolov and Wakeham 1978                   */
} tw_constants;

/* All constants at temp_k, with the cyanurate set of 2018/19. TW_ERR_RANGE outside 0..45 C (or NaN);
 * then every number of *out is NaN. */
tw_status tw_water_constants_at(double temp_k, tw_constants *out);

/* The same with a named cyanurate set. */
tw_status tw_water_constants_with(double temp_k, tw_cyanurate_set set, tw_constants *out);

/* log10 of the constant of one reaction of data/constants.csv, as published (I = 0). */
double tw_water_log10_k(const tw_constants *at, tw_reaction reaction);

#endif
