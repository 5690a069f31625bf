/* dose/load.h: what to take along: the need of each product, so that a day's tubs are served with a stated chance; and
 * what must not travel in one box.
 *
 * The mean of what tubs will need is short every other day. Each tub's possible waters say what it may take; days are drawn
 * from them. Pure; memory from the caller. */
#ifndef TW_DOSE_LOAD_H
#define TW_DOSE_LOAD_H

#include "dose/course.h"

/* Days that are drawn. */
#define TW_LOAD_DAYS 2048

/* One tub of the day: grams of each product for each of its possible waters, grams[product * n + member]. */
typedef struct {
    size_t n;
    const double *grams;
} tw_load_tub;

/* Bytes of working memory for the needs of n possible waters. */
size_t tw_dose_needs_bytes(size_t n);

/* Grams of each product on the ask's list that every possible water would take to its targets, each quantity by the product
 * of which the fewest grams do; nothing for a water that lies in its bands. Weights of the waters are not looked at: draw
 * members by them first. grams: stocks * n. Statuses as tw_dose_course. */
tw_status tw_dose_needs(const tw_course_ask *ask, void *mem, size_t bytes, double *grams);

/* Bytes for a load of so many products. */
size_t tw_dose_load_bytes(size_t products);

/* The grams of each product with which all needs of all tubs are met on a share `cover` (0..1) of the days drawn: the same
 * quantile of each product's daily sum, the least that covers. TW_ERR_RANGE for no tub, no water, a cover outside 0..1. */
tw_status tw_dose_load(const tw_load_tub *tub, size_t tubs, size_t products, double cover, uint64_t seed, void *mem, size_t bytes,
                       double *grams);

/* Boxes for products of these families: box[i] from 0 up, none with two that must not share one (data/pairs.csv), in the
 * order given, each in the first box that takes it. Returns how many boxes. */
size_t tw_dose_boxes(const tw_family *family, size_t n, uint32_t *box);

#endif
