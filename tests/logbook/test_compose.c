/* From typed fields to the canonical line. */
#include "logbook/lines.h"

static void order_of_typing_does_not_matter(void **state)
{
    (void)state;
    static const char *const FIELD[] = {"kind=reading", "analyte=ta", "form=between", "value=80", "high=120",
                                        "unit=ppm", "instrument=strip", "lot=B", "opened=2026-01-12"};
    enum { N = sizeof FIELD / sizeof *FIELD };
    test_line first = {{0}, 0}, line;
    uint64_t random = check_seed;
    const char *text[N + 1];
    memcpy(text, FIELD, sizeof FIELD);
    text[N] = NULL;
    for (int round = 0; round < 200; round++) {
        for (size_t i = N; i > 1; i--) {
            const size_t j = random_bits(&random) % i;
            const char *swap = text[i - 1];
            text[i - 1] = text[j];
            text[j] = swap;
        }
        assert_ok(test_compose(&line, NULL, TW_CHECK_TYPED, text));
        if (round == 0)
            first = line;
        assert_int_equal(line.n, first.n);
        assert_memory_equal(line.bytes, first.bytes, first.n);
    }
}

#define HAS(line, piece)                                                     \
    do {                                                                     \
        (line).bytes[(line).n] = '\0';                                       \
        if (!strstr((line).bytes, (piece))) {                                \
            print_error("# no %s in %s\n", (piece), (line).bytes);           \
            fail();                                                          \
        }                                                                    \
    } while (0)

static void one_meaning_has_one_form(void **state)
{
    (void)state;
    test_line line;
    LINE(&line, "kind=Reading", "analyte=FC", "form=Value", "value= 03,50 ", "unit=mg/l", "instrument=Drops");
    HAS(line, "\"analyte\":\"free-chlorine\"");
    HAS(line, "\"form\":\"value\"");
    HAS(line, "\"value\":\"3.50\""); /* the digits tell the resolution: they stay */
    HAS(line, "\"unit\":\"mg/L\"");
    LINE(&line, "kind=tub", "name= Barn ", "volume=+1300", "volume_unit=litres",
         "tub=01890000-0000-7000-8000-00000000000A");
    HAS(line, "\"name\":\"Barn\"");
    HAS(line, "\"volume\":\"1300\"");
    HAS(line, "\"tub\":\"01890000-0000-7000-8000-00000000000a\"");
    LINE(&line, "kind=reading", "analyte=ta", "form=value", "value=120", "unit=ppm");
    HAS(line, "\"unit\":\"ppm\""); /* as typed: ppm is a unit of its own in the fact */
    LINE(&line, "kind=note", "words=  a \"quoted\"\nline \\ back  ");
    HAS(line, "\"words\":\"a \\\"quoted\\\"\\nline \\\\ back\"");
}

static void two_meanings_are_asked(void **state)
{
    (void)state;
    test_line line;
    tw_fault fault;
    assert_status(COMPOSE(&line, &fault, "kind=tub", "name=Barn", "volume=300", "volume_unit=Gallons"),
                  TW_ERR_AMBIGUOUS);
    assert_string_equal(test_sentence(&fault), "volume_unit: \"Gallons\" has more than one meaning; say gal-us or gal-imp");
    assert_status(COMPOSE(&line, &fault, "kind=tub", "name=Barn", "volume=1,300", "volume_unit=L"), TW_ERR_AMBIGUOUS);
    assert_status(COMPOSE(&line, &fault, "kind=tub", "name=Barn", "volume=1,300.0", "volume_unit=L"), TW_ERR_FORMAT);
    assert_int_equal(line.n, 0);
    LINE(&line, "kind=tub", "name=Barn", "volume=0,325", "volume_unit=m3"); /* only one meaning */
    LINE(&line, "kind=tub", "name=Barn", "volume=1300,5", "volume_unit=L");
}

static void a_field_that_stands_twice_is_refused(void **state)
{
    (void)state;
    test_line line;
    tw_fault fault;
    assert_status(COMPOSE(&line, &fault, "kind=note", "words=a", "words=b"), TW_ERR_FORMAT);
    assert_string_equal(test_sentence(&fault), "words stands twice; every field may stand once");
    assert_status(COMPOSE(&line, &fault, "kind=note", "kind=tub", "words=b"), TW_ERR_FORMAT);
}

