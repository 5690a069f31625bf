/* dose/course_set.c: see course_set.h. */
#include "dose/course_set.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/philox.h"
#include "num/pick.h"
#include "num/sort.h"

#define STREAM_STRENGTH 0x636F7572u /* "cour" */
#define STREAM_AIR 0x61697273u      /* "airs" */
#define FURTHER 1e-12 /* share by which a crossed limit must be left further behind to count */

size_t tw_dose_set_doubles(size_t n, size_t stocks)
{
    return n * (TW_TOTALS + stocks + 2 + TW_OF_QUANTITIES);
}

static double weight_of(const tw_course_set *s, size_t i)
{
    return s->view.weight != NULL ? s->view.weight[i] : 1.0;
}

void tw_dose_set_init(const tw_course_ask *ask, const tw_waters *w, uint64_t seed, double *room, tw_course_set *out)
{
    const size_t n = w->n;
    out->view = *w;
    for (int t = 0; t < TW_TOTALS; t++, room += n)
        out->view.total[t] = out->total[t] = room;
    for (size_t j = 0; j < ask->stocks; j++, room += n)
        out->error[j] = room;
    out->crossed = room;
    out->looked = room + n;
    out->value = room + 2 * n;
    out->weights = 0.0;
    for (size_t i = 0; i < n; i++) {
        const tw_water one = tw_dose_member(w, i);
        for (int t = 0; t < TW_TOTALS; t++)
            out->total[t][i] = one.total_mol_per_kg[t];
        out->crossed[i] = w->crossed != NULL ? w->crossed[i] : 0.0;
        out->weights += weight_of(out, i);
    }
    for (size_t j = 0; j < ask->stocks; j++) {
        const tw_course_stock *s = &ask->stock[j];
        const double sd = sqrt(s->substance.assay_sd_ln * s->substance.assay_sd_ln + s->weighing_sd_ln * s->weighing_sd_ln);
        for (size_t i = 0; i < n; i++) {
            out->error[j][i] = 1.0;
            if (!(sd > 0.0) || n < 2)
                continue;
            tw_stream stream = tw_stream_make(seed, (uint32_t)j, STREAM_STRENGTH, (uint32_t)i);
            const double z = tw_stream_normal(&stream);
            out->error[j][i] = tw_exp(sd * z);
        }
    }
}

static tw_water member(const tw_course_set *s, size_t i)
{
    tw_water out;
    out.temp_k = s->view.temp_k[i];
    for (int t = 0; t < TW_TOTALS; t++)
        out.total_mol_per_kg[t] = s->total[t][i];
    return out;
}

/* Air ended by a reading of pH, which is off by its own error. */
static tw_water aired(const tw_rows *r, const tw_course_doing *d, size_t n, size_t i, tw_water w)
{
    double to_ph = d->air_to_ph;
    if (n > 1 && r->ask->air_read_sd > 0.0) {
        tw_stream stream = tw_stream_make(r->ask->seed, 0, STREAM_AIR, (uint32_t)i);
        const double z = tw_stream_normal(&stream);
        to_ph += r->ask->air_read_sd * z;
    }
    const tw_reduced_water q = tw_water_reduced_acids(w.total_mol_per_kg);
    const double dic = tw_water_reduced_dic_at_ph(&d->acids[d->before_air], &q, to_ph);
    if (dic >= 0.0 && dic < w.total_mol_per_kg[TW_TOTAL_DIC])
        w.total_mol_per_kg[TW_TOTAL_DIC] = dic;
    return w;
}

/* The k-th addition, air before it where it goes in at the pH that air left. */
static tw_water poured(const tw_rows *r, const tw_course_doing *d, size_t k, const tw_course_set *s, size_t i, tw_water w)
{
    const tw_visit *v = &d->visit;
    if (v->air != 0 && k == d->before_air)
        w = aired(r, d, s->view.n, i, w);
    return tw_dose_apply(w, s->view.water_kg[i], &r->ask->stock[v->stock[k]].substance, v->grams[k] * s->error[v->stock[k]][i]);
}

