/* answer/lately.c: what was read and done in the hours before, as a drawing of free chlorine shows it: readings with
 * what they say by themselves, doses with their rest, people in the water, changes of the duty. */
#include <math.h>

#include "answer/views.h"
#include "dose/substance.h"
#include "estimate/from_entry.h"
#include "num/elementary.h"

#define BEFORE_S (12 * 3600)
#define Z90 1.645 /* half of a normal's 90 % interval, sd */

static double off_scale(const tw_reading *r, double on_scale)
{
    return r->link == TW_LINK_LN ? tw_exp(on_scale) - r->offset : on_scale;
}

/* Low, middle and high of one reading by its instrument, in the unit as typed; an open end, or the middle of an interval, is NaN. */
static void tell_read_as(const tw_core *core, const tw_entry *e, tw_time now, double density, tw_sink *sink)
{
    double block[TW_MAX_BLOCKS], bias_sd;
    tw_written_reading w;
    tw_reading r;
    if (tw_estimate_written(core->book, e, now, density, block, &w) != TW_OK || tw_estimate_reading(&w, &r, &bias_sd) != TW_OK)
        return;
    const double inside = tw_estimate_inside_factor(w.observed, density);
    const int value = r.form == TW_FORM_VALUE;
    const double low = off_scale(&r, (value ? r.value : r.low) - Z90 * r.sd) / inside;
    const double high = off_scale(&r, (value ? r.value : r.high) + Z90 * r.sd) / inside;
    const double typed = w.written == TW_WRITTEN_VALUE ? w.value : (double)NAN;
    tw_answer_spread(sink, TW_KEY_READ_AS, isfinite(low) ? (low > 0.0 ? low : 0.0) : (double)NAN, typed, isfinite(high) ? high : (double)NAN);
}

/* What the drawing takes it for; NULL: it does not show it. */
static const char *drawn_as(const tw_entry *e)
{
    switch ((int)e->kind) {
    case TW_KIND_READING:
        return tw_logbook_word(e, TW_FIELD_ANALYTE) == TW_ANALYTE_FREE_CHLORINE && !tw_logbook_has(e, TW_FIELD_SOURCE) ? "reading" : NULL;
    case TW_KIND_ADDITION:
        return "dose";
    case TW_KIND_BATHERS:
        return "bathers";
    case TW_KIND_SETTING:
        return tw_logbook_word(e, TW_FIELD_WHAT) == TW_SETTING_DUTY ? "duty" : NULL;
    default:
        return NULL;
    }
}

/* Until when no reading means anything after a dose (data/waits.csv). */
static void tell_rest(const tw_entry *e, tw_sink *sink)
{
    const tw_substance *s = tw_dose_substance_find(tw_logbook_text(e, TW_FIELD_SUBSTANCE));
    if (s == NULL)
        return;
    tw_time until = e->at;
    until.utc_s += (int64_t)(60.0 * tw_dose_waits[s->effect].test_min);
    tw_answer_time(sink, TW_KEY_REST_UNTIL, until);
}

void tw_answer_tell_lately(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink)
{
    const tw_entry *e = NULL;
    size_t cursor = 0;
    tw_answer_open_list(sink, TW_KEY_LATELY);
    while ((e = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        const char *as = e->at.utc_s >= ask->now.utc_s - BEFORE_S ? drawn_as(e) : NULL;
        if (as == NULL)
            continue;
        tw_answer_item(sink);
        tw_answer_time(sink, TW_KEY_LATELY_AT, e->at);
        tw_answer_text(sink, TW_KEY_ENTRY, e->id);
        tw_answer_string(sink, TW_KEY_DRAWN_AS, as);
        const tw_said said = tw_answer_describe(e);
        tw_answer_words(sink, TW_KEY_LATELY_SAID, &said);
        if (e->kind == TW_KIND_READING)
            tell_read_as(core, e, ask->now, belief->density_kg_per_l, sink);
        if (e->kind == TW_KIND_ADDITION)
            tell_rest(e, sink);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}
