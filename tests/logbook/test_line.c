/* The canonical reader: what it takes, it writes back byte by byte; everything else it refuses. */
#include "logbook/lines.h"

static tw_status split(const char *line, tw_entry *out, tw_fault *fault)
{
    static tw_entry_room room;
    return tw_logbook_line_split(tw_units_text(line), &room, out, fault);
}

static void refuses(const char *line, tw_fault_id id)
{
    tw_entry entry;
    tw_fault fault;
    assert_int_not_equal(split(line, &entry, &fault), TW_OK);
    if (fault.id != id) {
        print_error("# %s: %s\n", line, test_sentence(&fault));
        assert_string_equal(tw_logbook_fault_name(fault.id), tw_logbook_fault_name(id));
    }
}

static void keeps(const char *line)
{
    tw_entry entry;
    tw_fault fault;
    char buf[TW_LINE_BYTES];
    size_t n;
    if (split(line, &entry, &fault) != TW_OK) {
        print_error("# %s: %s\n", line, test_sentence(&fault));
        fail();
    }
    assert_ok(tw_logbook_line_write(&entry, buf, sizeof buf, &n));
    assert_int_equal(n, strlen(line));
    assert_memory_equal(buf, line, n);
}

static void what_is_canonical_comes_back_byte_by_byte(void **state)
{
    (void)state;
    keeps("{}");
    keeps("{\"\":\"\"}");
    keeps("{\"a\":\"1\"}");
    keeps("{\"a\":\"1\",\"b\":\"x y\"}");
    keeps("{\"a\":\"q\\\" b\\\\ /\"}");
    keeps("{\"a\":\"\\b\\t\\n\\f\\r\\u0000\\u0001\\u000b\\u001f\"}");
    keeps("{\"a\":\"\x7f \xc2\x80 \xe2\x82\xac \xf0\x9d\x84\x9e \xe2\x80\xa8\"}");
    keeps("{\"a\\nb\":\"x\\ny\",\"a\\\\b\":\"\\\\\"}");
}

static void white_space_anywhere_is_refused(void **state)
{
    (void)state;
    refuses(" {\"a\":\"1\"}", TW_FAULT_FORM);
    refuses("{ \"a\":\"1\"}", TW_FAULT_FORM);
    refuses("{\"a\" :\"1\"}", TW_FAULT_FORM);
    refuses("{\"a\": \"1\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"1\" }", TW_FAULT_FORM);
    refuses("{\"a\":\"1\", \"b\":\"1\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"1\"} ", TW_FAULT_FORM);
    refuses("{\"a\":\"1\"}\n", TW_FAULT_FORM);
    refuses("\xef\xbb\xbf{}", TW_FAULT_FORM);
}

static void what_is_no_flat_object_of_texts_is_refused(void **state)
{
    (void)state;
    refuses("", TW_FAULT_FORM);
    refuses("[]", TW_FAULT_FORM);
    refuses("{\"a\":1}", TW_FAULT_NOT_TEXT);
    refuses("{\"a\":-1}", TW_FAULT_NOT_TEXT);
    refuses("{\"a\":null}", TW_FAULT_NOT_TEXT);
    refuses("{\"a\":true,\"b\":\"\"}", TW_FAULT_NOT_TEXT);
    refuses("{\"a\":{}}", TW_FAULT_NOT_TEXT);
    refuses("{\"a\":[\"x\"]}", TW_FAULT_NOT_TEXT);
    refuses("{a:\"1\"}", TW_FAULT_FORM);
    refuses("{'a':'1'}", TW_FAULT_FORM);
    refuses("{\"a\":\"1\",}", TW_FAULT_FORM);
    refuses("{,\"a\":\"1\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"1\"", TW_FAULT_FORM);
    refuses("{\"a\":\"1", TW_FAULT_FORM);
    refuses("{\"a\"", TW_FAULT_FORM);
    refuses("{\"a\":\"1\"}{}", TW_FAULT_FORM);
}

static void longer_escapes_than_needed_are_refused(void **state)
{
    (void)state;
    refuses("{\"a\":\"\\u0041\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\/\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\u000a\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\u001F\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\u0020\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\u00e9\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\x\"}", TW_FAULT_FORM);
    refuses("{\"a\":\"\\", TW_FAULT_FORM);
    refuses("{\"a\":\"\\u00", TW_FAULT_FORM);
    refuses("{\"a\":\"tab\there\"}", TW_FAULT_FORM);
}

static void bytes_that_are_no_utf8_are_refused(void **state)
{
    (void)state;
    static const char *const BAD[] = {"\x80", "\xc3", "\xc3(", "\xc0\xaf", "\xe0\x80\xaf", "\xed\xa0\x80",
                                      "\xf4\x90\x80\x80", "\xf8\x88\x80\x80\x80", "\xff", "\xe2\x82"};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        char line[64];
        snprintf(line, sizeof line, "{\"words\":\"%s\"}", BAD[i]);
        refuses(line, TW_FAULT_UTF8);
        snprintf(line, sizeof line, "{\"%s\":\"x\"}", BAD[i]);
        refuses(line, TW_FAULT_UTF8);
    }
}

