/* procedure/met.c: one small question for each predicate of data/conditions.csv. */
#include "procedure/met.h"

#include <math.h>
#include <string.h>

#include "estimate/events.h"
#include "estimate/instrument.h"
#include "procedure/residual.h"

#define PH_REST 7.30         /* enough CO2 is out for the next acid step: 7.4 less a strip's doubt */
#define FRESH_H 3.0          /* an older reading is taken again before acid or a base: the card is good for two
                                hours, and a wait of one may stand before it                       */
#define SALT_APART_MIN 25    /* two readings of salt that may be compared: half an hour, by a watch  */
#define SALT_AGREES 0.05     /* of the reading                                                      */
#define MAY_BE_OVER 0.05     /* chance of over 10 mg/L that is read again; assumed                  */
#define LYING_SALT_SHARE 0.03 /* undissolved salt that spoils a salt reading                       */

/* The water is made: the generator runs, or the tub is in care. */
static int calm(const tw_scene *s)
{
    return s->in_care || tw_procedure_generating(s);
}

/* Of the water as it is: an older one speaks of the water before the exchange. */
static int fresh(const tw_scene *s, int analyte, double hours)
{
    const tw_entry *e = s->read[analyte];
    return e != NULL && (s->exchanged == NULL || e->at.utc_s > s->exchanged->at.utc_s) && (!(hours > 0.0) || tw_procedure_hours_since(s, e) <= hours);
}

/* A reading that is later than the last pour which moves the analyte, by its testing wait. */
static int after_pour(const tw_scene *s, int analyte, tw_effect effect)
{
    const tw_entry *pour = s->poured[effect], *e = s->read[analyte];
    return pour == NULL ||
           (e != NULL && (double)(e->at.utc_s - pour->at.utc_s) >= 60.0 * tw_dose_waits[effect].test_min - 61.0);
}

static int condition_gone(const tw_scene *s, const char *question, tw_act_id *act)
{
    char cleared[40];
    const size_t n = strlen(question);
    if (n + 9 > sizeof cleared)
        return 0;
    memcpy(cleared, question, n);
    memcpy(cleared + n, "-cleared", 9);
    const int reply = tw_procedure_reply(s, question);
    if (reply == TW_YES_NO_UNKNOWN_NO || tw_procedure_reply(s, cleared) == TW_YES_NO_UNKNOWN_YES)
        return 1;
    if (reply < 0)
        *act = TW_ACT_ASK_HISTORY;
    return 0;
}

static const int SOURCE_TESTS[] = {TW_ANALYTE_PH, TW_ANALYTE_TOTAL_ALKALINITY, TW_ANALYTE_CALCIUM_HARDNESS,
                                   TW_ANALYTE_IRON, TW_ANALYTE_MANGANESE, TW_ANALYTE_COPPER, TW_ANALYTE_PHOSPHATE};

uint32_t tw_procedure_source_missing(const tw_scene *s, int out[8])
{
    uint32_t n = 0;
    for (size_t i = 0; i < sizeof SOURCE_TESTS / sizeof *SOURCE_TESTS; i++) {
        const int a = SOURCE_TESTS[i];
        const int hardness = a == TW_ANALYTE_CALCIUM_HARDNESS && s->source_read[TW_ANALYTE_TOTAL_HARDNESS] != NULL;
        if (s->source_read[a] == NULL && !hardness)
            out[n++] = a;
    }
    return n;
}

static int named(const tw_scene *s)
{
    return tw_logbook_book_latest(s->book, s->tub->id, s->now, TW_KIND_SOURCE) != NULL ||
           (s->fill != NULL && tw_logbook_has(s->fill, TW_FIELD_SOURCE));
}

static int well_clear(const tw_scene *s)
{
    const tw_entry *source = tw_logbook_book_latest(s->book, s->tub->id, s->now, TW_KIND_SOURCE);
    if (source == NULL || tw_logbook_word(source, TW_FIELD_ORIGIN) != TW_ORIGIN_WELL)
        return 1;
    return tw_logbook_word(source, TW_FIELD_BACTERIOLOGY) == TW_CHECKED_CLEAR;
}

