/* estimate/from_doses.c: what was put in, let out and brought by people. */
#include <math.h>
#include <string.h>

#include "dose/substance.h"
#include "estimate/from_book.h"
#include "gen/evaporation_tables.h"
#include "num/elementary.h"

#define MAX_PRODUCT_NAMES TW_MAX_PRODUCTS
#define MAX_DOUBTS 32

/* What a dose of an entry is, before it becomes an event. */
typedef struct {
    const tw_substance *row;
    tw_substance substance; /* the row at the strength on the box                     */
    tw_text product;     /* what shares a strength: the name as written               */
    double grams;
    double product_sd;   /* of ln strength                                            */
    double amount_sd;    /* of ln amount                                              */
} poured;

/* A substance by its id, or by a definition of the user's that names the one it is like. */
static const tw_substance *substance_of(const tw_from_book *f, tw_text id, const tw_entry **definition)
{
    *definition = NULL;
    const tw_substance *s = tw_dose_substance_find(id);
    if (s != NULL)
        return s;
    const size_t at = tw_logbook_book_find(f->book, id);
    if (at == SIZE_MAX || !tw_logbook_book_used(f->book, at, f->now))
        return NULL;
    const tw_entry *e = tw_logbook_book_at(f->book, at);
    if (e->kind != TW_KIND_DEFINITION)
        return NULL;
    *definition = e;
    return tw_dose_substance_find(tw_logbook_text(e, TW_FIELD_SUBSTANCE));
}

/* sd of ln amount by the way it was measured: scales hold a gram, spoons a fifth. */
static double amount_error(int measured)
{
    switch (measured) {
    case TW_MEASURED_WEIGHED: return 0.0;
    case TW_MEASURED_SCOOP: return 0.2;
    case TW_MEASURED_JUG: return 0.05;
    case TW_MEASURED_LABEL: return 0.02;
    case TW_MEASURED_GUESS: return 0.3;
    default: return 0.03;
    }
}

/* Grams of an amount that may be given by volume or in scoops. 0 when it cannot be told. */
static double grams_of(const tw_from_book *f, const tw_entry *e, const tw_substance *s)
{
    double amount = 0.0;
    tw_quantity quantity;
    if (tw_logbook_book_amount(f->book, e, f->now, &amount, &quantity) != TW_OK)
        return 0.0;
    if (quantity == TW_QUANTITY_MASS)
        return amount;
    if (quantity == TW_QUANTITY_VOLUME) {
        const double density = s->density_kg_per_l > 0.0 ? s->density_kg_per_l : s->bulk_density_kg_per_l;
        return amount * 1000.0 * (density > 0.0 ? density : 1.0);
    }
    return 0.0;
}

/* The row at the strength that stands on the box, or in the definition of a product of one's own. */
static tw_substance as_on_box(const tw_entry *e, const tw_entry *definition, const tw_substance *row)
{
    double typed = 0.0;
    if (tw_logbook_si(e, TW_FIELD_AVAILABLE, &typed) == TW_OK)
        return tw_dose_substance_of_available(row, typed / 1000.0);
    if (tw_logbook_si(e, TW_FIELD_STRENGTH, &typed) == TW_OK ||
        (definition != NULL && tw_logbook_si(definition, TW_FIELD_STRENGTH, &typed) == TW_OK))
        return tw_dose_substance_of_strength(row, typed);
    return *row;
}

/* 1 when the entry's substance and amount can be told. */
static int pour(tw_from_book *f, const tw_entry *e, poured *p)
{
    const tw_entry *definition = NULL;
    memset(p, 0, sizeof *p);
    p->product = tw_logbook_text(e, TW_FIELD_SUBSTANCE);
    if (p->product.n == 0)
        return 0;
    p->row = substance_of(f, p->product, &definition);
    if (p->row == NULL) {
        f->flags |= TW_BELIEF_DOSE_UNKNOWN;
        return 0;
    }
    p->substance = as_on_box(e, definition, p->row);
    p->product_sd = p->row->assay_sd_ln;
    p->grams = grams_of(f, e, &p->substance);
    if (!(p->grams > 0.0) && tw_logbook_has(e, TW_FIELD_SCOOP))
        f->flags |= TW_BELIEF_DOSE_UNKNOWN; /* the scoop is not described: the dose is real */
    p->amount_sd = amount_error(tw_logbook_word(e, TW_FIELD_MEASURED));
    return p->grams > 0.0;
}

