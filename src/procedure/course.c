/* procedure/course.c: see course.h. */
#include "procedure/course.h"

#include <math.h>
#include <string.h>

#include "dose/size.h"
#include "estimate/burn.h"
#include "estimate/events.h"
#include "num/elementary.h"
#include "procedure/free.h"
#include "procedure/met.h"
#include "procedure/refuse.h"
#include "procedure/spent.h"

#define FIRST_SALT_SHARE 0.85 /* of the dose for the rough volume; common practice: half to nine tenths */
#define WEIGHING_SD_LN 0.01   /* of an amount that is weighed or measured in a jug; assumed             */
#define AIR_MOST_H 4.0        /* longest air of a visit: a reading ends it before; assumed              */
#define EXCHANGE_MOST 0.5     /* of the water at once; more is a new fill (common practice)             */
#define CHLORINE_LEAST 1.0    /* mg/L that a reducer must leave: water without any is left untreated    */
#define VISIT_H 4.0           /* what went in longer ago than that is no visit that goes on; assumed    */
#define KLA_PER_KELVIN 0.02372 /* ln 1.024: gas exchange is told at 20 C (aeration standards)           */

const tw_job tw_procedure_jobs[TW_JOBS] = {
    [TW_JOB_ACID] = {TW_CONDITION_ALKALINITY_NOT_HIGH, TW_ACT_ACID_STEP, TW_EFFECT_TA_DOWN, TW_OF_ALKALINITY, 45.0, 1},
    [TW_JOB_BICARBONATE] = {TW_CONDITION_ALKALINITY_NOT_LOW, TW_ACT_BICARBONATE, TW_EFFECT_TA_UP, TW_OF_ALKALINITY, 60.0, 0},
    [TW_JOB_TRIM] = {TW_CONDITION_PH_NOT_HIGH, TW_ACT_ACID_TRIM, TW_EFFECT_TA_DOWN, TW_OF_PH, 15.0, 0}, /* of alkalinity */
    [TW_JOB_CALCIUM] = {TW_CONDITION_CALCIUM_NOT_LOW, TW_ACT_CALCIUM_CHLORIDE, TW_EFFECT_CH_UP, TW_OF_CALCIUM, 80.0, 0},
    [TW_JOB_LANTHANUM] = {TW_CONDITION_PHOSPHATE_LOW, TW_ACT_LANTHANUM, TW_EFFECT_PO4_DOWN, TW_OF_PHOSPHATE, 5.0, 0},
    [TW_JOB_SALT] = {TW_CONDITION_SALT_ENOUGH, TW_ACT_SALT_STEP, TW_EFFECT_SALT_UP, TW_OF_SALT, 2600.0, 1},
    [TW_JOB_CHLORINE] = {TW_CONDITION_CHLORINATED, TW_ACT_FIRST_DOSE, TW_EFFECT_FC_UP, TW_OF_CHLORINE, 10.0, 0},
    [TW_JOB_HOLDING] = {TW_CONDITIONS, TW_ACT_HOLDING_DOSE, TW_EFFECT_FC_UP, TW_OF_CHLORINE, 10.0, 0},
    [TW_JOB_BRIDGE] = {TW_CONDITIONS, TW_ACT_BRIDGE_DOSE, TW_EFFECT_FC_UP, TW_OF_CHLORINE, 10.0, 0},
    [TW_JOB_LESS_SALT] = {TW_CONDITION_SALT_NOT_HIGH, TW_ACT_EXCHANGE, TW_EFFECTS, TW_OF_SALT, 0.0, 0},
    [TW_JOB_LESS_CYANURATE] = {TW_CONDITION_CYANURATE_NOT_HIGH, TW_ACT_EXCHANGE, TW_EFFECTS, TW_OF_CYANURATE, 0.0, 0},
    [TW_JOB_LESS_CHLORINE] = {TW_CONDITION_CHLORINE_NOT_HIGH, TW_ACT_DECHLORINATE, TW_EFFECT_FC_DOWN, TW_OF_CHLORINE, 20.0, 0}};

