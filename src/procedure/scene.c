/* procedure/scene.c: what the entries say. */
#include "procedure/scene.h"

#include <math.h>
#include <string.h>

#include "estimate/events.h"
#include "procedure/refuse.h"

#define NEVER_H 1e9
#define EMPTY_SHARE 0.5 /* of what was let out: a tub of which no more is left is filled, not read; assumed */

double tw_procedure_hours_since(const tw_scene *scene, const tw_entry *entry)
{
    return entry == NULL ? NEVER_H : (double)(scene->now.utc_s - entry->at.utc_s) / 3600.0;
}

tw_time tw_procedure_later(tw_time at, double hours)
{
    at.utc_s += (int64_t)floor(hours * 3600.0 + 0.5);
    return at;
}

const tw_substance *tw_procedure_substance_of(const tw_scene *scene, const tw_entry *entry)
{
    const tw_text id = tw_logbook_text(entry, TW_FIELD_SUBSTANCE);
    const tw_substance *s = tw_dose_substance_find(id);
    if (s == NULL && id.n > 0) {
        const size_t at = tw_logbook_book_find(scene->book, id);
        if (at != SIZE_MAX)
            s = tw_dose_substance_find(tw_logbook_text(tw_logbook_book_at(scene->book, at), TW_FIELD_SUBSTANCE));
    }
    return s;
}

tw_effect tw_procedure_effect_of(const tw_scene *scene, const tw_entry *entry)
{
    const tw_substance *s = tw_procedure_substance_of(scene, entry);
    return s == NULL ? TW_EFFECTS : s->effect;
}

static int is_source_reading(const tw_entry *e)
{
    return tw_logbook_has(e, TW_FIELD_SOURCE) || tw_logbook_word(e, TW_FIELD_POINT) == TW_POINT_SOURCE;
}

static void take_reading(tw_scene *s, const tw_entry *e)
{
    const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE), form = tw_logbook_word(e, TW_FIELD_FORM);
    if (analyte < 0)
        return;
    if (is_source_reading(e)) {
        s->source_read[analyte] = e;
        return;
    }
    if (form == TW_READING_FORM_NOT_DONE || form == TW_READING_FORM_UNREADABLE ||
        tw_logbook_word(e, TW_FIELD_INSTRUMENT) == TW_INSTRUMENT_DISPLAY)
        return;
    s->read[analyte] = e;
    s->water_in = 1;
}

/* "3 scoops" of a scoop that nobody has weighed is a dose of unknown size. */
static int amount_is_known(const tw_scene *s, const tw_entry *e)
{
    double amount = 0.0;
    tw_quantity quantity;
    return tw_logbook_book_amount(s->book, e, s->now, &amount, &quantity) == TW_OK &&
           (quantity == TW_QUANTITY_MASS || quantity == TW_QUANTITY_VOLUME);
}

static void take_pour(tw_scene *s, const tw_entry *e)
{
    const tw_effect effect = tw_procedure_effect_of(s, e);
    s->last_pour = e;
    if (effect >= TW_EFFECTS || !amount_is_known(s, e))
        s->unknown = e;
    if (effect >= TW_EFFECTS)
        return;
    s->poured[effect] = e;
    s->pours[effect]++;
}

/* What was read and poured speaks of a water that is gone. */
static void forget_water(tw_scene *s)
{
    memset(s->read, 0, sizeof s->read);
    memset(s->poured, 0, sizeof s->poured);
    memset(s->pours, 0, sizeof s->pours);
    s->last_pour = NULL;
    s->unknown = NULL;
    s->generated = 0;
    s->aired = s->exchanged = NULL;
}

/* A fill starts a new water. */
static void take_fill(tw_scene *s, const tw_entry *e)
{
    s->fill = e;
    s->water_in = 1;
    s->start_s = e->at.utc_s;
    forget_water(s);
    const int what = s->symptom != NULL ? tw_logbook_word(s->symptom, TW_FIELD_SYMPTOM) : -1;
    if (what == TW_SYMPTOM_STOOL || what == TW_SYMPTOM_VOMIT || what == TW_SYMPTOM_BLOOD || what == TW_SYMPTOM_GLASS)
        s->symptom = NULL;
}

