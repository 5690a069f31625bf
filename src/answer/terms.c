/* answer/terms.c: an amount as a surveyor reduces it: the change it makes, times the water, by what a gram brings. */
#include <math.h>

#include "answer/act.h"
#include "dose/substance.h"
#include "water/edge.h"

/* What an amount is given for, and what a gram of it brings, mg (alkalinity and calcium as CaCO3, salt as NaCl). */
typedef struct {
    tw_message change;
    double mg_per_g;
} purpose;

/* mg of what a gram brings; alkalinity as half of CaCO3 (one charge). */
static double mg(double mol, int as)
{
    return 1e3 * mol * tw_water_molar[as].g_per_mol;
}

static purpose purpose_of(const tw_substance *s)
{
    const double *m = s->total_mol_per_g;
    if (fabs(m[TW_TOTAL_ACTIVE_CHLORINE]) > 0.0)
        return (purpose){TW_SAY_TERM_CHLORINE, mg(m[TW_TOTAL_ACTIVE_CHLORINE], TW_MOLAR_CL2)};
    if (fabs(tw_dose_alk_eq_per_g(s)) > 1e-6)
        return (purpose){TW_SAY_TERM_ALKALINITY, mg(0.5 * tw_dose_alk_eq_per_g(s), TW_MOLAR_CACO3)};
    if (m[TW_TOTAL_CA] > 0.0)
        return (purpose){TW_SAY_TERM_CALCIUM, mg(m[TW_TOTAL_CA], TW_MOLAR_CACO3)};
    return (purpose){TW_SAY_TERM_SALT, mg(m[TW_TOTAL_CL], TW_MOLAR_NACL)};
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