/* Metals of the source: a value over the limit stops; below a limit or not done does not. */
static int source_below(const tw_scene *s, int analyte, double limit)
{
    const tw_entry *e = analyte >= 0 ? s->source_read[analyte] : NULL;
    double value = 0.0;
    const int form = e != NULL ? tw_logbook_word(e, TW_FIELD_FORM) : -1;
    if (e == NULL || form == TW_READING_FORM_BELOW || tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK)
        return 1;
    return !(value > limit) || tw_procedure_reply(s, "metals-treated") == TW_YES_NO_UNKNOWN_YES;
}

static int warm(const tw_scene *s, tw_act_id *act)
{
    const double least = tw_procedure_plate(s, TW_FIELD_CELL_TEMP_MIN);
    const double need = least > 10.0 ? least : 30.0;
    const tw_entry *e = s->read[TW_ANALYTE_TEMPERATURE];
    double value = 0.0;
    const tw_entry *heating = tw_procedure_care(s, TW_CARE_JOB_HEAT, TW_JOB_STATE_STARTED, 1);
    if (e != NULL && tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK && value >= need)
        return 1;
    if (heating == NULL ? e == NULL : (e == NULL || e->at.utc_s <= heating->at.utc_s || tw_procedure_hours_since(s, e) > 1.0))
        *act = TW_ACT_TEST_TEMPERATURE;
    return 0;
}

/* Low pH with alkalinity is CO2. Where the alkalinity is gone air lifts nothing. */
static int air_is_no_help(const tw_scene *s)
{
    return tw_estimate_now(s->belief, TW_OBSERVED_ALKALINITY).q50 < tw_procedure_band(s, TW_BAND_TA).hard_low;
}

/* Between acid and the reading stands air, where pH is low for sure: a trim that leaves pH at rest would only be
 * lifted off it again. */
static int aired(const tw_scene *s, tw_act_id *act)
{
    if (after_pour(s, TW_ANALYTE_PH, TW_EFFECT_TA_DOWN))
        return 1;
    if (s->belief != NULL && (!(tw_estimate_now(s->belief, TW_OBSERVED_PH).q95 < tw_procedure_bands[TW_BAND_PH].low) ||
                              air_is_no_help(s)))
        *act = TW_ACT_TEST_ACIDS;
    return 0;
}

/* Acid and base go into water that was read after everything that moved its pH, and not long ago: never on what
 * the model alone makes of it. */
static int acids_just_read(const tw_scene *s, int alkalinity_too)
{
    const tw_entry *ph = s->read[TW_ANALYTE_PH];
    const tw_entry *moved[] = {s->poured[TW_EFFECT_TA_DOWN], s->poured[TW_EFFECT_TA_UP], s->aired, s->exchanged,
                               tw_logbook_book_setting(s->book, s->tub->id, s->now, TW_SETTING_JETS)};
    if (ph == NULL || tw_procedure_hours_since(s, ph) > FRESH_H || (alkalinity_too && !fresh(s, TW_ANALYTE_TOTAL_ALKALINITY, 48.0)))
        return 0;
    for (size_t i = 0; i < sizeof moved / sizeof *moved; i++)
        if (moved[i] != NULL && moved[i]->at.utc_s > ph->at.utc_s)
            return 0;
    return 1;
}

static int acids_read(const tw_scene *s, double hours)
{
    /* After acid the air comes first; its end is read for itself. */
    if (!after_pour(s, TW_ANALYTE_PH, TW_EFFECT_TA_DOWN) && s->read[TW_ANALYTE_PH] != NULL && s->read[TW_ANALYTE_TOTAL_ALKALINITY] != NULL)
        return 1;
    return fresh(s, TW_ANALYTE_PH, hours) && fresh(s, TW_ANALYTE_TOTAL_ALKALINITY, hours > 48.0 ? hours : 240.0) &&
           after_pour(s, TW_ANALYTE_PH, TW_EFFECT_TA_UP);
}

/* What a band is of: the word of data/conditions.csv, the quantity of the estimate, the test that reads it. Salt is read
 * by several (salt_read). */
static const struct { const char *word; tw_band_id id; int observed, analyte; } BANDS[] = {
    {"ph", TW_BAND_PH, TW_OBSERVED_PH, TW_ANALYTE_PH},
    {"ta", TW_BAND_TA, TW_OBSERVED_ALKALINITY, TW_ANALYTE_TOTAL_ALKALINITY},
    {"ch", TW_BAND_CH, TW_OBSERVED_CALCIUM, TW_ANALYTE_CALCIUM_HARDNESS},
    {"cya", TW_BAND_CYA, TW_OBSERVED_CYANURATE, TW_ANALYTE_CYANURIC_ACID},
    {"po4", TW_BAND_PO4, TW_OBSERVED_PHOSPHATE, TW_ANALYTE_PHOSPHATE},
    {"salt", TW_BAND_SALT, TW_OBSERVED_CHLORIDE, TW_ANALYTE_CONDUCTIVITY}};

