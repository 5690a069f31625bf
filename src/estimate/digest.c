/* estimate/digest.c: see digest.h. Field by field: what lies between the fields has no value. */
#include "estimate/digest.h"

#include "num/bytes.h"
#include "num/print.h"

#define MOST 1024 /* numbers that are hashed at once */

typedef struct {
    tw_print print;
    uint8_t bytes[8 * MOST];
    size_t n;
} mill;

static void flush(mill *m)
{
    tw_print_bytes(&m->print, m->bytes, m->n / 8);
    m->n = 0;
}

static void whole(mill *m, uint64_t x)
{
    if (m->n == sizeof m->bytes)
        flush(m);
    (void)tw_put_u64(m->bytes + m->n, x);
    m->n += 8;
}

static void number(mill *m, double x)
{
    whole(m, tw_bits_of(x));
}

static void numbers(mill *m, const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        number(m, x[i]);
}

static void eat_reading(mill *m, const tw_reading *r)
{
    const double x[] = {r->at_h, r->offset, r->value, r->low, r->high, r->sd, r->rubbish, r->span, r->bleach_low, r->temp_c};
    numbers(m, x, sizeof x / sizeof *x);
    whole(m, (uint64_t)(int64_t)r->observed);
    whole(m, (uint64_t)(int64_t)r->link);
    whole(m, (uint64_t)(int64_t)r->form);
    whole(m, (uint64_t)(int64_t)r->source);
    whole(m, (uint64_t)(int64_t)r->bias);
    whole(m, r->entry);
    if (r->standard)
        number(m, r->nominal);
    if (r->misread > 0.0)
        number(m, r->misread);
    if (r->own_share > 0.0)
        number(m, r->own_share);
}

static void eat_dose(mill *m, const tw_dose_event *d)
{
    number(m, d->at_h);
    numbers(m, d->mmol, TW_TOTALS);
    number(m, d->alk_meq);
    number(m, d->demand_mg);
    number(m, d->amount_sd);
    whole(m, (uint64_t)(int64_t)d->solid_salt);
    whole(m, (uint64_t)(int64_t)d->product);
    whole(m, (uint64_t)(int64_t)d->form);
    whole(m, d->entry);
}

static void eat_exchange(mill *m, const tw_exchange_event *e)
{
    const double x[] = {e->at_h, e->out_kg, e->in_kg, e->soft_fraction, (double)(e->pure + 2 * e->level)};
    numbers(m, x, sizeof x / sizeof *x);
    whole(m, e->entry);
}

static void eat_setting(mill *m, const tw_setting_event *s)
{
    const double x[] = {s->at_h, s->duty, s->stirred, s->still, s->jets, s->dries, s->temp_c, s->temp_end_c, (double)s->cell};
    numbers(m, x, sizeof x / sizeof *x);
}

static void eat_bather(mill *m, const tw_bather_event *b)
{
    number(m, b->at_h);
    number(m, b->person_h);
    whole(m, b->entry);
}

static void eat_whole(mill *m, const tw_problem *p)
{
    const tw_conductivity_fit *ec = &p->conductivity;
    const double x[] = {p->now_h, p->film_from_h, p->days_from_h, p->plate_output_g_per_h, p->output_sd, p->plate_salt_mmol_per_kg,
                        p->day_sd,
                        p->soft_fraction, (double)p->by_entry, ec->base, ec->per_alk, ec->per_ca, ec->per_mg,
                        ec->per_so4, ec->cl[0], ec->cl[1]};
    const size_t count[] = {p->readings, p->doses, p->exchanges, p->settings, p->bathers, p->biases, p->products, p->cells};
    numbers(m, x, sizeof x / sizeof *x);
    for (size_t i = 0; i < sizeof count / sizeof *count; i++)
        whole(m, count[i]);
    for (size_t i = 0; i < TW_X_FIXED; i++) {
        number(m, p->prior[i].middle);
        number(m, p->prior[i].sd);
        whole(m, (uint64_t)(int64_t)p->prior[i].kind);
    }
    numbers(m, p->bias_sd, p->biases);
    for (size_t i = 0; i < p->biases; i++)
        whole(m, p->bias_name[i]);
    numbers(m, p->product_sd, p->products);
    for (size_t i = 0; i < p->products; i++)
        whole(m, p->product_here[i]);
    whole(m, (uint64_t)(p->goes_on + 2 * p->filled));
}

static void eat_carry(mill *m, const tw_carry *c)
{
    whole(m, c->n);
    number(m, c->freedom);
    for (size_t i = 0; i < c->n; i++) {
        whole(m, (uint64_t)(int64_t)c->what[i]);
        whole(m, (uint64_t)(int64_t)c->index[i]);
    }
    numbers(m, c->mean, c->n);
    numbers(m, c->sd, c->n);
    numbers(m, c->precision, c->n * c->n);
}

void tw_estimate_problem_digest(const tw_problem *p, uint8_t out[TW_SHA256_BYTES])
{
    mill m;
    m.n = 0;
    tw_print_init(&m.print);
    eat_whole(&m, p);
    eat_carry(&m, &p->carry);
    for (size_t i = 0; i < p->readings; i++)
        eat_reading(&m, &p->reading[i]);
    for (size_t i = 0; i < p->looks; i++) {
        const double x[] = {p->look[i].at_h, p->look[i].share, (double)p->look[i].reading};
        numbers(&m, x, sizeof x / sizeof *x);
    }
    for (size_t i = 0; i < p->doses; i++)
        eat_dose(&m, &p->dose[i]);
    for (size_t i = 0; i < p->exchanges; i++)
        eat_exchange(&m, &p->exchange[i]);
    for (size_t i = 0; i < p->settings; i++)
        eat_setting(&m, &p->setting[i]);
    for (size_t i = 0; i < p->bathers; i++)
        eat_bather(&m, &p->bather[i]);
    flush(&m);
    tw_print_final(&m.print, out);
}
