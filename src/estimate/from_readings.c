/* estimate/from_readings.c: readings of the tub and of the water it was filled with. */
#include <math.h>
#include <string.h>

#include "estimate/from_book.h"
#include "estimate/instrument.h"
#include "num/elementary.h"
#include "units/decimal.h"

#define MIXING_H 0.25         /* a reading this soon after a dose is doubtful                */
#define MONITOR_SPACING_H 6.0 /* hours of a monitor that are used                            */
#define MAX_BLOCKS 16
#define NACL_PER_CHLORIDE 1.6484 /* g/mol 58.443 over 35.453                                 */

/* Who shares a bias: the same analyte by the same bottle, instrument or, unsaid, kind of instrument. */
typedef struct {
    int observed, tool;
    tw_text name;
} bias_key;

typedef struct {
    tw_from_book *f;
    bias_key key[TW_MAX_BIASES];
    double monitor_h[TW_OBSERVEDS];
} reader;

static int observed_of(int analyte, int tool)
{
    switch (analyte) {
    case TW_ANALYTE_PH: return TW_OBSERVED_PH;
    case TW_ANALYTE_TOTAL_ALKALINITY: return TW_OBSERVED_ALKALINITY;
    /* A strip's hardness pad shows calcium and magnesium, whatever its label says. */
    case TW_ANALYTE_CALCIUM_HARDNESS:
        return tool == TW_TOOL_STRIP ? TW_OBSERVED_HARDNESS : TW_OBSERVED_CALCIUM;
    case TW_ANALYTE_TOTAL_HARDNESS: return TW_OBSERVED_HARDNESS;
    case TW_ANALYTE_MAGNESIUM_HARDNESS: return TW_OBSERVED_MAGNESIUM;
    case TW_ANALYTE_FREE_CHLORINE: return TW_OBSERVED_FREE_CHLORINE;
    case TW_ANALYTE_TOTAL_CHLORINE: return TW_OBSERVED_TOTAL_CHLORINE;
    /* Combined chlorine by strip is not measured. */
    case TW_ANALYTE_COMBINED_CHLORINE: return tool == TW_TOOL_STRIP ? -1 : TW_OBSERVED_COMBINED_CHLORINE;
    case TW_ANALYTE_CYANURIC_ACID: return TW_OBSERVED_CYANURATE;
    case TW_ANALYTE_SALT:
    case TW_ANALYTE_CHLORIDE: return TW_OBSERVED_CHLORIDE;
    case TW_ANALYTE_CONDUCTIVITY: return TW_OBSERVED_CONDUCTIVITY;
    case TW_ANALYTE_PHOSPHATE: return TW_OBSERVED_PHOSPHATE;
    case TW_ANALYTE_SULFATE: return TW_OBSERVED_SULFATE;
    case TW_ANALYTE_BORON: return TW_OBSERVED_BORATE;
    default: return -1;
    }
}

static int tool_of(int word)
{
    switch (word) {
    case TW_INSTRUMENT_STRIP: return TW_TOOL_STRIP;
    case TW_INSTRUMENT_DROPS: return TW_TOOL_DROPS;
    case TW_INSTRUMENT_COMPARATOR: return TW_TOOL_COMPARATOR;
    case TW_INSTRUMENT_PHOTOMETER: return TW_TOOL_PHOTOMETER;
    case TW_INSTRUMENT_METER: return TW_TOOL_METER;
    case TW_INSTRUMENT_MONITOR: return TW_TOOL_MONITOR;
    case TW_INSTRUMENT_DISPLAY: return TW_TOOL_DISPLAY;
    case TW_INSTRUMENT_LABORATORY: return TW_TOOL_LABORATORY;
    case TW_INSTRUMENT_THERMOMETER: return TW_TOOL_THERMOMETER;
    case TW_INSTRUMENT_EYE: return TW_TOOL_EYE;
    case TW_INSTRUMENT_SUPPLIER: return TW_TOOL_SUPPLIER;
    default: return TW_TOOL_UNKNOWN;
    }
}

static int bias_of(reader *r, int observed, int tool, tw_text name, double sd)
{
    tw_problem *p = r->f->problem;
    for (size_t i = 0; i < p->biases; i++)
        if (r->key[i].observed == observed && r->key[i].tool == tool &&
            tw_units_text_equal(r->key[i].name, name))
            return (int)i;
    if (p->biases == TW_MAX_BIASES)
        return -1;
    r->key[p->biases].observed = observed;
    r->key[p->biases].tool = tool;
    r->key[p->biases].name = name;
    p->bias_sd[p->biases] = sd;
    return (int)p->biases++;
}

