/* Second opinions from libraries that only the tests use: GSL for the normal distribution,
 * libsodium for SHA-256. Skipped where they are not installed. */
#include "num/normal.h"
#include "num/sha256.h"
#include "support/check.h"

#ifdef TW_HAVE_GSL
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#endif
#ifdef TW_HAVE_SODIUM
#include <sodium.h>
#endif

static void gsl_agrees_on_the_normal_distribution(void **state)
{
    (void)state;
#ifdef TW_HAVE_GSL
    uint64_t random = check_seed;
    for (int i = 0; i < 100000; i++) {
        const double x = check_uniform(&random, -36.0, 8.0);
        /* GSL's own lower tail is good to about 1e-13 where x^2/2 is rounded before exp. */
        assert_near_rel(tw_normal_cdf(x), gsl_cdf_ugaussian_P(x), 3e-13);
        assert_near_rel(tw_normal_pdf(x), gsl_ran_ugaussian_pdf(x), 3e-13);
        const double p = check_uniform(&random, 0.0, 1.0);
        if (p > 0.0)
            assert_near(tw_normal_quantile(p), gsl_cdf_ugaussian_Pinv(p), 2e-14);
    }
#else
    skip();
#endif
}

static void libsodium_agrees_on_sha256(void **state)
{
    (void)state;
#ifdef TW_HAVE_SODIUM
    uint64_t random = check_seed;
    static uint8_t data[3000];
    for (size_t i = 0; i < sizeof data; i++)
        data[i] = (uint8_t)random_bits(&random);
    for (size_t n = 0; n < 300; n++) { /* every length around the blocks, then random ones */
        uint8_t ours[TW_SHA256_BYTES], theirs[TW_SHA256_BYTES];
        tw_sha256(data, n, ours);
        crypto_hash_sha256(theirs, data, n);
        assert_memory_equal(ours, theirs, sizeof ours);
        const size_t from = (size_t)(random_bits(&random) % 1000);
        const size_t long_n = (size_t)(random_bits(&random) % 2000);
        tw_sha256(data + from, long_n, ours);
        crypto_hash_sha256(theirs, data + from, long_n);
        assert_memory_equal(ours, theirs, sizeof ours);
    }
#else
    skip();
#endif
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gsl_agrees_on_the_normal_distribution),
        cmocka_unit_test(libsodium_agrees_on_sha256),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