static int product_of(tw_from_book *f, tw_text *name, const poured *p)
{
    tw_problem *q = f->problem;
    if (!(p->product_sd > 0.004)) /* salt and soda are what they say */
        return -1;
    for (size_t i = 0; i < q->products; i++)
        if (tw_units_text_equal(name[i], p->product))
            return (int)i;
    if (q->products == TW_MAX_PRODUCTS)
        return -1;
    name[q->products] = p->product;
    q->product_sd[q->products] = p->product_sd;
    q->product_here[q->products] = tw_estimate_book_name(0, 0, p->product);
    return (int)q->products++;
}

static void add_dose(tw_from_book *f, tw_text *names, const poured *p, double at_h, int form, size_t index)
{
    tw_problem *q = f->problem;
    if (at_h < 0.0)
        return;
    if (q->doses == TW_MAX_DOSES) {
        f->flags |= TW_BELIEF_TRUNCATED;
        return;
    }
    tw_dose_event *d = &q->dose[q->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = at_h;
    d->form = form;
    d->entry = (uint32_t)index;
    d->amount_sd = form == TW_AMOUNT_POSSIBLE ? 0.0 : p->amount_sd;
    d->product = product_of(f, names, p);
    if (d->product < 0 && p->product_sd > 0.004)
        d->amount_sd = sqrt(d->amount_sd * d->amount_sd + p->product_sd * p->product_sd);
    const double *t = p->substance.total_mol_per_g;
    const double to_mmol = 1e3 * p->grams;
    for (int i = 0; i < TW_TOTALS; i++)
        d->mmol[i] = t[i] * to_mmol;
    d->alk_meq = tw_water_strong_ion_alk_of(d->mmol, 1);
    d->solid_salt = p->row == tw_dose_substance_find(tw_units_text("sodium-chloride"));
}

/* Is there an addition that says what became of this intent? */
static int has_addition(const tw_from_book *f, tw_text intent)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL)
        if (e->kind == TW_KIND_ADDITION && tw_units_text_equal(tw_logbook_text(e, TW_FIELD_INTENT), intent))
            return 1;
    return 0;
}

/* "Done" without an addition of its own: the intent was the dose. */
static void take_response(tw_from_book *f, tw_text *names, const tw_entry *e, size_t index)
{
    const int outcome = tw_logbook_word(e, TW_FIELD_OUTCOME);
    const tw_text id = tw_logbook_text(e, TW_FIELD_INTENT);
    if ((outcome != TW_OUTCOME_DONE && outcome != TW_OUTCOME_DONE_DIFFERENTLY) || id.n == 0 ||
        has_addition(f, id))
        return;
    const size_t at = tw_logbook_book_find(f->book, id);
    if (at == SIZE_MAX || !tw_logbook_book_used(f->book, at, f->now))
        return;
    const tw_entry *intent = tw_logbook_book_at(f->book, at);
    poured p;
    if (intent->kind != TW_KIND_INTENT || !pour(f, intent, &p))
        return;
    if (tw_logbook_has(e, TW_FIELD_AMOUNT)) {
        const double grams = grams_of(f, e, &p.substance);
        p.grams = grams > 0.0 ? grams : p.grams;
    }
    add_dose(f, names, &p, tw_estimate_book_hours(f, e->at), TW_AMOUNT_MEASURED, index);
}

/* Additions that may be another's entry of the same dose: until somebody says whether they were one or
 * two, the later one may or may not be in the water. */
static size_t doubted_doses(const tw_from_book *f, const tw_entry **out)
{
    tw_doubt doubt[MAX_DOUBTS];
    size_t count = 0, n = 0;
    (void)tw_logbook_book_doubts(f->book, f->tub, f->now, doubt, MAX_DOUBTS, &count);
    for (size_t i = 0; i < count && i < MAX_DOUBTS; i++)
        if (doubt[i].kind == TW_DOUBT_SAME_DOSE)
            out[n++] = doubt[i].entry;
    return n;
}

static int is_among(const tw_entry *e, const tw_entry *const *list, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (list[i] == e)
            return 1;
    return 0;
}

