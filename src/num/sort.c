/* num/sort.c: heap sort (Williams 1964; sinking to the bottom first: Wegener 1993) and quantiles. */
#include "num/sort.h"

#include <math.h>

#include "num/require.h"

/* Let value[at] sink until no child is larger; the heap is value[0..n-1]. The hole goes down to a
 * leaf along the larger children and the value climbs back from there: half the comparisons, since
 * what sinks comes from the bottom and mostly belongs there. */
static void sink(double *value, size_t at, size_t n)
{
    const double moving = value[at];
    size_t hole = at;
    for (size_t child = 2 * hole + 1; child < n; child = 2 * hole + 1) {
        if (child + 1 < n)
            child += (size_t)(value[child] < value[child + 1]); /* a sum, since no processor guesses this branch */
        value[hole] = value[child];
        hole = child;
    }
    while (hole > at && value[(hole - 1) / 2] < moving) {
        value[hole] = value[(hole - 1) / 2];
        hole = (hole - 1) / 2;
    }
    value[hole] = moving;
}

void tw_sort(double *value, size_t n)
{
    for (size_t i = 0; i < n; i++)
        TW_REQUIRE(value[i] == value[i]);
    for (size_t i = n / 2; i > 0; i--)
        sink(value, i - 1, n);
    for (size_t end = n; end > 1; end--) {
        const double largest = value[0];
        value[0] = value[end - 1];
        value[end - 1] = largest;
        sink(value, 0, end - 1);
    }
}

/* The caller's order with the index as the last word, so that no two elements are equal. */
static int before(tw_less *less, const void *context, uint32_t a, uint32_t b)
{
    if (less(a, b, context))
        return 1;
    if (less(b, a, context))
        return 0;
    return a < b;
}

static void sink_index(tw_less *less, const void *context, uint32_t *index, size_t at, size_t n)
{
    const uint32_t moving = index[at];
    size_t hole = at;
    for (size_t child = 2 * hole + 1; child < n; child = 2 * hole + 1) {
        if (child + 1 < n && before(less, context, index[child], index[child + 1]))
            child++;
        index[hole] = index[child];
        hole = child;
    }
    while (hole > at && before(less, context, index[(hole - 1) / 2], moving)) {
        index[hole] = index[(hole - 1) / 2];
        hole = (hole - 1) / 2;
    }
    index[hole] = moving;
}

void tw_sort_index_by(tw_less *less, const void *context, size_t n, uint32_t *index)
{
    TW_REQUIRE((uint64_t)n <= UINT32_MAX);
    for (size_t i = 0; i < n; i++)
        index[i] = (uint32_t)i;
    for (size_t i = n / 2; i > 0; i--)
        sink_index(less, context, index, i - 1, n);
    for (size_t end = n; end > 1; end--) {
        const uint32_t last = index[0];
        index[0] = index[end - 1];
        index[end - 1] = last;
        sink_index(less, context, index, 0, end - 1);
    }
}

/* The same by keys, written out: the order is asked some 10 n times, too often for a call. */
static int key_before(const double *key, uint32_t a, uint32_t b)
{
    return (key[a] < key[b]) | ((key[a] == key[b]) & (a < b));
}

static void sink_key(const double *key, uint32_t *index, size_t at, size_t n)
{
    const uint32_t moving = index[at];
    size_t hole = at;
    for (size_t child = 2 * hole + 1; child < n; child = 2 * hole + 1) {
        if (child + 1 < n)
            child += (size_t)key_before(key, index[child], index[child + 1]);
        index[hole] = index[child];
        hole = child;
    }
    while (hole > at && key_before(key, index[(hole - 1) / 2], moving)) {
        index[hole] = index[(hole - 1) / 2];
        hole = (hole - 1) / 2;
    }
    index[hole] = moving;
}

void tw_sort_index(const double *key, size_t n, uint32_t *index)
{
    TW_REQUIRE((uint64_t)n <= UINT32_MAX);
    for (size_t i = 0; i < n; i++) {
        TW_REQUIRE(key[i] == key[i]);
        index[i] = (uint32_t)i;
    }
    for (size_t i = n / 2; i > 0; i--)
        sink_key(key, index, i - 1, n);
    for (size_t end = n; end > 1; end--) {
        const uint32_t last = index[0];
        index[0] = index[end - 1];
        index[end - 1] = last;
        sink_key(key, index, 0, end - 1);
    }
}