/* What takes out something that is over a limit: by other water, or by a reducer. */
#define LESS (1u << TW_JOB_LESS_SALT | 1u << TW_JOB_LESS_CYANURATE | 1u << TW_JOB_LESS_CHLORINE)

int tw_procedure_job_of(tw_act_id act, tw_condition unmet)
{
    int j = 0;
    while (j < TW_JOBS && (tw_procedure_jobs[j].act != act || (act == TW_ACT_EXCHANGE && tw_procedure_jobs[j].condition != unmet)))
        j++;
    return j;
}

static int has(tw_job_set jobs, int job)
{
    return (int)(jobs >> job & 1u);
}

tw_job_set tw_procedure_jobs_open(const tw_scene *s)
{
    tw_job_set open = 0;
    tw_stage closed = TW_STAGES; /* its first unmet condition asks for something else */
    int acids_closed = 0;
    for (int c = 0; c < TW_CONDITIONS; c++) {
        const tw_condition_row *row = &tw_procedure_conditions[c];
        tw_act_id act = row->act;
        if (row->stage > TW_STAGE_FIRST_CHLORINE || row->stage == closed || (s->in_care && !row->in_care) ||
            tw_procedure_condition_met(s, (tw_condition)c, &act))
            continue;
        const int job = tw_procedure_job_of(row->act, (tw_condition)c);
        if (job < TW_JOBS && act == row->act && !(LESS >> job & 1u))
            open |= 1u << job;
        else
            closed = row->stage;
        acids_closed = acids_closed || closed == TW_STAGE_ALKALINITY;
    }
    return acids_closed ? open & ~(1u << TW_JOB_CHLORINE) : open; /* chlorine at a pH that is right and read */
}

tw_job_set tw_procedure_jobs_of_card(const tw_scene *s, int job)
{
    if (LESS >> job & 1u)
        return 1u << job;
    tw_job_set jobs = tw_procedure_jobs[job].condition < TW_CONDITIONS ? tw_procedure_jobs_open(s) : 0;
    for (int j = 0; j < TW_JOBS; j++)
        if (has(jobs, j) && tw_procedure_taken_back(s, tw_procedure_jobs[j].effect) != NULL)
            jobs &= ~(1u << j);
    /* Chlorine at a pH that was read: not in a visit that moves it. */
    if ((jobs | 1u << job) & (1u << TW_JOB_ACID | 1u << TW_JOB_BICARBONATE | 1u << TW_JOB_TRIM))
        jobs &= ~(1u << TW_JOB_CHLORINE);
    return jobs | 1u << job;
}

tw_job_set tw_procedure_jobs_foreseen(const tw_scene *s)
{
    tw_job_set open = 0;
    for (int j = 0; j < TW_JOBS; j++) {
        const tw_condition c = tw_procedure_jobs[j].condition;
        tw_act_id act;
        if (c < TW_CONDITIONS && !(s->in_care && !tw_procedure_conditions[c].in_care) && !tw_procedure_condition_met(s, c, &act) &&
            (!(LESS >> j & 1u) || act == tw_procedure_jobs[j].act)) /* of water whose source nobody has read nothing is foreseen */
            open |= 1u << j;
    }
    return open & LESS ? open & LESS : open;
}

/* ------------------------------------------------------------------------------------ a visit that goes on */

/* What is read at a retest. A temperature is none. */
static int ends_a_visit(const tw_entry *e)
{
    const int analyte = e->kind == TW_KIND_READING ? tw_logbook_word(e, TW_FIELD_ANALYTE) : -1;
    return (analyte >= 0 && analyte != TW_ANALYTE_TEMPERATURE && !tw_logbook_has(e, TW_FIELD_SOURCE)) ||
           (e->kind == TW_KIND_CARE && tw_logbook_word(e, TW_FIELD_JOB) == TW_CARE_JOB_AERATE) ||
           (e->kind == TW_KIND_EXCHANGE && tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_FILL);
}