/* The user's own scale: values separated by blanks. 0 when there is none that can be read. */
static size_t own_scale(const tw_from_book *f, const tw_entry *e, double *block)
{
    const tw_text id = tw_logbook_text(e, TW_FIELD_SCALE);
    size_t n = 0;
    if (id.n == 0)
        return 0;
    const size_t at = tw_logbook_book_find(f->book, id);
    if (at == SIZE_MAX || !tw_logbook_book_used(f->book, at, f->now))
        return 0;
    const tw_text text = tw_logbook_text(tw_logbook_book_at(f->book, at), TW_FIELD_BLOCKS);
    size_t i = 0;
    while (i < text.n && n < MAX_BLOCKS) {
        size_t end = i;
        while (end < text.n && text.at[end] != ' ')
            end++;
        int decimals = 0;
        if (end > i &&
            tw_units_decimal_read(tw_units_text_part(text, i, end - i), &block[n], &decimals) == TW_OK &&
            (n == 0 || block[n] > block[n - 1]))
            n++;
        i = end + 1;
    }
    return n >= 2 ? n : 0;
}

static int soon_after_dose(const tw_problem *p, double at_h)
{
    for (size_t i = 0; i < p->doses; i++) {
        const double gone = at_h - p->dose[i].at_h;
        if (gone >= 0.0 && gone < MIXING_H)
            return 1;
    }
    return 0;
}

/* Make room: the oldest reading of the tub's water goes (volumes stay). */
static int room_for_one(tw_from_book *f)
{
    tw_problem *p = f->problem;
    if (p->readings < TW_MAX_READINGS)
        return 1;
    f->flags |= TW_BELIEF_TRUNCATED;
    for (size_t i = 0; i < p->readings; i++)
        if (p->reading[i].observed != TW_OBSERVED_WATER && !p->reading[i].source) {
            memmove(&p->reading[i], &p->reading[i + 1], (p->readings - i - 1) * sizeof *p->reading);
            p->readings--;
            return 1;
        }
    return 0;
}

static void add_reading(reader *r, const tw_written_reading *w, double at_h, int source, tw_text name,
                        double sample_c, size_t index)
{
    tw_problem *p = r->f->problem;
    double bias_sd = 0.0;
    tw_reading reading;
    if (tw_estimate_reading(w, &reading, &bias_sd) != TW_OK || !room_for_one(r->f))
        return;
    reading.at_h = at_h;
    reading.source = source;
    reading.temp_c = sample_c;
    reading.entry = (uint32_t)index;
    reading.bias = bias_sd > 0.0 ? bias_of(r, w->observed, w->instrument, name, bias_sd) : -1;
    if (reading.bias < 0 && bias_sd > 0.0) /* no room for another bias: it widens the reading */
        reading.sd = sqrt(reading.sd * reading.sd + bias_sd * bias_sd);
    p->reading[p->readings++] = reading;
}

static int is_of_source(const tw_entry *e)
{
    return tw_logbook_word(e, TW_FIELD_POINT) == TW_POINT_SOURCE || tw_logbook_has(e, TW_FIELD_SOURCE);
}

/* Readings of the source count when they name the source of this fill, or when no names are given. */
static int other_source(const tw_from_book *f, const tw_entry *e)
{
    const tw_text name = tw_logbook_text(e, TW_FIELD_SOURCE);
    return name.n > 0 && f->source.n > 0 && !tw_units_text_equal(name, f->source);
}

static int written_of(const tw_entry *e)
{
    switch (tw_logbook_word(e, TW_FIELD_FORM)) {
    case TW_READING_FORM_VALUE: return TW_WRITTEN_VALUE;
    case TW_READING_FORM_BETWEEN: return TW_WRITTEN_BETWEEN;
    case TW_READING_FORM_BELOW: return TW_WRITTEN_BELOW;
    case TW_READING_FORM_ABOVE: return TW_WRITTEN_ABOVE;
    default: return -1;
    }
}

