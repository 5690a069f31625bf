/* tests/dose/waters.h: waters that the tests of the dose room share. */
#ifndef TW_TESTS_DOSE_WATERS_H
#define TW_TESTS_DOSE_WATERS_H

#include "dose/apply.h"
#include "dose/members.h"
#include "water/edge.h"
#include "water/inverse.h"
#include "water/speciate.h"

/* A water from what kits read, mg/L counted as mg/kg (1 kg of water in a litre). */
typedef struct {
    double temp_c, ph, ta, ch, mgh, nacl, so4;
} kit;

static inline tw_water kit_water(kit k)
{
    tw_constants at;
    tw_water out;
    tw_speciation sp;
    const tw_tests tests = {.temp_k = k.temp_c + 273.15, .ph = k.ph,
        .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(k.ta, 1.0), .alk_kind = TW_ALK_STRONG_ION,
        .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, k.ch, 1.0),
        .magnesium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, k.mgh, 1.0),
        .salt_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, k.nacl, 1.0),
        .sulfate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_SO4, k.so4, 1.0)};
    assert_ok(tw_water_constants_at(tests.temp_k, &at));
    assert_ok(tw_water_from_tests(&at, &tests, &out, &sp));
    return out;
}

static inline double ph_of_water(const tw_water *w)
{
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(w->temp_k, &at));
    assert_ok(tw_water_speciate(&at, w, &sp));
    return sp.ph;
}

/* Room for up to WATERS_MOST possible waters. */
#define WATERS_MOST 4096
typedef struct {
    double kg[WATERS_MOST], temp[WATERS_MOST], total[TW_TOTALS][WATERS_MOST], weight[WATERS_MOST];
    tw_waters view;
} waters;

static inline void waters_clear(waters *w)
{
    w->view = (tw_waters){.n = 0, .water_kg = w->kg, .temp_k = w->temp, .weight = NULL, .solvent_kg_per_l = 1.0};
    for (int t = 0; t < TW_TOTALS; t++)
        w->view.total[t] = w->total[t];
}

static inline void waters_add(waters *w, const tw_water *one, double kg)
{
    const size_t i = w->view.n++;
    w->kg[i] = kg;
    w->temp[i] = one->temp_k;
    for (int t = 0; t < TW_TOTALS; t++)
        w->total[t][i] = one->total_mol_per_kg[t];
    w->weight[i] = 1.0;
}

#endif