void tw_procedure_visit(const tw_scene *s, tw_visit_so_far *out)
{
    size_t cursor = 0;
    const tw_entry *e;
    memset(out, 0, sizeof *out);
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        const tw_effect effect = e->kind == TW_KIND_ADDITION ? tw_procedure_effect_of(s, e) : TW_EFFECTS;
        if (ends_a_visit(e) || (effect < TW_EFFECTS && tw_procedure_hours_since(s, e) > VISIT_H))
            memset(out, 0, sizeof *out);
        if (effect == TW_EFFECTS || tw_procedure_hours_since(s, e) > VISIT_H)
            continue;
        const double left_h = tw_dose_waits[effect].wait_min / 60.0 - tw_procedure_hours_since(s, e);
        out->pours++;
        out->effects |= 1u << effect;
        out->mixing_h = left_h > out->mixing_h ? left_h : out->mixing_h;
    }
}

void tw_procedure_ask_visit(const tw_visit_so_far *v, tw_act *act)
{
    for (int effect = 0; effect < TW_EFFECTS; effect++)
        if ((v->effects >> effect & 1u) != 0 && effect != TW_EFFECT_TA_DOWN && tw_dose_waits[effect].test_min <= 60.0 * VISIT_H)
            tw_procedure_ask_tests((tw_effect)effect, act);
}

tw_job_set tw_procedure_jobs_next(const tw_scene *s, const tw_visit_so_far *v)
{
    const uint32_t acids = 1u << TW_EFFECT_TA_DOWN | 1u << TW_EFFECT_TA_UP;
    tw_job_set next = 0;
    int last = -1;
    if (v->pours == 0 || v->pours >= TW_COURSE_ADDITIONS || s->belief == NULL)
        return 0;
    for (int j = 0; j <= TW_JOB_CHLORINE; j++)
        if (v->effects >> tw_procedure_jobs[j].effect & 1u)
            last = j;
    if (last < 0 || last == TW_JOB_CHLORINE)
        return 0;
    const tw_job_set open = tw_procedure_jobs_open(s);
    for (int j = last + 1; j <= TW_JOB_CHLORINE; j++)
        if (has(open, j) && (v->effects >> tw_procedure_jobs[j].effect & 1u) == 0)
            next |= 1u << j;
    next &= 1u << TW_JOB_CALCIUM | 1u << TW_JOB_SALT | 1u << TW_JOB_CHLORINE;
    /* Calcium at pH 7.6 or less; chlorine at a pH that was read. */
    if (!(tw_estimate_now(s->belief, TW_OBSERVED_PH).q75 <= tw_procedure_bands[TW_BAND_PH].high))
        next &= ~(1u << TW_JOB_CALCIUM);
    if (v->effects & acids)
        next &= ~(1u << TW_JOB_CHLORINE);
    return next;
}

/* ------------------------------------------------------------------------------------ bands and limits */

/* A band within its hard limits, as the planner wants it. */
static tw_course_band within(double low, double target, double high, double hard_low, double hard_high)
{
    tw_course_band b = {low, target, high, hard_low, hard_high};
    b.low = b.low < hard_low ? hard_low : b.low;
    b.high = b.high > hard_high ? hard_high : b.high;
    b.target = b.target < b.low ? b.low : b.target > b.high ? b.high : b.target;
    return b;
}

static void band_of_ph(const tw_scene *s, tw_job_set jobs, tw_course_band *ph)
{
    const tw_band rest = tw_procedure_bands[TW_BAND_PH];
    const double hard_low = rest.hard_low; /* acid may go first, for bicarbonate too */
    const double hard_high = has(jobs, TW_JOB_BICARBONATE) ? rest.hard_high : (double)NAN;
    *ph = within(tw_procedure_ph_limit(s, 0), rest.target, tw_procedure_ph_limit(s, 1), hard_low, hard_high);
}

