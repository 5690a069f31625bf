/* estimate/cell.c: a line through levels, with a prior on its fall; members cross the need where the line does. */
#include "estimate/cell.h"

#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/sampler.h"
#include "num/sort.h"

#define FALL_MIDDLE 0.0025 /* of the plate a day */
#define FALL_SD 0.0025
#define OWN_SD 0.03        /* of the plate: what no line explains */

size_t tw_estimate_cell_bytes(size_t n)
{
    return 4 * n * sizeof(double) + 5 * TW_ARENA_ALIGN;
}

/* Level now and fall a day, as shares of the plate: a Gaussian of two. */
typedef struct {
    double level, fall;             /* means, at the last level      */
    double fall_var;
    double fall_by_level;           /* slope of fall on level        */
    double fall_rest_var;           /* of fall when the level is given */
} line;

/* Information adds up: level + x*fall was seen x days before the last of them; a flat prior of the level, a normal one
 * of the fall. */
static line fit(const tw_cell_level *at, size_t n, double plate)
{
    double a = 1e-6, b = 0.0, c = 1.0 / (FALL_SD * FALL_SD); /* [a b; b c] */
    double u = 1e-6, v = FALL_MIDDLE * c;
    for (size_t i = 0; i < n; i++) {
        const double sd = at[i].sd_g_per_h / plate, y = at[i].g_per_h / plate, x = at[n - 1].day - at[i].day;
        const double w = 1.0 / (sd * sd + OWN_SD * OWN_SD);
        a += w;
        b += w * x;
        c += w * x * x;
        u += w * y;
        v += w * x * y;
    }
    const double det = a * c - b * b;
    line l;
    l.level = (c * u - b * v) / det;
    l.fall = (a * v - b * u) / det;
    l.fall_var = a / det;
    l.fall_by_level = -b / c;      /* of the inverse: cov/var(level) = (-b/det)/(c/det) */
    l.fall_rest_var = 1.0 / c;
    return l;
}

/* What a member needs at full use: loss and what appears by itself at the floor, and what bathers use up, mg/h. */
static double need_of(const tw_belief *b, const tw_cell_need *need, double person_h_per_day, size_t i)
{
    const double kg = b->column[TW_COLUMN_WATER_KG][i], floor_mg = need->floor_mg_per_l / b->density_kg_per_l;
    return 1e-3 * kg * (floor_mg * b->column[TW_COLUMN_LOSS_NOW_PER_H][i] + b->column[TW_COLUMN_DEMAND_INFLOW][i]) +
           person_h_per_day / 24.0 * b->column[TW_COLUMN_BATHER_G_PER_H][i];
}

static double bounded(double days)
{
    return !(days > 0.0) ? 0.0 : days > TW_CELL_HORIZON_DAYS ? TW_CELL_HORIZON_DAYS : days;
}

/* The 0.9 quantile of n values, as tw_estimate_spread counts. */
static double ninth_tenth(const double *value, size_t n, double *sorted)
{
    memcpy(sorted, value, n * sizeof *value);
    tw_sort(sorted, n);
    return tw_quantile_sorted(sorted, n, 0.9);
}

tw_status tw_estimate_cell(const tw_belief *b, const tw_cell_level *level, size_t levels, const tw_cell_need *need,
                           void *mem, size_t bytes, tw_cell *out)
{
    tw_arena arena = {mem, bytes};
    const size_t n = b->n, size = n * sizeof(double);
    memset(out, 0, sizeof *out);
    if (levels > TW_CELL_LEVELS || !(need->floor_mg_per_l > 0.0))
        return TW_ERR_RANGE;
    const double plate = b->plate_output_g_per_h;
    if (!(plate > 0.0))
        return TW_ERR_MISSING;
    double *value = tw_arena_take(&arena, size), *days = tw_arena_take(&arena, size), *output = tw_arena_take(&arena, size);
    double *scratch = tw_arena_take(&arena, size);
    if (scratch == NULL)
        return TW_ERR_CAPACITY;
    for (size_t i = 0; i < n; i++) {
        value[i] = need_of(b, need, need->person_h_per_day, i);
        output[i] = plate * b->column[TW_COLUMN_CELL_FACTOR][i];
    }
    out->booked_q90_g_per_h = ninth_tenth(value, n, scratch);
    out->beyond_plate = out->booked_q90_g_per_h > plate && need->person_h_per_day > 0.0;
    for (size_t i = 0; out->beyond_plate && i < n; i++)
        value[i] = need_of(b, need, 0.0, i);
    out->levels = levels;
    out->need_g_per_h = tw_estimate_spread(value, n, scratch);
    out->need_q90_g_per_h = ninth_tenth(value, n, scratch);
    const line l = fit(level, levels, plate);
    out->fall_pct_per_week = 700.0 * l.fall;
    out->fall_sd_pct_per_week = 700.0 * sqrt(l.fall_var);
    out->fall_learned = 1.0 - l.fall_var / (FALL_SD * FALL_SD);
    /* The members' output is that of their readings, which lie some days back. */
    const double since = levels > 0 ? -level[levels - 1].day : 0.0;
    size_t enough = 0;
    for (size_t i = 0; i < n; i++) {
        tw_stream stream = tw_stream_make(b->seed, b->segment, TW_PURPOSE_CELL, (uint32_t)i);
        const double z = tw_stream_normal(&stream);
        /* The member's own level says where on the line it stands. */
        const double fall = l.fall + l.fall_by_level * (output[i] / plate - l.level) + sqrt(l.fall_rest_var) * z;
        output[i] -= plate * fall * since;
        const double spare = output[i] - out->need_q90_g_per_h;
        enough += spare >= 0.0;
        days[i] = spare <= 0.0 ? 0.0 : fall > 1e-9 ? bounded(spare / (plate * fall)) : TW_CELL_HORIZON_DAYS;
    }
    out->output_g_per_h = tw_estimate_spread(output, n, scratch);
    out->p_enough = (double)enough / (double)n;
    out->days = tw_estimate_spread(days, n, scratch);
    out->flagged = out->days.q05 <= TW_CELL_FLAG_DAYS && (out->fall_learned >= TW_CELL_LEARNED || out->p_enough <= TW_CELL_SHORT);
    return TW_OK;
}
