/* procedure/refuse.c: see refuse.h. */
#include "procedure/refuse.h"

#include "estimate/events.h"

/* All assumed. */
#define REMEMBERED_H 24.0 /* an addition that old has been read, has gone, or is in what was read since */
#define REWRITTEN_S 3600  /* an entry of the same substance so near is the corrected one */
#define WARM_C 20.0       /* above it water without chlorine grows things */
#define HOT_C 30.0        /* warm enough for carbonate to come down at once where soda goes in */

int tw_procedure_bathing(const tw_scene *s, double *left_h)
{
    double minutes = 0.0;
    if (s->bathers == NULL || tw_logbook_number(s->bathers, TW_FIELD_MINUTES, &minutes) != TW_OK)
        return 0;
    *left_h = minutes / 60.0 - tw_procedure_hours_since(s, s->bathers);
    return *left_h > 0.5 / 60.0;
}

int tw_procedure_is_warm(const tw_scene *s)
{
    double warm = 0.0;
    const tw_entry *read = s->read[TW_ANALYTE_TEMPERATURE];
    return read != NULL && tw_logbook_si(read, TW_FIELD_VALUE, &warm) == TW_OK && warm > WARM_C;
}

int tw_procedure_makes_milk(const tw_scene *s, const tw_substance *sub)
{
    const double dic = sub->total_mol_per_g[TW_TOTAL_DIC];
    if (s->belief == NULL || !(dic > 0.0) || !(sub->total_mol_per_g[TW_TOTAL_NA] > 1.5 * dic))
        return 0;
    return tw_estimate_column(s->belief, TW_COLUMN_TEMP_K).q50 - 273.15 > HOT_C &&
           tw_procedure_middle(s, TW_OBSERVED_CALCIUM) > tw_procedure_bands[TW_BAND_CH].high;
}

int tw_procedure_tests_of(tw_effect effect, int analyte[2])
{
    switch (effect) {
    case TW_EFFECT_TA_UP: case TW_EFFECT_TA_DOWN: case TW_EFFECT_B_UP:
        analyte[0] = TW_ANALYTE_PH;
        analyte[1] = TW_ANALYTE_TOTAL_ALKALINITY;
        return 2;
    case TW_EFFECT_FC_UP: case TW_EFFECT_FC_DOWN: case TW_EFFECT_OXIDISER: analyte[0] = TW_ANALYTE_FREE_CHLORINE; return 1;
    case TW_EFFECT_SALT_UP: analyte[0] = TW_ANALYTE_CONDUCTIVITY; return 1;
    case TW_EFFECT_CYA_UP: analyte[0] = TW_ANALYTE_CYANURIC_ACID; return 1;
    case TW_EFFECT_PO4_DOWN: analyte[0] = TW_ANALYTE_PHOSPHATE; return 1;
    case TW_EFFECT_CH_UP: case TW_EFFECT_MGH_UP: case TW_EFFECTS: break;
    }
    analyte[0] = TW_ANALYTE_CALCIUM_HARDNESS;
    return 1;
}

void tw_procedure_ask_test(int analyte, tw_act *act)
{
    for (uint32_t i = 0; i < act->tests; i++)
        if (act->test[i] == analyte)
            return;
    if (act->tests < sizeof act->test / sizeof *act->test)
        act->test[act->tests++] = analyte;
}

void tw_procedure_ask_tests(tw_effect effect, tw_act *act)
{
    int analyte[2];
    const int n = tw_procedure_tests_of(effect, analyte);
    for (int i = 0; i < n; i++)
        tw_procedure_ask_test(analyte[i], act);
}

/* 1: each thing that tells was read after this second. Salt is read by several tests. */
static int read_since(const tw_scene *s, tw_effect effect, int64_t since_s)
{
    static const int SALTS[] = {TW_ANALYTE_SALT, TW_ANALYTE_CHLORIDE, TW_ANALYTE_TDS};
    int analyte[2];
    const int n = tw_procedure_tests_of(effect, analyte);
    for (int i = 0; i < n; i++) {
        const tw_entry *e = s->read[analyte[i]];
        int seen = e != NULL && e->at.utc_s > since_s;
        for (size_t k = 0; effect == TW_EFFECT_SALT_UP && k < sizeof SALTS / sizeof *SALTS; k++)
            seen |= s->read[SALTS[k]] != NULL && s->read[SALTS[k]]->at.utc_s > since_s;
        if (!seen)
            return 0;
    }
    return 1;
}

static int written_anew(const tw_scene *s, const tw_entry *taken)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        const int64_t apart = e->at.utc_s - taken->at.utc_s;
        if (e->kind == TW_KIND_ADDITION && apart > -REWRITTEN_S && apart < REWRITTEN_S &&
            tw_units_text_equal(tw_logbook_text(e, TW_FIELD_SUBSTANCE), tw_logbook_text(taken, TW_FIELD_SUBSTANCE)))
            return 1;
    }
    return 0;
}

const tw_entry *tw_procedure_taken_back(const tw_scene *s, tw_effect effect)
{
    const tw_entry *found = NULL;
    for (size_t i = 0, n = tw_logbook_book_count(s->book); i < n; i++) {
        const tw_entry *e = tw_logbook_book_at(s->book, i);
        if (e->kind != TW_KIND_ADDITION || !tw_units_text_equal(e->tub, s->tub->id) || e->at.utc_s > s->now.utc_s ||
            e->at.utc_s < s->start_s || tw_procedure_hours_since(s, e) > REMEMBERED_H || tw_procedure_effect_of(s, e) != effect)
            continue;
        const size_t by = tw_logbook_book_voided_by(s->book, i, s->now);
        if (by != SIZE_MAX && !read_since(s, effect, tw_logbook_book_at(s->book, by)->at.utc_s) && !written_anew(s, e))
            found = e;
    }
    return found;
}
