/* procedure/spent.c: see spent.h. The planner itself said more exactly what each visit would spend, from what was
 * believed then; that is not written down, and a belief of each past hour would have to be sampled to know it. From the
 * readings before a pour, its grams and the volume the same chance follows to some tenths, which is enough to share
 * out what is left. */
#include "procedure/spent.h"

#include <math.h>

#include "dose/substance.h"
#include "estimate/events.h"
#include "estimate/instrument.h"
#include "num/elementary.h"
#include "num/normal.h"
#include "procedure/residual.h"
#include "water/edge.h"

#define APART_H 24.0      /* a day without a pour ends a course once the water is made; assumed */
#define READ_BEFORE_H 3.0 /* as acids_just_read of met.c: an older reading tells nothing        */
#define WEIGHING_SD_LN 0.01

int tw_procedure_test_of(const tw_entry *e, int observed, tw_course_test *out)
{
    const tw_instrument_row *row = e != NULL ? tw_estimate_instrument(tw_logbook_word(e, TW_FIELD_INSTRUMENT), observed) : NULL;
    double step = 0.0;
    if (row == NULL)
        return 0;
    *out = (tw_course_test){row->sd_abs, row->sd_rel, row->step};
    if (row->model == TW_ERROR_DROPS) {
        if (tw_logbook_number(e, TW_FIELD_STEP, &step) == TW_OK && step > 0.0)
            out->step = step;
        out->sd_abs = 0.5 * out->step; /* half a drop: data/instruments.csv */
    } else if (row->model == TW_ERROR_BLOCKS && row->blocks > 1) {
        out->step = (row->block[row->blocks - 1] - row->block[0]) / (double)(row->blocks - 1);
    }
    return 1;
}

/* What every pour is judged in: the middle water of now, for its other acids. */
typedef struct {
    tw_water middle;
    tw_reduced acids;
    double kg, kg_sd_ln, solvent_kg_per_l;
} water_now;

/* A reading's value and its sd; 0 when it says no number or comes too long before the pour. */
static int read_before(const tw_entry *e, const tw_entry *pour, double most_h, int observed, double *value, double *sd)
{
    tw_course_test t = {0.0, 0.0, 0.0};
    if (e == NULL || (double)(pour->at.utc_s - e->at.utc_s) > 3600.0 * most_h || tw_logbook_si(e, TW_FIELD_VALUE, value) != TW_OK ||
        !tw_procedure_test_of(e, observed, &t))
        return 0;
    *sd = sqrt(t.sd_abs * t.sd_abs + t.sd_rel * t.sd_rel * *value * *value + t.step * t.step / 12.0);
    return 1;
}

static double ph_after(const water_now *w, double ph, double ta_mg_per_l, double eq_per_kg)
{
    tw_reduced_water q = tw_water_reduced_acids(w->middle.total_mol_per_kg);
    tw_reduced_answer a;
    q.alk = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(ta_mg_per_l, w->solvent_kg_per_l);
    const double dic = tw_water_reduced_dic_at_ph(&w->acids, &q, ph);
    q.dic = dic > 1e-6 ? dic : 1e-6;
    q.alk += eq_per_kg;
    tw_water_reduced_solve(&w->acids, &q, &a);
    return a.ph;
}

/* Chance that acid or base crossed its limit of pH or of alkalinity; negative: nothing tells. */
static double of_acid(const tw_scene *s, const water_now *w, const tw_entry *pour, const tw_substance *sub, double grams,
                      const tw_entry *read_ph, const tw_entry *read_ta)
{
    double ph, ph_sd, ta, ta_sd;
    if (!read_before(read_ph, pour, READ_BEFORE_H, TW_OBSERVED_PH, &ph, &ph_sd) ||
        !read_before(read_ta, pour, 48.0, TW_OBSERVED_ALKALINITY, &ta, &ta_sd))
        return -1.0;
    const double brought = grams * tw_dose_alk_eq_per_g(sub) / w->kg, way = brought < 0.0 ? -1.0 : 1.0;
    const double rel = sqrt(w->kg_sd_ln * w->kg_sd_ln + sub->assay_sd_ln * sub->assay_sd_ln + WEIGHING_SD_LN * WEIGHING_SD_LN);
    const double each = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(1.0, w->solvent_kg_per_l);
    const tw_band of_ph = tw_procedure_bands[TW_BAND_PH], of_ta = tw_procedure_band(s, TW_BAND_TA);
    const double middle = ph_after(w, ph, ta, brought), by_ph = ph_after(w, ph + ph_sd, ta, brought) - middle,
                 by_ta = ph_after(w, ph, ta + ta_sd, brought) - middle, by_dose = ph_after(w, ph, ta, brought * (1.0 + rel)) - middle;
    const double sd = sqrt(by_ph * by_ph + by_ta * by_ta + by_dose * by_dose);
    const double limit_ph = way < 0.0 ? of_ph.hard_low : of_ph.hard_high, limit_ta = way < 0.0 ? of_ta.hard_low : of_ta.hard_high;
    const double ta_after = ta + brought / each, ta_after_sd = sqrt(ta_sd * ta_sd + rel * rel * brought * brought / (each * each));
    const double over = tw_normal_cdf(way * (middle - limit_ph) / sd) + tw_normal_cdf(way * (ta_after - limit_ta) / ta_after_sd);
    return over < 1.0 ? over : 1.0;
}

