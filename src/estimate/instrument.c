/* estimate/instrument.c: what a written reading says about the water, by the table of instruments. */
#include "estimate/instrument.h"

#include <math.h>
#include <string.h>

#include "gen/estimate_tables.h"
#include "num/elementary.h"
#include "num/normal.h"

#define OPEN_END 1e308     /* an interval's end that is no end        */
#define RUBBISH 0.02       /* any reading may be rubbish              */
#define RUBBISH_DOUBTFUL 0.3

const tw_instrument_row *tw_estimate_instrument(int instrument, int observed)
{
    for (size_t i = 0; i < tw_estimate_instrument_count; i++)
        if (tw_estimate_instruments[i].instrument == instrument &&
            tw_estimate_instruments[i].observed == observed)
            return &tw_estimate_instruments[i];
    return NULL;
}

double tw_estimate_inside_factor(int observed, double density_kg_per_l)
{
    /* g/mol (of a mole of charge for alkalinity): IUPAC 2021 atomic weights. */
    switch (observed) {
    case TW_OBSERVED_FREE_CHLORINE:
    case TW_OBSERVED_TOTAL_CHLORINE:
    case TW_OBSERVED_COMBINED_CHLORINE: return 1.0 / density_kg_per_l;
    case TW_OBSERVED_ALKALINITY: return 1.0 / (50.0435 * density_kg_per_l);
    case TW_OBSERVED_CALCIUM:
    case TW_OBSERVED_HARDNESS:
    case TW_OBSERVED_MAGNESIUM: return 1.0 / (100.087 * density_kg_per_l);
    case TW_OBSERVED_CHLORIDE: return 1.0 / (58.443 * density_kg_per_l);
    case TW_OBSERVED_CYANURATE: return 1.0 / (129.0742 * density_kg_per_l);
    case TW_OBSERVED_PHOSPHATE: return 1.0 / (94.971 * density_kg_per_l);
    case TW_OBSERVED_SULFATE: return 1.0 / (96.06 * density_kg_per_l);
    case TW_OBSERVED_BORATE: return 1.0 / (10.81 * density_kg_per_l);
    default: return 1.0;
    }
}

/* From a value inside to the scale of the reading's error. */
static double on_scale(const tw_reading *r, double inside)
{
    if (r->link == TW_LINK_PLAIN)
        return inside;
    const double x = inside + r->offset;
    return tw_log(x > 1e-9 ? x : 1e-9);
}

static void open_ends(tw_reading *r)
{
    r->form = TW_FORM_INTERVAL;
    r->low = -OPEN_END;
    r->high = OPEN_END;
    r->bleach_low = OPEN_END;
}

/* "between", "below" and "above" mean the same for every instrument. TW_ERR_RANGE: no interval. */
static tw_status bounded(const tw_written_reading *w, double to_inside, tw_reading *r)
{
    open_ends(r);
    if (w->written == TW_WRITTEN_BETWEEN) {
        if (!(w->high > w->value))
            return TW_ERR_RANGE;
        r->low = on_scale(r, w->value * to_inside);
        r->high = on_scale(r, w->high * to_inside);
    } else if (w->written == TW_WRITTEN_BELOW) {
        r->high = on_scale(r, w->value * to_inside);
    } else {
        r->low = on_scale(r, w->value * to_inside);
    }
    return TW_OK;
}

/* A pad whose colour fades above `bleach` also looks empty there. */
static void may_be_bleached(const tw_instrument_row *row, double to_inside, tw_reading *r)
{
    if (row->bleach > 0.0 && r->low <= -OPEN_END)
        r->bleach_low = on_scale(r, row->bleach * to_inside);
}

static tw_status blocks(const tw_instrument_row *row, const tw_written_reading *w, double to_inside,
                        tw_reading *r)
{
    const double *block = w->block ? w->block : row->block;
    const size_t n = w->block ? w->blocks : row->blocks;
    if (n < 2)
        return TW_ERR_RANGE;
    double least = block[0] > 0.0 ? block[0] : block[1];
    r->link = row->sd_rel > 0.0 ? TW_LINK_LN : TW_LINK_PLAIN;
    r->offset = r->link == TW_LINK_LN ? 0.25 * least * to_inside : 0.0;
    r->sd = r->link == TW_LINK_LN ? row->sd_rel : row->sd_abs * to_inside;
    r->span = (double)n;
    if (w->written != TW_WRITTEN_VALUE)
        return bounded(w, to_inside, r);
    open_ends(r);
    for (size_t i = 0; i < n; i++) {
        const double here = on_scale(r, block[i] * to_inside);
        if (fabs(block[i] - w->value) <= 1e-9 * (1.0 + fabs(w->value))) {
            if (i > 0)
                r->low = 0.5 * (here + on_scale(r, block[i - 1] * to_inside));
            if (i + 1 < n)
                r->high = 0.5 * (here + on_scale(r, block[i + 1] * to_inside));
            return TW_OK;
        }
        /* A value that is no block was seen between its neighbours. */
        if (block[i] < w->value)
            r->low = here;
        else if (r->high >= OPEN_END)
            r->high = here;
    }
    return TW_OK;
}

double tw_estimate_drop_step(const tw_instrument_row *row, const tw_written_reading *w)
{
    static const double PART[] = {1.0, 0.5, 0.4, 0.2, 0.1};
    if (w->step > 0.0)
        return w->step;
    for (size_t i = 0; i < sizeof PART / sizeof *PART; i++) {
        const double step = row->step * PART[i], count = w->value / step;
        if (fabs(count - floor(count + 0.5)) < 1e-6)
            return step;
    }
    return row->step * 0.1;
}

