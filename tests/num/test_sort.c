/* Sorting and quantiles against simple counting. */
#include "num/sort.h"
#include "support/check.h"

#define MOST 300

/* Values with many ties. */
static size_t draw(uint64_t *random, double *value)
{
    const size_t n = (size_t)(random_bits(random) % MOST);
    const uint64_t kinds = 1 + random_bits(random) % 400;
    for (size_t i = 0; i < n; i++)
        value[i] = (double)(random_bits(random) % kinds) - 50.0;
    return n;
}

static size_t count_of(const double *value, size_t n, double x)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += value[i] == x;
    return count;
}

static void sorted_values_rise_and_are_the_same_values(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int round = 0; round < 300; round++) {
        double value[MOST], before[MOST];
        const size_t n = draw(&random, value);
        memcpy(before, value, sizeof before);
        tw_sort(value, n);
        for (size_t i = 0; i < n; i++) {
            assert_true(i == 0 || value[i - 1] <= value[i]);
            assert_int_equal(count_of(value, n, value[i]), count_of(before, n, value[i]));
        }
    }
}

static void index_sort_is_stable(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int round = 0; round < 300; round++) {
        double key[MOST];
        uint32_t index[MOST];
        int seen[MOST] = {0};
        const size_t n = draw(&random, key);
        tw_sort_index(key, n, index);
        for (size_t i = 0; i < n; i++) {
            assert_true(index[i] < n && !seen[index[i]]);
            seen[index[i]] = 1;
            if (i > 0)
                assert_true(key[index[i - 1]] < key[index[i]]
                            || (key[index[i - 1]] == key[index[i]] && index[i - 1] < index[i]));
        }
    }
}

static int longer_first(uint32_t a, uint32_t b, const void *context)
{
    const char *const *word = context;
    return strlen(word[a]) > strlen(word[b]);
}

static void any_order_can_be_given(void **state)
{
    (void)state;
    static const char *const word[] = {"duty", "cell", "alkalinity", "salt", "calcium", "pH"};
    static const uint32_t want[] = {2, 4, 0, 1, 3, 5};
    uint32_t index[6];
    tw_sort_index_by(longer_first, word, 6, index);
    assert_memory_equal(index, want, sizeof want);
}

static void quantiles_of_type_7(void **state)
{
    (void)state;
    /* R: quantile(c(1,2,4,8,16), c(0,.1,.25,.5,.9,1)) */
    const double value[] = {1, 2, 4, 8, 16};
    assert_near(tw_quantile_sorted(value, 5, 0.0), 1.0, 0.0);
    assert_near(tw_quantile_sorted(value, 5, 0.1), 1.4, 1e-15);
    assert_near(tw_quantile_sorted(value, 5, 0.25), 2.0, 0.0);
    assert_near(tw_quantile_sorted(value, 5, 0.5), 4.0, 0.0);
    assert_near(tw_quantile_sorted(value, 5, 0.9), 12.8, 1e-14);
    assert_near(tw_quantile_sorted(value, 5, 1.0), 16.0, 0.0);
    assert_near(tw_quantile_sorted(value, 1, 0.7), 1.0, 0.0);
    assert_near(tw_quantile_sorted(value, 4, 0.5), 3.0, 0.0);
    assert_near(tw_quantile_sorted(value, 4, 0.9), 6.8, 1e-15);
    assert_near(tw_quantile_sorted(value, 2, 0.25), 1.25, 0.0);
    uint64_t random = check_seed;
    for (int round = 0; round < 1000; round++) { /* inside the values, and rising with p */
        double many[MOST];
        const size_t n = draw(&random, many);
        if (n == 0)
            continue;
        tw_sort(many, n);
        const double p = check_uniform(&random, 0.0, 1.0), q = check_uniform(&random, 0.0, 1.0);
        const double at_p = tw_quantile_sorted(many, n, p), at_q = tw_quantile_sorted(many, n, q);
        assert_true(at_p >= many[0] && at_p <= many[n - 1]);
        assert_true(p < q ? at_p <= at_q : at_p >= at_q);
    }
}

