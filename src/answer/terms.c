/* answer/terms.c: an amount as a surveyor reduces it: the change it makes, times the water, by what a gram brings. */
#include <math.h>

#include "answer/act.h"
#include "dose/substance.h"

/* What an amount is given for, and what a gram of it brings, mg (alkalinity and calcium as CaCO3, salt as NaCl). */
typedef struct {
    tw_message change;
    double mg_per_g;
} purpose;

/* g/mol: 50.043 half of CaCO3 (one charge), 100.087 CaCO3, 58.443 NaCl, 70.906 Cl2 (data/molar.csv). */
static purpose purpose_of(const tw_substance *s)
{
    const double *m = s->total_mol_per_g;
    if (fabs(m[TW_TOTAL_ACTIVE_CHLORINE]) > 0.0)
        return (purpose){TW_SAY_TERM_CHLORINE, m[TW_TOTAL_ACTIVE_CHLORINE] * 70906.0};
    if (fabs(tw_dose_alk_eq_per_g(s)) > 1e-6)
        return (purpose){TW_SAY_TERM_ALKALINITY, tw_dose_alk_eq_per_g(s) * 50043.0};
    if (m[TW_TOTAL_CA] > 0.0)
        return (purpose){TW_SAY_TERM_CALCIUM, m[TW_TOTAL_CA] * 100087.0};
    return (purpose){TW_SAY_TERM_SALT, m[TW_TOTAL_CL] * 58443.0};
}

/* 1: what is in stock has a strength of its own, so a gram brings something else than the table says. */
static int has_own_strength(const tw_core *core, const tw_tub *tub, tw_time now, const char *id)
{
    const tw_entry *e = NULL;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(core->book, tub->id, now, &cursor)) != NULL)
        if (e->kind == TW_KIND_STOCK && tw_units_text_is(tw_logbook_text(e, TW_FIELD_SUBSTANCE), id) &&
            (tw_logbook_has(e, TW_FIELD_AVAILABLE) || tw_logbook_has(e, TW_FIELD_STRENGTH)))
            return 1;
    return 0;
}

static void tell_term(tw_sink *sink, const char *sign, double value, const char *unit, const tw_said *said)
{
    tw_answer_item(sink);
    tw_answer_string(sink, TW_KEY_TERM_SIGN, sign);
    tw_answer_number(sink, TW_KEY_TERM, value);
    tw_answer_string(sink, TW_KEY_TERM_UNIT, unit);
    if (said != NULL)
        tw_answer_words(sink, TW_KEY_TERM_SAID, said);
    tw_answer_close(sink);
}

void tw_answer_tell_terms(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_act *act, const tw_belief *belief, tw_sink *sink)
{
    if (act->verb != TW_VERB_ADD || act->substance < 0 || !(act->amount_g > 0.0))
        return;
    const tw_substance *s = &tw_dose_substances[act->substance];
    const purpose of = purpose_of(s);
    if (has_own_strength(core, tub, ask->now, s->id) || fabs(of.mg_per_g) < 1.0)
        return;
    const tw_spread litres = tw_estimate_volume_l(belief);
    const tw_said change = tw_units_say(of.change);
    tw_said water = tw_units_say(TW_SAY_TERM_WATER);
    tw_units_say_number(&water, "low", litres.q05);
    tw_units_say_number(&water, "high", litres.q95);
    tw_said brings = tw_units_say(TW_SAY_TERM_BRINGS);
    tw_units_say_text(&brings, "name", tw_units_text(s->plain));
    tw_answer_open_list(sink, TW_KEY_TERMS);
    tell_term(sink, "", act->amount_g * of.mg_per_g / litres.q50, "mg/L", &change);
    tell_term(sink, "times", litres.q50, "L", &water);
    tell_term(sink, "over", of.mg_per_g, "mg/g", &brings);
    tell_term(sink, "equals", act->amount_g, "g", NULL);
    if (s->liquid && act->amount > 0.0) {
        const tw_said density = tw_units_say(TW_SAY_TERM_DENSITY);
        tell_term(sink, "over", act->amount_g / act->amount, "g/mL", &density);
        tell_term(sink, "equals", act->amount, "mL", NULL);
    }
    tw_answer_close(sink);
}
