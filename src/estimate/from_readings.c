/* estimate/from_readings.c: readings of the tub and of the water it was filled with. */
#include <math.h>
#include <string.h>

#include "estimate/from_book.h"
#include "estimate/instrument.h"
#include "estimate/from_entry.h"
#include "num/bytes.h"
#include "num/sha256.h"
#include "water/edge.h"

#define MIXING_H 0.25         /* a reading this soon after a dose is doubtful                */
#define MONITOR_SPACING_H 6.0 /* hours of a monitor that are used                            */
#define MOST_STANDARDS 64
#define NOT_OF_THIS_WATER 0.5 /* a tub that stood full may hold its source's water, or years of its own: nobody said (assumed) */
/* An instrument that was read in a standard may be off by so many times more before: a pH electrode's zero point by
 * 15 mV, of which fresh buffers leave 0.04 pH (from memory; the same for others, common practice). */
#define UNCHECKED 6.0
#define ADJUSTED_NAME 16 /* above every tool: an instrument that was adjusted has another name */

/* Who shares a bias: the same analyte by the same bottle, instrument or, unsaid, kind of instrument, until it is
 * adjusted. */
typedef struct {
    int observed, tool;
    tw_text name;
    int adjusted; /* how often before */
} bias_key;

typedef struct {
    tw_from_book *f;
    bias_key key[TW_MAX_BIASES];
    double monitor_h[TW_OBSERVEDS];
    struct {
        bias_key key;
        size_t index;    /* of its entry                              */
        int adjusts;     /* 1: the instrument was set to it           */
    } standard[MOST_STANDARDS];
    size_t standards;
} reader;

static int same_key(const bias_key *a, const bias_key *b)
{
    return a->observed == b->observed && a->tool == b->tool && a->adjusted == b->adjusted && tw_units_text_equal(a->name, b->name);
}

uint64_t tw_estimate_book_name(int a, int b, tw_text name)
{
    tw_sha256_state state;
    uint8_t digest[TW_SHA256_BYTES];
    const uint8_t kind[2] = {(uint8_t)a, (uint8_t)b};
    tw_sha256_init(&state);
    tw_sha256_update(&state, kind, sizeof kind);
    if (name.n > 0)
        tw_sha256_update(&state, name.at, name.n);
    tw_sha256_final(&state, digest);
    return tw_get_u64(digest) | 1u;
}

/* How often an instrument was adjusted before an entry. */
static int adjusted_before(const reader *r, int observed, int tool, tw_text name, size_t index)
{
    int n = 0;
    for (size_t i = 0; i < r->standards; i++)
        n += r->standard[i].adjusts && r->standard[i].index < index && r->standard[i].key.observed == observed &&
             r->standard[i].key.tool == tool && tw_units_text_equal(r->standard[i].key.name, name);
    return n;
}

static int was_checked(const reader *r, const bias_key *key)
{
    for (size_t i = 0; i < r->standards; i++)
        if (same_key(&r->standard[i].key, key))
            return 1;
    return 0;
}

static int bias_of(reader *r, const bias_key *key, double sd)
{
    tw_problem *p = r->f->problem;
    for (size_t i = 0; i < p->biases; i++)
        if (same_key(&r->key[i], key))
            return (int)i;
    if (p->biases == TW_MAX_BIASES)
        return -1;
    r->key[p->biases] = *key;
    p->bias_sd[p->biases] = was_checked(r, key) ? UNCHECKED * sd : sd;
    p->bias_here[p->biases] = tw_estimate_book_name(key->observed, key->tool + ADJUSTED_NAME * key->adjusted, key->name);
    p->bias_name[p->biases] = key->name.n > 0 ? p->bias_here[p->biases] : 0; /* in another water only by lot or serial */
    return (int)p->biases++;
}

/* The least change of what an analyte reads, altogether in a kg of the tub's water, that spoils a
 * reading while it mixes: mg chlorine; meq that move the pH; meq; mmol. */
static const double SPOILS[TW_OBSERVEDS] = {
    [TW_OBSERVED_FREE_CHLORINE] = 0.1, [TW_OBSERVED_TOTAL_CHLORINE] = 0.1, [TW_OBSERVED_COMBINED_CHLORINE] = 0.1,
    [TW_OBSERVED_PH] = 0.02,           [TW_OBSERVED_ALKALINITY] = 0.1,     [TW_OBSERVED_CALCIUM] = 0.05,
    [TW_OBSERVED_HARDNESS] = 0.05,     [TW_OBSERVED_MAGNESIUM] = 0.05,     [TW_OBSERVED_CHLORIDE] = 0.5,
    [TW_OBSERVED_CONDUCTIVITY] = 0.5,  [TW_OBSERVED_CYANURATE] = 0.02,     [TW_OBSERVED_PHOSPHATE] = 0.002,
    [TW_OBSERVED_SULFATE] = 0.05,      [TW_OBSERVED_BORATE] = 0.05,        [TW_OBSERVED_WATER] = 1e300};

