/* Philox4x32-10 against the published known answers, and the streams over it. */
#include <math.h>

#include "num/philox.h"
#include "num/sort.h"
#include "support/check.h"

static void published_answers(void **state)
{
    (void)state;
    /* Random123, tests/kat_vectors, rows "philox4x32 10". */
    static const struct {
        uint32_t counter[4], key[2], want[4];
    } row[] = {
        {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
        {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
         {0xffffffff, 0xffffffff},
         {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
        {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
         {0xa4093822, 0x299f31d0},
         {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        uint32_t got[4];
        tw_philox4x32(row[i].counter, row[i].key, got);
        assert_memory_equal(got, row[i].want, sizeof got);
        memcpy(got, row[i].counter, sizeof got);
        tw_philox4x32(got, row[i].key, got); /* in place */
        assert_memory_equal(got, row[i].want, sizeof got);
    }
}

static void a_stream_is_the_blocks_of_its_counter(void **state)
{
    (void)state;
    const uint64_t seed = UINT64_C(0x299f31d0a4093822);
    tw_stream stream = tw_stream_make(seed, 7, 9, 5);
    for (uint32_t number = 0; number < 3; number++) {
        const uint32_t counter[4] = {number, 5, 7, 9}, key[2] = {0xa4093822, 0x299f31d0};
        uint32_t want[4];
        tw_philox4x32(counter, key, want);
        for (int i = 0; i < 4; i++)
            assert_int_equal(tw_stream_u32(&stream), want[i]);
    }
}

static void every_argument_makes_another_stream(void **state)
{
    (void)state;
    tw_stream stream[6] = {tw_stream_make(1, 1, 1, 1),
                           tw_stream_make(2, 1, 1, 1),
                           tw_stream_make(UINT64_C(0x100000001), 1, 1, 1),
                           tw_stream_make(1, 2, 1, 1),
                           tw_stream_make(1, 1, 2, 1),
                           tw_stream_make(1, 1, 1, 2)};
    uint32_t first[6];
    for (int i = 0; i < 6; i++)
        first[i] = tw_stream_u32(&stream[i]);
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < i; j++)
            assert_int_not_equal(first[i], first[j]);
    tw_stream copy = stream[0];
    assert_int_equal(tw_stream_u32(&copy), tw_stream_u32(&stream[0]));
}

static void uniforms_are_inside_and_even(void **state)
{
    (void)state;
    enum { N = 200000 };
    tw_stream stream = tw_stream_make(check_seed, 0, 0, 0);
    double sum = 0.0, squares = 0.0;
    int box[20] = {0};
    for (int i = 0; i < N; i++) {
        const double u = tw_stream_uniform(&stream);
        assert_true(u > 0.0 && u < 1.0);
        assert_same_bits(1.0 - (1.0 - u), u); /* the complement is exact */
        sum += u;
        squares += u * u;
        box[(int)(20.0 * u)]++;
    }
    assert_near(sum / N, 0.5, 5.0 * sqrt(1.0 / 12.0 / N));
    assert_near(squares / N, 1.0 / 3.0, 5.0 * sqrt(4.0 / 45.0 / N));
    double chi2 = 0.0;
    for (int i = 0; i < 20; i++)
        chi2 += (box[i] - N / 20.0) * (box[i] - N / 20.0) / (N / 20.0);
    assert_true(chi2 > 3.0 && chi2 < 52.0); /* 19 degrees of freedom, about 1e-5 on each side */
}

/* A word of all ones or zeros must not give 1 or 0. */
static void the_ends_of_the_words_stay_inside(void **state)
{
    (void)state;
    tw_stream stream = tw_stream_make(0, 0, 0, 0);
    stream.used = 0;
    memset(stream.word, 0xFF, sizeof stream.word);
    const double top = tw_stream_uniform(&stream);
    assert_same_bits(top, 1.0 - 0x1p-53);
    stream.used = 0;
    memset(stream.word, 0, sizeof stream.word);
    const double bottom = tw_stream_uniform(&stream);
    assert_same_bits(bottom, 0x1p-53);
    stream.used = 0;
    const double low = tw_stream_normal(&stream);
    assert_true(low < -8.0 && low > -9.0);
}

static void normals_have_the_moments(void **state)
{
    (void)state;
    enum { N = 200000 };
    tw_stream stream = tw_stream_make(check_seed, 1, 2, 3);
    double m1 = 0.0, m2 = 0.0, m3 = 0.0, m4 = 0.0;
    for (int i = 0; i < N; i++) {
        const double z = tw_stream_normal(&stream);
        m1 += z / N;
        m2 += z * z / N;
        m3 += z * z * z / N;
        m4 += z * z * z * z / N;
    }
    const double s = 5.0 / sqrt((double)N);
    assert_near(m1, 0.0, s);
    assert_near(m2, 1.0, s * sqrt(2.0));
    assert_near(m3, 0.0, s * sqrt(15.0));
    assert_near(m4, 3.0, s * sqrt(96.0));
}

static void members_are_uncorrelated(void **state)
{
    (void)state;
    enum { N = 100000 };
    double product = 0.0;
    for (uint32_t member = 0; member + 1 < N; member++) {
        tw_stream a = tw_stream_make(check_seed, 0, 0, member);
        tw_stream b = tw_stream_make(check_seed, 0, 0, member + 1);
        const double za = tw_stream_normal(&a), zb = tw_stream_normal(&b);
        product += za * zb / N;
    }
    assert_near(product, 0.0, 5.0 / sqrt((double)N));
}

static void whole_numbers_below_n_are_even(void **state)
{
    (void)state;
    enum { N = 60000 };
    tw_stream stream = tw_stream_make(check_seed, 4, 4, 4);
    int box[6] = {0};
    for (int i = 0; i < N; i++) {
        const uint32_t k = tw_stream_below(&stream, 6);
        assert_true(k < 6);
        box[k]++;
    }
    for (int i = 0; i < 6; i++)
        assert_near((double)box[i], N / 6.0, 5.0 * sqrt(N * 5.0 / 36.0));
    assert_int_equal(tw_stream_below(&stream, 1), 0);
    /* 3 * 2^30 favours its lower third by a factor of 2 when taken by remainder. */
    int lower = 0;
    for (int i = 0; i < N; i++)
        lower += tw_stream_below(&stream, UINT32_C(3) << 30) < UINT32_C(1) << 30;
    assert_near((double)lower, N / 3.0, 5.0 * sqrt(N * 2.0 / 9.0));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_answers),
        cmocka_unit_test(a_stream_is_the_blocks_of_its_counter),
        cmocka_unit_test(every_argument_makes_another_stream),
        cmocka_unit_test(uniforms_are_inside_and_even),
        cmocka_unit_test(the_ends_of_the_words_stay_inside),
        cmocka_unit_test(normals_have_the_moments),
        cmocka_unit_test(members_are_uncorrelated),
        cmocka_unit_test(whole_numbers_below_n_are_even),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