/* Letting out adds up until water goes in. */
static void take_level(tw_scene *s, const tw_entry *e)
{
    double in = 0.0, out = 0.0;
    (void)tw_logbook_si(e, TW_FIELD_IN, &in);
    (void)tw_logbook_si(e, TW_FIELD_OUT, &out);
    if (in > 0.0)
        s->drained_l = 0.0;
    else if (tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_DRAIN)
        s->drained_l += out;
}

/* A tub that was let out waits for its fill: what is left in its pipes is not the water that anybody keeps. */
static void find_empty(tw_scene *s)
{
    if (s->belief == NULL || !(tw_estimate_volume_l(s->belief).q50 < EMPTY_SHARE * s->drained_l)) {
        s->drained_l = 0.0;
        return;
    }
    forget_water(s);
    s->fill = NULL;
    s->water_in = 0;
    s->start_s = s->now.utc_s;
}

static void take_setting(tw_scene *s, const tw_entry *e)
{
    double value = 0.0;
    if (tw_logbook_word(e, TW_FIELD_WHAT) == TW_SETTING_DUTY && tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK && value > 0.0)
        s->generated = 1;
}

static int closes(int symptom)
{
    return symptom == TW_SYMPTOM_STOOL || symptom == TW_SYMPTOM_VOMIT || symptom == TW_SYMPTOM_BLOOD ||
           symptom == TW_SYMPTOM_GLASS || symptom == TW_SYMPTOM_RASH || symptom == TW_SYMPTOM_COUGH ||
           symptom == TW_SYMPTOM_TRIP;
}

static void take(tw_scene *s, const tw_entry *e)
{
    const int role = tw_logbook_word(e, TW_FIELD_ROLE);
    if (role == TW_ROLE_TECHNICIAN || role == TW_ROLE_MANAGER)
        s->technician = 1;
    if (e->kind == TW_KIND_EXCHANGE)
        take_level(s, e);
    if (e->kind == TW_KIND_READING)
        take_reading(s, e);
    else if (e->kind == TW_KIND_ADDITION)
        take_pour(s, e);
    else if (e->kind == TW_KIND_EXCHANGE && tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_FILL)
        take_fill(s, e);
    else if (e->kind == TW_KIND_EXCHANGE && tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_SWAP)
        s->exchanged = e;
    else if (e->kind == TW_KIND_SETTING)
        take_setting(s, e);
    else if (e->kind == TW_KIND_STOCK)
        s->stock_listed = 1;
    else if (e->kind == TW_KIND_BATHERS)
        s->bathers = e;
    else if (e->kind == TW_KIND_SYMPTOM && closes(tw_logbook_word(e, TW_FIELD_SYMPTOM)))
        s->symptom = e;
    else if (e->kind == TW_KIND_CARE && tw_logbook_word(e, TW_FIELD_JOB) == TW_CARE_JOB_AERATE)
        s->aired = e;
    else if (e->kind == TW_KIND_RESPONSE && tw_logbook_has(e, TW_FIELD_INTENT)) {
        /* "Done" to an announced dose is the pour, when no addition of its own tells it. */
        const int outcome = tw_logbook_word(e, TW_FIELD_OUTCOME);
        const size_t at = tw_logbook_book_find(s->book, tw_logbook_text(e, TW_FIELD_INTENT));
        if ((outcome == TW_OUTCOME_DONE || outcome == TW_OUTCOME_DONE_DIFFERENTLY) && at != SIZE_MAX) {
            const tw_entry *intent = tw_logbook_book_at(s->book, at);
            const int told = s->last_pour != NULL &&
                             tw_units_text_equal(tw_logbook_text(s->last_pour, TW_FIELD_INTENT), intent->id);
            if (!told && tw_logbook_has(intent, TW_FIELD_SUBSTANCE))
                take_pour(s, intent);
        }
    }
}

void tw_procedure_scene(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                        const tw_profile *profile, void *mem, size_t bytes, tw_scene *out)
{
    memset(out, 0, sizeof *out);
    out->book = book;
    out->tub = tub;
    out->now = now;
    out->belief = belief;
    out->profile = profile != NULL ? profile : tw_procedure_profile_of(tub->profile, tub->use);
    out->mem = mem;
    out->bytes = bytes;
    out->start_s = INT64_MIN;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(book, tub->id, now, &cursor)) != NULL)
        take(out, e);
    find_empty(out);
    out->in_care = !(out->drained_l > 0.0) && (tub->start == TW_START_CARE || tw_procedure_care(out, TW_CARE_JOB_HANDOVER, TW_JOB_STATE_DONE, 1) != NULL);
}