static void band_of_alkalinity(const tw_scene *s, tw_job_set jobs, tw_course_band *ta)
{
    const tw_band band = tw_procedure_band(s, TW_BAND_TA);
    const int falls = (jobs & (1u << TW_JOB_ACID | 1u << TW_JOB_BICARBONATE | 1u << TW_JOB_TRIM | 1u << TW_JOB_LANTHANUM)) != 0;
    const double hard_low = falls ? band.hard_low : (double)NAN;
    const double hard_high = has(jobs, TW_JOB_BICARBONATE) ? band.hard_high : (double)NAN;
    if (jobs & (1u << TW_JOB_ACID | 1u << TW_JOB_BICARBONATE)) {
        *ta = within(band.low, band.target, band.high, hard_low, hard_high);
    } else {
        ta->hard_low = hard_low;
        ta->hard_high = hard_high;
    }
}

static void band_of_chlorine(const tw_scene *s, tw_job_set jobs, tw_course_ask *a)
{
    const tw_band hold = tw_procedure_bands[TW_BAND_HOLD], fc = tw_procedure_bands[TW_BAND_FC];
    const double floor_mg_per_l = s->profile->fc_min_mg_per_l;
    if (has(jobs, TW_JOB_HOLDING))
        a->band[TW_OF_CHLORINE] = within(hold.low, hold.target, hold.high, (double)NAN, hold.hard_high);
    else if (has(jobs, TW_JOB_BRIDGE)) /* what the demand takes until the retest is poured with it, as far as one step goes */
        a->band[TW_OF_CHLORINE] = within(floor_mg_per_l, tw_estimate_level_for(s->belief, floor_mg_per_l + 1.0,
                                         tw_procedure_acts[TW_ACT_BRIDGE_DOSE].next_min / 60.0, fc.high), fc.high, (double)NAN, fc.hard_high);
    else
        a->band[TW_OF_CHLORINE] = within(floor_mg_per_l < fc.target ? floor_mg_per_l : fc.low, fc.target, fc.high, (double)NAN, fc.hard_high);
    a->band[TW_OF_CYANURATE].hard_high = TW_PROCEDURE_CYANURATE_MOST;
}

/* Other water, or a reducer, keeps the limits of all that it moves. */
static void bands_of_less(const tw_scene *s, tw_job_set jobs, tw_course_ask *a)
{
    const tw_band ph = tw_procedure_bands[TW_BAND_PH], ta = tw_procedure_band(s, TW_BAND_TA), cya = tw_procedure_bands[TW_BAND_CYA],
                  fc = tw_procedure_bands[TW_BAND_FC], salt = tw_procedure_band(s, TW_BAND_SALT);
    const double none = (double)NAN;
    a->exchange_most = has(jobs, TW_JOB_LESS_CHLORINE) ? 0.0 : EXCHANGE_MOST;
    a->band[TW_OF_PH] = (tw_course_band){none, none, none, ph.hard_low, ph.hard_high};
    a->band[TW_OF_ALKALINITY] = (tw_course_band){none, none, none, ta.hard_low, ta.hard_high};
    if (has(jobs, TW_JOB_LESS_SALT))
        a->band[TW_OF_SALT] = within(salt.low, salt.target, salt.high, none, none);
    if (has(jobs, TW_JOB_LESS_CYANURATE))
        a->band[TW_OF_CYANURATE] = within(cya.low, cya.target, cya.high, none, none);
    if (has(jobs, TW_JOB_LESS_CHLORINE)) {
        a->band[TW_OF_CHLORINE] = within(fc.low, fc.target, fc.high, CHLORINE_LEAST, none);
        a->largest_change[TW_OF_CHLORINE] = tw_procedure_jobs[TW_JOB_LESS_CHLORINE].largest_change;
    }
}

