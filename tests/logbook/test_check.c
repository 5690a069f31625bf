/* The fields of an entry against the tables, through typing and through import: one message. */
#include "logbook/lines.h"

#define AT "\"at\":\"2026-03-24T10:40:00+01:00\","
#define ENTERED "\"entered\":\"2026-03-24T10:40:00+01:00\","
#define ID "\"id\":\"01890000-0000-7000-8000-000000000001\","

/* Composed as typed, it must fail with this sentence. */
#define SAYS(sentence, ...)                                                          \
    do {                                                                             \
        test_line says_line;                                                         \
        tw_fault says_fault;                                                         \
        assert_int_not_equal(COMPOSE(&says_line, &says_fault, __VA_ARGS__), TW_OK);  \
        assert_string_equal(test_sentence(&says_fault), (sentence));                 \
    } while (0)

static void messages_name_field_value_and_what_is_allowed(void **state)
{
    (void)state;
    SAYS("value: \"14.1\" is too high; allowed are 0 to 14", "kind=reading", "analyte=ph", "form=value", "value=14.1");
    SAYS("value: \"-0.1\" is too low; allowed are 0 to 14", "kind=reading", "analyte=ph", "form=value", "value=-0.1");
    SAYS("value: \"-1\" is too low; allowed are 0 to 200 mg/L", "kind=reading", "analyte=fc", "form=value",
         "value=-1", "unit=ppm");
    SAYS("volume: \"12\" is too low; allowed are 50 to 20000 L", "kind=volume", "volume=12", "volume_unit=gal-us",
         "method=guess");
    SAYS("method: \"magic\" is not known; allowed are meter clock geometry plate guess tracer", "kind=volume",
         "volume=1200", "volume_unit=L", "method=magic");
    SAYS("volume_unit: \"gal\" has more than one meaning; say gal-us or gal-imp", "kind=volume", "volume=300",
         "volume_unit=gal", "method=guess");
    SAYS("volume_unit: \"Cel\" is a unit of something else; allowed are L mL m3 gal-us gal-imp fl-oz-us fl-oz-imp "
         "qt-us pt-us cup-us tbsp-us tsp-us",
         "kind=volume", "volume=300", "volume_unit=°C", "method=guess");
    SAYS("method is missing; needed is meter clock geometry plate guess tracer", "kind=volume", "volume=300",
         "volume_unit=L");
    SAYS("volume: \"abc\" is no plain number; allowed are 50 to 20000 L", "kind=volume", "volume=abc",
         "volume_unit=L", "method=guess");
    SAYS("volume: \"-\" is no plain number; allowed are 50 to 20000 L", "kind=volume", "volume=-", "volume_unit=L",
         "method=guess");
    SAYS("volume: \"1,300\" has more than one meaning; say 1300 or 1.300", "kind=volume", "volume=1,300",
         "volume_unit=L", "method=guess");
    SAYS("volume is empty; leave it out or give 50 to 20000 L", "kind=volume", "volume=", "volume_unit=L",
         "method=guess");
    SAYS("value: \"7.00000000000000000\" has too many digits; allowed are 0 to 14", "kind=reading", "analyte=ph",
         "form=value", "value=7.00000000000000000");
    SAYS("opened: \"2026-02-30\" is no date; needed is a date such as 2026-03-24", "kind=reading", "analyte=ph",
         "form=value", "value=7.4", "opened=2026-02-30");
    SAYS("at: \"2026-03-24T10:40:00Z\" is no time with its offset; needed is local time with offset such as "
         "2026-03-24T10:40:00+01:00",
         "kind=note", "words=x", "at=2026-03-24T10:40:00Z");
    SAYS("id: \"01890000-0000-4000-8000-000000000001\" is an id of another version; needed is version 7, or version "
         "8 for what a device pushes",
         "kind=note", "words=x", "id=01890000-0000-4000-8000-000000000001");
    SAYS("by: \"abcdefghijklmnopqrstuvwxyz\" is too long; allowed are up to 24 characters", "kind=note", "words=x",
         "by=abcdefghijklmnopqrstuvwxyz");
    SAYS("by: \"M?R\" has characters that do not print; allowed are 1 to 24 printing characters", "kind=note",
         "words=x", "by=M\x1bR");
    SAYS("the kind \"cocktail\" is not known; known are tub plate volume source reading standard intent response addition "
         "exchange setting bathers part care power-cut monitor-hour visit symptom reply note void waiver definition "
         "ready-by stock",
         "kind=cocktail");
    SAYS("the field colour is not known here; known are words", "kind=note", "words=x", "colour=blue");
    SAYS("count: \"1.5\" is no whole number; allowed are whole numbers 1 to 50", "kind=bathers", "count=1.5",
         "minutes=20");
    SAYS("count: \"51\" is too high; allowed are whole numbers 1 to 50", "kind=bathers", "count=51", "minutes=20");
}