static tw_status drops(const tw_instrument_row *row, const tw_written_reading *w, double to_inside,
                       tw_reading *r)
{
    const double step = tw_estimate_drop_step(row, w) * w->dilution;
    /* A sample measured too full or too thin: relative error; a drop more or less: half a drop
     * (0.6 for end points that turn slowly, which are those with a relative error). */
    const double one = row->sd_rel > 0.0 ? 0.6 : 0.5;
    const double rel = row->sd_rel * w->value;
    r->link = TW_LINK_PLAIN;
    r->sd = sqrt(one * step * one * step + rel * rel) * to_inside;
    const double steps = row->high / step;
    r->span = steps > 8.0 ? steps : 8.0;
    if (w->written != TW_WRITTEN_VALUE)
        return bounded(w, to_inside, r);
    open_ends(r);
    r->high = w->value * to_inside;
    if (w->value > 0.5 * step)
        r->low = (w->value - step) * to_inside;
    return TW_OK;
}

static double power_of_ten(int decimals)
{
    double x = 1.0;
    for (int i = 0; i < decimals && i < 12; i++)
        x *= 0.1;
    return x;
}

static tw_status plain(const tw_instrument_row *row, const tw_written_reading *w, double to_inside,
                       tw_reading *r)
{
    const double digit = w->step > 0.0 ? w->step : power_of_ten(w->decimals);
    const double least = digit > row->step ? digit : row->step;
    const double width = least * w->dilution * to_inside;
    const double value = w->value * to_inside;
    if (row->sd_rel > 0.0) {
        /* sd of the value: abs + rel*value, even on the scale of ln(value + abs/rel). */
        r->link = TW_LINK_LN;
        r->offset = row->sd_abs * w->dilution * to_inside / row->sd_rel;
        r->offset = r->offset > 1e-6 ? r->offset : 1e-6;
        const double relative = width / (value + r->offset);
        const double rounding = relative < 1.0 ? relative : 1.0;
        r->sd = sqrt(row->sd_rel * row->sd_rel + rounding * rounding / 12.0);
    } else {
        r->link = TW_LINK_PLAIN;
        r->sd = sqrt(row->sd_abs * row->sd_abs * to_inside * to_inside + width * width / 12.0);
    }
    r->span = 8.0;
    if (w->written != TW_WRITTEN_VALUE)
        return bounded(w, to_inside, r);
    if (row->bleach > 0.0 && w->value < 0.5 * row->step + 1e-12) {
        open_ends(r);
        r->high = on_scale(r, 0.5 * row->step * to_inside);
        return TW_OK;
    }
    r->form = TW_FORM_VALUE;
    r->low = -OPEN_END;
    r->high = OPEN_END;
    r->bleach_low = OPEN_END;
    r->value = on_scale(r, value);
    r->span = on_scale(r, row->high * to_inside) - on_scale(r, row->low * to_inside);
    return TW_OK;
}

tw_status tw_estimate_reading(const tw_written_reading *written, tw_reading *out, double *bias_sd)
{
    tw_written_reading w = *written;
    const tw_instrument_row *row = tw_estimate_instrument(w.instrument, w.observed);
    memset(out, 0, sizeof *out);
    *bias_sd = 0.0;
    if (row == NULL)
        return TW_ERR_UNKNOWN;
    if (!tw_is_finite(w.value) || !(w.density_kg_per_l > 0.0))
        return TW_ERR_RANGE;
    w.dilution = w.dilution >= 1.0 ? w.dilution : 1.0;
    w.value *= w.dilution;
    w.high *= w.dilution;
    const double to_inside = tw_estimate_inside_factor(w.observed, w.density_kg_per_l);
    out->observed = w.observed;
    out->bias = -1;
    out->temp_c = 15.0;
    tw_status status = TW_OK;
    switch (row->model) {
    case TW_ERROR_BLOCKS: status = blocks(row, &w, to_inside, out); break;
    case TW_ERROR_DROPS: status = drops(row, &w, to_inside, out); break;
    default: status = plain(row, &w, to_inside, out); break;
    }
    if (status != TW_OK)
        return status;
    if (out->form == TW_FORM_INTERVAL && w.dilution <= 1.0)
        may_be_bleached(row, to_inside, out);
    *bias_sd = out->link == TW_LINK_LN ? row->bias_sd : row->bias_sd * to_inside;
    out->rubbish = w.doubtful ? RUBBISH_DOUBTFUL : RUBBISH;
    return TW_OK;
}

double tw_estimate_rubbish_floor(const tw_reading *r, double sd)
{
    const double even = r->form == TW_FORM_VALUE ? 2.5066282746310002 * sd / r->span : 1.0 / r->span;
    const double floor_at = r->rubbish * even;
    return floor_at < 1e-6 ? 1e-6 : floor_at;
}

double tw_estimate_on_scale(const tw_reading *r, double inside)
{
    if (r->link != TW_LINK_LN)
        return inside;
    const double x = inside + r->offset;
    return tw_log(x > 1e-9 ? x : 1e-9);
}

double tw_estimate_factor(const tw_reading *r, double wide, double eta)
{
    if (r->form == TW_FORM_VALUE) {
        double u = (r->value - eta) / wide;
        u = u > 37.0 ? 37.0 : (u < -37.0 ? -37.0 : u);
        return r->sd / wide * tw_exp(-0.5 * u * u);
    }
    double p = r->high < 1e300 ? tw_normal_cdf((r->high - eta) / wide) : 1.0;
    if (r->low > -1e300)
        p -= tw_normal_cdf((r->low - eta) / wide);
    if (r->bleach_low < 1e300)
        p += tw_normal_cdf((eta - r->bleach_low) / wide);
    return p < 0.0 ? 0.0 : (p > 1.0 ? 1.0 : p);
}