static void bands(const tw_scene *s, tw_job_set jobs, tw_course_ask *a)
{
    if (jobs & LESS) {
        bands_of_less(s, jobs, a);
        return;
    }
    const tw_job_set acids = 1u << TW_JOB_ACID | 1u << TW_JOB_BICARBONATE | 1u << TW_JOB_TRIM;
    const tw_band ch = tw_procedure_band(s, TW_BAND_CH), po4 = tw_procedure_bands[TW_BAND_PO4], salt = tw_procedure_band(s, TW_BAND_SALT);
    if (jobs & acids)
        band_of_ph(s, jobs, &a->band[TW_OF_PH]);
    band_of_alkalinity(s, jobs, &a->band[TW_OF_ALKALINITY]);
    if (has(jobs, TW_JOB_CALCIUM))
        a->band[TW_OF_CALCIUM] = within(ch.low, ch.target, ch.high, (double)NAN, ch.high);
    if (has(jobs, TW_JOB_LANTHANUM))
        a->band[TW_OF_PHOSPHATE] = within(po4.low, po4.target, po4.high, (double)NAN, (double)NAN);
    if (has(jobs, TW_JOB_SALT))
        a->band[TW_OF_SALT] = within(salt.low, salt.target, salt.high, (double)NAN, salt.hard_high);
    if (jobs & (1u << TW_JOB_CHLORINE | 1u << TW_JOB_HOLDING | 1u << TW_JOB_BRIDGE))
        band_of_chlorine(s, jobs, a);
    for (int j = TW_JOBS - 1; j >= 0; j--) /* a trim is capped in alkalinity, where no whole step is asked for */
        if (has(jobs, j))
            a->largest_change[tw_procedure_jobs[j].of == TW_OF_PH ? TW_OF_ALKALINITY : tw_procedure_jobs[j].of] =
                tw_procedure_jobs[j].largest_change;
}

/* ------------------------------------------------------------------------------------ products */

double tw_procedure_measured(const tw_substance *sub, double grams, int *decimals, const char **unit)
{
    *decimals = 0;
    *unit = sub->liquid ? "mL" : "g";
    if (sub->liquid)
        return floor(grams / sub->density_kg_per_l + 0.5);
    if (grams < 1000.0)
        return floor(grams + 0.5);
    *decimals = 2;
    *unit = "kg";
    return floor(grams / 10.0 + 0.5) / 100.0;
}

/* Liquids are measured by a jug (5 mL, 1 mL under 50), solids on a scale of 1 g (10 g above 400). */
static double grid_g(const tw_substance *sub, double grams)
{
    if (!sub->liquid)
        return grams > 400.0 ? 10.0 : 1.0;
    return sub->density_kg_per_l * (grams / sub->density_kg_per_l > 50.0 ? 5.0 : 1.0);
}

/* The volume for the caps, which do not rest on what the estimate alone believes. */
static double rough_l(const tw_scene *s)
{
    const double litres = tw_estimate_volume_l(s->belief).q50;
    return s->tub->has_volume && litres > 1.25 * s->tub->volume_l ? 1.25 * s->tub->volume_l : litres;
}

/* Salt comes out only with water, and its first step teaches the volume: never the whole dose of the plate. */
static double first_salt_g(const tw_scene *s, const tw_substance *sub)
{
    const double whole = tw_procedure_band(s, TW_BAND_SALT).target - tw_procedure_middle(s, TW_OBSERVED_CHLORIDE);
    const double litres = s->tub->has_volume ? s->tub->volume_l : rough_l(s), density = s->belief->density_kg_per_l;
    return tw_dose_grams_for_change(litres * density, sub, TW_OF_SALT, FIRST_SALT_SHARE * (whole > 0.0 ? whole : 0.0), density);
}

