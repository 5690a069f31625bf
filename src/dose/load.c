/* dose/load.c: see load.h. */
#include "dose/load.h"

#include <math.h>
#include <string.h>

#include "dose/course_rows.h"
#include "dose/course_visit.h"
#include "num/philox.h"
#include "num/sort.h"

#define STREAM_DAY 0x64617973u /* "days" */

size_t tw_dose_needs_bytes(size_t n)
{
    return tw_dose_waters_bytes(n);
}

/* Out of its band: +1 is to rise, -1 to fall. pH by its rows. */
static int way_of(const tw_rows *r, int q, const double row[TW_ROWS])
{
    const tw_course_band *b = &r->ask->band[q];
    if (q == TW_OF_PH)
        return row[TW_ROW_PH_LOW] < 0.0 ? 1 : row[TW_ROW_PH_HIGH] > 0.0 ? -1 : 0;
    return row[q] < b->low ? 1 : row[q] > b->high ? -1 : 0;
}

/* One water to its targets, each product seeing what those before it brought; pH last but for chlorine, and by air where
 * that may lift it. */
static void needs_of(const tw_rows *r, double row[TW_ROWS], double kg, size_t n, size_t member, double *grams)
{
    static const int ORDER[] = {TW_OF_ALKALINITY, TW_OF_PHOSPHATE, TW_OF_CYANURATE, TW_OF_CALCIUM, TW_OF_SALT, TW_OF_PH, TW_OF_CHLORINE};
    for (size_t j = 0; j < r->ask->stocks; j++)
        grams[j * n + member] = 0.0;
    for (size_t a = 0; a < sizeof ORDER / sizeof *ORDER; a++) {
        const int q = ORDER[a], at = q == TW_OF_PH ? TW_ROW_PH_TARGET : q;
        if (!tw_dose_rows_banded(r, q))
            continue;
        if (q == TW_OF_PH && r->ask->air_hours > 0.0 && row[TW_ROW_PH_TARGET] < 0.0)
            continue;
        const int way = way_of(r, q, row), j = way != 0 ? tw_dose_visit_plainest(r, q, way, 0) : -1;
        if (j < 0)
            continue;
        const double target = q == TW_OF_PH ? 0.0 : r->ask->band[q].target, each = r->per_g[at][j] / kg;
        const double one = (target - row[at]) / each;
        grams[(size_t)j * n + member] += one;
        for (int i = 0; i < TW_ROWS; i++)
            row[i] += r->per_g[i][j] / kg * one;
    }
}

tw_status tw_dose_needs(const tw_course_ask *ask, void *mem, size_t bytes, double *grams)
{
    tw_water middle;
    double kg;
    tw_reduced acids;
    tw_rows rows;
    if (ask->waters == NULL || ask->stocks > TW_COURSE_STOCK)
        return TW_ERR_RANGE;
    const tw_status status = tw_dose_frozen(ask->waters, mem, bytes, &middle, &kg, &acids);
    if (status != TW_OK)
        return status;
    tw_dose_rows_init(ask, &acids, &middle, kg, &rows);
    for (size_t i = 0; i < ask->waters->n; i++) {
        double row[TW_ROWS];
        const tw_water one = tw_dose_member(ask->waters, i);
        tw_dose_rows_of(&rows, &one, row);
        needs_of(&rows, row, ask->waters->water_kg[i], ask->waters->n, i, grams);
    }
    return TW_OK;
}

size_t tw_dose_load_bytes(size_t products)
{
    return (products + 1) * TW_LOAD_DAYS * sizeof(double);
}

/* Days on which the amounts at this place of each product's sorted sums are enough of everything. */
static size_t covered(const double *day, const double *amount, size_t products)
{
    size_t days = 0;
    for (size_t d = 0; d < TW_LOAD_DAYS; d++) {
        int enough = 1;
        for (size_t p = 0; p < products && enough; p++)
            enough = day[p * TW_LOAD_DAYS + d] <= amount[p];
        days += enough != 0;
    }
    return days;
}

static void amounts_at(const double *day, size_t products, size_t place, double *sorted, double *amount)
{
    for (size_t p = 0; p < products; p++) {
        memcpy(sorted, day + p * TW_LOAD_DAYS, TW_LOAD_DAYS * sizeof *sorted);
        tw_sort(sorted, TW_LOAD_DAYS);
        amount[p] = sorted[place];
    }
}

tw_status tw_dose_load(const tw_load_tub *tub, size_t tubs, size_t products, double cover, uint64_t seed, void *mem, size_t bytes,
                       double *grams)
{
    double *day = mem, *sorted = day + products * TW_LOAD_DAYS;
    if (tubs == 0 || !(cover >= 0.0 && cover <= 1.0))
        return TW_ERR_RANGE;
    if (bytes < tw_dose_load_bytes(products))
        return TW_ERR_CAPACITY;
    for (size_t i = 0; i < products * TW_LOAD_DAYS; i++)
        day[i] = 0.0;
    for (size_t t = 0; t < tubs; t++) {
        if (tub[t].n == 0 || tub[t].n > UINT32_MAX)
            return TW_ERR_RANGE;
        tw_stream stream = tw_stream_make(seed, (uint32_t)t, STREAM_DAY, 0);
        for (size_t d = 0; d < TW_LOAD_DAYS; d++) {
            const size_t member = tw_stream_below(&stream, (uint32_t)tub[t].n);
            for (size_t p = 0; p < products; p++)
                day[p * TW_LOAD_DAYS + d] += tub[t].grams[p * tub[t].n + member];
        }
    }
    /* More of all covers more days: halve the place between none and the largest sums, which cover all. */
    size_t low = 0, high = TW_LOAD_DAYS - 1;
    while (low < high) {
        const size_t place = low + (high - low) / 2;
        amounts_at(day, products, place, sorted, grams);
        if ((double)covered(day, grams, products) >= cover * TW_LOAD_DAYS)
            high = place;
        else
            low = place + 1;
    }
    amounts_at(day, products, high, sorted, grams);
    return TW_OK;
}

/* How many of those before it, in a box, it must not meet. */
static size_t foes(const tw_family *family, const uint32_t *box, size_t i, uint32_t into)
{
    size_t n = 0;
    for (size_t e = 0; e < i; e++) {
        const tw_dose_pair *pair = box[e] == into ? tw_dose_pair_of(family[e], family[i]) : NULL;
        n += pair != NULL && pair->boxes;
    }
    return n;
}

size_t tw_dose_boxes(const tw_family *family, size_t n, uint32_t *box)
{
    size_t boxes = 0;
    for (size_t i = 0; i < n; i++) {
        box[i] = 0;
        while (foes(family, box, i, box[i]) > 0)
            box[i]++; /* an empty box takes it at last */
        boxes = (size_t)box[i] + 1 > boxes ? (size_t)box[i] + 1 : boxes;
    }
    return boxes;
}