/* The row of a condition's band. data/conditions.csv names no other. */
static size_t band_of(const tw_condition_row *row)
{
    size_t i = 0;
    while (i + 1 < sizeof BANDS / sizeof *BANDS && !tw_units_text_is(tw_units_text(row->subject), BANDS[i].word))
        i++;
    return i;
}

/* Nothing is poured for a band's edge: three chances in four must lie beyond it, and once the generator runs or the
 * tub is in care, where a passed stage is opened again, nineteen in twenty. pH needs no such patience: it is read
 * just before (acids_just_read). */
static double sure_over(const tw_scene *s, int observed)
{
    const tw_spread spread = tw_estimate_now(s->belief, observed);
    return calm(s) && observed != TW_OBSERVED_PH ? spread.q05 : spread.q25;
}

static double sure_under(const tw_scene *s, int observed)
{
    const tw_spread spread = tw_estimate_now(s->belief, observed);
    return calm(s) && observed != TW_OBSERVED_PH ? spread.q95 : spread.q75;
}

/* pH drifts up while the generator runs: then the guidance sets the limits, not the start-up. */
double tw_procedure_ph_limit(const tw_scene *s, int high)
{
    const tw_band band = tw_procedure_bands[TW_BAND_PH];
    const double guide = high ? s->profile->ph_max : s->profile->ph_min;
    return calm(s) && guide > 0.0 ? guide : high ? band.high : band.low;
}

static int salt_read(const tw_scene *s, double hours)
{
    static const int SALTS[] = {TW_ANALYTE_CONDUCTIVITY, TW_ANALYTE_SALT, TW_ANALYTE_CHLORIDE, TW_ANALYTE_TDS};
    for (size_t i = 0; i < sizeof SALTS / sizeof *SALTS; i++)
        if (fresh(s, SALTS[i], hours) && after_pour(s, SALTS[i], TW_EFFECT_SALT_UP))
            return 1;
    return 0;
}

static int ph_not_low(const tw_scene *s, tw_act_id *act)
{
    if (s->belief == NULL || (s->in_care && s->read[TW_ANALYTE_PH] == NULL) ||
        !(sure_under(s, TW_OBSERVED_PH) < tw_procedure_ph_limit(s, 0)))
        return 1;
    if (!air_is_no_help(s))
        return 0;
    *act = TW_ACT_TEST_ACIDS;
    return acids_just_read(s, 1); /* then the alkalinity is put right, and pH with it */
}

/* In care only what was read in this water is acted on; the tests of care have their days. */
static int unread_in_care(const tw_scene *s, size_t band)
{
    return s->in_care && (BANDS[band].id == TW_BAND_SALT ? !salt_read(s, 0.0) : s->read[BANDS[band].analyte] == NULL);
}

int tw_procedure_salt_agrees(const tw_scene *s)
{
    const tw_entry *pour = s->poured[TW_EFFECT_SALT_UP], *e;
    double last = (double)NAN, value;
    int64_t last_s = 0;
    size_t cursor = 0;
    int agrees = pour == NULL;
    while (pour != NULL && (e = tw_procedure_next_reading(s, TW_ANALYTE_CONDUCTIVITY, &cursor)) != NULL) {
        if (e->at.utc_s <= pour->at.utc_s || e->at.utc_s - last_s < 60 * SALT_APART_MIN ||
            tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK)
            continue;
        agrees = fabs(value - last) <= SALT_AGREES * value;
        last = value;
        last_s = e->at.utc_s;
    }
    return agrees;
}

/* Other water would take it down. 1: it would. *act: what comes first, where nobody has read what would be let in. Low alkalinity
 * is put right before, so that a soft source finds room above its floor. */