static void names_stand_once_and_in_order_of_utf16(void **state)
{
    (void)state;
    refuses("{\"b\":\"1\",\"a\":\"1\"}", TW_FAULT_ORDER);
    refuses("{\"a\":\"1\",\"a\":\"1\"}", TW_FAULT_TWICE);
    refuses("{\"a\":\"1\",\"b\":\"1\",\"a\":\"1\"}", TW_FAULT_TWICE);
    refuses("{\"ab\":\"1\",\"a\":\"1\"}", TW_FAULT_ORDER);
    /* The example of RFC 8785, 3.2.3: a surrogate pair stands before U+FB33, unlike in bytes. */
    keeps("{\"\\r\":\"1\",\"1\":\"1\",\"\xc2\x80\":\"1\",\"\xc3\xb6\":\"1\",\"\xe2\x82\xac\":\"1\","
          "\"\xf0\x9f\x98\x80\":\"1\",\"\xef\xac\xb3\":\"1\"}");
    refuses("{\"\xef\xac\xb3\":\"1\",\"\xf0\x9f\x98\x80\":\"1\"}", TW_FAULT_ORDER);
    /* Two beyond U+FFFF with one first unit. */
    keeps("{\"\xf0\x9f\x98\x80\":\"1\",\"\xf0\x9f\x98\x81\":\"1\"}");
    refuses("{\"\xf0\x9f\x98\x81\":\"1\",\"\xf0\x9f\x98\x80\":\"1\"}", TW_FAULT_ORDER);
}

static void a_line_has_its_largest_size_and_count(void **state)
{
    (void)state;
    static char line[TW_LINE_BYTES + 2];
    memset(line, 'x', sizeof line);
    memcpy(line, "{\"a\":\"", 6);
    memcpy(line + TW_LINE_BYTES - 2, "\"}", 3);
    keeps(line);
    line[TW_LINE_BYTES - 2] = 'x';
    memcpy(line + TW_LINE_BYTES - 1, "\"}", 3);
    refuses(line, TW_FAULT_LINE_LONG);

    char many[1024];
    size_t n = 0;
    many[n++] = '{';
    for (int i = 0; i < TW_ENTRY_FIELDS; i++)
        n += (size_t)snprintf(many + n, sizeof many - n, "%s\"f%02d\":\"\"", i ? "," : "", i);
    memcpy(many + n, "}", 2);
    keeps(many);
    memcpy(many + n, ",\"g\":\"\"}", 9);
    refuses(many, TW_FAULT_MANY);
}

static void a_fault_says_where_and_what(void **state)
{
    (void)state;
    tw_entry entry;
    tw_fault fault;
    (void)split("{\"a\": \"1\"}", &entry, &fault);
    assert_string_equal(test_sentence(&fault),
                        "the line is not canonical: at byte 6 stands a blank; a quotation mark is needed");
    (void)split("{\"a\":\"1\"", &entry, &fault);
    assert_string_equal(test_sentence(&fault),
                        "the line is not canonical: at byte 9 stands the end; a comma or a closing brace is needed");
    (void)split("{\"value\":7.4}", &entry, &fault);
    assert_string_equal(test_sentence(&fault), "value: 7.4 is not allowed; every value is text in quotation marks");
    (void)split("{\"words\":\"\xc3(\"}", &entry, &fault);
    assert_string_equal(test_sentence(&fault), "words: the bytes C3 are no valid UTF-8; text in UTF-8 is needed");
}

/* Text of a few pieces, some of them wrong. */
static size_t put_pieces(char *out, uint64_t *random)
{
    static const char *const PIECE[] = {"a", "b", "z", "\\n", "\\u0001", "\\\"", "\\\\", " ", "1", "/", "\xc3\xa9",
                                        "\xf0\x9f\x98\x80", "\xef\xac\xb3", "\x7f", "\x80", "\\u000A", "\\/", "\""};
    size_t n = 0;
    for (uint64_t left = random_bits(random) % 4; left > 0; left--) {
        /* The last four are wrong and come seldom. */
        const size_t i = random_bits(random) % (random_bits(random) % 16 == 0 ? 18 : 14);
        memcpy(out + n, PIECE[i], strlen(PIECE[i]));
        n += strlen(PIECE[i]);
    }
    return n;
}

/* Random lines, mostly canonical but for the order of names: whatever is taken must come back. */
static void whatever_is_taken_comes_back(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    int taken = 0;
    for (int round = 0; round < 100000; round++) {
        char line[256];
        size_t n = 0;
        line[n++] = '{';
        for (uint64_t left = 1 + random_bits(&random) % 3; left > 0; left--) {
            line[n++] = '"';
            n += put_pieces(line + n, &random);
            memcpy(line + n, "\":\"", 3), n += 3;
            n += put_pieces(line + n, &random);
            line[n++] = '"';
            if (left > 1)
                line[n++] = ',';
        }
        line[n++] = '}';
        if (random_bits(&random) % 8 == 0)
            line[random_bits(&random) % n] = (char)(random_bits(&random) % 255 + 1);
        line[n] = '\0';
        tw_entry entry;
        if (split(line, &entry, NULL) == TW_OK) {
            keeps(line);
            taken++;
        }
    }
    print_message("# %d of 100000 lines were taken\n", taken);
    assert_true(taken > 10000 && taken < 90000);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_canonical_comes_back_byte_by_byte),
        cmocka_unit_test(white_space_anywhere_is_refused),
        cmocka_unit_test(what_is_no_flat_object_of_texts_is_refused),
        cmocka_unit_test(longer_escapes_than_needed_are_refused),
        cmocka_unit_test(bytes_that_are_no_utf8_are_refused),
        cmocka_unit_test(names_stand_once_and_in_order_of_utf16),
        cmocka_unit_test(a_line_has_its_largest_size_and_count),
        cmocka_unit_test(a_fault_says_where_and_what),
        cmocka_unit_test(whatever_is_taken_comes_back),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