static tw_water ended(const tw_rows *r, const tw_course_doing *d, const tw_course_set *s, size_t i, tw_water w)
{
    if (d->visit.air != 0 && d->before_air == d->visit.additions)
        w = aired(r, d, s->view.n, i, w);
    if (d->visit.keeps < 1.0)
        w = tw_dose_spend_chlorine(w, (1.0 - d->visit.keeps) * w.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE]);
    return w;
}

/* What each limit leaves: below 0 has crossed it. */
static void margins(const tw_rows *r, const tw_reduced *acids, const tw_ph_need need[2], const tw_water *w, double out[TW_COURSE_LIMITS])
{
    const tw_reduced_water q = tw_water_reduced_acids(w->total_mol_per_kg);
    for (size_t l = 0; l < r->limits; l++) {
        const tw_row_limit *m = &r->limit[l];
        const double value = m->quantity == TW_OF_PH
                                 ? tw_dose_over_need(acids, &need[m->is_floor], &q)
                                 : tw_dose_quantity((tw_quantity_of_water)m->quantity, w->total_mol_per_kg, r->ask->waters->solvent_kg_per_l);
        out[l] = m->sign * (value - m->value);
    }
}

/* log10 of calcium times carbonate, at the acids of the rows. */
static double log_product(const tw_rows *r, const tw_water *w)
{
    const tw_reduced_water q = tw_water_reduced_acids(w->total_mol_per_kg);
    tw_reduced_answer a;
    tw_water_reduced_solve(&r->acids, &q, &a);
    const double ih = tw_exp(a.ph * 2.302585092994046), c2 = r->acids.k1 * r->acids.k2 * ih * ih;
    const double calcium = w->total_mol_per_kg[TW_TOTAL_CA];
    return calcium > 0.0 && a.co2 > 0.0 ? tw_log10(calcium * a.co2 * c2) : -99.0;
}

double tw_dose_set_si(const tw_rows *r, double middle_si, const tw_water *w)
{
    return middle_si + log_product(r, w) - log_product(r, &r->middle_water);
}

/* Products that can cloud hard water. */
static int can_cloud(const tw_rows *r, const tw_visit *v)
{
    int can = 0;
    for (size_t k = 0; k < v->additions; k++) {
        const tw_substance *s = &r->ask->stock[v->stock[k]].substance;
        can = can || s->total_mol_per_g[TW_TOTAL_CA] > 0.0 || s->effect == TW_EFFECT_TA_UP;
    }
    return can;
}

static double middle_si(const tw_rows *r)
{
    tw_constants at;
    tw_speciation sp;
    if (tw_water_constants_at(r->middle_water.temp_k, &at) != TW_OK || tw_water_speciate(&at, &r->middle_water, &sp) != TW_OK)
        return -99.0;
    return sp.si_calcite;
}

void tw_dose_set_judge(const tw_rows *r, const tw_course_doing *d, int commit, tw_course_set *s, tw_course_judged *out)
{
    const tw_visit *v = &d->visit;
    const int clouds = r->ask->si_high == r->ask->si_high && can_cloud(r, v);
    const double si0 = clouds ? middle_si(r) : 0.0;
    tw_ph_need at_start[2], need[TW_COURSE_ADDITIONS + 1][2];
    memset(out, 0, sizeof *out);
    for (size_t l = 0; l < r->limits; l++)
        if (r->limit[l].quantity == TW_OF_PH) {
            const int side = r->limit[l].is_floor;
            at_start[side] = r->need[r->limit[l].row];
            for (size_t k = 0; k <= v->additions; k++)
                need[k][side] = tw_dose_ph_need(&d->acids[k], r->ph[r->limit[l].row]);
        }
    for (size_t i = 0; i < s->view.n; i++) {
        const double weight = weight_of(s, i) / s->weights;
        double start[TW_COURSE_LIMITS], now[TW_COURSE_LIMITS];
        int over[TW_COURSE_LIMITS + 1] = {0}, any = 0;
        tw_water w = member(s, i);
        const double si_start = clouds ? tw_dose_set_si(r, si0, &w) : 0.0;
        margins(r, &r->acids, at_start, &w, start);
        if (v->share > 0.0)
            w = tw_dose_exchange(w, &r->ask->source, v->share);
        for (size_t k = 0; k <= v->additions; k++) {
            if (k > 0)
                w = poured(r, d, k - 1, s, i, w);
            if (k == 0 && !(v->share > 0.0))
                continue;
            margins(r, &d->acids[k], need[k], &w, now);
            for (size_t l = 0; l < r->limits; l++)
                over[l] = over[l] || (now[l] < 0.0 && now[l] < start[l] - FURTHER * fabs(start[l]));
            if (clouds) {
                const double si = tw_dose_set_si(r, si0, &w);
                over[r->limits] = over[r->limits] || (si > r->ask->si_high && si > si_start + 1e-6);
            }
        }
        for (size_t l = 0; l <= r->limits && !(s->crossed[i] > 0.0); l++) {
            out->chance[l] += over[l] ? weight : 0.0;
            any = any || over[l];
        }
        out->chance_any += any ? weight : 0.0;
        if (!commit)
            continue;
        w = ended(r, d, s, i, w);
        for (int t = 0; t < TW_TOTALS; t++)
            s->total[t][i] = w.total_mol_per_kg[t];
        s->crossed[i] = any ? 1.0 : s->crossed[i];
    }
}