/* How much a dose moves what is read, in the units of SPOILS times kg. Acid leaves the conductivity much as
 * it was (chloride for hydrogen carbonate); what brings metal ions does not. */
static double moved_by(const tw_dose_event *d, int observed)
{
    const double *n = d->mmol;
    switch (observed) {
    case TW_OBSERVED_FREE_CHLORINE:
    case TW_OBSERVED_TOTAL_CHLORINE:
    case TW_OBSERVED_COMBINED_CHLORINE: return fabs(n[TW_TOTAL_ACTIVE_CHLORINE]) * tw_water_molar[TW_MOLAR_CL2].g_per_mol + d->demand_mg;
    case TW_OBSERVED_PH:
        return fabs(d->alk_meq) + fabs(n[TW_TOTAL_DIC]) + fabs(n[TW_TOTAL_CYANURATE]) + fabs(n[TW_TOTAL_BORATE]) +
               fabs(n[TW_TOTAL_PHOSPHATE]);
    case TW_OBSERVED_ALKALINITY: return fabs(d->alk_meq) + fabs(n[TW_TOTAL_PHOSPHATE]);
    case TW_OBSERVED_CALCIUM: return fabs(n[TW_TOTAL_CA]);
    case TW_OBSERVED_HARDNESS: return fabs(n[TW_TOTAL_CA]) + fabs(n[TW_TOTAL_MG]);
    case TW_OBSERVED_MAGNESIUM: return fabs(n[TW_TOTAL_MG]);
    case TW_OBSERVED_CHLORIDE: return fabs(n[TW_TOTAL_CL]);
    case TW_OBSERVED_CONDUCTIVITY:
        return fabs(n[TW_TOTAL_NA]) + fabs(n[TW_TOTAL_K]) + 2.0 * (fabs(n[TW_TOTAL_CA]) + fabs(n[TW_TOTAL_MG]));
    case TW_OBSERVED_CYANURATE: return fabs(n[TW_TOTAL_CYANURATE]);
    case TW_OBSERVED_PHOSPHATE: return fabs(n[TW_TOTAL_PHOSPHATE]);
    case TW_OBSERVED_SULFATE: return fabs(n[TW_TOTAL_SO4]);
    case TW_OBSERVED_BORATE: return fabs(n[TW_TOTAL_BORATE]);
    default: return 0.0;
    }
}

int tw_estimate_dose_moves(const tw_from_book *f, const tw_dose_event *d, int observed)
{
    return moved_by(d, observed) > SPOILS[observed] * f->volume_l;
}