static int water_helps(const tw_scene *s, size_t band, double high, tw_act_id *act)
{
    const int analyte = BANDS[band].id == TW_BAND_SALT ? TW_ANALYTE_SALT : BANDS[band].analyte;
    double there = 0.0; /* no salt or cyanuric acid to speak of in a source */
    if (s->source_read[TW_ANALYTE_PH] == NULL || s->source_read[TW_ANALYTE_TOTAL_ALKALINITY] == NULL)
        *act = TW_ACT_TEST_SOURCE;
    if (s->source_read[analyte] != NULL)
        (void)tw_logbook_si(s->source_read[analyte], TW_FIELD_VALUE, &there);
    return there < high && !(sure_under(s, TW_OBSERVED_ALKALINITY) < tw_procedure_band(s, TW_BAND_TA).low);
}

static int not_over(const tw_scene *s, const tw_condition_row *row, tw_act_id *act)
{
    const size_t band = band_of(row);
    const tw_band_id id = BANDS[band].id;
    const double high = id == TW_BAND_PH ? tw_procedure_ph_limit(s, 1) : tw_procedure_band(s, id).high;
    if (s->belief == NULL || unread_in_care(s, band) || !(sure_over(s, BANDS[band].observed) > high))
        return 1;
    if (row->act == TW_ACT_EXCHANGE && ((id == TW_BAND_SALT && !(tw_procedure_plate(s, TW_FIELD_SALT_TARGET) > 0.0 && salt_read(s, 0.0))) ||
                                        !water_helps(s, band, high, act)))
        return 1;
    /* Acid only into water that is at rest: at low pH air comes first. */
    if (row->act == TW_ACT_ACID_STEP && tw_procedure_middle(s, TW_OBSERVED_PH) < PH_REST)
        *act = TW_ACT_AIR;
    if ((id == TW_BAND_PH || id == TW_BAND_TA) && !acids_just_read(s, id == TW_BAND_TA))
        *act = TW_ACT_TEST_ACIDS;
    return 0;
}

static int not_under(const tw_scene *s, const tw_condition_row *row, tw_act_id *act)
{
    const size_t band = band_of(row);
    const tw_band_id id = BANDS[band].id;
    if (s->belief == NULL || unread_in_care(s, band) ||
        !(sure_under(s, BANDS[band].observed) < tw_procedure_band(s, id).low))
        return 1;
    if (id == TW_BAND_TA && !acids_just_read(s, 1))
        *act = TW_ACT_TEST_ACIDS;
    if (id == TW_BAND_SALT && !tw_procedure_salt_agrees(s))
        *act = TW_ACT_STIR_SALT;
    return 0;
}

/* Of a narrow band the middle of what is known, now: in care the residual is acted on when it leaves the band. */
static int residual_in_band(const tw_scene *s)
{
    if (s->belief == NULL || !fresh(s, TW_ANALYTE_FREE_CHLORINE, 0.0))
        return 1; /* the test of care asks for it */
    const tw_spread now = tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG);
    return now.q50 >= s->profile->fc_min_mg_per_l && tw_procedure_hours_after_people(s) == TW_NO_PEOPLE_H &&
           !(s->profile->fc_max_mg_per_l > 0.0 && now.q50 > s->profile->fc_max_mg_per_l);
}

static int dissolved(const tw_scene *s)
{
    if (s->belief == NULL || s->poured[TW_EFFECT_SALT_UP] == NULL)
        return 1;
    const double lying = tw_estimate_column(s->belief, TW_COLUMN_UNDISSOLVED_G).q50;
    const double kg = tw_estimate_column(s->belief, TW_COLUMN_WATER_KG).q50;
    return !(lying > LYING_SALT_SHARE * tw_procedure_band(s, TW_BAND_SALT).target * 1e-3 * kg);
}

int tw_procedure_may_be_bleached(const tw_scene *s)
{
    const tw_entry *e = s->read[TW_ANALYTE_FREE_CHLORINE];
    double value = 1.0;
    if (e == NULL || tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK || value > 0.5 || tw_logbook_has(e, TW_FIELD_DILUTION))
        return 0;
    const tw_instrument_row *tool = tw_estimate_instrument(tw_logbook_word(e, TW_FIELD_INSTRUMENT), TW_OBSERVED_FREE_CHLORINE);
    return tool == NULL || tool->bleach > 0.0;
}

/* A zero of a colour that fades is believed where the logbook leaves no room for more: in a tub that was found full
 * nobody wrote down what went in. Thinned, or by what does not fade, it counts. */