static void take_reading(reader *r, const tw_entry *e, size_t index)
{
    tw_from_book *f = r->f;
    const double at = tw_estimate_book_hours(f, e->at);
    const int source = is_of_source(e);
    const int tool = tool_of(tw_logbook_word(e, TW_FIELD_INSTRUMENT));
    const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE);
    double block[MAX_BLOCKS];
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.observed = observed_of(analyte, tool);
    w.written = written_of(e);
    if (w.observed < 0 || w.written < 0 || (!source && at < 0.0) || (source && other_source(f, e)) ||
        (source && !f->fresh) || tw_logbook_word(e, TW_FIELD_POINT) == TW_POINT_JAR)
        return;
    if (tw_logbook_si(e, TW_FIELD_VALUE, &w.value) != TW_OK)
        return;
    if (w.written == TW_WRITTEN_BETWEEN && tw_logbook_si(e, TW_FIELD_HIGH, &w.high) != TW_OK)
        return;
    double sample_c = source ? 15.0 : tw_estimate_book_temp_c(f, at);
    if (source)
        (void)tw_logbook_si(e, TW_FIELD_SAMPLE_TEMP, &sample_c);
    w.instrument = tool;
    (void)tw_logbook_si(e, TW_FIELD_STEP, &w.step);
    w.dilution = 1.0;
    (void)tw_logbook_number(e, TW_FIELD_DILUTION, &w.dilution);
    w.blocks = own_scale(f, e, block);
    w.block = w.blocks > 0 ? block : NULL;
    const int decimals = tw_logbook_decimals(e, TW_FIELD_VALUE);
    w.decimals = decimals < 0 ? 0 : decimals;
    w.density_kg_per_l = tw_estimate_water_density(sample_c);
    w.doubtful = tw_logbook_has(e, TW_FIELD_DOUBT) || (!source && soon_after_dose(f->problem, at));
    if (analyte == TW_ANALYTE_CHLORIDE) { /* the room's chloride is counted as NaCl */
        w.value *= NACL_PER_CHLORIDE;
        w.high *= NACL_PER_CHLORIDE;
        w.step *= NACL_PER_CHLORIDE;
    }
    tw_text name = tw_logbook_text(e, TW_FIELD_LOT);
    if (name.n == 0)
        name = tw_logbook_text(e, TW_FIELD_SERIAL);
    add_reading(r, &w, at < 0.0 ? 0.0 : at, source, name, sample_c, index);
}

static void take_monitor_hour(reader *r, const tw_entry *e, size_t index)
{
    tw_from_book *f = r->f;
    const double at = tw_estimate_book_hours(f, e->at);
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.instrument = TW_TOOL_MONITOR;
    w.observed = observed_of(tw_logbook_word(e, TW_FIELD_ANALYTE), TW_TOOL_MONITOR);
    if (w.observed < 0 || at < 0.0 || at - r->monitor_h[w.observed] < MONITOR_SPACING_H ||
        tw_logbook_si(e, TW_FIELD_MEDIAN, &w.value) != TW_OK)
        return;
    r->monitor_h[w.observed] = at;
    w.written = TW_WRITTEN_VALUE;
    w.dilution = 1.0;
    w.decimals = tw_logbook_decimals(e, TW_FIELD_MEDIAN);
    const double temp_c = tw_estimate_book_temp_c(f, at);
    w.density_kg_per_l = tw_estimate_water_density(temp_c);
    add_reading(r, &w, at, 0, tw_logbook_text(e, TW_FIELD_SERIAL), temp_c, index);
}

/* The cell may be another one once the salt is: heaps that dissolve, salt that was added. A jump of
 * the measured salt by a fifth while the generator runs begins a new condition of the cell. */
static void cells_by_salt(tw_from_book *f)
{
    tw_problem *p = f->problem;
    double base = 0.0, jump_h[TW_MAX_CELLS];
    size_t jumps = 0;
    for (size_t i = 0; i < p->readings && jumps < TW_MAX_CELLS - 1; i++) {
        const tw_reading *r = &p->reading[i];
        if (r->source || r->form != TW_FORM_VALUE || r->rubbish > 0.1 ||
            (r->observed != TW_OBSERVED_CHLORIDE && r->observed != TW_OBSERVED_CONDUCTIVITY))
            continue;
        double on_h = 0.0; /* generator hours before this reading */
        for (size_t k = 0; k + 1 < p->settings; k++)
            if (p->setting[k].at_h < r->at_h)
                on_h += p->setting[k].duty * (p->setting[k + 1].at_h - p->setting[k].at_h);
        const double key = r->value + (r->observed == TW_OBSERVED_CHLORIDE ? 0.0 : 1000.0);
        if (on_h >= 6.0 && base > 0.0 && fabs(key - base) < 500.0 && fabs(key - base) > 0.18)
            jump_h[jumps++] = r->at_h;
        base = key;
    }
    for (size_t j = 0; j < jumps; j++)
        for (size_t k = 0; k < p->settings; k++)
            if (p->setting[k].at_h >= jump_h[j] - 1e-9 && p->setting[k].cell + 1 < TW_MAX_CELLS)
                p->setting[k].cell++;
    for (size_t k = 0; k < p->settings; k++)
        if ((size_t)p->setting[k].cell + 1 > p->cells)
            p->cells = (size_t)p->setting[k].cell + 1;
}

void tw_estimate_book_readings(tw_from_book *f)
{
    reader r;
    memset(&r, 0, sizeof r);
    r.f = f;
    for (int i = 0; i < TW_OBSERVEDS; i++)
        r.monitor_h[i] = -1e9;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(f->book, f->tub, f->now, &cursor)) != NULL) {
        if (e->kind == TW_KIND_READING)
            take_reading(&r, e, cursor - 1);
        else if (e->kind == TW_KIND_MONITOR_HOUR)
            take_monitor_hour(&r, e, cursor - 1);
    }
    cells_by_salt(f);
}
