/* procedure/next.c: guards, then the stages in their order. */
#include "procedure/next.h"

#include <math.h>

#include "estimate/events.h"
#include "estimate/forecast.h"
#include "estimate/trial.h"
#include "num/bytes.h"
#include "num/sha256.h"
#include "procedure/air.h"
#include "procedure/course.h"
#include "procedure/dose.h"
#include "procedure/fall.h"
#include "procedure/make.h"
#include "procedure/met.h"
#include "procedure/refuse.h"
#include "procedure/sentence.h"

#define TREATED_MG_PER_L 0.5

size_t tw_procedure_bytes(size_t members)
{
    const size_t plan = tw_procedure_course_bytes(members), held = tw_estimate_held_bytes(members), air = tw_procedure_air_bytes(members);
    const size_t trial = tw_estimate_trial_bytes(members), fall = tw_procedure_fall_bytes(members);
    size_t most = plan > held ? plan : held;
    most = most > fall ? most : fall;
    most = most > trial ? most : trial;
    return most > air ? most : air;
}

/* A guard that speaks of an entry: its words, its hour. */
static tw_status guard(const tw_scene *s, tw_act_id id, tw_stage stage, tw_stands stands, tw_text name,
                       const tw_entry *entry, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, id, stage, stands, out);
    f.name = name;
    if (entry != NULL)
        f.done = entry->at;
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* 1: the last answer to this question, not before the hour, is yes. */
static int said_yes(const tw_scene *s, const char *question, tw_time since)
{
    return tw_procedure_reply_since(s, question, since.utc_s) == TW_YES_NO_UNKNOWN_YES;
}

/* A symptom that closes the tub and no reply has cleared. */
static int closed_by(const tw_scene *s, tw_act_id *act)
{
    if (s->symptom == NULL)
        return 0;
    const int what = tw_logbook_word(s->symptom, TW_FIELD_SYMPTOM);
    const char *cleared = "incident-cleared";
    *act = TW_ACT_INCIDENT;
    if (what == TW_SYMPTOM_RASH || what == TW_SYMPTOM_COUGH) {
        *act = TW_ACT_BODY;
        cleared = "authority-cleared";
    } else if (what == TW_SYMPTOM_TRIP) {
        *act = TW_ACT_TRIP;
        cleared = "trip-cleared";
    }
    return !said_yes(s, cleared, s->symptom->at);
}