int tw_procedure_reply_since(const tw_scene *scene, const char *question, int64_t since_s)
{
    int found = -1;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_REPLY && e->at.utc_s >= since_s && tw_units_text_is(tw_logbook_text(e, TW_FIELD_QUESTION), question))
            found = tw_logbook_word(e, TW_FIELD_REPLY);
    return found;
}

int tw_procedure_reply(const tw_scene *scene, const char *question)
{
    return tw_procedure_reply_since(scene, question, INT64_MIN);
}

const tw_entry *tw_procedure_next_reading(const tw_scene *scene, int analyte, size_t *cursor)
{
    const tw_entry *e;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, cursor)) != NULL)
        if (e->kind == TW_KIND_READING && e->at.utc_s >= scene->start_s && tw_logbook_word(e, TW_FIELD_ANALYTE) == analyte &&
            !is_source_reading(e))
            return e;
    return NULL;
}

const tw_entry *tw_procedure_care(const tw_scene *scene, int job, int state, int this_water)
{
    const tw_entry *found = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_CARE && tw_logbook_word(e, TW_FIELD_JOB) == job &&
            tw_logbook_word(e, TW_FIELD_STATE) == state && (!this_water || e->at.utc_s >= scene->start_s))
            found = e;
    return found;
}

const tw_entry *tw_procedure_fitted(const tw_scene *scene, int part)
{
    const tw_entry *in = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_PART && tw_logbook_word(e, TW_FIELD_PART) == part) {
            if (tw_logbook_word(e, TW_FIELD_ACT) == TW_PART_ACT_FITTED)
                in = e;
            else if (tw_logbook_word(e, TW_FIELD_ACT) == TW_PART_ACT_REMOVED)
                in = NULL;
        }
    return in;
}

int tw_procedure_set_aside(const tw_scene *scene, tw_condition condition)
{
    const tw_condition_row *row = &tw_procedure_conditions[condition];
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL) {
        if (!row->waivable || (row->stage > TW_STAGE_FILL && e->at.utc_s < scene->start_s))
            continue;
        if (e->kind == TW_KIND_WAIVER && tw_procedure_role_may_set_aside(tw_logbook_word(e, TW_FIELD_ROLE)) && tw_units_text_is(tw_logbook_text(e, TW_FIELD_CONDITION), row->id))
            return 1;
        if (e->kind == TW_KIND_RESPONSE && tw_logbook_word(e, TW_FIELD_OUTCOME) == TW_OUTCOME_NOT_APPLICABLE &&
            tw_units_text_is(tw_logbook_text(e, TW_FIELD_ACT), tw_procedure_acts[row->act].id))
            return 1;
    }
    return 0;
}

double tw_procedure_plate(const tw_scene *scene, tw_field field)
{
    double found = (double)NAN, value;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_PLATE && tw_logbook_si(e, field, &value) == TW_OK)
            found = value;
    return found;
}

/* The order in which the trade reaches for a substance; rows that a layman may not pour come last. */
static const tw_substance_id PREFERRED[] = {
    TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45,
    TW_SUBSTANCE_SODIUM_BICARBONATE, TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, TW_SUBSTANCE_SODIUM_CHLORIDE,
    TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE,
    TW_SUBSTANCE_SODIUM_SULFITE};

static int plate_forbids(const tw_scene *scene, const tw_substance *s)
{
    const tw_entry *e;
    int acids = -1;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_PLATE && tw_logbook_has(e, TW_FIELD_ACIDS))
            acids = tw_logbook_word(e, TW_FIELD_ACIDS);
    return s->effect == TW_EFFECT_TA_DOWN && acids == TW_ACIDS_NO_SULFATE && s->total_mol_per_g[TW_TOTAL_SO4] > 0.0;
}

static int is_stabilised(const tw_substance *s)
{
    return s->total_mol_per_g[TW_TOTAL_CYANURATE] > 0.0 && s->effect == TW_EFFECT_FC_UP;
}

