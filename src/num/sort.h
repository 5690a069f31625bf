/* num/sort.h: sorting without malloc or recursion, and quantiles of what is sorted.
 *
 * Heap sort: n log n in the worst case. qsort is not used: its order of equal elements, and so the
 * bits of what follows, differs between libraries. NaN is a caller's bug here (TW_REQUIRE). */
#ifndef TW_NUM_SORT_H
#define TW_NUM_SORT_H

#include <stddef.h>
#include <stdint.h>

/* Sort upwards in place. -0 and +0 are equal and may come in either order, so add 0.0 where the
 * sign of zero could reach an output. */
void tw_sort(double *value, size_t n);

/* Fill index[0..n-1] with the order in which key rises: key[index[0]] is the smallest. Equal keys
 * keep their order (the lower index first). key is not changed. n < 2^32. */
void tw_sort_index(const double *key, size_t n, uint32_t *index);

/* The same for any order: less(a, b, context) says whether element a comes before element b.
 * Elements of which neither comes first keep their order. */
typedef int tw_less(uint32_t a, uint32_t b, const void *context);
void tw_sort_index_by(tw_less *less, const void *context, size_t n, uint32_t *index);

/* Quantile p (0..1) of n >= 1 values sorted upwards, interpolated between order statistics:
 * position (n-1)*p counted from 0 (type 7 of Hyndman and Fan 1996, the default of R and numpy). */
double tw_quantile_sorted(const double *value, size_t n, double p);

/* Quantile p of weighted values: the inverse of the weighted distribution function, without
 * interpolation: the smallest value of which the weights up to and with it reach p times their sum.
 * order: indices by rising value (tw_sort_index); weight >= 0 with a sum > 0; NULL means equal. */
double tw_quantile_weighted(const double *value, const double *weight, const uint32_t *order,
                            size_t n, double p);

/* The same value without sorting all of them, for one quantile of many values: members are thrown into bins until the one
 * that holds it is small. Where weights differ, sums run in another order than above: at a tie to the last digit a
 * neighbour may be taken. Finite values; room for n indices. */
double tw_quantile_picked(const double *value, const double *weight, size_t n, double p, uint32_t *room);

#endif