/* A question about a dose that was announced or poured: name and amount as written. */
static tw_status ask_about(const tw_scene *s, const tw_entry *dose, tw_act_id id, tw_stands stands, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    const tw_substance *sub = tw_procedure_substance_of(s, dose);
    tw_unit unit;
    tw_procedure_begin(s, id, stage, stands, out);
    out->next = f.done = dose->at;
    if (tw_logbook_number(dose, TW_FIELD_AMOUNT, &out->amount) == TW_OK && tw_logbook_unit(dose, TW_FIELD_AMOUNT, &unit) == TW_OK) {
        out->amount_unit = tw_units_row(unit)->word;
        out->amount_decimals = tw_logbook_decimals(dose, TW_FIELD_AMOUNT);
        f.has_amount = 1;
    }
    f.name = tw_logbook_text(dose, TW_FIELD_SUBSTANCE);
    if (sub != NULL) {
        out->substance = (int)(sub - tw_dose_substances);
        f.name = tw_units_text(sub->plain);
    }
    if (f.name.n == 0 || !f.has_amount)
        out->head = tw_units_say(TW_SAY_ASK_DID_IT);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* The pour of the last day before an hour that may have been another amount than was written; NULL: there is none, or
 * somebody has said since that it was that much. */
static const tw_entry *pour_in_question(const tw_scene *s, tw_time at)
{
    const tw_entry *pour = s->last_pour;
    return pour == NULL || pour->at.utc_s > at.utc_s || at.utc_s - pour->at.utc_s > 86400 || said_yes(s, "amount-right", pour->at)
               ? NULL : pour;
}

/* The wait of the last pour that is not over; NULL when none runs. */
static const tw_entry *running_wait(const tw_scene *s, double *left_h)
{
    const tw_entry *found = NULL;
    *left_h = 0.0;
    for (int effect = 0; effect < TW_EFFECTS; effect++) {
        const tw_entry *e = s->poured[effect];
        /* A cloud of lanthanum lasts a day, but other tests go on meanwhile. */
        const double wait_h = (effect == TW_EFFECT_PO4_DOWN ? tw_dose_waits[effect].wait_min : tw_dose_waits[effect].test_min) / 60.0;
        const double left = wait_h - tw_procedure_hours_since(s, e);
        if (e != NULL && left > 0.5 / 60.0 && left > *left_h) {
            *left_h = left;
            found = e;
        }
    }
    return found;
}

static tw_status wait_for(const tw_scene *s, const tw_entry *pour, double left_h, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    const tw_substance *sub = tw_dose_substance_find(tw_logbook_text(pour, TW_FIELD_SUBSTANCE));
    const tw_effect effect = tw_procedure_effect_of(s, pour);
    tw_procedure_begin(s, TW_ACT_WAIT_MIXING, stage, TW_STANDS_WAITING, out);
    out->next = out->until = tw_procedure_later(s->now, left_h);
    tw_visit_so_far visit;
    tw_procedure_visit(s, &visit);
    tw_procedure_ask_tests(effect, out);
    if (effect == TW_EFFECT_FC_UP || effect == TW_EFFECT_FC_DOWN)
        tw_procedure_ask_test(TW_ANALYTE_TOTAL_CHLORINE, out); /* what was used up on the way shows there */
    tw_procedure_ask_visit(&visit, out);
    if (effect == TW_EFFECT_TA_DOWN) {
        out->tests = 0; /* air comes next, then the reading that ends it */
        tw_procedure_line(&out->then_, TW_SAY_THEN_AIR);
    }
    f.wait_h = left_h;
    f.done = pour->at;
    f.name = sub != NULL ? tw_units_text(sub->plain) : tw_logbook_text(pour, TW_FIELD_SUBSTANCE);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* How far a value lies outside of an interval. */
static double outside(double value, double low, double high)
{
    return value < low ? low - value : value > high ? value - high : 0.0;
}

/* 1: it was itself a retest, within the hour and with no pour between, and the one before it said the same:
 * the reading lies at least twice as far from what was expected as from that one. Then it stands. */
static int read_twice(const tw_scene *s, const tw_entry *reading, int analyte, tw_spread expected)
{
    double value, before;
    size_t cursor = 0;
    const tw_entry *e;
    if (tw_logbook_si(reading, TW_FIELD_VALUE, &value) != TW_OK)
        return 0;
    while ((e = tw_procedure_next_reading(s, analyte, &cursor)) != NULL && e != reading)
        if (reading->at.utc_s - e->at.utc_s <= 3600 && (s->last_pour == NULL || e->at.utc_s > s->last_pour->at.utc_s) &&
            tw_logbook_si(e, TW_FIELD_VALUE, &before) == TW_OK && fabs(value - before) <= 0.5 * outside(value, expected.q05, expected.q95))
            return 1;
    return 0;
}

/* Lying salt reads as missing salt, or as a larger tub: it is stirred before anybody is asked. */
static int may_lie(const tw_scene *s, int observed)
{
    return (observed == TW_OBSERVED_CONDUCTIVITY || observed == TW_OBSERVED_CHLORIDE || observed == TW_OBSERVED_WATER) &&
           s->poured[TW_EFFECT_SALT_UP] != NULL && !tw_procedure_salt_agrees(s);
}

/* 1: what has this effect is poured by what is read of this analyte. */
static int is_for(tw_effect effect, int analyte)
{
    switch (analyte) {
    case TW_ANALYTE_PH:
    case TW_ANALYTE_TOTAL_ALKALINITY: return effect == TW_EFFECT_TA_DOWN || effect == TW_EFFECT_TA_UP;
    case TW_ANALYTE_FREE_CHLORINE: case TW_ANALYTE_TOTAL_CHLORINE: return effect == TW_EFFECT_FC_UP || effect == TW_EFFECT_FC_DOWN;
    case TW_ANALYTE_CONDUCTIVITY: case TW_ANALYTE_SALT: case TW_ANALYTE_CHLORIDE: return effect == TW_EFFECT_SALT_UP;
    case TW_ANALYTE_CALCIUM_HARDNESS: case TW_ANALYTE_TOTAL_HARDNESS: return effect == TW_EFFECT_CH_UP;
    case TW_ANALYTE_PHOSPHATE: return effect == TW_EFFECT_PO4_DOWN;
    default: return 0;
    }
}

/* 1: what was poured last is for this analyte. pH is left out: unwritten air moves it more than any pour. */
static int moves(const tw_scene *s, int analyte)
{
    return s->last_pour != NULL && analyte != TW_ANALYTE_PH && is_for(tw_procedure_effect_of(s, s->last_pour), analyte);
}

/* 1: total chlorine over what was expected. The estimate has one level of combined chlorine for a whole water, and people bring
 * some: nothing that is poured rests on it, and free chlorine, read beside it, is no less believed. */
static int is_brought(const tw_contradiction *c, const tw_entry *e, tw_spread expected)
{
    double value = 0.0;
    return c->observed == TW_OBSERVED_TOTAL_CHLORINE && tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK && value > expected.q95;
}

/* A reading that does not fit, as a question: id says which. */
static tw_status doubt_reading(const tw_scene *s, tw_act_id id, const tw_entry *e, int analyte, tw_spread was, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, id, stage, TW_STANDS_DOUBTFUL, out);
    out->next = out->until = s->now;
    out->test[out->tests++] = analyte;
    (void)tw_logbook_si(e, TW_FIELD_VALUE, &f.now); /* in the unit of what was expected, whatever was typed */
    f.low = was.q05;
    f.high = was.q95;
    f.name = tw_units_text(tw_units_message_text(tw_procedure_analyte_message(analyte)));
    if (analyte == TW_ANALYTE_PH)
        out->why.line[0] = tw_units_say(id == TW_ACT_DOUBTFUL ? TW_SAY_WHY_DOUBTFUL_PH : TW_SAY_WHY_UNEXPLAINED_PH);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* What the rest of the logbook makes hard to believe and nothing newer has settled: a reading is read again; two that
 * agree, or a volume that was measured, put the last pour in question, then the volume. */
static tw_status doubt(const tw_scene *s, tw_stage stage, tw_act *out, int *found)
{
    *found = 1;
    for (uint32_t i = 0; s->belief != NULL && i < s->belief->contradictions; i++) {
        const tw_contradiction *c = &s->belief->contradiction[i];
        const tw_entry *e = tw_logbook_book_at(s->book, c->entry);
        const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE), of_volume = e->kind != TW_KIND_READING;
        if (!of_volume && (analyte < 0 || s->read[analyte] != e || tw_procedure_hours_since(s, e) > 24.0))
            continue;
        const tw_spread was = tw_estimate_expected(s->belief, c);
        if (!of_volume && is_brought(c, e, was))
            continue;
        if (!of_volume && !read_twice(s, e, analyte, was))
            return doubt_reading(s, TW_ACT_DOUBTFUL, e, analyte, was, stage, out);
        if (may_lie(s, c->observed))
            continue;
        const tw_entry *pour = of_volume || moves(s, analyte) ? pour_in_question(s, of_volume ? s->now : e->at) : NULL;
        if (pour != NULL)
            return ask_about(s, pour, TW_ACT_CHECK_POUR, TW_STANDS_DOUBTFUL, stage, out);
        if (of_volume && !said_yes(s, "volume-right", e->at))
            return guard(s, TW_ACT_CHECK_VOLUME, stage, TW_STANDS_DOUBTFUL, (tw_text){NULL, 0}, e, out);
    }
    *found = 0;
    return TW_OK;
}

/* What an act is done for: its pour's effect; chlorine that is waited for, or made, by what is believed of it. */
static tw_effect done_for(const tw_act *act)
{
    if (act->verb == TW_VERB_ADD && act->substance >= 0)
        return tw_dose_substances[act->substance].effect;
    return act->id == TW_ACT_WAIT_CHLORINE ? TW_EFFECT_FC_DOWN : act->id == TW_ACT_START_GENERATOR ? TW_EFFECT_FC_UP : TW_EFFECTS;
}

/* What was read twice and is still hard to believe gets no dose of its own kind, however long ago, and no wait: the readings or the
 * rest of the logbook are wrong. Another instrument tells which, or somebody who knows what was not written. */
static tw_status hold_unexplained(const tw_scene *s, tw_act *act)
{
    const tw_effect effect = done_for(act);
    for (uint32_t i = 0; effect < TW_EFFECTS && i < s->belief->contradictions; i++) {
        const tw_contradiction *c = &s->belief->contradiction[i];
        const tw_entry *e = tw_logbook_book_at(s->book, c->entry);
        const int analyte = e->kind == TW_KIND_READING ? tw_logbook_word(e, TW_FIELD_ANALYTE) : -1;
        if (analyte < 0 || s->read[analyte] != e || !is_for(effect, analyte))
            continue;
        const tw_spread was = tw_estimate_expected(s->belief, c);
        if (!is_brought(c, e, was) && read_twice(s, e, analyte, was))
            return doubt_reading(s, TW_ACT_UNEXPLAINED, e, analyte, was, act->stage, act);
    }
    return TW_OK;
}

/* Warm water with nothing in it, and hours to go before the first chlorine: a small dose now. */
static int needs_holding(const tw_scene *s, tw_stage stage)
{
    if (s->belief == NULL || !s->water_in || stage <= TW_STAGE_FILL || stage >= TW_STAGE_FIRST_CHLORINE)
        return 0;
    if (!tw_procedure_is_warm(s))
        return 0;
    /* Only while no acid is being worked in, and pH is where chlorine works. */
    const double ph = tw_procedure_middle(s, TW_OBSERVED_PH);
    if (tw_procedure_hours_since(s, s->last_pour) < 0.25 || !(ph < 8.0) || s->read[TW_ANALYTE_PH] == NULL)
        return 0;
    const double now = tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG).q50;
    tw_act_id other;
    return now < TREATED_MG_PER_L && tw_procedure_condition_met(s, TW_CONDITION_CHLORINE_NOT_HIGH, &other) &&
           tw_procedure_hours_since(s, s->poured[TW_EFFECT_FC_UP]) > 6.0;
}

