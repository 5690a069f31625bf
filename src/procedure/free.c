/* procedure/free.c: see free.h. */
#include "procedure/free.h"

#include "procedure/dose.h"
#include "water/edge.h"
#include "water/inverse.h"

static double source_value(const tw_scene *s, int analyte, double unread)
{
    double value = unread;
    if (s->source_read[analyte] != NULL && tw_logbook_si(s->source_read[analyte], TW_FIELD_VALUE, &value) != TW_OK)
        value = unread;
    return value;
}

void tw_procedure_source_water(const tw_scene *s, tw_water *out)
{
    const double kg = s->belief->density_kg_per_l, ph = source_value(s, TW_ANALYTE_PH, -1.0), ta = source_value(s, TW_ANALYTE_TOTAL_ALKALINITY, -1.0);
    tw_constants at;
    tw_water found;
    if (ph < 0.0 || ta < 0.0 || tw_water_constants_at(out->temp_k, &at) != TW_OK)
        return;
    const tw_tests tests = {.temp_k = out->temp_k, .ph = ph, .alk_kind = TW_ALK_STRONG_ION,
        .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(ta, kg),
        .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, source_value(s, TW_ANALYTE_CALCIUM_HARDNESS, 0.0), kg),
        .phosphate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_PO4, source_value(s, TW_ANALYTE_PHOSPHATE, 0.0), kg)};
    if (tw_water_from_tests(&at, &tests, &found, NULL) == TW_OK)
        *out = found;
}

tw_message tw_procedure_quantity_message(int quantity)
{
    static const tw_message OF[TW_OF_QUANTITIES + 1] = {
        [TW_OF_PH] = TW_SAY_OF_PH, [TW_OF_ALKALINITY] = TW_SAY_OF_ALKALINITY, [TW_OF_CALCIUM] = TW_SAY_OF_CALCIUM,
        [TW_OF_SALT] = TW_SAY_OF_SALT, [TW_OF_CHLORINE] = TW_SAY_OF_CHLORINE, [TW_OF_CYANURATE] = TW_SAY_OF_CYANURATE,
        [TW_OF_SULFATE] = TW_SAY_OF_SULFATE, [TW_OF_PHOSPHATE] = TW_SAY_OF_PHOSPHATE, [TW_OF_QUANTITIES] = TW_SAY_OF_CALCIUM};
    return OF[quantity];
}

int tw_procedure_say_free(const tw_course_of_tub *asked, const tw_course *c, tw_said *said)
{
    static const tw_message SAY[] = {TW_SAY_COURSE_FREE_NOT, TW_SAY_COURSE_FREE_PRODUCT, TW_SAY_COURSE_FREE_EXCHANGE, TW_SAY_COURSE_FREE_STOCK,
                                     TW_SAY_COURSE_FREE_GRID, TW_SAY_COURSE_FREE_TEST, TW_SAY_COURSE_FREE_LIMIT, TW_SAY_COURSE_FREE_AIR};
    const tw_course_free *f = &c->free;
    if (c->blocked == TW_OF_QUANTITIES)
        return 0;
    /* A course that waits for a reading after visits that go has it from its own retests. */
    const int by_retest = f->by == TW_COURSE_FREED_BY_TEST && c->visits > 0;
    *said = tw_units_say(by_retest ? TW_SAY_COURSE_FREE_RETEST
                         : f->by == TW_COURSE_FREED_BY_TEST && f->quantity == TW_OF_PH ? TW_SAY_COURSE_FREE_TEST_PH : SAY[f->by]);
    tw_units_say_number(said, "visit", (double)c->visits);
    if (f->by == TW_COURSE_FREED_BY_TEST || f->by == TW_COURSE_FREED_BY_LIMIT || f->by == TW_COURSE_FREED_BY_AIR)
        tw_units_say_message(said, "limit", tw_procedure_limit_message(f->limit.quantity, f->limit.is_floor));
    else
        tw_units_say_message(said, "what", tw_procedure_quantity_message(c->blocked));
    if (f->by == TW_COURSE_FREED_BY_PRODUCT)
        tw_units_say_text(said, "name", tw_units_text(tw_dose_substances[f->of_substance].plain));
    if (f->by == TW_COURSE_FREED_BY_STOCK || f->by == TW_COURSE_FREED_BY_GRID)
        tw_units_say_text(said, "name", tw_units_text(asked->row[f->of_stock]->plain));
    tw_units_say_number(said, "grams", f->grams);
    tw_units_say_number(said, "share", f->share);
    tw_units_say_number(said, "sd", f->sd);
    tw_units_say_number(said, "value", f->value);
    tw_units_say_number(said, "hours", f->hours);
    return 1;
}
