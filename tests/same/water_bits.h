/* Everything that the room "water" can answer, over waters wider than any tub, as one digest a question. same_water.c
 * compares them between builds, test_bits.c with what they were. Any NaN counts as one: which of them an operation
 * gives is the processor's choice. */
#ifndef TEST_SAME_WATER_BITS_H
#define TEST_SAME_WATER_BITS_H

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "num/elementary_inline.h"
#include "num/philox.h"
#include "num/sha256.h"
#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/inactivation.h"
#include "water/index.h"
#include "water/inverse.h"
#include "water/reduced.h"
#include "water/sample.h"
#include "water/speciate.h"

#define BITS_WATERS 400

typedef struct {
    tw_sha256_state hash;
    tw_stream stream;
    uint64_t results;
} bits;

static void bits_word(bits *b, uint64_t word)
{
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(word >> (8 * i));
    tw_sha256_update(&b->hash, bytes, sizeof bytes);
    b->results++;
}

static void bits_add(bits *b, double x)
{
    bits_word(b, x == x ? tw_bits_of(x) : UINT64_C(0x7FF8000000000000));
}

static void bits_add_all(bits *b, const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        bits_add(b, x[i]);
}

static double bits_between(bits *b, double low, double high)
{
    const double u = tw_stream_uniform(&b->stream);
    return low + (high - low) * u;
}

/* Each test in a range wider than any tub's; a third of them absent. One water in eight is a strange one: very acid
 * or alkaline, a brine, nearly pure, or out of the range of temperature. */
static tw_tests bits_tests(bits *b)
{
    tw_tests tests = {0};
    const uint32_t strange = tw_stream_below(&b->stream, 16);
    tests.temp_k = bits_between(b, strange == 1 ? 268.0 : 273.2, strange == 1 ? 323.0 : 318.1);
    tests.ph = strange == 2 ? bits_between(b, 1.5, 12.5) : bits_between(b, 6.0, 9.0);
    tests.alk_mol_per_kg = bits_between(b, 2e-4, 6e-3);
    tests.alk_kind = tw_stream_below(&b->stream, 2) ? TW_ALK_TITRATED : TW_ALK_STRONG_ION;
    double *const amount[] = {&tests.calcium_mol_per_kg,   &tests.magnesium_mol_per_kg, &tests.salt_mol_per_kg,
                              &tests.sulfate_mol_per_kg,   &tests.potassium_mol_per_kg, &tests.boron_mol_per_kg,
                              &tests.cyanurate_mol_per_kg, &tests.active_chlorine_mol_per_kg,
                              &tests.phosphate_mol_per_kg, &tests.other_mol_per_kg};
    static const double MOST[] = {6e-3, 3e-3, 6e-2, 3e-3, 1e-3, 5e-3, 1e-3, 1.5e-4, 1e-4, 1e-3};
    const double scale = strange == 3 ? 12.0 : strange == 4 ? 1e-4 : 1.0;
    for (size_t i = 0; i < sizeof MOST / sizeof *MOST; i++) {
        const double value = bits_between(b, 0.0, scale * MOST[i]);
        *amount[i] = tw_stream_below(&b->stream, 3) ? value : 0.0;
    }
    return tests;
}

/* A water from such tests; 0 when there is none. */
static int bits_water(bits *b, tw_constants *at, tw_water *water, tw_speciation *sp)
{
    const tw_tests tests = bits_tests(b);
    return tw_water_constants_at(tests.temp_k, at) == TW_OK && tw_water_from_tests(at, &tests, water, sp) == TW_OK;
}

static void bits_speciation(bits *b, tw_status status, const tw_speciation *sp)
{
    bits_word(b, (uint64_t)status);
    bits_word(b, (uint64_t)sp->fault);
    bits_word(b, (uint64_t)sp->fault_total);
    bits_add(b, sp->ph);
    bits_add(b, sp->ionic_strength_mol_per_kg);
    bits_add(b, sp->water_activity);
    bits_add_all(b, sp->mol_per_kg, TW_SPECIES);
    bits_add_all(b, sp->ln_gamma, TW_SPECIES);
    bits_add(b, sp->si_calcite);
    bits_add(b, sp->log10_pco2_atm);
    bits_add(b, sp->dic_mol_per_kg);
    bits_add(b, sp->strong_ion_alk_mol_per_kg);
    bits_add(b, sp->titrated_alk_mol_per_kg);
    bits_add(b, sp->sum_mol_per_kg);
    bits_add_all(b, sp->ln_activity, 5);
    bits_word(b, (uint64_t)sp->steps);
}