static int not_bleached(const tw_scene *s)
{
    const tw_entry *e = s->read[TW_ANALYTE_FREE_CHLORINE];
    double value = 1.0;
    if (s->belief == NULL || e == NULL || tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK || value > 0.5 ||
        tw_logbook_has(e, TW_FIELD_DILUTION))
        return 1;
    if (s->fill == NULL && s->pours[TW_EFFECT_FC_UP] == 0 && tw_procedure_may_be_bleached(s))
        return 0;
    return !(1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, 10.0) > 0.02);
}

/* 1: a reading of free chlorine that still counts stood over its scale, and none since gave a number. */
static int over_scale(const tw_scene *s)
{
    size_t cursor = 0;
    const tw_entry *e;
    int over = 0;
    while ((e = tw_procedure_next_reading(s, TW_ANALYTE_FREE_CHLORINE, &cursor)) != NULL) {
        const int form = tw_logbook_word(e, TW_FIELD_FORM);
        if (form == TW_READING_FORM_ABOVE)
            over = tw_procedure_hours_since(s, e) <= tw_procedure_conditions[TW_CONDITION_CHLORINE_KNOWN].hours;
        else if (form < 0 || form == TW_READING_FORM_VALUE)
            over = 0;
    }
    return over;
}

/* Read, and three in four that it is over the limit: it falls. What was poured since is read first, and a zero that may be a
 * bleached pad again. Where a scale ended before the answer, less than that asks for a reading that reaches so far. */
static int chlorine_not_high(const tw_scene *s, tw_act_id *act)
{
    const double limit = tw_procedure_bands[TW_BAND_FC].hard_high;
    const int unread = s->read[TW_ANALYTE_FREE_CHLORINE] == NULL;
    if (s->belief == NULL || (unread && s->poured[TW_EFFECT_FC_UP] == NULL))
        return 1;
    if (tw_estimate_now(s->belief, TW_OBSERVED_FREE_CHLORINE).q25 > limit) {
        if (unread || !after_pour(s, TW_ANALYTE_FREE_CHLORINE, TW_EFFECT_FC_UP))
            *act = TW_ACT_TEST_CHLORINE;
        else if (tw_procedure_may_be_bleached(s))
            *act = TW_ACT_RETEST_DILUTED;
        return 0;
    }
    if (!over_scale(s) || !(1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, limit / s->belief->density_kg_per_l) > MAY_BE_OVER))
        return 1;
    *act = TW_ACT_RETEST_DILUTED;
    return 0;
}

int tw_procedure_chlorine_near(const tw_scene *s)
{
    return s->belief != NULL && s->read[TW_ANALYTE_FREE_CHLORINE] != NULL &&
           tw_estimate_now(s->belief, TW_OBSERVED_FREE_CHLORINE).q75 > tw_procedure_bands[TW_BAND_FC].hard_high;
}

/* The generator adds to what is there: it is not set up while one in four says that it is over the limit. */
static int generating(const tw_scene *s, tw_act_id *act)
{
    if (tw_procedure_generating(s) || tw_procedure_hold_test(s, &(tw_hold_test){0}))
        return 1;
    if (tw_procedure_chlorine_near(s))
        *act = TW_ACT_WAIT_CHLORINE;
    return 0;
}

static int chlorinated(const tw_scene *s)
{
    if (s->belief == NULL)
        return 0;
    const double now = tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG).q50;
    /* Once the generator has run the residual may sink to what it makes, or in a test without it. */
    return now >= s->profile->fc_min_mg_per_l || (s->generated && s->pours[TW_EFFECT_FC_UP] >= 1);
}

/* Three readings of the monitor with a hand reading of the same thing within a quarter of an hour. */
static int paired(const tw_scene *s)
{
    size_t cursor = 0, pairs = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        if (e->kind != TW_KIND_READING || tw_logbook_word(e, TW_FIELD_INSTRUMENT) != TW_INSTRUMENT_MONITOR ||
            tw_logbook_word(e, TW_FIELD_ANALYTE) != TW_ANALYTE_FREE_CHLORINE)
            continue;
        size_t other = 0;
        const tw_entry *h;
        while ((h = tw_logbook_book_next(s->book, s->tub->id, s->now, &other)) != NULL) {
            const int64_t apart = h->at.utc_s - e->at.utc_s;
            if (h->kind == TW_KIND_READING && apart > -900 && apart < 900 &&
                tw_logbook_word(h, TW_FIELD_ANALYTE) == TW_ANALYTE_FREE_CHLORINE &&
                tw_logbook_word(h, TW_FIELD_INSTRUMENT) != TW_INSTRUMENT_MONITOR) {
                pairs++;
                break;
            }
        }
    }
    return pairs >= 3;
}