/* One product for an effect: what a step would weigh says on which marks it is measured. */
static void product(const tw_scene *s, const tw_job *j, double whole_change, tw_course_of_tub *to)
{
    tw_course_ask *a = &to->ask;
    tw_course_stock *stock = &a->stock[a->stocks];
    const double density = s->belief->density_kg_per_l;
    int listed = 0;
    const tw_substance *row = a->stocks < TW_COURSE_STOCK ? tw_procedure_substance(s, j->effect, &listed, &stock->substance) : NULL;
    for (size_t k = 0; k < a->stocks; k++)
        if (to->row[k] == row)
            return;
    if (row == NULL)
        return;
    to->row[a->stocks] = row;
    to->listed[a->stocks] = listed;
    stock->left_g = listed ? tw_procedure_left_g(s, row) : (double)NAN;
    stock->weighing_sd_ln = WEIGHING_SD_LN;
    if (j->effect == TW_EFFECT_SALT_UP && s->pours[TW_EFFECT_SALT_UP] == 0) {
        const double first = first_salt_g(s, &stock->substance);
        stock->single_g = first > 1.0 ? first : 1.0; /* 0 would be no cap */
    }
    const double change = whole_change < j->largest_change ? whole_change : j->largest_change;
    const tw_quantity_of_water of = j->of == TW_OF_PH ? TW_OF_ALKALINITY : j->of;
    stock->grid_g = grid_g(&stock->substance, tw_dose_grams_for_change(rough_l(s) * density, &stock->substance, of, change, density));
    a->stocks++;
}

static void products(const tw_scene *s, tw_job_set jobs, tw_course_of_tub *to)
{
    const struct { int observed; tw_quantity_of_water of; } NOW[] = {
        {TW_OBSERVED_ALKALINITY, TW_OF_ALKALINITY}, {TW_OBSERVED_CALCIUM, TW_OF_CALCIUM}, {TW_OBSERVED_PHOSPHATE, TW_OF_PHOSPHATE},
        {TW_OBSERVED_CHLORIDE, TW_OF_SALT}, {TW_OBSERVED_FREE_CHLORINE, TW_OF_CHLORINE}};
    for (int j = 0; j < TW_JOBS; j++) {
        double whole = tw_procedure_jobs[j].largest_change;
        for (size_t k = 0; k < sizeof NOW / sizeof *NOW; k++)
            if (NOW[k].of == tw_procedure_jobs[j].of && to->ask.band[NOW[k].of].target == to->ask.band[NOW[k].of].target)
                whole = fabs(to->ask.band[NOW[k].of].target - tw_procedure_middle(s, NOW[k].observed));
        if (has(jobs, j) && tw_procedure_jobs[j].effect < TW_EFFECTS)
            product(s, &tw_procedure_jobs[j], whole, to);
    }
    /* What is too alkaline now may want a trim later, and the other way round: only where pH has a band. */
    if (to->ask.band[TW_OF_PH].target == to->ask.band[TW_OF_PH].target)
        product(s, &tw_procedure_jobs[TW_JOB_TRIM], tw_procedure_jobs[TW_JOB_TRIM].largest_change, to);
}

/* ------------------------------------------------------------------------------------ what the entries say */

/* How the instrument that read a quantity last will read it again; else what a kit does (tw_dose_course_defaults). */
static void tests(const tw_scene *s, tw_course_ask *a)
{
    static const struct { tw_quantity_of_water of; int analyte, observed; } READ[] = {
        {TW_OF_PH, TW_ANALYTE_PH, TW_OBSERVED_PH},
        {TW_OF_ALKALINITY, TW_ANALYTE_TOTAL_ALKALINITY, TW_OBSERVED_ALKALINITY},
        {TW_OF_CALCIUM, TW_ANALYTE_CALCIUM_HARDNESS, TW_OBSERVED_CALCIUM},
        {TW_OF_PHOSPHATE, TW_ANALYTE_PHOSPHATE, TW_OBSERVED_PHOSPHATE},
        {TW_OF_SALT, TW_ANALYTE_SALT, TW_OBSERVED_CHLORIDE},
        {TW_OF_CYANURATE, TW_ANALYTE_CYANURIC_ACID, TW_OBSERVED_CYANURATE},
        {TW_OF_CHLORINE, TW_ANALYTE_FREE_CHLORINE, TW_OBSERVED_FREE_CHLORINE}};
    for (size_t k = 0; k < sizeof READ / sizeof *READ; k++)
        (void)tw_procedure_test_of(s->read[READ[k].analyte], READ[k].observed, &a->test[READ[k].of]);
    a->air_read_sd = a->test[TW_OF_PH].sd_abs > 0.0 ? a->test[TW_OF_PH].sd_abs : a->air_read_sd;
}