static void bits_constants(bits *b)
{
    for (double c = -1.0; c < 47.0; c += 0.25) {
        tw_constants at;
        for (int set = 0; set < TW_CYANURATE_SETS; set++) {
            memset(&at, 0, sizeof at);
            bits_word(b, (uint64_t)tw_water_constants_with(c + 273.15, (tw_cyanurate_set)set, &at));
            bits_add(b, at.temp_k);
            bits_add_all(b, at.ln_k, TW_REACTIONS);
            bits_add_all(b, at.ln_beta, TW_SPECIES);
            bits_add_all(b, at.ln_gamma_z2, TW_SPECIES);
            bits_add_all(b, at.ln_gamma_size, TW_SPECIES);
            bits_add_all(b, at.ln_gamma_per_i, TW_SPECIES);
            bits_add_all(b, (double[]){at.ln_ksp_calcite, at.ln_ksp_aragonite, at.ln_henry_co2, at.debye_a_log10,
                                       at.debye_b_per_angstrom, at.dielectric, at.pure_density_kg_per_l, at.viscosity_mpa_s}, 8);
        }
        bits_word(b, (uint64_t)tw_water_constants_at(c + 273.15, &at));
        for (int r = 0; r < TW_REACTIONS; r++)
            bits_add(b, tw_water_log10_k(&at, (tw_reaction)r));
    }
}

static void bits_inverse(bits *b)
{
    tw_constants at25;
    bits_word(b, (uint64_t)tw_water_constants_at(298.15, &at25));
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_tests tests = bits_tests(b);
        tw_constants at;
        tw_water water;
        tw_speciation sp;
        memset(&water, 0, sizeof water);
        bits_word(b, (uint64_t)tw_water_constants_at(tests.temp_k, &at));
        if (n % 32 == 5)
            *(n % 64 == 5 ? &tests.sulfate_mol_per_kg : &tests.boron_mol_per_kg) = -1e-4;
        bits_speciation(b, tw_water_from_tests(&at, &tests, &water, &sp), &sp);
        bits_add_all(b, water.total_mol_per_kg, TW_TOTALS);
        const double us = bits_between(b, 200.0, 9000.0);
        memset(&water, 0, sizeof water);
        bits_speciation(b, tw_water_from_tests_with_ec25(&at, &at25, &tests, us, &water, &sp), &sp);
        bits_add_all(b, water.total_mol_per_kg, TW_TOTALS);
        bits_add(b, tests.salt_mol_per_kg);
        const double ph = bits_between(b, 4.0, 10.0);
        bits_speciation(b, tw_water_dic_for_ph(&at, &water, ph, &sp), &sp);
        bits_add(b, water.total_mol_per_kg[TW_TOTAL_DIC]);
    }
}

static void bits_forward(bits *b)
{
    tw_speciation last = {0};
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_constants at;
        tw_water water;
        tw_speciation sp, from;
        if (!bits_water(b, &at, &water, &sp))
            continue;
        if (n % 16 == 7) { /* totals that no test would give: acid or base left over, something gone, something wrong */
            const int which = (int)tw_stream_below(&b->stream, TW_TOTALS);
            const double amount = bits_between(b, -0.05, 0.4);
            water.total_mol_per_kg[which] = n % 32 == 7 ? 0.0 : amount;
        }
        const tw_status status = tw_water_speciate(&at, &water, &sp);
        bits_speciation(b, status, &sp);
        bits_speciation(b, tw_water_speciate_from(&at, &water, last.ph > 0.0 ? &last : NULL, &from), &from);
        if (status != TW_OK)
            continue;
        last = sp;
        bits_add(b, tw_water_bound_mol_per_kg(&sp));
        bits_add(b, tw_water_log10_gamma(&sp, TW_SPECIES_CO3));
        const double near = bits_between(b, -0.3, 0.3), ph = bits_between(b, 1.5, 12.5), co2 = bits_between(b, -6.0, 1.5);
        double beta = 0.0;
        bits_word(b, (uint64_t)tw_water_buffer_intensity(&at, &water, &beta));
        bits_add(b, beta);
        bits_speciation(b, tw_water_at_ph(&at, &water, sp.ph + near, &from), &from);
        bits_speciation(b, tw_water_at_ph(&at, &water, ph, &from), &from);
        tw_water aired = water;
        bits_speciation(b, tw_water_equilibrate_co2(&at, &aired, co2, &from), &from);
        bits_add_all(b, aired.total_mol_per_kg, TW_TOTALS);
    }
}