static void too_much_is_refused_by_name(void **state)
{
    (void)state;
    static char words[TW_LINE_BYTES + 10] = "words=";
    static char name[60][16];
    const char *many[64] = {"kind=note", "words=a"};
    test_line line;
    tw_fault fault;
    memset(words + 6, 'x', TW_LINE_BYTES);
    assert_status(COMPOSE(&line, &fault, "kind=note", words), TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_FAULT_LINE_LONG);
    words[6 + 2001] = '\0';
    assert_status(COMPOSE(&line, &fault, "kind=note", words), TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_FAULT_LONG);
    words[6 + 2000] = '\0';
    LINE(&line, "kind=note", words);
    for (int i = 2; i < 50; i++) {
        snprintf(name[i], sizeof name[i], "f%d=x", i);
        many[i] = name[i];
    }
    tw_typed typed[50];
    for (int i = 0; i < 50; i++)
        typed[i] = test_pair(many[i]);
    assert_status(tw_logbook_compose(typed, 50, TW_CHECK_TYPED, line.bytes, sizeof line.bytes, &line.n, &fault),
                  TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_FAULT_MANY);
    /* A small buffer is no fault of the person's. */
    assert_status(tw_logbook_compose(typed, 2, TW_CHECK_TYPED, line.bytes, 10, &line.n, &fault), TW_ERR_CAPACITY);
    assert_int_equal(fault.id, TW_FAULT_NONE);
}

static void a_draft_gets_its_place_in_the_chain(void **state)
{
    (void)state;
    static const char *const TYPED[] = {"kind", "note", "words", "x", "id", "01890000-0000-7000-8000-000000000001",
                                        "tub", TUB_A, "at", "2026-03-24T10:40:00+01:00", "entered",
                                        "2026-03-24T10:40:00+01:00"};
    tw_typed typed[6];
    for (int i = 0; i < 6; i++) {
        typed[i].field = tw_units_text(TYPED[2 * i]);
        typed[i].value = tw_units_text(TYPED[2 * i + 1]);
    }
    test_line draft, line, again;
    tw_fault fault;
    assert_status(tw_logbook_compose(typed, 6, TW_CHECK_TYPED, draft.bytes, sizeof draft.bytes, &draft.n, &fault),
                  TW_ERR_MISSING);
    assert_string_equal(fault.field, "writer");
    assert_ok(tw_logbook_compose(typed, 6, TW_CHECK_DRAFT, draft.bytes, sizeof draft.bytes, &draft.n, &fault));
    assert_ok(tw_logbook_compose_chained(test_text(&draft), tw_units_text(WRITER_A), 1, NULL, line.bytes,
                                         sizeof line.bytes, &line.n, &fault));
    HAS(line, "\"n\":\"1\",\"tub\"");
    HAS(line, "\"writer\":\"" WRITER_A "\"");
    uint8_t hash[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256(line.bytes, line.n, hash);
    tw_sha256_hex(hash, hex);
    assert_ok(tw_logbook_compose_chained(test_text(&draft), tw_units_text(WRITER_A), 2, hash, again.bytes,
                                         sizeof again.bytes, &again.n, &fault));
    HAS(again, "\"n\":\"2\",\"prev\":\"");
    HAS(again, hex);
    /* A line that has a place already can be given another one. */
    assert_ok(tw_logbook_compose_chained(test_text(&again), tw_units_text(WRITER_A), 1, NULL, draft.bytes,
                                         sizeof draft.bytes, &draft.n, &fault));
    assert_int_equal(draft.n, line.n);
    assert_memory_equal(draft.bytes, line.bytes, line.n);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(order_of_typing_does_not_matter),
        cmocka_unit_test(one_meaning_has_one_form),
        cmocka_unit_test(two_meanings_are_asked),
        cmocka_unit_test(a_field_that_stands_twice_is_refused),
        cmocka_unit_test(too_much_is_refused_by_name),
        cmocka_unit_test(a_draft_gets_its_place_in_the_chain),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
