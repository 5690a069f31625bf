/* estimate/belief.c: a belief's memory, and plain questions to it. */
#include "estimate/belief.h"

#include <string.h>

#include "estimate/arena.h"
#include "estimate/checkpoint.h"
#include "num/bytes.h"
#include "num/print.h"
#include "num/sha256.h"

size_t tw_estimate_belief_bytes(size_t n)
{
    return ((size_t)(TW_COLUMNS + TW_TOTALS) + 2) * n * sizeof(double) + TW_ARENA_SLACK;
}

void tw_estimate_belief_lay(tw_belief *b, size_t n, tw_arena *arena)
{
    memset(b, 0, sizeof *b);
    b->n = n;
    b->block = tw_arena_take(arena, (size_t)(TW_COLUMNS + TW_TOTALS) * n * sizeof(double));
    b->scratch = tw_arena_take(arena, 2 * n * sizeof(double));
    if (b->block == NULL || b->scratch == NULL)
        return;
    for (int c = 0; c < TW_COLUMNS; c++)
        b->column[c] = b->block + (size_t)c * n;
    for (int t = 0; t < TW_TOTALS; t++)
        b->total[t] = b->block + ((size_t)TW_COLUMNS + (size_t)t) * n;
}

void tw_estimate_belief_copy(const tw_belief *from, tw_belief *to)
{
    const tw_belief laid = *to;
    memcpy(laid.block, from->block, (size_t)(TW_COLUMNS + TW_TOTALS) * from->n * sizeof(double));
    *to = *from;
    memcpy(to->column, laid.column, sizeof laid.column);
    memcpy(to->total, laid.total, sizeof laid.total);
    to->block = laid.block;
    to->scratch = laid.scratch;
}

/* Put the k-th smallest in its place, smaller ones before it (Hoare 1961, middle element as pivot). */
static double select_kth(double *v, size_t n, size_t k)
{
    size_t low = 0, high = n - 1;
    while (low < high) {
        const double pivot = v[low + (high - low) / 2];
        size_t i = low, j = high;
        for (;;) {
            while (v[i] < pivot)
                i++;
            while (v[j] > pivot)
                j--;
            if (i >= j)
                break;
            const double other = v[i];
            v[i++] = v[j];
            v[j--] = other;
        }
        /* Everything up to j is <= pivot, everything from i on is >= pivot. */
        if (i == j) {
            if (v[i] > pivot)
                j--;
            else
                i++;
        }
        if (k <= j && j < high)
            high = j;
        else if (k >= i)
            low = i;
        else
            break;
    }
    return v[k];
}

static double quantile_of(double *v, size_t n, double p)
{
    const double at = p * (double)(n - 1);
    const size_t k = (size_t)at;
    const double below = select_kth(v, n, k);
    if (k + 1 >= n)
        return below;
    double above = v[k + 1];
    for (size_t i = k + 2; i < n; i++)
        above = v[i] < above ? v[i] : above;
    return below + (at - (double)k) * (above - below);
}

tw_spread tw_estimate_spread(const double *value, size_t n, double *scratch)
{
    memmove(scratch, value, n * sizeof *value);
    tw_spread r;
    r.q05 = quantile_of(scratch, n, 0.05);
    r.q25 = quantile_of(scratch, n, 0.25);
    r.q50 = quantile_of(scratch, n, 0.50);
    r.q75 = quantile_of(scratch, n, 0.75);
    r.q95 = quantile_of(scratch, n, 0.95);
    return r;
}

static tw_spread scaled(tw_spread s, double by)
{
    const tw_spread r = {s.q05 * by, s.q25 * by, s.q50 * by, s.q75 * by, s.q95 * by};
    return r;
}

tw_spread tw_estimate_column(const tw_belief *b, tw_column column)
{
    return tw_estimate_spread(b->column[column], b->n, b->scratch);
}

tw_spread tw_estimate_column_mg_per_l(const tw_belief *b, tw_column column)
{
    return scaled(tw_estimate_column(b, column), b->density_kg_per_l);
}

tw_spread tw_estimate_volume_l(const tw_belief *b)
{
    return scaled(tw_estimate_column(b, TW_COLUMN_WATER_KG), 1.0 / b->density_kg_per_l);
}

double tw_estimate_below(const tw_belief *b, tw_column column, double limit)
{
    size_t count = 0;
    for (size_t i = 0; i < b->n; i++)
        count += b->column[column][i] < limit;
    return (double)count / (double)b->n;
}

static void eat_double(tw_sha256_state *h, double x)
{
    uint8_t out[8];
    (void)tw_put_double(out, x);
    tw_sha256_update(h, out, sizeof out);
}

void tw_estimate_seal(tw_belief *b)
{
    tw_sha256_state h;
    tw_print print;
    uint8_t members[TW_SHA256_BYTES];
    tw_print_init(&print);
    tw_print_doubles(&print, b->block, (size_t)(TW_COLUMNS + TW_TOTALS) * b->n);
    tw_print_final(&print, members);
    tw_sha256_init(&h);
    tw_sha256_update(&h, members, sizeof members);
    eat_double(&h, (double)b->n);
    eat_double(&h, (double)b->at_utc_s);
    for (int i = 0; i < TW_KNOWNS; i++)
        eat_double(&h, b->learned[i]);
    const double rest[] = {b->density_kg_per_l, b->plate_output_g_per_h, b->plate_salt_mmol_per_kg, b->duty,
                           b->hours_since_dose, b->hours_since_any_dose, b->hours_since_bathers,
                           b->film_age_h, b->temp_set_c, b->day_left_h, b->stirred_h, (double)b->days_drawn, (double)b->readings,
                           (double)b->chlorine_readings, (double)b->flags, (double)b->segment,
                           b->log_evidence_floor, b->acceptance, b->lag1};
    for (size_t i = 0; i < sizeof rest / sizeof *rest; i++)
        eat_double(&h, rest[i]);
    for (uint32_t i = 0; i < b->contradictions; i++) {
        eat_double(&h, (double)b->contradiction[i].entry);
        eat_double(&h, b->contradiction[i].probability);
    }
    for (uint32_t i = 0; i < b->biases; i++) {
        eat_double(&h, (double)b->bias[i].entry);
        eat_double(&h, b->bias[i].shift.q50);
    }
    for (uint32_t i = 0; i < b->unwrittens; i++) {
        eat_double(&h, (double)b->unwritten[i].entry);
        eat_double(&h, b->unwritten[i].probability);
        eat_double(&h, b->unwritten[i].size.q50);
    }
    tw_sha256_final(&h, b->digest);
}