static void bits_ccpp(bits *b)
{
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_constants at, skin;
        tw_water water, there;
        tw_speciation sp;
        tw_ccpp ccpp;
        if (!bits_water(b, &at, &water, &sp))
            continue;
        memset(&ccpp, 0, sizeof ccpp);
        bits_speciation(b, tw_water_ccpp(&at, &water, &ccpp), &ccpp.at_calcite);
        bits_add(b, ccpp.ccpp_mol_per_kg);
        bits_add(b, ccpp.water_kg);
        bits_add_all(b, ccpp.water.total_mol_per_kg, TW_TOTALS);
        const double other_k = bits_between(b, 272.0, 320.0);
        bits_word(b, (uint64_t)tw_water_constants_at(other_k, &skin));
        bits_word(b, (uint64_t)tw_water_ccpp(&skin, &water, &ccpp));
        bits_add(b, ccpp.ccpp_mol_per_kg);
        memset(&there, 0, sizeof there);
        bits_speciation(b, tw_water_sample_at(&skin, &water, &there, &sp), &sp);
        bits_add(b, there.temp_k);
        const double kg = bits_between(b, 0.0, 3.0);
        const tw_water mixed = tw_water_mix(&water, 1.0, &there, kg);
        bits_add(b, mixed.temp_k);
        bits_add_all(b, mixed.total_mol_per_kg, TW_TOTALS);
        tw_water_spend_chlorine(&water, 0.5 * water.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE]);
        bits_add_all(b, water.total_mol_per_kg, TW_TOTALS);
        bits_add(b, tw_water_strong_ion_alk_of(water.total_mol_per_kg, 1));
    }
}

static void bits_meters(bits *b)
{
    tw_constants at25;
    bits_word(b, (uint64_t)tw_water_constants_at(298.15, &at25));
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_constants at;
        tw_water water;
        tw_speciation sp;
        if (!bits_water(b, &at, &water, &sp))
            continue;
        double us = 0.0, salt = 0.0;
        bits_add(b, tw_water_conductivity_us_per_cm(&at, &sp));
        bits_word(b, (uint64_t)tw_water_conductivity_25_us_per_cm(&at25, &water, &us));
        bits_add(b, us);
        const double shown = bits_between(b, -50.0, n % 20 == 3 ? 70000.0 : 6000.0);
        for (int s = -1; s <= TW_PPM_SCALES; s++) {
            bits_add(b, tw_water_ec25_from_ppm(&at25, (tw_ppm_scale)s, shown));
            bits_add(b, tw_water_ppm_from_ec25(&at25, (tw_ppm_scale)s, 2.0 * shown));
        }
        bits_word(b, (uint64_t)tw_water_salt_from_ec25(&at25, &water, 1.3 * shown, &salt));
        bits_add(b, salt);
        bits_add(b, tw_water_density_kg_per_l(&at, &sp));
        bits_add(b, tw_water_tds_mg_per_kg(&sp));
        const double kg = tw_water_solvent_kg_per_l(&at, &sp);
        bits_add(b, kg);
        const double celsius = water.temp_k - 273.15;
        bits_add(b, tw_water_pure_density_kg_per_l(celsius));
        bits_add(b, tw_water_solvent_kg_per_l_about(celsius, shown));
        for (int m = 0; m < TW_MOLARS; m++) {
            bits_add(b, tw_water_g_per_mol((tw_molar)m));
            bits_add(b, tw_water_mol_per_kg_from_mg_per_l((tw_molar)m, shown, kg));
            bits_add(b, tw_water_mg_per_l_from_mol_per_kg((tw_molar)m, salt, kg));
        }
        bits_add(b, tw_water_alk_mol_per_kg_from_mg_per_l_caco3(shown, kg));
        bits_add(b, tw_water_alk_mg_per_l_caco3_from_mol_per_kg(salt, kg));
        const double ca = bits_between(b, -5.0, 900.0), alk = bits_between(b, -5.0, 400.0), tds = bits_between(b, -50.0, 6000.0);
        bits_add(b, tw_water_langelier(sp.ph, celsius, ca, alk, tds));
        bits_add(b, tw_water_table_index(sp.ph, 32.0 + 1.8 * celsius, ca, alk, tds));
        bits_add(b, tw_water_electrode_mv_per_ph(water.temp_k));
        bits_add(b, tw_water_electrode_reads(sp.ph, water.temp_k, 298.15));
    }
}

