/* answer/odd_amount.c: amounts that no tub is given, or that are far from what the card says; litres that
 * this tub does not hold. */
#include <math.h>

#include "answer/act.h"
#include "answer/odd_list.h"
#include "answer/views.h"

#define LET_OUT 0.5 /* less than half of the litres told: the rest was let out; assumed */
#define CHLORINE_MG_PER_L 25.0  /* most at once; a first dose brings about 5, a treatment after an accident 20 */
#define SALT_G_PER_L 5.0        /* most at once: twice what a plate asks for                                   */
#define ANY_G_PER_L 0.5         /* of all else: dry acid that takes about 190 mg/L of alkalinity               */
#define FAR_FROM_CARD 4.0       /* times what the card says                                                    */
#define MG_PER_MOL_CL2 70906.0

/* Grams as typed: in the unit of the entry, so that the question speaks of what was typed. */
static void say_amount(tw_said *said, const char *name, const tw_entry *entry, double grams)
{
    double typed = 0.0;
    const double own_g = tw_answer_addition_g(entry);
    const tw_text unit = tw_logbook_text(entry, TW_FIELD_AMOUNT_UNIT);
    if (tw_logbook_number(entry, TW_FIELD_AMOUNT, &typed) != TW_OK || !(own_g > 0.0))
        return;
    const double value = typed * grams / own_g;
    tw_units_say_amount(said, name, value, value < 10.0 ? 1 : 0, unit);
}

/* Litres of the tub as known, low, middle, high; of one that was let out the litres that were told. 0: nothing is known. */
static int litres_known(const tw_odd_list *list, double known[3])
{
    tw_status status = TW_OK;
    const tw_belief *belief = tw_answer_belief(list->core, list->tub, list->now, &status);
    const tw_spread litres = belief != NULL && !(belief->flags & TW_BELIEF_NO_VOLUME) ? tw_estimate_volume_l(belief) : (tw_spread){0};
    const int let_out = list->tub->has_volume && litres.q95 < LET_OUT * list->tub->volume_l;
    if (litres.q95 > 0.0 && !let_out) {
        known[0] = litres.q05;
        known[1] = litres.q50;
        known[2] = litres.q95;
        return 1;
    }
    known[0] = known[1] = known[2] = list->tub->volume_l;
    return list->tub->has_volume;
}

/* The most of a substance that a litre of a tub is given at once, g. */
static double most_g_per_l(const tw_entry *entry)
{
    const tw_substance *sub = tw_dose_substance_find(tw_logbook_text(entry, TW_FIELD_SUBSTANCE));
    if (sub == NULL)
        return ANY_G_PER_L;
    const double chlorine = sub->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE];
    if (sub->effect == TW_EFFECT_FC_UP && chlorine > 0.0)
        return CHLORINE_MG_PER_L / (chlorine * MG_PER_MOL_CL2);
    return sub->effect == TW_EFFECT_SALT_UP ? SALT_G_PER_L : ANY_G_PER_L;
}

/* What the card says to add of the same substance, g; 0 when it says something else. */
static double card_g(const tw_odd_list *list, const tw_entry *entry)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(list->core, list->tub, list->now, &status);
    const int same = act != NULL && act->verb == TW_VERB_ADD &&
                     tw_units_text_is(tw_logbook_text(entry, TW_FIELD_SUBSTANCE), tw_answer_act_substance(act));
    return same ? act->amount_g : 0.0;
}

static void look_at_poured(tw_odd_list *list, const tw_entry *entry)
{
    double litres[3];
    const double amount = tw_answer_addition_g(entry);
    if (!(amount > 0.0))
        return;
    if (!litres_known(list, litres))
        litres[1] = 1500.0; /* a tub */
    const double advised = card_g(list, entry);
    const int too_much = amount > most_g_per_l(entry) * litres[1];
    const int far = advised > 0.0 && amount > FAR_FROM_CARD * advised;
    if (!too_much && !far)
        return;
    const double near[3] = {advised / 1.5, advised, advised * 1.5};
    tw_said *said = tw_answer_odd_question(list, too_much ? TW_SAY_ODD_AMOUNT : TW_SAY_ODD_CARD);
    if (said == NULL)
        return;
    say_amount(said, "amount", entry, amount);
    tw_units_say_text(said, "what", tw_answer_substance_name(entry));
    say_amount(said, "likely", entry, advised > 0.0 ? tw_answer_odd_meant(amount, near) : amount / 10.0);
}