/* The first condition of the stages that is not met. TW_CONDITIONS: all are. */
static tw_condition first_unmet(const tw_scene *s, tw_act_id *act)
{
    for (int c = 0; c < TW_CONDITIONS; c++) {
        if (s->in_care ? !tw_procedure_conditions[c].in_care : tw_procedure_conditions[c].stage == TW_STAGE_CARE)
            continue;
        if (!tw_procedure_condition_met(s, (tw_condition)c, act))
            return (tw_condition)c;
    }
    return TW_CONDITIONS;
}

static tw_status rest(const tw_scene *s, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, TW_ACT_CARE_REST, TW_STAGE_CARE, TW_STANDS_HANDED_OVER, out);
    const double since = tw_procedure_hours_since(s, s->read[TW_ANALYTE_FREE_CHLORINE]);
    out->next = out->until = tw_procedure_later(s->now, since < 168.0 ? 168.0 - since : 0.0);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* What somebody answered to this very act, with a reason, in the last day: the card has not forgotten it. */
static void tell_put_off(const tw_scene *s, tw_act *out)
{
    const tw_entry *found = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_RESPONSE && tw_logbook_has(e, TW_FIELD_REASON) &&
            tw_units_text_is(tw_logbook_text(e, TW_FIELD_ACT), tw_procedure_acts[out->id].id))
            found = e;
    const int outcome = found != NULL ? tw_logbook_word(found, TW_FIELD_OUTCOME) : -1;
    if ((outcome != TW_OUTCOME_COULDNT && outcome != TW_OUTCOME_LATER && outcome != TW_OUTCOME_NOT_DONE) ||
        tw_procedure_hours_since(s, found) > 24.0 || out->why.n == TW_ACT_LINES)
        return;
    tw_said said = tw_units_say(TW_SAY_PUT_OFF);
    tw_units_say_time(&said, "done", found->at);
    tw_units_say_message(&said, "what", outcome == TW_OUTCOME_COULDNT ? TW_SAY_OUTCOME_COULDNT
                                        : outcome == TW_OUTCOME_LATER ? TW_SAY_OUTCOME_LATER : TW_SAY_OUTCOME_NOT_DONE);
    tw_units_say_text(&said, "name", tw_logbook_text(found, TW_FIELD_REASON));
    out->why.line[out->why.n++] = said;
}