static void bits_chlorine_of(bits *b, tw_status status, const tw_chlorine *c)
{
    bits_word(b, (uint64_t)status);
    bits_add_all(b, (const double[]){c->hocl, c->ocl, c->bound, c->h3cy, c->h2cy, c->hcy, c->cy, c->hclcy, c->h2clcy, c->clcy,
                                     c->cl2cy, c->hcl2cy, c->cl3cy, c->pka_hocl, c->pk6, c->pk7a, c->pk9a,
                                     c->ionic_strength_mol_per_kg, c->log10_gamma_1}, 19);
}

static void bits_chlorine(bits *b)
{
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_chlorine c;
        const int odd = n % 16 == 9;
        const double temp_k = bits_between(b, odd ? 260.0 : 273.2, odd ? 330.0 : 318.1);
        const double ph = bits_between(b, odd ? 1.0 : 4.0, odd ? 13.0 : 10.0);
        const double chlorine = bits_between(b, odd ? -1e-5 : 0.0, n % 4 == 1 ? 3e-3 : 3e-4);
        const double ring = n % 5 == 2 ? 0.0 : bits_between(b, odd ? -1e-5 : 0.0, 1.5e-3);
        const double salt = bits_between(b, 0.0, 0.1);
        for (int m = 0; m < TW_CHLORINE_MODELS; m++) {
            memset(&c, 0, sizeof c);
            const tw_status ideal = tw_water_chlorine_ideal((tw_chlorine_model)m, temp_k, ph, chlorine, ring, &c);
            bits_chlorine_of(b, ideal, &c);
            memset(&c, 0, sizeof c);
            const tw_status active = tw_water_chlorine_activity((tw_chlorine_model)m, temp_k, ph, chlorine, ring, salt, &c);
            bits_chlorine_of(b, active, &c);
        }
        double low = 0.0, high = 0.0;
        bits_word(b, (uint64_t)tw_water_chlorine_spread(temp_k, ph, chlorine, ring, salt, &low, &high));
        bits_add(b, low);
        bits_add(b, high);
    }
}

static void bits_reduced_of(bits *b, const tw_reduced *r)
{
    bits_add_all(b, (const double[]){r->temp_k, r->ionic_strength_mol_per_kg, r->k1, r->k2, r->kw, r->per_h, r->kb, r->kocl, r->kcy,
                                     r->kcy2, r->two[0], r->two[1], r->kp1, r->kp2, r->kp3, r->co2_per_atm}, 16);
}

