/* The answers are the ones they were, to the last bit, with as many steps. The same bits on every machine are a promise
 * (logbooks are answered alike on phone and office), so a change of them is a change of version and never a side
 * effect. After one that is meant: run this program, look at what differs and why, and put its lines below. */
#include "../same/water_bits.h"

#include "support/check.h"

static const struct {
    const char *name, *digest;
} WAS[] = {
    {"constants", "4487e12953e1917c81d88626413ed8778a6e99b8928f60465ada609ad2eb09e7"},
    {"inverse", "a560e4c23a58eeb1e3c7f6c08e57ea7bc751f4b610c1c54762320f43a79d1778"},
    {"forward", "a0321c84cc95a1451c099f3d1443d3c9531ea9f16025c66015e8350ff9130bf3"},
    {"ccpp", "e9f41bf7f355d90d95b181b1f1850e50893cda1400c23e7fda4e11bef2c0d17f"},
    {"meters", "2027cd946bf375227bec00b52115ee5ec99271c9396cdfdaf1df0f79decf34b0"},
    {"chlorine", "2a62b98f329e50b9dda46f871c5275e523ab67e2c4fe8274b5d5f105734df962"},
    {"reduced", "fa67380c146ba2a95b850bf438598d8469e4f2df92c7b24d5adc6fce7b66d007"},
    {"inactivation", "04212804b38dc0f019c7a808f9fb97a8405bbf0cb678c79d3ad665c3122a9fd1"},
};

static void the_answers_are_the_ones_they_were(void **unused)
{
    (void)unused;
    int same = 1;
    assert_int_equal(sizeof WAS / sizeof *WAS, BITS_PARTS);
    for (size_t p = 0; p < BITS_PARTS; p++) {
        char hex[TW_SHA256_HEX];
        (void)bits_digest(p, hex);
        print_message("# %-12s %s\n", BITS[p].name, hex);
        same = same && strcmp(BITS[p].name, WAS[p].name) == 0 && strcmp(hex, WAS[p].digest) == 0;
    }
    assert_true(same);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_answers_are_the_ones_they_were)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