/* Entries seen, act and amount: what an intent keeps of the advice that it follows. */
static void seal(const tw_scene *s, tw_act *out)
{
    uint8_t seen[TW_SHA256_BYTES + 24];
    tw_logbook_book_digest_tub(s->book, s->tub->id, s->now, seen);
    const uint64_t parts[3] = {(uint64_t)out->id, (uint64_t)(out->amount_g * 1000.0 + 0.5),
                               (uint64_t)((out->setting_value > 0.0 ? out->setting_value : 0.0) * 1000.0 + 0.5)};
    for (int p = 0; p < 3; p++)
        (void)tw_put_u64(seen + TW_SHA256_BYTES + 8 * p, parts[p]);
    tw_sha256(seen, sizeof seen, out->digest);
}

/* A visit that has begun goes on with what rests on nothing that it has moved: when the last pour has mixed, without
 * the retest. *found: 1 when there is such an act. */
static tw_status go_on(const tw_scene *s, tw_act *out, int *found)
{
    tw_visit_so_far visit;
    tw_procedure_visit(s, &visit);
    const tw_job_set next = tw_procedure_jobs_next(s, &visit);
    int job = 0;
    *found = 0;
    if (next == 0)
        return TW_OK;
    while ((next >> job & 1u) == 0)
        job++;
    const tw_condition unmet = tw_procedure_jobs[job].condition;
    if (visit.mixing_h > 0.5 / 60.0) {
        int listed = 0;
        tw_substance sub;
        const tw_substance *row = tw_procedure_substance(s, tw_procedure_jobs[job].effect, &listed, &sub);
        if (row == NULL)
            return TW_OK;
        *found = 1;
        const tw_status status = wait_for(s, s->last_pour, visit.mixing_h, tw_procedure_conditions[unmet].stage, out);
        out->tests = 0;
        out->next_lines.n = 0;
        tw_procedure_tell_following(row, out->next, out);
        return status;
    }
    const tw_status status = tw_procedure_make_visit(s, job, next, tw_procedure_conditions[unmet].stage, out);
    out->unmet = unmet;
    *found = status == TW_OK && out->verb != TW_VERB_STOP;
    return status;
}