static void bits_reduced(bits *b)
{
    enum { N = 24 };
    for (int n = 0; n < BITS_WATERS; n++) {
        tw_constants at;
        tw_water water;
        tw_speciation sp;
        tw_reduced reduced, plain;
        if (!bits_water(b, &at, &water, &sp))
            continue;
        tw_water_reduced_from(&at, &sp, &reduced);
        bits_reduced_of(b, &reduced);
        memset(&plain, 0, sizeof plain);
        const double strength = bits_between(b, n % 8 == 3 ? -0.1 : 0.001, n % 8 == 3 ? 0.8 : 0.2);
        bits_word(b, (uint64_t)tw_water_reduced_at(&at, strength, 1e-3, 4e-4, &plain));
        bits_reduced_of(b, &plain);
        double alk[N], dic[N], bo[N], cy[N], cl[N], po4[N], ph[N], co2[N], hocl[N], d[4][N];
        for (int i = 0; i < N; i++) {
            const double wide = i % 6 == 5 ? 8.0 : 1.0;
            alk[i] = tw_water_strong_ion_alk_mol_per_kg(&water) + bits_between(b, -6e-4 * wide, 6e-4 * wide);
            dic[i] = water.total_mol_per_kg[TW_TOTAL_DIC] * bits_between(b, i % 8 == 2 ? -0.5 : 0.5, 1.5);
            bo[i] = water.total_mol_per_kg[TW_TOTAL_BORATE];
            cy[i] = i % 3 == 0 ? 0.0 : water.total_mol_per_kg[TW_TOTAL_CYANURATE];
            cl[i] = i % 4 == 0 ? 0.0 : water.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE];
            po4[i] = i % 5 == 0 ? 0.0 : water.total_mol_per_kg[TW_TOTAL_PHOSPHATE];
            const tw_reduced_water one = {alk[i], dic[i], bo[i], cy[i], cl[i], po4[i]};
            tw_reduced_answer a;
            tw_water_reduced_solve(&reduced, &one, &a);
            bits_add_all(b, (const double[]){a.ph, a.co2, a.hocl, a.ph_by_alk, a.ph_by_dic, a.co2_by_alk, a.co2_by_dic}, 7);
            const double limit = bits_between(b, 5.0, 9.5);
            bits_add(b, tw_water_reduced_alk_at_ph(&reduced, &one, limit));
            bits_add(b, tw_water_reduced_dic_at_ph(&reduced, &one, limit));
            bits_add(b, tw_water_reduced_hocl(&reduced, limit, cl[i], cy[i]));
        }
        const tw_reduced_waters many = {alk, dic, n % 2 ? bo : NULL, n % 3 ? cy : NULL, n % 5 ? cl : NULL, n % 7 ? po4 : NULL};
        const tw_reduced_answers answers = {ph, co2, n % 2 ? hocl : NULL, d[0], n % 3 ? d[1] : NULL, n % 5 ? d[2] : NULL, n % 7 ? d[3] : NULL};
        memset(hocl, 0, sizeof hocl);
        memset(d, 0, sizeof d);
        tw_water_reduced_solve_many(&reduced, N, &many, &answers);
        bits_add_all(b, ph, N);
        bits_add_all(b, co2, N);
        bits_add_all(b, hocl, N);
        bits_add_all(b, d[0], 4 * N);
    }
}

static void bits_inactivation(bits *b)
{
    for (int n = 0; n < BITS_WATERS; n++) {
        const int odd = n % 10 == 4;
        double hours[6], mg[6], found = 0.0;
        const double start = bits_between(b, odd ? -1.0 : 0.0, 20.0), loss = n % 6 == 1 ? 0.0 : bits_between(b, odd ? -0.01 : 0.0, 0.2);
        const double ct = bits_between(b, odd ? -10.0 : 0.0, 16000.0), span = bits_between(b, odd ? -5.0 : 0.0, 40.0);
        bits_add(b, tw_water_ct_mg_min_per_l(start, loss, span));
        bits_word(b, (uint64_t)tw_water_ct_hours(start, loss, ct, &found));
        bits_add(b, found);
        for (int i = 0; i < 6; i++) {
            hours[i] = (i > 0 ? hours[i - 1] : 0.0) + bits_between(b, odd ? -1.0 : 0.0, 6.0);
            mg[i] = bits_between(b, n % 20 == 14 ? -1.0 : 0.0, 8.0);
        }
        bits_add(b, tw_water_ct_of_readings(hours, mg, n % 8 - 1));
    }
    for (int g = -1; g <= TW_GERMS; g++)
        bits_add(b, tw_water_ct_as_hocl_mg_min_per_l((tw_germ)g));
}

static const struct {
    const char *name;
    void (*ask)(bits *b);
} BITS[] = {{"constants", bits_constants}, {"inverse", bits_inverse},   {"forward", bits_forward}, {"ccpp", bits_ccpp},
            {"meters", bits_meters},       {"chlorine", bits_chlorine}, {"reduced", bits_reduced}, {"inactivation", bits_inactivation}};
#define BITS_PARTS (sizeof BITS / sizeof *BITS)

/* The digest of part p as text; its number of results. */
static uint64_t bits_digest(size_t p, char hex[TW_SHA256_HEX])
{
    bits b;
    uint8_t digest[TW_SHA256_BYTES];
    tw_sha256_init(&b.hash);
    b.stream = tw_stream_make(2026, 3, 24, (uint32_t)p);
    b.results = 0;
    BITS[p].ask(&b);
    tw_sha256_final(&b.hash, digest);
    tw_sha256_hex(digest, hex);
    return b.results;
}

#endif