static int is_read(const tw_scene *s, const tw_condition_row *row)
{
    const int a = tw_logbook_find_word(TW_SET_ANALYTE, tw_units_text(row->subject));
    const double hours = row->hours > 0.0 ? row->hours : 0.0;
    if (a < 0)
        return 0;
    if (row->stage == TW_STAGE_CARE)
        return fresh(s, a, hours);
    return fresh(s, a, hours) || s->source_read[a] != NULL ||
           (a == TW_ANALYTE_CALCIUM_HARDNESS &&
            (fresh(s, TW_ANALYTE_TOTAL_HARDNESS, hours) || s->source_read[TW_ANALYTE_TOTAL_HARDNESS] != NULL));
}

int tw_procedure_condition_met(const tw_scene *s, tw_condition condition, tw_act_id *act)
{
    const tw_condition_row *row = &tw_procedure_conditions[condition];
    *act = row->act;
    if (tw_procedure_set_aside(s, condition))
        return 1;
    /* Who reads a tub of which no fill was written found water in it: what comes before a fill is past. */
    if (s->water_in && s->fill == NULL && row->stage > TW_STAGE_HISTORY && row->stage <= TW_STAGE_FILL &&
        row->predicate != TW_PREDICATE_CONFIRMED)
        return 1;
    const double hours = row->hours > 0.0 ? row->hours : 0.0;
    switch (row->predicate) {
    case TW_PREDICATE_GONE: return condition_gone(s, row->subject, act);
    case TW_PREDICATE_NAMED: return named(s);
    case TW_PREDICATE_SOURCE_READ: {
        int missing[8];
        return tw_procedure_source_missing(s, missing) == 0;
    }
    case TW_PREDICATE_WELL_CLEAR: return well_clear(s);
    case TW_PREDICATE_SOURCE_BELOW:
        return source_below(s, tw_logbook_find_word(TW_SET_ANALYTE, tw_units_text(row->subject)), row->high);
    case TW_PREDICATE_CARE_DONE:
        return tw_procedure_care(s, tw_logbook_find_word(TW_SET_CARE_JOB, tw_units_text(row->subject)),
                                 TW_JOB_STATE_DONE, row->stage == TW_STAGE_HANDOVER) != NULL;
    case TW_PREDICATE_FILLED: return s->fill != NULL;
    case TW_PREDICATE_CONFIRMED: return tw_procedure_reply(s, row->subject) == TW_YES_NO_UNKNOWN_YES;
    case TW_PREDICATE_READ: return is_read(s, row);
    case TW_PREDICATE_NOT_OVER: return not_over(s, row, act);
    case TW_PREDICATE_NOT_UNDER: return not_under(s, row, act);
    case TW_PREDICATE_WARM: return warm(s, act);
    case TW_PREDICATE_ACIDS_READ: return acids_read(s, hours);
    case TW_PREDICATE_AIRED: return aired(s, act);
    case TW_PREDICATE_PH_NOT_LOW: return ph_not_low(s, act);
    case TW_PREDICATE_PLATE: return tw_procedure_plate(s, tw_logbook_find_field(tw_units_text(row->subject))) > 0.0;
    case TW_PREDICATE_SALT_READ: return salt_read(s, hours);
    case TW_PREDICATE_DISSOLVED: return dissolved(s);
    case TW_PREDICATE_CHLORINE_READ:
        return fresh(s, TW_ANALYTE_FREE_CHLORINE, hours) && after_pour(s, TW_ANALYTE_FREE_CHLORINE, TW_EFFECT_FC_UP);
    case TW_PREDICATE_NOT_BLEACHED: return not_bleached(s);
    case TW_PREDICATE_CHLORINE_NOT_HIGH: return chlorine_not_high(s, act);
    case TW_PREDICATE_CHLORINATED: return chlorinated(s);
    case TW_PREDICATE_GENERATING: return generating(s, act);
    case TW_PREDICATE_HELD: return tw_procedure_held(s);
    case TW_PREDICATE_RESIDUAL: return residual_in_band(s);
    case TW_PREDICATE_FITTED: return tw_procedure_fitted(s, tw_logbook_find_word(TW_SET_PART, tw_units_text(row->subject))) != NULL;
    case TW_PREDICATE_PAIRED: return paired(s);
    case TW_PREDICATES: break;
    }
    return 0;
}
