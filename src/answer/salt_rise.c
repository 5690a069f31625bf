/* answer/salt_rise.c: see salt_rise.h. */
#include "answer/salt_rise.h"

#include <math.h>

#define LEAST_RISE_MG_PER_L 300.0 /* under it two readings of a meter say too little: 2 % of 2,000 mg/L each */

#define G_PER_MOL_NACL 58.443

/* The salt that conducts as much: x mmol/kg of it conduct (a + b*sqrt(x))*x uS/cm (estimate/conductivity.h). Each turn leaves a twelfth of
 * the error. */
static double conducts_mg_per_l(const tw_belief *belief, double us_per_cm)
{
    const double a = belief->ec_fit[5], b = belief->ec_fit[6];
    double x = us_per_cm / a;
    for (int i = 0; i < 8; i++)
        x = us_per_cm / (a + b * sqrt(x));
    return x * G_PER_MOL_NACL * belief->density_kg_per_l;
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