void tw_estimate_book_doses(tw_from_book *f)
{
    tw_text names[MAX_PRODUCT_NAMES];
    const tw_entry *doubted[MAX_DOUBTS];
    const size_t doubts = doubted_doses(f, doubted);
    size_t cursor = 0;
    const tw_entry *e;
    poured p;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        const double at = tw_estimate_book_hours(f, e->at);
        if (e->kind == TW_KIND_ADDITION) {
            const int possible = is_among(e, doubted, doubts);
            if (pour(f, e, &p)) {
                add_dose(f, names, &p, at, possible ? TW_AMOUNT_POSSIBLE : TW_AMOUNT_MEASURED, cursor - 1);
                f->flags |= possible ? TW_BELIEF_OPEN_INTENT : 0u;
            }
        } else if (e->kind == TW_KIND_RESPONSE) {
            take_response(f, names, e, cursor - 1);
        } else if (e->kind == TW_KIND_INTENT && tw_logbook_book_intent_open(f->book, e, f->now)) {
            if (pour(f, e, &p)) {
                add_dose(f, names, &p, at, TW_AMOUNT_POSSIBLE, cursor - 1);
                f->flags |= TW_BELIEF_OPEN_INTENT;
            }
        } else if (e->kind == TW_KIND_BATHERS && at >= 0.0) {
            double minutes = 0.0, count = 0.0;
            tw_problem *q = f->problem;
            if (q->bathers < TW_MAX_BATHERS && tw_logbook_number(e, TW_FIELD_MINUTES, &minutes) == TW_OK &&
                tw_logbook_number(e, TW_FIELD_COUNT, &count) == TW_OK) {
                tw_bather_event *b = &q->bather[q->bathers++];
                b->at_h = at;
                b->person_h = count * minutes / 60.0;
                b->entry = (uint32_t)(cursor - 1);
            }
        }
    }
}

static tw_exchange_event *add_exchange(tw_from_book *f, double at_h, double out_l, double in_l, double soft, size_t index)
{
    tw_problem *q = f->problem;
    if (q->exchanges == TW_MAX_EXCHANGES) {
        f->flags |= TW_BELIEF_TRUNCATED;
        return NULL;
    }
    tw_exchange_event *x = &q->exchange[q->exchanges++];
    const double per_l = tw_estimate_water_density(20.0);
    memset(x, 0, sizeof *x);
    x->at_h = at_h;
    x->out_kg = out_l * per_l;
    x->in_kg = in_l * per_l;
    x->soft_fraction = soft;
    x->entry = (uint32_t)index;
    return x;
}

/* Filled up to the line. What evaporated left its salts behind: pure water went, then source water came. Where nobody
 * knows why the level had fallen, what evaporated is as much of it as the level says, and the rest was splashed out. */
static void top_up(tw_from_book *f, double at_h, double in_l, int level, double soft, size_t index)
{
    tw_exchange_event *gone = add_exchange(f, at_h, 0.0, -in_l, 0.0, index);
    if (gone != NULL) {
        gone->pure = 1;
        gone->level = level;
    }
    (void)add_exchange(f, at_h, 0.0, in_l, soft, index);
}

/* 1: somebody writes what is splashed out, so bathers are not charged with it again. */
static int splash_is_written(const tw_from_book *f)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        const int cause = e->kind == TW_KIND_EXCHANGE ? tw_logbook_word(e, TW_FIELD_CAUSE) : -1;
        if (cause == TW_EXCHANGE_CAUSE_SPLASH || cause == TW_EXCHANGE_CAUSE_UNKNOWN)
            return 1;
    }
    return 0;
}

/* What bathers splash out and carry away; the line is met again before long. */
static void splash(tw_from_book *f)
{
    const tw_problem *p = f->problem;
    if (splash_is_written(f))
        return;
    for (size_t i = 0; i < p->bathers; i++) {
        const double l = TW_EVAPORATION_SPLASH * p->bather[i].person_h;
        (void)add_exchange(f, p->bather[i].at_h, l, l, 0.0, p->bather[i].entry);
    }
}

void tw_estimate_book_exchanges(tw_from_book *f)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        if (e->kind != TW_KIND_EXCHANGE)
            continue;
        const double at = tw_estimate_book_hours(f, e->at);
        const int cause = tw_logbook_word(e, TW_FIELD_CAUSE);
        double out = 0.0, in = 0.0, soft = 0.0;
        const int has_out = tw_logbook_si(e, TW_FIELD_OUT, &out) == TW_OK;
        const int has_in = tw_logbook_si(e, TW_FIELD_IN, &in) == TW_OK;
        (void)tw_logbook_si(e, TW_FIELD_SOFT_FRACTION, &soft);
        if (at < 0.0 || cause == TW_EXCHANGE_CAUSE_FILL || (!has_out && !has_in))
            continue;
        if (in > 0.0 && (cause == TW_EXCHANGE_CAUSE_TOP_UP || (cause == TW_EXCHANGE_CAUSE_UNKNOWN && !has_out))) {
            top_up(f, at, in, cause == TW_EXCHANGE_CAUSE_TOP_UP ? TW_LEVEL_EVAPORATED : TW_LEVEL_UNSAID, soft, cursor - 1);
            continue;
        }
        if (!has_out)
            out = in;
        if (!has_in)
            in = cause == TW_EXCHANGE_CAUSE_DRAIN || cause == TW_EXCHANGE_CAUSE_BACKWASH ? 0.0 : out;
        (void)add_exchange(f, at, out, in, soft, cursor - 1);
    }
    splash(f);
}
