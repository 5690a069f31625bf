/* answer/salt_rise.c: see salt_rise.h. */
#include "answer/salt_rise.h"

#include <math.h>

#include "estimate/conductivity.h"
#include "water/edge.h"

#define LEAST_RISE_MG_PER_L 300.0 /* under it two readings of a meter say too little: 2 % of 2,000 mg/L each; assumed */

/* The salt that conducts as much. */
static double conducts_mg_per_l(const tw_belief *belief, double us_per_cm)
{
    const double mmol_per_kg = tw_estimate_salt_mmol_per_kg(&belief->ec_fit[5], us_per_cm);
    return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, 1e-3 * mmol_per_kg, belief->density_kg_per_l);
}

/* Salt of a reading by an instrument that counts; NaN of any other entry. */
static double salt_mg_per_l(const tw_belief *belief, const tw_entry *e)
{
    double value = 0.0;
    const int analyte = e->kind == TW_KIND_READING ? tw_logbook_word(e, TW_FIELD_ANALYTE) : -1;
    const int instrument = tw_logbook_word(e, TW_FIELD_INSTRUMENT);
    const int counts = instrument == TW_INSTRUMENT_METER || instrument == TW_INSTRUMENT_DROPS ||
                       instrument == TW_INSTRUMENT_PHOTOMETER || instrument == TW_INSTRUMENT_LABORATORY;
    if ((analyte != TW_ANALYTE_SALT && analyte != TW_ANALYTE_CONDUCTIVITY) || !counts || tw_logbook_has(e, TW_FIELD_SOURCE) ||
        tw_logbook_has(e, TW_FIELD_DOUBT) || tw_logbook_word(e, TW_FIELD_FORM) != TW_READING_FORM_VALUE ||
        tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK)
        return (double)NAN;
    return analyte == TW_ANALYTE_SALT ? value : conducts_mg_per_l(belief, value);
}

double tw_answer_salt_rise_l(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief)
{
    double litres = 0.0, grams = 0.0, before = (double)NAN;
    int instrument = -1, analyte = -1;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        if (e->kind == TW_KIND_EXCHANGE)
            before = (double)NAN;
        else if (e->kind == TW_KIND_ADDITION && tw_units_text_is(tw_logbook_text(e, TW_FIELD_SUBSTANCE), "sodium-chloride"))
            grams += tw_answer_addition_g(e);
        const double now = salt_mg_per_l(belief, e);
        if (!(now >= 0.0))
            continue;
        const int same = tw_logbook_word(e, TW_FIELD_INSTRUMENT) == instrument && tw_logbook_word(e, TW_FIELD_ANALYTE) == analyte;
        if (same && grams > 0.0 && now - before >= LEAST_RISE_MG_PER_L)
            litres = 1000.0 * grams / (now - before);
        before = now;
        grams = 0.0;
        instrument = tw_logbook_word(e, TW_FIELD_INSTRUMENT);
        analyte = tw_logbook_word(e, TW_FIELD_ANALYTE);
    }
    return litres;
}