/* Salt and calcium do not leave: what they crossed shows in what is believed now. */
static double of_what_stays(const tw_scene *s, tw_effect effect)
{
    const tw_band band = effect == TW_EFFECT_SALT_UP ? tw_procedure_band(s, TW_BAND_SALT) : tw_procedure_band(s, TW_BAND_CH);
    const double limit = effect == TW_EFFECT_SALT_UP ? band.hard_high : band.high;
    const tw_spread now = tw_estimate_now(s->belief, effect == TW_EFFECT_SALT_UP ? TW_OBSERVED_CHLORIDE : TW_OBSERVED_CALCIUM);
    return tw_normal_cdf(3.29 * (now.q50 - limit) / (now.q95 - now.q05));
}

static int water_of(const tw_scene *s, water_now *w)
{
    const tw_waters all = tw_procedure_waters(s);
    const tw_spread kg = tw_estimate_column(s->belief, TW_COLUMN_WATER_KG);
    w->solvent_kg_per_l = all.solvent_kg_per_l;
    w->kg_sd_ln = tw_log(kg.q95 / kg.q05) / 3.29;
    return tw_dose_frozen(&all, s->mem, s->bytes, &w->middle, &w->kg, &w->acids) == TW_OK;
}

double tw_procedure_risk_left(const tw_scene *s, double risk, uint32_t *pours)
{
    const int made = s->in_care || tw_procedure_generating(s);
    const tw_entry *e, *read_ph = NULL, *read_ta = NULL;
    double left = risk;
    int64_t last_s = INT64_MIN;
    size_t cursor = 0;
    water_now w;
    const int solved = water_of(s, &w);
    *pours = 0;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        if (e->at.utc_s < s->start_s)
            continue;
        if (e->kind == TW_KIND_READING && !tw_logbook_has(e, TW_FIELD_SOURCE)) {
            const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE);
            read_ph = analyte == TW_ANALYTE_PH ? e : read_ph;
            read_ta = analyte == TW_ANALYTE_TOTAL_ALKALINITY ? e : read_ta;
        }
        const tw_substance *sub = e->kind == TW_KIND_ADDITION ? tw_procedure_substance_of(s, e) : NULL;
        if (sub == NULL || sub->effect == TW_EFFECT_FC_UP || sub->effect == TW_EFFECT_FC_DOWN)
            continue;
        if (made && last_s != INT64_MIN && (double)(e->at.utc_s - last_s) > 3600.0 * APART_H) {
            left = risk;
            *pours = 0;
        }
        const int acid = sub->effect == TW_EFFECT_TA_DOWN || sub->effect == TW_EFFECT_TA_UP;
        const double share = 0.5 * left, grams = tw_procedure_grams_of(s, e, sub);
        double chance = -1.0;
        if (acid && solved && grams == grams)
            chance = of_acid(s, &w, e, sub, grams, read_ph, read_ta);
        else if (sub->effect == TW_EFFECT_SALT_UP || sub->effect == TW_EFFECT_CH_UP)
            chance = of_what_stays(s, sub->effect);
        if (acid) /* a second pour on the same reading rests on nothing */
            read_ph = NULL;
        left -= chance >= 0.0 && chance < share ? chance : share; /* the margin is the planner's: it pays it once */
        (*pours)++;
        last_s = e->at.utc_s;
    }
    if (made && last_s != INT64_MIN && (double)(s->now.utc_s - last_s) > 3600.0 * APART_H) {
        left = risk;
        *pours = 0;
    }
    return left;
}
