/* num/sort.c: heap sort (Williams 1964, Floyd 1964) and quantiles. */
#include "num/sort.h"

#include <math.h>

#include "num/require.h"

/* Let value[at] sink until no child is larger; the heap is value[0..n-1]. */
static void sink(double *value, size_t at, size_t n)
{
    const double moving = value[at];
    for (;;) {
        size_t child = 2 * at + 1;
        if (child >= n)
            break;
        if (child + 1 < n && value[child] < value[child + 1])
            child++;
        if (!(moving < value[child]))
            break;
        value[at] = value[child];
        at = child;
    }
    value[at] = moving;
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
    for (;;) {
        size_t child = 2 * at + 1;
        if (child >= n)
            break;
        if (child + 1 < n && before(less, context, index[child], index[child + 1]))
            child++;
        if (!before(less, context, moving, index[child]))
            break;
        index[at] = index[child];
        at = child;
    }
    index[at] = moving;
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

static int key_less(uint32_t a, uint32_t b, const void *context)
{
    const double *key = context;
    return key[a] < key[b];
}

void tw_sort_index(const double *key, size_t n, uint32_t *index)
{
    for (size_t i = 0; i < n; i++)
        TW_REQUIRE(key[i] == key[i]);
    tw_sort_index_by(key_less, key, n, index);
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
