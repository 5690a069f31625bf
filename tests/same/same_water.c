/* One hash of many solves of water: what a tub, a source or a strange water may be. See same_num.c. */
#include <stdint.h>
#include <stdio.h>

#include "num/elementary_inline.h"
#include "num/philox.h"
#include "num/sha256.h"
#include "water/ccpp.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/index.h"
#include "water/inverse.h"
#include "water/reduced.h"
#include "water/speciate.h"

#define WATERS 400

static tw_sha256_state hash;
static uint64_t results;

static void add_word(uint64_t word)
{
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(word >> (8 * i));
    tw_sha256_update(&hash, bytes, sizeof bytes);
    results++;
}

/* Any NaN counts as one: which of them an operation gives is the processor's choice. */
static void add(double x)
{
    add_word(x == x ? tw_bits_of(x) : UINT64_C(0x7FF8000000000000));
}

static double between(tw_stream *stream, double low, double high)
{
    const double u = tw_stream_uniform(stream);
    return low + (high - low) * u;
}

/* Each test in a range wider than any tub's; a third of them absent. */
static tw_tests draw_tests(tw_stream *stream)
{
    tw_tests tests = {0};
    tests.temp_k = between(stream, 274.0, 317.0);
    tests.ph = between(stream, 6.0, 9.0);
    tests.alk_mol_per_kg = between(stream, 2e-4, 6e-3);
    tests.alk_kind = tw_stream_below(stream, 2) ? TW_ALK_TITRATED : TW_ALK_STRONG_ION;
    double *const amount[] = {&tests.calcium_mol_per_kg,   &tests.magnesium_mol_per_kg, &tests.salt_mol_per_kg,
                              &tests.sulfate_mol_per_kg,   &tests.potassium_mol_per_kg, &tests.boron_mol_per_kg,
                              &tests.cyanurate_mol_per_kg, &tests.active_chlorine_mol_per_kg,
                              &tests.phosphate_mol_per_kg, &tests.other_mol_per_kg};
    static const double MOST[] = {6e-3, 3e-3, 6e-2, 3e-3, 1e-3, 5e-3, 1e-3, 1.5e-4, 1e-4, 1e-3};
    for (size_t i = 0; i < sizeof MOST / sizeof *MOST; i++) {
        const double value = between(stream, 0.0, MOST[i]);
        *amount[i] = tw_stream_below(stream, 3) ? value : 0.0;
    }
    return tests;
}

static void add_speciation(const tw_speciation *sp)
{
    add(sp->ph);
    add(sp->ionic_strength_mol_per_kg);
    add(sp->water_activity);
    for (int i = 0; i < TW_SPECIES; i++)
        add(sp->mol_per_kg[i]);
    add(sp->si_calcite);
    add(sp->log10_pco2_atm);
    add(sp->strong_ion_alk_mol_per_kg);
    add(sp->titrated_alk_mol_per_kg);
    add_word((uint64_t)sp->steps);
}

static void one_water(tw_stream *stream)
{
    const tw_tests tests = draw_tests(stream);
    tw_constants at, at25;
    add_word((uint64_t)tw_water_constants_at(tests.temp_k, &at));
    add_word((uint64_t)tw_water_constants_at(298.15, &at25));
    tw_water water;
    tw_speciation sp;
    const tw_status status = tw_water_from_tests(&at, &tests, &water, &sp);
    add_word((uint64_t)status);
    if (status != TW_OK)
        return;
    for (int i = 0; i < TW_TOTALS; i++)
        add(water.total_mol_per_kg[i]);
    add_word((uint64_t)tw_water_speciate(&at, &water, &sp));
    add_speciation(&sp);
    add(tw_water_conductivity_us_per_cm(&at, &sp));
    double ec25 = 0.0;
    add_word((uint64_t)tw_water_conductivity_25_us_per_cm(&at25, &water, &ec25));
    add(ec25);
    add(tw_water_density_kg_per_l(&at, &sp));
    tw_ccpp ccpp;
    add_word((uint64_t)tw_water_ccpp(&at, &water, &ccpp));
    add(ccpp.ccpp_mol_per_kg);
    add(tw_water_langelier(sp.ph, tests.temp_k - 273.15, 1e5 * tests.calcium_mol_per_kg,
                           5e4 * tests.alk_mol_per_kg, 1000.0));

    tw_reduced reduced;
    tw_water_reduced_from(&at, &sp, &reduced);
    enum { N = 64 };
    double alk[N], dic[N], ph[N], co2[N], by_alk[N];
    for (int i = 0; i < N; i++) {
        const double a = between(stream, -5e-4, 5e-4);
        const double d = between(stream, 0.5, 1.5);
        alk[i] = tw_water_strong_ion_alk_mol_per_kg(&water) + a;
        dic[i] = water.total_mol_per_kg[TW_TOTAL_DIC] * d;
    }
    const tw_reduced_waters many = {.alk = alk, .dic = dic};
    const tw_reduced_answers answers = {.ph = ph, .co2 = co2, .ph_by_alk = by_alk};
    tw_water_reduced_solve_many(&reduced, N, &many, &answers);
    for (int i = 0; i < N; i++) {
        add(ph[i]);
        add(co2[i]);
        add(by_alk[i]);
    }
}

int main(void)
{
    tw_sha256_init(&hash);
    tw_stream stream = tw_stream_make(2026, 3, 24, 0);
    for (int i = 0; i < WATERS; i++)
        one_water(&stream);
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    printf("water %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
