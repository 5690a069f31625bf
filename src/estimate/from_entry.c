/* estimate/from_entry.c: an entry of kind reading as the table of instruments takes it. */
#include "estimate/from_entry.h"

#include <math.h>
#include <string.h>

#include "gen/estimate_tables.h"
#include "units/decimal.h"

int tw_estimate_observed_of(int analyte, int tool)
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

/* The user's own scale: values separated by blanks. 0 when there is none that can be read. */
static size_t own_scale(const tw_book *book, const tw_entry *e, tw_time now, double *block)
{
    const tw_text id = tw_logbook_text(e, TW_FIELD_SCALE);
    size_t n = 0;
    if (id.n == 0)
        return 0;
    const size_t at = tw_logbook_book_find(book, id);
    if (at == SIZE_MAX || !tw_logbook_book_used(book, at, now))
        return 0;
    const tw_text text = tw_logbook_text(tw_logbook_book_at(book, at), TW_FIELD_BLOCKS);
    size_t i = 0;
    while (i < text.n && n < TW_MAX_BLOCKS) {
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

tw_status tw_estimate_written(const tw_book *book, const tw_entry *e, tw_time now, double density_kg_per_l,
                              double block[TW_MAX_BLOCKS], tw_written_reading *out)
{
    const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE);
    memset(out, 0, sizeof *out);
    out->instrument = tool_of(tw_logbook_word(e, TW_FIELD_INSTRUMENT));
    out->observed = tw_estimate_observed_of(analyte, out->instrument);
    out->written = written_of(e);
    if (out->observed < 0 || out->written < 0 || tw_logbook_si(e, TW_FIELD_VALUE, &out->value) != TW_OK)
        return TW_ERR_UNKNOWN;
    if (out->written == TW_WRITTEN_BETWEEN && tw_logbook_si(e, TW_FIELD_HIGH, &out->high) != TW_OK)
        return TW_ERR_UNKNOWN;
    (void)tw_logbook_si(e, TW_FIELD_STEP, &out->step);
    out->dilution = 1.0;
    (void)tw_logbook_number(e, TW_FIELD_DILUTION, &out->dilution);
    out->blocks = own_scale(book, e, now, block);
    out->block = out->blocks > 0 ? block : NULL;
    const int decimals = tw_logbook_decimals(e, TW_FIELD_VALUE);
    out->decimals = decimals < 0 ? 0 : decimals;
    out->density_kg_per_l = density_kg_per_l;
    out->doubtful = tw_logbook_has(e, TW_FIELD_DOUBT);
    if (analyte == TW_ANALYTE_CHLORIDE) { /* the room's chloride is counted as NaCl */
        out->value *= TW_NACL_PER_CHLORIDE;
        out->high *= TW_NACL_PER_CHLORIDE;
        out->step *= TW_NACL_PER_CHLORIDE;
    }
    return TW_OK;
}

/* What a technical buffer of this name has at a temperature; other solutions are taken as their bottle says. */
static double buffer_at(double named, double temp_c)
{
    double ph = named;
    for (size_t i = 0; i + 1 < tw_estimate_buffer_count; i++) {
        const tw_buffer_row *low = &tw_estimate_buffers[i], *high = low + 1;
        if (fabs(named - low->named) > 0.005 || high->named > low->named || temp_c < low->temp_c)
            continue; /* rows of one buffer rise with the temperature */
        const double w = (temp_c - low->temp_c) / (high->temp_c - low->temp_c);
        ph = low->ph + (w < 1.0 ? w : 1.0) * (high->ph - low->ph);
    }
    return ph;
}

tw_status tw_estimate_standard(const tw_entry *e, double density_kg_per_l, tw_written_reading *out, double *nominal)
{
    const int analyte = tw_logbook_word(e, TW_FIELD_ANALYTE);
    double value = 0.0, temp_c = 0.0;
    memset(out, 0, sizeof *out);
    out->instrument = tool_of(tw_logbook_word(e, TW_FIELD_INSTRUMENT));
    out->observed = tw_estimate_observed_of(analyte, out->instrument);
    out->written = TW_WRITTEN_VALUE;
    out->dilution = 1.0;
    out->density_kg_per_l = density_kg_per_l;
    const int decimals = tw_logbook_decimals(e, TW_FIELD_VALUE);
    out->decimals = decimals < 0 ? 0 : decimals;
    if (out->observed < 0 || tw_logbook_si(e, TW_FIELD_VALUE, &out->value) != TW_OK ||
        tw_logbook_si(e, TW_FIELD_NOMINAL, &value) != TW_OK)
        return TW_ERR_UNKNOWN;
    if (analyte == TW_ANALYTE_PH && tw_logbook_si(e, TW_FIELD_TEMPERATURE, &temp_c) == TW_OK)
        value = buffer_at(value, temp_c);
    if (analyte == TW_ANALYTE_CHLORIDE) {
        out->value *= TW_NACL_PER_CHLORIDE;
        value *= TW_NACL_PER_CHLORIDE;
    }
    if (nominal != NULL)
        *nominal = value;
    return TW_OK;
}