static void rules_between_fields_hold(void **state)
{
    (void)state;
    SAYS("high: \"7.4\" must be above value 7.4", "kind=reading", "analyte=ph", "form=between", "value=7.4",
         "high=7.4");
    SAYS("form: \"between\" needs high beside it", "kind=reading", "analyte=ph", "form=between", "value=7.4");
    SAYS("form: \"value\" needs value beside it", "kind=reading", "analyte=ph", "form=value");
    SAYS("form: \"unreadable\" does not go with value", "kind=reading", "analyte=ph", "form=unreadable", "value=7");
    SAYS("form: \"above\" does not go with high", "kind=reading", "analyte=ph", "form=above", "value=7", "high=8");
    SAYS("value: \"120\" needs unit (mg/L ppm ug/L ppb g/L ppt dH fH eH gpg meq/L mmol-H/L) beside it",
         "kind=reading", "analyte=ta", "form=value", "value=120");
    SAYS("what: \"duty\" needs value beside it", "kind=setting", "what=duty", "state=on");
    SAYS("what: \"jets\" needs state beside it", "kind=setting", "what=jets");
    SAYS("state: \"open\" is not known; allowed are on off", "kind=setting", "what=jets", "state=open");
    SAYS("value: \"101\" is too high; allowed are 0 to 100 percent or 0 to 24 h a day", "kind=setting", "what=duty",
         "value=101", "unit=%");
    SAYS("value: \"25\" is too high; allowed are 0 to 100 percent or 0 to 24 h a day", "kind=setting", "what=duty",
         "value=25", "unit=h");
    SAYS("amount_unit: \"1\" needs scoop beside it", "kind=addition", "substance=01890000-0000-7000-8000-0000000000f1",
         "amount=2", "amount_unit=1");
    SAYS("amount_unit: \"g\" is not known; allowed are 1", "kind=addition",
         "substance=01890000-0000-7000-8000-0000000000f1", "amount=2", "amount_unit=g",
         "scoop=01890000-0000-7000-8000-0000000000f2");
    SAYS("outcome: \"done\" needs intent or act beside it", "kind=response", "outcome=done");
    SAYS("blocks: \"0 40 40\" is no list; needed are 2 to 16 numbers that rise, such as 0 40 80 120",
         "kind=definition", "defines=strip-scale", "name=B", "analyte=ta", "unit=ppm", "blocks=0 40 40");
    SAYS("until: \"2026-03-24T10:39:59+01:00\" must not be before at 2026-03-24T10:40:00+01:00", "kind=power-cut",
         "until=2026-03-24T10:39:59+01:00");
    SAYS("n: \"2\" needs prev beside it", "kind=note", "words=x", "n=2");
    SAYS("n: \"1\" does not go with prev", "kind=note", "words=x", "n=1",
         "prev=e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

/* A number may be negative only where the table lets it. */
static void negative_numbers_only_where_they_mean_something(void **state)
{
    (void)state;
    test_line line;
    LINE(&line, "kind=reading", "analyte=temperature", "form=value", "value=-2", "unit=Cel");
    LINE(&line, "kind=reading", "analyte=orp", "form=value", "value=-120", "unit=mV");
    SAYS("value: \"-120\" is too low; allowed are 0 to 2000 mg/L", "kind=reading", "analyte=ta", "form=value",
         "value=-120", "unit=ppm");
}

/* What is unknown alone is refused when typed and kept, with its flag, when imported. */
static void what_is_unknown_is_kept_when_imported(void **state)
{
    (void)state;
    static const char *const LINES[] = {
        /* an unknown kind */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"cocktail\",\"n\":\"1\",\"strength\":\"very\",\"tub\":\"" TUB_A "\",\"writer\":\"" WRITER_A "\"}",
        /* an unknown field */
        "{" AT "\"colour\":\"\"," ENTERED "" ID ""
        "\"kind\":\"note\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"words\":\"x\",\"writer\":\"" WRITER_A "\"}",
        /* an unknown word, on which unit and range hang */
        "{\"analyte\":\"bromate\"," AT "" ENTERED "\"form\":\"value\"," ID ""
        "\"kind\":\"reading\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"unit\":\"mg/L\",\"value\":\"99999\",\"writer\":\"" WRITER_A "\"}",
        /* an unknown unit */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"volume\",\"method\":\"guess\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"volume\":\"3\",\"volume_unit\":\"hogshead\",\"writer\":\"" WRITER_A "\"}",
    };
    for (size_t i = 0; i < sizeof LINES / sizeof *LINES; i++) {
        tw_entry_room room;
        tw_entry entry;
        tw_fault fault;
        if (tw_logbook_line_read(tw_units_text(LINES[i]), TW_CHECK_IMPORTED, &room, &entry, &fault) != TW_OK) {
            print_error("# %s\n", test_sentence(&fault));
            fail();
        }
        assert_int_equal(entry.newer, 1);
        assert_status(tw_logbook_line_read(tw_units_text(LINES[i]), TW_CHECK_TYPED, &room, &entry, &fault),
                      TW_ERR_UNKNOWN);
    }
}

/* Everything that is not merely unknown is refused on both ways. */
static void what_is_wrong_is_refused_when_imported_too(void **state)
{
    (void)state;
    static const char *const WRONG[] = {
        /* a short word */
        "{\"analyte\":\"fc\"," AT "" ENTERED "\"form\":\"value\"," ID ""
        "\"kind\":\"reading\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"unit\":\"mg/L\",\"value\":\"3\",\"writer\":\"" WRITER_A "\"}",
        /* an alias of a unit */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"volume\",\"method\":\"guess\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"volume\":\"1200\",\"volume_unit\":\"litres\",\"writer\":\"" WRITER_A "\"}",
        /* a decimal comma */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"volume\",\"method\":\"guess\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"volume\":\"1200,5\",\"volume_unit\":\"L\",\"writer\":\"" WRITER_A "\"}",
        /* a word that is none */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"Note\",\"n\":\"1\",\"tub\":\"" TUB_A "\",\"words\":\"x\",\"writer\":\"" WRITER_A "\"}",
        /* no tub */
        "{" AT "" ENTERED "" ID ""
        "\"kind\":\"note\",\"n\":\"1\",\"words\":\"x\",\"writer\":\"" WRITER_A "\"}",
    };
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        tw_entry_room room;
        tw_entry entry;
        tw_fault typed, imported;
        assert_int_not_equal(tw_logbook_line_read(tw_units_text(WRONG[i]), TW_CHECK_IMPORTED, &room, &entry, &imported),
                             TW_OK);
        assert_int_not_equal(tw_logbook_line_read(tw_units_text(WRONG[i]), TW_CHECK_TYPED, &room, &entry, &typed),
                             TW_OK);
        assert_int_equal(typed.id, imported.id);
    }
}

static void values_are_read_in_their_unit_and_inside(void **state)
{
    (void)state;
    test_line line;
    tw_entry_room room;
    tw_entry entry;
    double x;
    tw_unit unit;

    LINE(&line, "kind=volume", "volume=312,0", "volume_unit=gal-us", "method=clock", "spread=5", "temperature=59",
         "temperature_unit=degF");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_number(&entry, TW_FIELD_VOLUME, &x));
    assert_same_bits(x, 312.0);
    assert_int_equal(tw_logbook_decimals(&entry, TW_FIELD_VOLUME), 1);
    assert_ok(tw_logbook_si(&entry, TW_FIELD_VOLUME, &x));
    assert_near(x, 312.0 * 3.785411784, 1e-9);
    assert_ok(tw_logbook_si(&entry, TW_FIELD_SPREAD, &x));
    assert_near(x, 0.05, 1e-15);
    assert_ok(tw_logbook_si(&entry, TW_FIELD_TEMPERATURE, &x));
    assert_near(x, 15.0, 1e-12);
    assert_ok(tw_logbook_unit(&entry, TW_FIELD_VOLUME, &unit));
    assert_int_equal(unit, TW_UNIT_GAL_US);
    assert_int_equal(tw_logbook_word(&entry, TW_FIELD_METHOD), TW_VOLUME_METHOD_CLOCK);
    assert_status(tw_logbook_number(&entry, TW_FIELD_HIGH, &x), TW_ERR_MISSING);
    assert_status(tw_logbook_number(&entry, TW_FIELD_METHOD, &x), TW_ERR_FORMAT);
    assert_int_equal(tw_logbook_word(&entry, TW_FIELD_ANALYTE), -1);

    LINE(&line, "kind=reading", "analyte=ta", "form=value", "value=8.5", "unit=°dH", "step=1");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_si(&entry, TW_FIELD_VALUE, &x));
    assert_near(x, 8.5 * 17.848, 1e-9);
    assert_ok(tw_logbook_si(&entry, TW_FIELD_STEP, &x));
    assert_near(x, 17.848, 1e-9);

    LINE(&line, "kind=reading", "analyte=temp", "form=value", "value=100", "unit=F", "step=0.9");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_si(&entry, TW_FIELD_STEP, &x));
    assert_near(x, 0.5, 1e-12); /* a difference: without the zero of the scale */

    LINE(&line, "kind=reading", "analyte=ph", "form=value", "value=7,4");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_si(&entry, TW_FIELD_VALUE, &x));
    assert_same_bits(x, 7.4);

    LINE(&line, "kind=setting", "what=duty", "value=6", "unit=hours");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_si(&entry, TW_FIELD_VALUE, &x));
    assert_near(x, 0.25, 1e-15);
    LINE(&line, "kind=setting", "what=duty", "value=42", "unit=%");
    assert_ok(tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_si(&entry, TW_FIELD_VALUE, &x));
    assert_near(x, 0.42, 1e-15);
}

/* Portions are bounded in grams or millilitres, so a pound and a jug meet one limit. */
static void amounts_are_bounded_by_weight_and_volume_alike(void **state)
{
    (void)state;
    test_line line;
    const char *id = "substance=01890000-0000-7000-8000-0000000000f1";
    LINE(&line, "kind=addition", id, "amount=100", "amount_unit=kg");
    LINE(&line, "kind=addition", id, "amount=100", "amount_unit=L");
    SAYS("amount: \"101\" is too high; allowed are 0 to 100000 g or mL", "kind=addition", id, "amount=101",
         "amount_unit=kg");
    SAYS("amount: \"101\" is too high; allowed are 0 to 100000 g or mL", "kind=addition", id, "amount=101",
         "amount_unit=L");
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(messages_name_field_value_and_what_is_allowed),
        cmocka_unit_test(rules_between_fields_hold),
        cmocka_unit_test(negative_numbers_only_where_they_mean_something),
        cmocka_unit_test(what_is_unknown_is_kept_when_imported),
        cmocka_unit_test(what_is_wrong_is_refused_when_imported_too),
        cmocka_unit_test(values_are_read_in_their_unit_and_inside),
        cmocka_unit_test(amounts_are_bounded_by_weight_and_volume_alike),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