/* Only private tubs, and not where the guidance bars it. */
static int takes_stabilised(const tw_scene *scene)
{
    return scene->tub->use == TW_USE_PRIVATE && scene->profile->stabilised != 0.0;
}

/* Who may pour what, and where. */
static int may_advise(const tw_scene *scene, const tw_substance *s)
{
    if (s->who == TW_WHO_CALCULATOR || (s->who == TW_WHO_TRAINED && !scene->technician) || (is_stabilised(s) && !takes_stabilised(scene)))
        return 0;
    return !plate_forbids(scene, s) && !tw_procedure_makes_milk(scene, s);
}

tw_message tw_procedure_barred(const tw_scene *scene, tw_effect effect, const tw_substance **out)
{
    const tw_entry *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL) {
        const tw_substance *s = e->kind == TW_KIND_STOCK ? tw_procedure_substance_of(scene, e) : NULL;
        if (s == NULL || s->effect != effect || tw_procedure_left_g(scene, s) == 0.0)
            continue;
        *out = s;
        if (s->who == TW_WHO_TRAINED && !scene->technician)
            return TW_SAY_WHY_BARRED_TRAINED;
        if (is_stabilised(s) && !takes_stabilised(scene))
            return TW_SAY_WHY_BARRED_STABILISED;
        if (plate_forbids(scene, s))
            return TW_SAY_WHY_BARRED_SULFATE;
    }
    return TW_MESSAGES;
}

/* Place in the order of preference; behind all of them what is not named there. */
static size_t rank(const tw_scene *scene, const tw_substance *s)
{
    size_t i = 0;
    if (s == scene->prefer)
        return 0;
    while (i < sizeof PREFERRED / sizeof *PREFERRED && s != &tw_dose_substances[PREFERRED[i]])
        i++;
    return i + 1;
}

/* Strength as written on the box of an entry, else of the definition that it names, else the table's. */
static tw_substance as_written(const tw_scene *scene, const tw_entry *e, const tw_substance *s)
{
    double typed = 0.0;
    const size_t own = tw_dose_substance_find(tw_logbook_text(e, TW_FIELD_SUBSTANCE)) == NULL
                           ? tw_logbook_book_find(scene->book, tw_logbook_text(e, TW_FIELD_SUBSTANCE)) : SIZE_MAX;
    if (tw_logbook_si(e, TW_FIELD_AVAILABLE, &typed) == TW_OK)
        return tw_dose_substance_of_available(s, typed / 1000.0);
    if (tw_logbook_si(e, TW_FIELD_STRENGTH, &typed) == TW_OK)
        return tw_dose_substance_of_strength(s, typed);
    if (own != SIZE_MAX && tw_logbook_si(tw_logbook_book_at(scene->book, own), TW_FIELD_STRENGTH, &typed) == TW_OK) {
        const tw_substance made = tw_dose_substance_of_strength(s, typed);
        return tw_dose_substance_holds(&made) ? made : *s;
    }
    return *s;
}

double tw_procedure_grams_of(const tw_scene *scene, const tw_entry *e, const tw_substance *s)
{
    double amount = 0.0;
    tw_quantity quantity;
    if (tw_logbook_book_amount(scene->book, e, scene->now, &amount, &quantity) != TW_OK ||
        (quantity != TW_QUANTITY_MASS && quantity != TW_QUANTITY_VOLUME) || (quantity == TW_QUANTITY_VOLUME && !s->liquid))
        return (double)NAN;
    return quantity == TW_QUANTITY_MASS ? amount : 1e3 * amount * s->density_kg_per_l;
}

double tw_procedure_left_g(const tw_scene *scene, const tw_substance *substance)
{
    double left = (double)NAN;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL) {
        if ((e->kind != TW_KIND_STOCK && e->kind != TW_KIND_ADDITION) || tw_procedure_substance_of(scene, e) != substance)
            continue;
        if (e->kind == TW_KIND_STOCK) {
            left = tw_logbook_has(e, TW_FIELD_AMOUNT) ? tw_procedure_grams_of(scene, e, substance) : (double)NAN;
        } else if (left == left) {
            const double poured = tw_procedure_grams_of(scene, e, substance);
            left -= poured == poured ? poured : 0.0;
        }
    }
    return left < 0.0 ? 0.0 : left;
}