double tw_quantile_sorted(const double *value, size_t n, double p)
{
    TW_REQUIRE(n >= 1 && p >= 0.0 && p <= 1.0);
    const double position = (double)(n - 1) * p;
    const double whole = floor(position);
    const size_t i = (size_t)whole;
    const double share = position - whole;
    if (share == 0.0 || i + 1 >= n)
        return value[i];
    const double low = value[i], high = value[i + 1];
    const double between = low + share * (high - low);
    return between < high ? between : high; /* rounding never leaves the two */
}

double tw_quantile_weighted(const double *value, const double *weight, const uint32_t *order,
                            size_t n, double p)
{
    TW_REQUIRE(n >= 1 && p >= 0.0 && p <= 1.0);
    double total = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double w = weight ? weight[order[i]] : 1.0;
        TW_REQUIRE(w >= 0.0);
        total += w;
    }
    TW_REQUIRE(total > 0.0);
    /* Same order of sums as above, so the running sum ends at total exactly and p = 1 is met. */
    const double wanted = p * total;
    double sum = 0.0;
    size_t last = n;
    for (size_t i = 0; i < n; i++) {
        const double w = weight ? weight[order[i]] : 1.0;
        sum += w;
        if (w > 0.0)
            last = i;
        if (last < n && sum >= wanted)
            return value[order[last]];
    }
    return value[order[last]];
}

#define BINS 64
#define FEW 24 /* then insertion sort is quicker than more bins */

static double weight_at(const double *weight, uint32_t i)
{
    return weight != NULL ? weight[i] : 1.0;
}

/* Walk the candidates upwards from what lies below them. */
static double walked(const double *value, const double *weight, uint32_t *room, size_t m, double below, double wanted)
{
    for (size_t a = 1; a < m; a++) {
        const uint32_t one = room[a];
        size_t b = a;
        for (; b > 0 && value[room[b - 1]] > value[one]; b--)
            room[b] = room[b - 1];
        room[b] = one;
    }
    size_t last = m;
    for (size_t a = 0; a < m; a++) {
        const double w = weight_at(weight, room[a]);
        below += w;
        if (w > 0.0)
            last = a;
        if (last < m && below >= wanted)
            break;
    }
    return value[room[last < m ? last : m - 1]];
}

static size_t bin_of(double value, double low, double width)
{
    const double at = (value - low) / width * BINS;
    return at < BINS - 1 ? (size_t)at : BINS - 1;
}

double tw_quantile_picked(const double *value, const double *weight, size_t n, double p, uint32_t *room)
{
    TW_REQUIRE(n >= 1 && p >= 0.0 && p <= 1.0);
    double total = 0.0, below = 0.0;
    size_t m = 0;
    for (uint32_t i = 0; i < n; i++) {
        const double w = weight_at(weight, i);
        TW_REQUIRE(w >= 0.0);
        total += w;
        if (w > 0.0)
            room[m++] = i;
    }
    TW_REQUIRE(total > 0.0);
    const double wanted = p * total;
    /* Each turn keeps the members of one bin of 64 between the smallest and the largest, so never all of them. */
    while (m > FEW) {
        double low = value[room[0]], high = low, held[BINS] = {0.0};
        for (size_t a = 1; a < m; a++) {
            low = value[room[a]] < low ? value[room[a]] : low;
            high = value[room[a]] > high ? value[room[a]] : high;
        }
        const double width = high - low;
        if (!(width > 0.0))
            return low;
        for (size_t a = 0; a < m; a++)
            held[bin_of(value[room[a]], low, width)] += weight_at(weight, room[a]);
        size_t bin = 0, kept = 0;
        while (bin < BINS - 1 && (below + held[bin] < wanted || !(held[bin] > 0.0)))
            below += held[bin++];
        for (size_t a = 0; a < m; a++)
            if (bin_of(value[room[a]], low, width) == bin)
                room[kept++] = room[a];
        if (kept == 0)
            return high;
        m = kept;
    }
    return walked(value, weight, room, m, below, wanted);
}