/* Was a dose that changes what is read given shortly before, in the order of the entries? */
static int soon_after_dose(const tw_from_book *f, int observed, double at_h, size_t index)
{
    const tw_problem *p = f->problem;
    for (size_t i = 0; i < p->doses; i++) {
        const tw_dose_event *d = &p->dose[i];
        const double gone = at_h - d->at_h;
        if ((gone > 0.0 || (gone >= 0.0 && d->entry < index)) && gone < MIXING_H &&
            tw_estimate_dose_moves(f, d, observed))
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
    if (source && !p->filled && reading.rubbish < NOT_OF_THIS_WATER)
        reading.rubbish = NOT_OF_THIS_WATER;
    reading.temp_c = sample_c;
    reading.entry = (uint32_t)index;
    const bias_key key = {w->observed, w->instrument, name, adjusted_before(r, w->observed, w->instrument, name, index)};
    reading.bias = bias_sd > 0.0 ? bias_of(r, &key, bias_sd) : -1;
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

static void take_reading(reader *r, const tw_entry *e, size_t index)
{
    tw_from_book *f = r->f;
    const double at = tw_estimate_book_hours(f, e->at);
    const int source = is_of_source(e);
    double block[TW_MAX_BLOCKS];
    tw_written_reading w;
    if ((!source && at < 0.0) || (source && other_source(f, e)) || (source && !f->fresh) ||
        tw_logbook_word(e, TW_FIELD_POINT) == TW_POINT_JAR)
        return;
    double sample_c = source ? 15.0 : tw_estimate_book_temp_c(f, at);
    if (source)
        (void)tw_logbook_si(e, TW_FIELD_SAMPLE_TEMP, &sample_c);
    if (tw_estimate_written(f->book, e, f->now, tw_estimate_water_density(sample_c), block, &w) != TW_OK)
        return;
    w.doubtful |= !source && soon_after_dose(f, w.observed, at, index);
    tw_text name = tw_logbook_text(e, TW_FIELD_LOT);
    if (name.n == 0)
        name = tw_logbook_text(e, TW_FIELD_SERIAL);
    add_reading(r, &w, at < 0.0 ? 0.0 : at, source, name, sample_c, index);
}

/* Every standard that was read by now, of this water or not: what is known of an instrument holds for its older
 * readings too. */
static void find_standards(reader *r)
{
    size_t cursor = 0;
    const tw_entry *e;
    while (r->standards < MOST_STANDARDS &&
           (e = tw_logbook_book_next(r->f->book, r->f->tub, r->f->now, &cursor)) != NULL) {
        tw_written_reading w;
        if (e->kind != TW_KIND_STANDARD || tw_estimate_standard(e, 1.0, &w, NULL) != TW_OK)
            continue;
        const tw_text name = tw_logbook_text(e, TW_FIELD_SERIAL);
        r->standard[r->standards].key =
            (bias_key){w.observed, w.instrument, name, adjusted_before(r, w.observed, w.instrument, name, cursor - 1)};
        r->standard[r->standards].index = cursor - 1;
        r->standard[r->standards++].adjusts = tw_logbook_word(e, TW_FIELD_ADJUSTED) == TW_YES_NO_YES;
    }
}

/* What it showed of the bias, in this water's time or before the first water. */
static void take_standard(reader *r, const tw_entry *e, size_t index)
{
    tw_from_book *f = r->f;
    tw_written_reading w;
    tw_reading reading;
    double nominal = 0.0, bias_sd = 0.0;
    const double at = tw_estimate_book_hours(f, e->at);
    if ((at < 0.0 && f->taught != NULL && f->taught->n > 0) ||
        tw_estimate_standard(e, tw_estimate_water_density(25.0), &w, &nominal) != TW_OK ||
        tw_estimate_reading(&w, &reading, &bias_sd) != TW_OK || !(bias_sd > 0.0) || !room_for_one(f))
        return;
    const tw_text name = tw_logbook_text(e, TW_FIELD_SERIAL);
    const bias_key key = {w.observed, w.instrument, name, adjusted_before(r, w.observed, w.instrument, name, index)};
    reading.at_h = at < 0.0 ? 0.0 : at;
    reading.entry = (uint32_t)index;
    reading.standard = 1;
    reading.nominal = tw_estimate_on_scale(&reading, nominal * tw_estimate_inside_factor(w.observed, w.density_kg_per_l));
    reading.bias = bias_of(r, &key, bias_sd);
    if (reading.bias >= 0)
        f->problem->reading[f->problem->readings++] = reading;
}

static void take_monitor_hour(reader *r, const tw_entry *e, size_t index)
{
    tw_from_book *f = r->f;
    const double at = tw_estimate_book_hours(f, e->at);
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.instrument = TW_TOOL_MONITOR;
    w.observed = tw_estimate_observed_of(tw_logbook_word(e, TW_FIELD_ANALYTE), TW_TOOL_MONITOR);
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
    double base = 0.0, jump_h[TW_MAX_WRITTEN_CELLS];
    size_t jumps = 0;
    for (size_t i = 0; i < p->readings && jumps < TW_MAX_WRITTEN_CELLS - 1; i++) {
        const tw_reading *r = &p->reading[i];
        if (r->source || r->standard || r->form != TW_FORM_VALUE || r->rubbish > 0.1 ||
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
            if (p->setting[k].at_h >= jump_h[j] - 1e-9 && p->setting[k].cell + 1 < TW_MAX_WRITTEN_CELLS)
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
    find_standards(&r);
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        if (e->kind == TW_KIND_READING)
            take_reading(&r, e, cursor - 1);
        else if (e->kind == TW_KIND_STANDARD)
            take_standard(&r, e, cursor - 1);
        else if (e->kind == TW_KIND_MONITOR_HOUR)
            take_monitor_hour(&r, e, cursor - 1);
    }
    cells_by_salt(f);
}