const tw_substance *tw_procedure_usual(const tw_scene *scene, tw_effect effect)
{
    for (size_t i = 0; i < sizeof PREFERRED / sizeof *PREFERRED; i++) {
        const tw_substance *s = &tw_dose_substances[PREFERRED[i]];
        if (s->effect == effect && may_advise(scene, s))
            return s;
    }
    return NULL;
}

const tw_substance *tw_procedure_substance(const tw_scene *scene, tw_effect effect, int *listed, tw_substance *out)
{
    const tw_entry *e;
    size_t cursor = 0;
    const tw_substance *found = NULL;
    *listed = 0;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL) {
        const int stock = e->kind == TW_KIND_STOCK;
        const tw_substance *s = stock || e->kind == TW_KIND_ADDITION
                                    ? tw_procedure_substance_of(scene, e) : NULL;
        if (s == NULL || s->effect != effect || !may_advise(scene, s) || (stock && tw_procedure_left_g(scene, s) == 0.0))
            continue;
        /* What stands in the list before what was poured once; of a list what the trade reaches for first. */
        if (*listed && (!stock || rank(scene, s) > rank(scene, found)))
            continue;
        found = s;
        *listed = stock;
        *out = as_written(scene, e, s);
    }
    if (found == NULL && !scene->stock_listed && (found = tw_procedure_usual(scene, effect)) != NULL)
        *out = *found;
    return found;
}

const tw_substance *tw_procedure_other_listed(const tw_scene *scene, tw_effect effect, const tw_substance *taken)
{
    const tw_entry *e;
    size_t cursor = 0;
    const tw_substance *found = NULL;
    while ((e = tw_logbook_book_next(scene->book, scene->tub->id, scene->now, &cursor)) != NULL) {
        const tw_substance *s = e->kind == TW_KIND_STOCK ? tw_procedure_substance_of(scene, e) : NULL;
        if (s != NULL && s != taken && s->effect == effect && may_advise(scene, s) && tw_procedure_left_g(scene, s) != 0.0 &&
            (found == NULL || rank(scene, s) < rank(scene, found)))
            found = s;
    }
    return found;
}

tw_band tw_procedure_band(const tw_scene *scene, tw_band_id id)
{
    tw_band band = tw_procedure_bands[id];
    double low = (double)NAN, high = (double)NAN;
    if (id == TW_BAND_TA) {
        low = tw_procedure_plate(scene, TW_FIELD_TA_MIN);
        high = tw_procedure_plate(scene, TW_FIELD_TA_MAX);
    } else if (id == TW_BAND_CH) {
        low = tw_procedure_plate(scene, TW_FIELD_CH_MIN);
        high = tw_procedure_plate(scene, TW_FIELD_CH_MAX);
    } else if (id == TW_BAND_SALT) {
        const double target = tw_procedure_plate(scene, TW_FIELD_SALT_TARGET);
        const double top = tw_procedure_plate(scene, TW_FIELD_SALT_MAX), bottom = tw_procedure_plate(scene, TW_FIELD_SALT_MIN);
        const double aim = target > 0.0 ? target : 2000.0;
        band.low = bottom > 0.0 && bottom < aim ? bottom : band.low * aim;
        band.high = top > aim ? top : band.high * aim;
        band.target = aim;
        band.hard_high = top > aim ? top : aim;
        return band;
    }
    if (low > 0.0)
        band.low = low;
    if (high > 0.0)
        band.high = high;
    if (low > 0.0 && band.target < low)
        band.target = low + 0.1 * (band.high - low);
    if (high > 0.0 && band.target > high)
        band.target = high - 0.1 * (high - band.low);
    return band;
}

tw_waters tw_procedure_waters(const tw_scene *scene)
{
    tw_waters w;
    const tw_belief *b = scene->belief;
    memset(&w, 0, sizeof w);
    if (b == NULL)
        return w;
    w.n = b->n;
    w.water_kg = b->column[TW_COLUMN_WATER_KG];
    w.temp_k = b->column[TW_COLUMN_TEMP_K];
    for (int t = 0; t < TW_TOTALS; t++)
        w.total[t] = b->total[t];
    w.solvent_kg_per_l = b->density_kg_per_l;
    return w;
}

double tw_procedure_middle(const tw_scene *scene, int observed)
{
    return scene->belief == NULL ? (double)NAN : tw_estimate_now(scene->belief, observed).q50;
}
