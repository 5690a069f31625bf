/* tests/support/check.h: what every test program needs beside cmocka.
 *
 *   #include "support/check.h"
 *   static void claim(void **state) { (void)state; assert_near(tw_exp(1.0), 2.718281828459045, 1e-15); }
 *   int main(int argc, char **argv)
 *   {
 *       const struct CMUnitTest tests[] = { cmocka_unit_test(claim) };
 *       return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
 *   }
 *
 * check_run prints TAP by itself. A program that draws random cases takes its seed from argv[1]
 * and prints it, so that a failure can be run again. */
#ifndef TW_TESTS_CHECK_H
#define TW_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/random.h"

/* The seed of this run: argv[1] if there is one, else a fixed number. Set by check_run. */
static uint64_t check_seed = 20260324u;

/* Within tol of each other (absolute). NaN is near nothing, infinities only to themselves. */
static inline void check_near(double got, double want, double tol, const char *what,
                              const char *file, int line)
{
    const double gap = got > want ? got - want : want - got;
    if (got == want || gap <= tol)
        return;
    print_error("# %s: got %.17g, wanted %.17g within %.3g (off by %.3g)\n", what, got, want, tol, gap);
    _fail(file, line);
}

/* Within a share rel of the wanted value. */
static inline void check_near_rel(double got, double want, double rel, const char *what,
                                  const char *file, int line)
{
    const double size = want < 0 ? -want : want;
    check_near(got, want, rel * size, what, file, line);
}

#define assert_near(got, want, tol) check_near((got), (want), (tol), #got, __FILE__, __LINE__)
#define assert_near_rel(got, want, rel) check_near_rel((got), (want), (rel), #got, __FILE__, __LINE__)

/* Not a number: the answer of a function that has none. */
static inline void check_nan(double got, const char *what, const char *file, int line)
{
    if (got != got)
        return;
    print_error("# %s: got %.17g, wanted NaN\n", what, got);
    _fail(file, line);
}
#define assert_nan(got) check_nan((got), #got, __FILE__, __LINE__)

/* Equal to the bit: -0 differs from +0; any NaN equals any NaN. */
static inline void check_same_bits(double got, double want, const char *what, const char *file, int line)
{
    uint64_t a, b;
    memcpy(&a, &got, sizeof a);
    memcpy(&b, &want, sizeof b);
    if (a == b || (got != got && want != want))
        return;
    print_error("# %s: got %a, wanted %a\n", what, got, want);
    _fail(file, line);
}
#define assert_same_bits(got, want) check_same_bits((got), (want), #got, __FILE__, __LINE__)

/* A status by name in the message. Needs num/status.h before. */
#define assert_status(got, want)                                                             \
    do {                                                                                     \
        const int check_got = (int)(got), check_want = (int)(want);                          \
        if (check_got != check_want) {                                                       \
            print_error("# %s: got %s, wanted %s\n", #got,                                   \
                        tw_status_name((tw_status)check_got), tw_status_name((tw_status)check_want)); \
            _fail(__FILE__, __LINE__);                                                       \
        }                                                                                    \
    } while (0)
#define assert_ok(got) assert_status(got, TW_OK)

/* Uniform in [low, high). */
static inline double check_uniform(uint64_t *state, double low, double high)
{
    return low + (high - low) * ((double)(random_bits(state) >> 11) * 0x1p-53);
}

/* A file of the source tree, for vectors: path relative to the source root (env SRC, else "."). */
static inline FILE *check_open(const char *path)
{
    char full[1024];
    const char *src = getenv("SRC");
    snprintf(full, sizeof full, "%s/%s", src ? src : ".", path);
    FILE *file = fopen(full, "rb");
    if (!file) {
        print_error("# cannot open %s\n", full);
        fail();
    }
    return file;
}

#define check_run(argc, argv, tests, count) \
    check_run_group((argc), (argv), #tests, (tests), (count))

static inline int check_run_group(int argc, char **argv, const char *name,
                                  const struct CMUnitTest *tests, size_t count)
{
    if (argc > 1)
        check_seed = strtoull(argv[1], NULL, 0);
    cmocka_set_message_output(CM_OUTPUT_TAP);
    printf("# seed %llu\n", (unsigned long long)check_seed);
    fflush(stdout);
    return _cmocka_run_group_tests(name, tests, count, NULL, NULL);
}

#endif
