/* tests/estimate/test_crew.c: a belief does not know how many hands made it. */
#include "support/check.h"

#include "../../bench/startup.h"
#include "estimate/hands.h"
#include "plain.h"
#include "serve/crew.h"

/* The digest that names every number of the belief, with so many hands; their memory holds rubbish before. */
static void digest_by(const tw_problem *p, size_t hands, uint8_t digest[32])
{
    tw_estimate_options o = tw_estimate_options_default();
    tw_belief b;
    o.crew = tw_serve_crew_open(hands);
    assert_int_equal(o.crew != NULL, hands > 1);
    if (o.crew != NULL) {
        assert_int_equal(o.crew->hands, hands);
        memset(o.crew->mem, 0xA5, o.crew->bytes);
    }
    assert_int_equal(plain_sample(p, 5, &o, &b), TW_OK);
    memcpy(digest, b.digest, sizeof b.digest);
    tw_serve_crew_close(o.crew);
}

static void same_by_any_crew(const tw_problem *p)
{
    static const size_t HANDS[] = {2, 3, 7, 8};
    uint8_t alone[32], shared[32];
    digest_by(p, 1, alone);
    for (size_t i = 0; i < sizeof HANDS / sizeof *HANDS; i++) {
        digest_by(p, HANDS[i], shared);
        assert_memory_equal(alone, shared, sizeof alone);
    }
}

/* Two weeks with all that a start-up has: carbonate, scale, strips, doses. */
static void a_start_up(void **state)
{
    (void)state;
    static tw_problem p;
    startup_make(&p, 3, 336.0, 5.5);
    same_by_any_crew(&p);
}

/* A dose that nobody wrote: waters that share the chains, some with a single group, and members told of sizes. */
static void waters_that_share_the_chains(void **state)
{
    (void)state;
    tw_belief b;
    tw_problem *p = plain_start(96.0);
    plain_clean(p);
    plain_ln(p, TW_X_LOSS, 0.025, 0.5);
    plain_ln(p, TW_X_CHLORINE0, 4.0, 0.5);
    plain_ln(p, TW_X_DEMAND_RATE, 0.3, 0.1);
    p->plate_output_g_per_h = 0.096;
    plain_setting(p, 0.0, 1.0);
    for (double t = 6.0; t < 96.0; t += 12.0)
        plain_value(p, t, TW_OBSERVED_FREE_CHLORINE, t > 70.0 ? 6.0 : 4.0, 0.4)->rubbish = 0.02;
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    assert_true(b.unwrittens > 0 && b.written_chains < 64);
    same_by_any_crew(p);
}

/* A crew that does the last part first, on one thread, by hands in turn. */
static void backwards(tw_crew *crew, void (*job)(void *arg, size_t hand, size_t part), void *arg, size_t parts)
{
    while (parts-- > 0)
        job(arg, (parts * 3 + 1) % crew->hands, parts);
}

static void the_order_of_parts_does_not_count_but_their_memory_does(void **state)
{
    (void)state;
    static tw_problem p;
    tw_estimate_options o = tw_estimate_options_default();
    uint8_t alone[32];
    tw_belief b;
    startup_make(&p, 4, 72.0, 5.5);
    digest_by(&p, 1, alone);
    tw_crew crew = {backwards, 4, malloc(tw_estimate_crew_bytes(4)), tw_estimate_crew_bytes(4)};
    assert_non_null(crew.mem);
    o.crew = &crew;
    assert_int_equal(plain_sample(&p, 5, &o, &b), TW_OK);
    assert_memory_equal(alone, b.digest, sizeof alone);
    crew.bytes = tw_estimate_crew_bytes(3);
    assert_int_equal(plain_sample(&p, 5, &o, &b), TW_ERR_CAPACITY);
    free(crew.mem);
}

static uint64_t lot;

/* Each part to a hand drawn by lot. */
static void by_lot(tw_crew *crew, void (*job)(void *arg, size_t hand, size_t part), void *arg, size_t parts)
{
    for (size_t part = 0; part < parts; part++)
        job(arg, (size_t)(random_bits(&lot) % crew->hands), part);
}

/* A pH that nothing written explains: acid is looked for from the best point, whichever hand had which column of the Jacobian last. */
static void what_fits_nothing_is_searched_from_the_same_point(void **state)
{
    (void)state;
    tw_estimate_options o = tw_estimate_options_default();
    tw_crew crew = {by_lot, 2, malloc(tw_estimate_crew_bytes(2)), tw_estimate_crew_bytes(2)};
    assert_non_null(crew.mem);
    uint8_t alone[32];
    tw_belief b;
    tw_problem *p = plain_start(4.4);
    plain_setting(p, 0.0, 0.4);
    for (int i = 0; i < 3; i++) {
        plain_value(p, 0.5 * i, TW_OBSERVED_PH, 7.4, 0.1)->rubbish = 0.02;
        plain_value(p, 4.2 + 0.05 * i, TW_OBSERVED_PH, 6.6, 0.1)->rubbish = 0.02;
    }
    plain_value(p, 0.0, TW_OBSERVED_ALKALINITY, 1.6, 0.1)->rubbish = 0.02;
    plain_value(p, 0.0, TW_OBSERVED_FREE_CHLORINE, 4.0, 0.2)->rubbish = 0.02;
    plain_value(p, 4.3, TW_OBSERVED_FREE_CHLORINE, 3.8, 0.2)->rubbish = 0.02;
    digest_by(p, 1, alone);
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    assert_true(b.unwrittens > 0);
    o.crew = &crew;
    for (lot = 1; lot <= 16; lot++) {
        const uint64_t drawn = lot;
        assert_int_equal(plain_sample(p, 5, &o, &b), TW_OK);
        assert_memory_equal(alone, b.digest, sizeof alone);
        lot = drawn;
    }
    free(crew.mem);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_start_up),
        cmocka_unit_test(waters_that_share_the_chains),
        cmocka_unit_test(the_order_of_parts_does_not_count_but_their_memory_does),
        cmocka_unit_test(what_fits_nothing_is_searched_from_the_same_point),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(plain_memory);
    return failed;
}