static void weighted_quantile_is_the_smallest_that_reaches_p(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int round = 0; round < 1000; round++) {
        double value[MOST], weight[MOST];
        uint32_t order[MOST];
        const size_t n = draw(&random, value);
        uint64_t total = 0;
        for (size_t i = 0; i < n; i++) { /* whole weights, so that the sums here are exact */
            const uint64_t w = random_bits(&random) % 4;
            weight[i] = (double)w;
            total += w;
        }
        if (total == 0)
            continue;
        tw_sort_index(value, n, order);
        const double p = (double)(random_bits(&random) % 65) / 64.0;
        const double got = tw_quantile_weighted(value, weight, order, n, p);
        double up_to = 0.0, below = 0.0, own = 0.0;
        for (size_t i = 0; i < n; i++) {
            up_to += value[i] <= got ? weight[i] : 0.0;
            below += value[i] < got ? weight[i] : 0.0;
            own += value[i] == got ? weight[i] : 0.0;
        }
        assert_true(own > 0.0);
        assert_true(up_to >= p * (double)total);
        assert_true(below < p * (double)total || below == 0.0);
    }
}

static void no_weights_means_equal_weights(void **state)
{
    (void)state;
    const double value[] = {5, 1, 4, 2, 3};
    uint32_t order[5];
    tw_sort_index(value, 5, order);
    assert_near(tw_quantile_weighted(value, NULL, order, 5, 0.0), 1.0, 0.0);
    assert_near(tw_quantile_weighted(value, NULL, order, 5, 0.2), 1.0, 0.0);
    assert_near(tw_quantile_weighted(value, NULL, order, 5, 0.21), 2.0, 0.0);
    assert_near(tw_quantile_weighted(value, NULL, order, 5, 0.5), 3.0, 0.0);
    assert_near(tw_quantile_weighted(value, NULL, order, 5, 1.0), 5.0, 0.0);
}

/* Spread wide, bunched, with ties, with weights of whole numbers (whose sums are exact in any order). */
static void picked_without_sorting_is_the_same(void **state)
{
    (void)state;
    uint64_t random = check_seed + 5;
    static double value[5000], weight[5000];
    static uint32_t order[5000], room[5000];
    for (int round = 0; round < 400; round++) {
        const size_t n = 1 + (size_t)(random_bits(&random) % (round % 10 == 0 ? 5000 : 200));
        const uint64_t kinds = 1 + random_bits(&random) % 1000;
        for (size_t i = 0; i < n; i++) {
            value[i] = (double)(random_bits(&random) % kinds) - 50.0;
            if (round % 3 == 0)
                value[i] = check_uniform(&random, -1.0, 1.0);
            if (round % 5 == 0 && i % 50 == 0)
                value[i] *= 1e12;
            weight[i] = (double)(random_bits(&random) % 4) + (i == 0 ? 1.0 : 0.0);
        }
        tw_sort_index(value, n, order);
        for (int k = 0; k < 6; k++) {
            const double p = k == 0 ? 0.0 : k == 1 ? 1.0 : check_uniform(&random, 0.0, 1.0);
            assert_true(tw_quantile_picked(value, NULL, n, p, room) == tw_quantile_weighted(value, NULL, order, n, p));
            assert_true(tw_quantile_picked(value, weight, n, p, room) == tw_quantile_weighted(value, weight, order, n, p));
        }
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sorted_values_rise_and_are_the_same_values),
        cmocka_unit_test(index_sort_is_stable),
        cmocka_unit_test(any_order_can_be_given),
        cmocka_unit_test(quantiles_of_type_7),
        cmocka_unit_test(weighted_quantile_is_the_smallest_that_reaches_p),
        cmocka_unit_test(no_weights_means_equal_weights),
        cmocka_unit_test(picked_without_sorting_is_the_same),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