void tw_dose_set_spread(const tw_rows *r, const tw_course_doing *d, size_t additions, size_t stride, tw_course_set *s,
                        uint32_t *order, tw_course_spread *out)
{
    static const double P[3] = {0.05, 0.50, 0.95};
    const tw_visit *v = &d->visit;
    const tw_reduced *acids = &d->acids[additions < v->additions ? additions : v->additions];
    const size_t n = (s->view.n + stride - 1) / stride;
    for (size_t i = 0; i < n; i++) {
        tw_water w = member(s, i * stride);
        if (v->share > 0.0)
            w = tw_dose_exchange(w, &r->ask->source, v->share);
        for (size_t k = 0; k < v->additions && k < additions; k++)
            w = poured(r, d, k, s, i * stride, w);
        if (additions > v->additions)
            w = ended(r, d, s, i * stride, w);
        for (int q = 0; q < TW_OF_QUANTITIES; q++)
            s->value[(size_t)q * n + i] = tw_dose_value(acids, (tw_quantity_of_water)q, &w, r->ask->waters->solvent_kg_per_l);
        s->looked[i] = weight_of(s, i * stride);
    }
    for (size_t q = 0; q < TW_OF_QUANTITIES; q++) {
        const double *value = s->value + q * n;
        for (int p = 0; p < 3; p++)
            out->of[q][p] = tw_quantile_picked(value, s->looked, n, P[p], order);
    }
}

/* Weights that sum to 1; where all are 0 they are the same. */
static void share_out(tw_columns *c, double sum)
{
    for (size_t i = 0; i < c->n; i++)
        c->weight[i] = sum > 0.0 ? c->weight[i] / sum : 1.0 / (double)c->n;
}

void tw_dose_set_columns(const tw_rows *r, const tw_course_set *s, tw_columns *c)
{
    double sum = 0.0;
    c->n = s->view.n;
    for (size_t i = 0; i < c->n; i++) {
        double row[TW_ROWS];
        const tw_water w = member(s, i);
        tw_dose_rows_of(r, &w, row);
        for (int a = 0; a < TW_ROWS; a++)
            c->row[a][i] = row[a];
        c->per_kg[i] = 1.0 / s->view.water_kg[i];
        for (size_t j = 0; j < r->ask->stocks; j++)
            c->rate[j][i] = s->error[j][i] / s->view.water_kg[i];
        c->weight[i] = weight_of(s, i);
        c->crossed[i] = s->crossed[i];
        sum += c->weight[i];
    }
    share_out(c, sum);
}

void tw_dose_set_thinned(const tw_rows *r, const tw_columns *full, size_t stride, tw_columns *c)
{
    double sum = 0.0;
    c->n = (full->n + stride - 1) / stride;
    for (size_t i = 0; i < c->n; i++) {
        for (int a = 0; a < TW_ROWS; a++)
            c->row[a][i] = full->row[a][i * stride];
        for (size_t j = 0; j < r->ask->stocks; j++)
            c->rate[j][i] = full->rate[j][i * stride];
        c->per_kg[i] = full->per_kg[i * stride];
        c->weight[i] = full->weight[i * stride];
        c->crossed[i] = full->crossed[i * stride];
        sum += c->weight[i];
    }
    share_out(c, sum);
}