static tw_status choose(const tw_scene *s, tw_act *out)
{
    tw_act_id act = TW_ACT_CARE_REST;
    const tw_condition unmet = first_unmet(s, &act);
    const tw_stage stage = unmet < TW_CONDITIONS ? tw_procedure_conditions[unmet].stage : TW_STAGE_CARE;
    const tw_text none = {NULL, 0};
    tw_act_id closing = TW_ACT_INCIDENT;
    if (s->tub->newer)
        return guard(s, TW_ACT_UPDATE, stage, TW_STANDS_STOPPED, none, NULL, out);
    if (closed_by(s, &closing))
        return guard(s, closing, stage, TW_STANDS_STOPPED, tw_logbook_text(s->symptom, TW_FIELD_WORDS), s->symptom, out);
    if (stage == TW_STAGE_HISTORY)
        return tw_procedure_make(s, act, stage, unmet, out);
    const tw_entry *intent[1];
    size_t intents = 0;
    (void)tw_logbook_book_open_intents(s->book, s->tub->id, s->now, intent, 1, &intents);
    if (intents > 0)
        return ask_about(s, intent[0], TW_ACT_ANSWER_INTENT, TW_STANDS_WAITING, stage, out);
    tw_doubt odd[32];
    size_t odds = 0;
    (void)tw_logbook_book_doubts(s->book, s->tub->id, s->now, odd, 32, &odds);
    for (size_t i = 0; i < odds && i < 32; i++)
        if (odd[i].kind == TW_DOUBT_SAME_DOSE)
            return guard(s, TW_ACT_SAME_DOSE, stage, TW_STANDS_DOUBTFUL, none, odd[i].entry, out);
    if (s->unknown != NULL)
        return guard(s, TW_ACT_UNKNOWN_POUR, stage, TW_STANDS_DOUBTFUL, tw_logbook_text(s->unknown, TW_FIELD_SUBSTANCE), s->unknown, out);
    double left_h = 0.0;
    int found = 0;
    const tw_entry *pour = running_wait(s, &left_h);
    tw_status status = doubt(s, stage, out, &found);
    if (status == TW_OK && !found && unmet < TW_CONDITIONS) {
        status = go_on(s, out, &found);
        if (status != TW_OK || found)
            return status;
    }
    if (pour != NULL)
        return wait_for(s, pour, left_h, stage, out);
    if (status != TW_OK || found)
        return status;
    if (needs_holding(s, stage)) {
        tw_act_id instead = TW_ACT_HOLDING_DOSE;
        const int believed = tw_procedure_condition_met(s, TW_CONDITION_NOT_BLEACHED, &instead);
        return tw_procedure_make(s, believed ? TW_ACT_HOLDING_DOSE : instead, stage, believed ? unmet : TW_CONDITION_NOT_BLEACHED, out);
    }
    if (unmet == TW_CONDITIONS)
        return rest(s, out);
    return tw_procedure_make(s, act, stage, unmet, out);
}

tw_status tw_procedure_next(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                            const tw_profile *profile, void *mem, size_t bytes, tw_act *out)
{
    tw_scene scene;
    tw_scene_verdict verdict = {.is = 0};
    if (belief != NULL && bytes < tw_procedure_bytes(belief->n))
        return TW_ERR_CAPACITY;
    tw_procedure_scene(book, tub, now, belief, profile, mem, bytes, &scene);
    scene.verdict = &verdict;
    tw_status status = choose(&scene, out);
    if (status == TW_OK && belief != NULL)
        status = hold_unexplained(&scene, out);
    if (status == TW_OK) {
        tell_put_off(&scene, out);
        seal(&scene, out);
    }
    return status;
}

int tw_procedure_met(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                     const tw_profile *profile, tw_condition condition, void *mem, size_t bytes)
{
    tw_scene scene;
    tw_act_id act;
    tw_procedure_scene(book, tub, now, belief, profile, mem, bytes, &scene);
    return tw_procedure_condition_met(&scene, condition, &act);
}
