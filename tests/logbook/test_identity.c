/* UUIDs of RFC 9562. */
#include "logbook/lines.h"

#include "logbook/identity.h"

static void version_7_is_the_example_of_the_standard(void **state)
{
    (void)state;
    /* RFC 9562, A.6: 2022-02-22 19:22:22 UTC, random 0xCC3, 0x18C4DC0C0C07398F. */
    const uint8_t random[10] = {0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F};
    char id[TW_ID_BYTES];
    tw_logbook_id_v7(UINT64_C(0x017F22E279B0), random, id);
    assert_string_equal(id, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
}

static void version_8_names_device_quantity_and_instant(void **state)
{
    (void)state;
    char a[TW_ID_BYTES], b[TW_ID_BYTES];
    const tw_time at = test_time("2026-03-24T10:00:00+01:00"), same = test_time("2026-03-24T09:00:00+00:00"),
                  later = test_time("2026-03-24T10:00:01+01:00");
    int version = 0;
    tw_logbook_id_v8(tw_units_text("M-17"), tw_units_text("free-chlorine"), at, a);
    assert_true(tw_logbook_id_is(tw_units_text(a), &version));
    assert_int_equal(version, 8);
    tw_logbook_id_v8(tw_units_text("M-17"), tw_units_text("free-chlorine"), same, b);
    assert_string_equal(a, b);
    tw_logbook_id_v8(tw_units_text("M-17"), tw_units_text("free-chlorine"), later, b);
    assert_string_not_equal(a, b);
    tw_logbook_id_v8(tw_units_text("M-18"), tw_units_text("free-chlorine"), at, b);
    assert_string_not_equal(a, b);
    tw_logbook_id_v8(tw_units_text("M-17"), tw_units_text("ph"), at, b);
    assert_string_not_equal(a, b);
    /* What ends where is part of the name. */
    tw_logbook_id_v8(tw_units_text("M-1"), tw_units_text("7free-chlorine"), at, b);
    assert_string_not_equal(a, b);
}

/* Made by another program from the rule in docs/logbook-format.md:
 * python3 -c "import hashlib,uuid; n=uuid.UUID('d1281c2c-0e4b-4f32-87ca-f85da1501563').bytes; d=bytearray(hashlib.sha256(n+b'M-17\nfree-chlorine\n'
 * b'1774342800').digest()[:16]); d[6]=d[6]&15|128; d[8]=d[8]&63|128; print(uuid.UUID(bytes=bytes(d)))" */
static void version_8_is_what_the_rule_gives(void **state)
{
    (void)state;
    char id[TW_ID_BYTES];
    tw_logbook_id_v8(tw_units_text("M-17"), tw_units_text("free-chlorine"), test_time("2026-03-24T10:00:00+01:00"), id);
    assert_string_equal(id, "411eb1b3-4dac-8384-9f8c-acfc2c0a3b3e");
}

static void only_canonical_text_is_an_id(void **state)
{
    (void)state;
    static const char *const BAD[] = {"",
                                      "017f22e2-79b0-7cc3-98c4-dc0c0c07398",
                                      "017f22e2-79b0-7cc3-98c4-dc0c0c07398ff",
                                      "017F22E2-79b0-7cc3-98c4-dc0c0c07398f",
                                      "017f22e279b0-7cc3-98c4--dc0c0c07398f",
                                      "017f22e2-79b0-0cc3-98c4-dc0c0c07398f",
                                      "017f22e2-79b0-9cc3-98c4-dc0c0c07398f",
                                      "017f22e2-79b0-7cc3-78c4-dc0c0c07398f",
                                      "017f22e2-79b0-7cc3-c8c4-dc0c0c07398f",
                                      "{17f22e2-79b0-7cc3-98c4-dc0c0c07398}",
                                      "00000000-0000-0000-0000-000000000000",
                                      "ffffffff-ffff-ffff-ffff-ffffffffffff"};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        assert_false(tw_logbook_id_is(tw_units_text(BAD[i]), NULL));
    assert_true(tw_logbook_id_is(tw_units_text("c232ab00-9414-11ec-b3c8-9f6bdeced846"), NULL));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(version_7_is_the_example_of_the_standard),
        cmocka_unit_test(version_8_names_device_quantity_and_instant),
        cmocka_unit_test(version_8_is_what_the_rule_gives),
        cmocka_unit_test(only_canonical_text_is_an_id),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
