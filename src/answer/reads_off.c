/* answer/reads_off.c: by how much each bottle, kit and meter is off, and what its last reading counts as.
 *
 * Old readings are weighed anew, never rewritten: the logbook keeps what was read, and this says what is made of it. */
#include <math.h>

#include "answer/views.h"
#include "estimate/from_entry.h"
#include "num/elementary.h"
#include "procedure/tables.h"

static int same_text(const tw_entry *a, const tw_entry *b, tw_field field)
{
    return tw_units_text_equal(tw_logbook_text(a, field), tw_logbook_text(b, field));
}

/* The last value read by the same bottle or instrument, before it was set to a standard. */
static const tw_entry *last_by_it(const tw_core *core, const tw_tub *tub, tw_time now, const tw_entry *first)
{
    const tw_entry *last = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(core->book, tub->id, now, &cursor)) != NULL) {
        if (e == first)
            last = e;
        if (last == NULL || !same_text(e, first, TW_FIELD_ANALYTE) || !same_text(e, first, TW_FIELD_INSTRUMENT) ||
            !same_text(e, first, TW_FIELD_SERIAL))
            continue;
        if (e->kind == TW_KIND_STANDARD && tw_logbook_word(e, TW_FIELD_ADJUSTED) == TW_YES_NO_YES)
            break;
        if (e->kind == first->kind && tw_logbook_has(e, TW_FIELD_VALUE) && same_text(e, first, TW_FIELD_LOT))
            last = e;
    }
    return last != NULL ? last : first;
}

static double off_scale(const tw_reading *r, double on_scale)
{
    return r->link == TW_LINK_LN ? tw_exp(on_scale) - r->offset : on_scale;
}

/* What the reading would be if the instrument were right, as typed; NaN when it cannot be said. */
static double counts_as(const tw_core *core, const tw_entry *e, tw_time now, double density, double shift, double *typed)
{
    double block[TW_MAX_BLOCKS], bias_sd;
    tw_written_reading w;
    tw_reading r;
    if (tw_estimate_written(core->book, e, now, density, block, &w) != TW_OK || tw_estimate_reading(&w, &r, &bias_sd) != TW_OK)
        return (double)NAN;
    const double inside = tw_estimate_inside_factor(w.observed, density);
    double on_scale = tw_estimate_on_scale(&r, w.value * inside);
    if (w.written == TW_WRITTEN_BETWEEN) /* two blocks: their middle, as the eye sees it */
        on_scale = 0.5 * (on_scale + tw_estimate_on_scale(&r, w.high * inside));
    *typed = w.written == TW_WRITTEN_BETWEEN ? off_scale(&r, on_scale) / inside : w.value;
    return off_scale(&r, on_scale - shift) / inside;
}

/* A lot or a serial number; else the sort of instrument. */
static tw_text name_of(const tw_entry *e)
{
    const tw_text lot = tw_logbook_text(e, TW_FIELD_LOT), serial = tw_logbook_text(e, TW_FIELD_SERIAL);
    if (lot.n > 0 || serial.n > 0)
        return lot.n > 0 ? lot : serial;
    return tw_logbook_has(e, TW_FIELD_INSTRUMENT) ? tw_logbook_text(e, TW_FIELD_INSTRUMENT) : tw_units_text("?");
}

/* More than one sd of what was assumed, or surely not right. */
static int is_off(const tw_shared_bias *b)
{
    return fabs(b->shift.q50) > b->sd || b->shift.q05 > 0.0 || b->shift.q95 < 0.0;
}

/* What is off by a factor, by the decimals in which its analyte is read; what is off by a difference says them itself. */
static void say_value(tw_said *said, const char *name, int by_factor, int analyte, double value)
{
    if (by_factor)
        tw_units_say_amount(said, name, value, (int)tw_logbook_analyte(analyte)->decimals, tw_units_text(""));
    else
        tw_units_say_number(said, name, value);
}

static tw_said sentence(const tw_core *core, const tw_tub *tub, tw_time now, const tw_shared_bias *b, const tw_entry *first,
                        double density)
{
    static const tw_message SAY[2][2] = {{TW_SAY_READS_LOW, TW_SAY_READS_HIGH}, {TW_SAY_READS_LOW_SHARE, TW_SAY_READS_HIGH_SHARE}};
    const int analyte = tw_logbook_word(first, TW_FIELD_ANALYTE);
    const int high = b->shift.q50 > 0.0;
    const double unit = b->by_factor ? 1.0 : 1.0 / tw_estimate_inside_factor(b->observed, density);
    double q[3] = {b->shift.q05, b->shift.q50, b->shift.q95}, typed = 0.0;
    for (int i = 0; i < 3; i++)
        q[i] = b->by_factor ? tw_expm1(q[i]) : unit * q[i];
    const double counts = counts_as(core, last_by_it(core, tub, now, first), now, density, b->shift.q50, &typed);
    tw_said said = tw_units_say(SAY[b->by_factor != 0][high]);
    tw_units_say_message(&said, "what", tw_procedure_analyte_message(analyte));
    tw_units_say_text(&said, "by", name_of(first));
    tw_units_say_number(&said, "off", high ? q[1] : -q[1]);
    tw_units_say_number(&said, "from", high ? q[0] : -q[2]);
    tw_units_say_number(&said, "to", high ? q[2] : -q[0]);
    tw_units_say_number(&said, "before", 1.645 * (b->by_factor ? b->sd : unit * b->sd));
    say_value(&said, "typed", b->by_factor, analyte, counts == counts ? typed : 0.0);
    say_value(&said, "counts", b->by_factor, analyte, counts == counts ? counts : 0.0);
    return said;
}

static void tell_data(tw_sink *sink, const tw_entry *first, const tw_shared_bias *b, double density)
{
    const double unit = b->by_factor ? 1.0 : 1.0 / tw_estimate_inside_factor(b->observed, density);
    tw_answer_item(sink);
    tw_answer_text(sink, TW_KEY_ENTRY, first->id);
    tw_answer_string(sink, TW_KEY_ANALYTE, tw_logbook_word_name(TW_SET_ANALYTE, tw_logbook_word(first, TW_FIELD_ANALYTE)));
    tw_answer_text(sink, TW_KEY_INSTRUMENT, name_of(first));
    tw_answer_flag(sink, TW_KEY_BY_FACTOR, b->by_factor);
    tw_answer_spread(sink, TW_KEY_SHIFT, unit * b->shift.q05, unit * b->shift.q50, unit * b->shift.q95);
    tw_answer_number(sink, TW_KEY_SHIFT_BEFORE, unit * b->sd);
    tw_answer_close(sink);
}

void tw_answer_tell_reads_off(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_READS_OFF);
    for (uint32_t i = 0; i < belief->biases; i++)
        if (is_off(&belief->bias[i])) {
            const tw_said said = sentence(core, tub, ask->now, &belief->bias[i], tw_logbook_book_at(core->book, belief->bias[i].entry),
                                          belief->density_kg_per_l);
            tw_answer_words(sink, TW_KEY_READS_OFF, &said);
        }
    tw_answer_close(sink);
    tw_answer_open_list(sink, TW_KEY_INSTRUMENTS);
    for (uint32_t i = 0; i < belief->biases; i++)
        tell_data(sink, tw_logbook_book_at(core->book, belief->bias[i].entry), &belief->bias[i], belief->density_kg_per_l);
    tw_answer_close(sink);
}