static void ask_about_litres(tw_odd_list *list, double typed_l, const double known[3], const double near[3])
{
    tw_said *said = tw_answer_odd_question(list, TW_SAY_ODD_VOLUME);
    if (said == NULL)
        return;
    tw_units_say_number(said, "volume", typed_l);
    tw_units_say_number(said, "low", known[0]);
    tw_units_say_number(said, "high", known[2]);
    tw_units_say_number(said, "likely", tw_answer_odd_meant(typed_l, near));
}

static double least(double a, double b)
{
    return a < b ? a : b;
}

static void look_at_volume(tw_odd_list *list, const tw_entry *entry)
{
    double known[3];
    double volume_l = 0.0;
    if (tw_logbook_si(entry, TW_FIELD_VOLUME, &volume_l) != TW_OK || !litres_known(list, known))
        return;
    /* Twice the width on both sides, at least half and double: a guess may be far off. */
    const double near[3] = {least(known[0] * 0.5, known[1] - 4.0 * (known[1] - known[0])), known[1],
                            -least(-known[2] * 2.0, -known[1] - 4.0 * (known[2] - known[1]))};
    if (volume_l < near[0] || volume_l > near[2])
        ask_about_litres(list, volume_l, known, near);
}

/* A fill is about what the tub holds; a tub that is topped up is not empty; in a swap no more than half as
 * much again goes in or out at once. */
static void look_at_exchange(tw_odd_list *list, const tw_entry *entry)
{
    double known[3];
    double moved_l = 0.0;
    const int cause = tw_logbook_word(entry, TW_FIELD_CAUSE);
    const int fill = cause == TW_EXCHANGE_CAUSE_FILL;
    const int top = cause == TW_EXCHANGE_CAUSE_TOP_UP || cause == TW_EXCHANGE_CAUSE_SPLASH;
    if (tw_logbook_si(entry, TW_FIELD_IN, &moved_l) != TW_OK && tw_logbook_si(entry, TW_FIELD_OUT, &moved_l) != TW_OK)
        return;
    if (!litres_known(list, known))
        return;
    const double near[3] = {fill ? 0.4 * known[0] : 0.0, known[1], (fill ? 2.0 : top ? 0.7 : 1.5) * known[2]};
    if (moved_l < near[0] || moved_l > near[2])
        ask_about_litres(list, moved_l, known, near);
}

/* A rough volume that hardly any tub has: the largest swim spas hold about 10,000 L, a tub for two 300 L. */
static void look_at_tub(tw_odd_list *list, const tw_entry *entry)
{
    static const double KNOWN[3] = {500.0, 1300.0, 3000.0};
    double volume_l = 0.0;
    if (tw_logbook_si(entry, TW_FIELD_VOLUME, &volume_l) == TW_OK && (volume_l < 200.0 || volume_l > 10000.0))
        ask_about_litres(list, volume_l, KNOWN, KNOWN);
}

void tw_answer_odd_amounts(tw_odd_list *list, const tw_entry *entry)
{
    if (entry->kind == TW_KIND_ADDITION || entry->kind == TW_KIND_INTENT)
        look_at_poured(list, entry);
    else if (entry->kind == TW_KIND_VOLUME)
        look_at_volume(list, entry);
    else if (entry->kind == TW_KIND_EXCHANGE)
        look_at_exchange(list, entry);
    else if (entry->kind == TW_KIND_TUB)
        look_at_tub(list, entry);
}