static void air(const tw_scene *s, tw_course_ask *a)
{
    const tw_spread kla = tw_estimate_column(s->belief, TW_COLUMN_KLA_JETS_PER_H);
    const double warm_k = tw_estimate_column(s->belief, TW_COLUMN_TEMP_K).q50 - 293.15;
    a->air_hours = AIR_MOST_H;
    a->air_to_ph = TW_PROCEDURE_PH_AT_REST;
    if (!(kla.q50 > 0.0) || !(kla.q05 > 0.0))
        return;
    a->kla_jets_per_h = kla.q50 * tw_exp(KLA_PER_KELVIN * warm_k);
    a->kla_sd_ln = tw_log(kla.q95 / kla.q05) / 3.29;
}

/* What went in before and may still matter. */
static void befores(const tw_scene *s, tw_course_ask *a)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        const tw_substance *sub = e->kind == TW_KIND_ADDITION && e->at.utc_s >= s->start_s ? tw_procedure_substance_of(s, e) : NULL;
        if (sub == NULL)
            continue;
        if (a->befores == TW_COURSE_BEFORE)
            memmove(a->before, a->before + 1, --a->befores * sizeof *a->before);
        a->before[a->befores++] = (tw_course_before){sub->family, 60.0 * tw_procedure_hours_since(s, e)};
    }
}

double tw_procedure_ready_by_min(const tw_scene *s)
{
    const tw_entry *e = tw_logbook_book_latest(s->book, s->tub->id, s->now, TW_KIND_READY_BY);
    tw_time hour;
    if (e != NULL && tw_logbook_time(e, TW_FIELD_BY_TIME, &hour) == TW_OK && hour.utc_s > s->now.utc_s)
        return (double)(hour.utc_s - s->now.utc_s) / 60.0;
    return (double)NAN;
}

size_t tw_procedure_course_bytes(size_t members)
{
    return tw_dose_course_bytes(members);
}

tw_status tw_procedure_course(const tw_scene *s, tw_job_set jobs, size_t visits_most, tw_course_of_tub *to, tw_course *out)
{
    memset(to, 0, sizeof *to);
    tw_dose_course_defaults(&to->ask);
    to->waters = tw_procedure_waters(s);
    to->jobs = jobs;
    to->ask.waters = &to->waters;
    to->ask.pours = s->technician ? TW_WHO_TRAINED : TW_WHO_ANYONE;
    to->ask.rough_water_kg = rough_l(s) * s->belief->density_kg_per_l;
    to->ask.seed = s->belief->seed;
    to->ask.visits_most = visits_most;
    bands(s, jobs, &to->ask);
    products(s, jobs, to);
    tests(s, &to->ask);
    air(s, &to->ask);
    befores(s, &to->ask);
    tw_procedure_source_water(s, &to->ask.source);
    /* Chlorine alone is a course of its own: warm water is not left untreated for what acid and salt have spent. */
    const tw_job_set chlorine = 1u << TW_JOB_CHLORINE | 1u << TW_JOB_HOLDING | 1u << TW_JOB_BRIDGE;
    to->ask.risk = (jobs & ~chlorine) == 0 ? TW_PROCEDURE_RISK : tw_procedure_risk_left(s, TW_PROCEDURE_RISK, &to->pours);
    to->ask.ready_by_min = tw_procedure_ready_by_min(s);
    return tw_dose_course(&to->ask, s->mem, s->bytes, out);
}

int tw_procedure_job_of_addition(const tw_course_of_tub *asked, uint32_t stock, int own)
{
    const tw_effect effect = asked->row[stock]->effect;
    if (own < TW_JOBS && tw_procedure_jobs[own].effect == effect)
        return own;
    for (int j = 0; j < TW_JOBS; j++)
        if (has(asked->jobs, j) && tw_procedure_jobs[j].effect == effect)
            return j;
    return effect == TW_EFFECT_TA_DOWN ? TW_JOB_TRIM : own;
}
