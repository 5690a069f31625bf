/* Decimal text against strtod and printf of the C library, which round correctly in glibc. */
#include <math.h>

#include "units/decimal.h"
#include "support/check.h"

static tw_status read_text(const char *text, double *out, int *decimals)
{
    return tw_units_decimal_read(tw_units_text(text), out, decimals);
}

static void canonical_text_is_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double value;
        int decimals;
    } row[] = {
        {"0", 0.0, 0},       {"7.4", 7.4, 1},          {"7.40", 7.4, 2},           {"-3", -3.0, 0},
        {"0.00", 0.0, 2},    {"-0.5", -0.5, 1},        {"100", 100.0, 0},          {"1130", 1130.0, 0},
        {"-0", 0.0, 0},      {"-0.0", 0.0, 1},         {"0.1", 0.1, 1},            {"999999999999999", 999999999999999.0, 0},
        {"0.0000000000000000000001", 1e-22, 22},       {"0.000000000000000001", 1e-18, 18},
        {"123456.789012345", 123456.789012345, 9},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        double value = -1.0;
        int decimals = -1;
        assert_ok(read_text(row[i].text, &value, &decimals));
        assert_same_bits(value, row[i].value);
        assert_int_equal(decimals, row[i].decimals);
    }
}

static void other_text_is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "", "-", ".", "-.", ".5", "5.", "-.5", "+5", "05", "00", "-05", "1,5", "1.2.3", "1e5", " 1", "1 ", "0x1",
        "nan", "inf", "1.", "--1", "1-", "1_000", "\xd9\xa3", "01.5", "0000000000000000000000001",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double value = 42.0;
        int decimals = 42;
        assert_status(read_text(bad[i], &value, &decimals), TW_ERR_FORMAT);
        assert_true(value == 42.0 && decimals == 42);
    }
    double value = 42.0;
    assert_status(read_text("1234567890123456", &value, NULL), TW_ERR_RANGE);
    assert_status(read_text("1.000000000000000", &value, NULL), TW_ERR_RANGE); /* zeros behind count */
    assert_status(read_text("1000000000000000", &value, NULL), TW_ERR_RANGE);
    assert_ok(read_text("0.00000000000000012345", &value, NULL)); /* zeros in front do not */
    assert_status(tw_units_decimal_read((tw_text){"1\0", 2}, &value, NULL), TW_ERR_FORMAT);
}

#define TEXT_BYTES 64

/* Digits with a point somewhere, at most 15 significant, at most 24 characters. */
static void random_text(uint64_t *random, char *out)
{
    char digit[16];
    const int n = 1 + (int)(random_bits(random) % 15);
    for (int i = 0; i < n; i++)
        digit[i] = (char)('0' + random_bits(random) % 10);
    digit[n] = '\0';
    if (digit[0] == '0')
        digit[0] = '1';
    const char *const sign = random_bits(random) % 2 ? "-" : "";
    const int shape = (int)(random_bits(random) % 3);
    if (shape == 0)
        snprintf(out, TEXT_BYTES, "%s%s", sign, digit);
    else if (shape == 1 && n > 1) {
        const int before = 1 + (int)(random_bits(random) % (uint64_t)(n - 1));
        snprintf(out, TEXT_BYTES, "%s%.*s.%s", sign, before, digit, digit + before);
    } else {
        const int zeros = (int)(random_bits(random) % (uint64_t)(22 - n));
        snprintf(out, TEXT_BYTES, "%s0.%.*s%s", sign, zeros, "0000000000000000000000", digit);
    }
}

static void reading_is_correctly_rounded(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < 200000; i++) {
        char text[TEXT_BYTES];
        random_text(&random, text);
        double value;
        if (read_text(text, &value, NULL) != TW_OK)
            print_error("# refused: %s\n", text);
        assert_ok(read_text(text, &value, NULL));
        assert_same_bits(value, strtod(text, NULL));
    }
}

/* printf without the minus sign of a zero result. */
static void print_text(double x, int decimals, char *out)
{
    snprintf(out, 64, "%.*f", decimals, x);
    if (out[0] == '-' && strspn(out + 1, "0.") == strlen(out + 1))
        memmove(out, out + 1, strlen(out));
}

static void check_write(double x, int decimals)
{
    char ours[TW_DECIMAL_BYTES], theirs[64];
    const size_t n = tw_units_decimal_write(x, decimals, ours, sizeof ours);
    print_text(x, decimals, theirs);
    if (strcmp(ours, theirs) != 0)
        print_error("# %a with %d decimals\n", x, decimals);
    assert_string_equal(ours, theirs);
    assert_int_equal(n, strlen(theirs));
    const double rounded = tw_units_decimal_round(x, decimals);
    assert_true(rounded == strtod(theirs, NULL));
}

static void writing_rounds_the_exact_value(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < 200000; i++) {
        const double m = check_uniform(&random, -1.0, 1.0);
        const int e = (int)(random_bits(&random) % 100) - 50;
        const int decimals = (int)(random_bits(&random) % 13);
        double x = ldexp(m, e);
        if (fabs(x) >= 1e15)
            continue;
        check_write(x, decimals);
        x = floor(x * 1024.0) / 1024.0; /* many ties */
        check_write(x, (int)(random_bits(&random) % 11));
    }
}

static void ties_go_to_even(void **state)
{
    (void)state;
    static const struct {
        double x;
        int decimals;
        const char *want;
    } row[] = {
        {0.5, 0, "0"},     {1.5, 0, "2"},       {2.5, 0, "2"},    {-0.5, 0, "0"},        {-1.5, 0, "-2"},
        {0.125, 2, "0.12"}, {0.375, 2, "0.38"}, {2.675, 2, "2.67"}, /* the double is below */
        {0.05, 1, "0.1"}, /* the double is above */
        {-0.001, 2, "0.00"}, {0.0, 3, "0.000"}, {-0.0, 0, "0"},   {999.9995, 3, "1000.000"}, /* the double is above */
        {0x1p-1074, 12, "0.000000000000"}, {5.1e-13, 12, "0.000000000001"}, {999999999999999.0, 0, "999999999999999"},
        {123456789012345.67, 12, "123456789012345.671875000000"}, {-7.4, 1, "-7.4"},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[TW_DECIMAL_BYTES];
        assert_int_equal(tw_units_decimal_write(row[i].x, row[i].decimals, text, sizeof text), strlen(row[i].want));
        assert_string_equal(text, row[i].want);
        check_write(row[i].x, row[i].decimals);
    }
}

static void what_cannot_be_written_is_refused(void **state)
{
    (void)state;
    char text[TW_DECIMAL_BYTES] = "x";
    assert_int_equal(tw_units_decimal_write(NAN, 1, text, sizeof text), 0);
    assert_string_equal(text, "");
    assert_int_equal(tw_units_decimal_write(INFINITY, 1, text, sizeof text), 0);
    assert_int_equal(tw_units_decimal_write(-INFINITY, 1, text, sizeof text), 0);
    assert_int_equal(tw_units_decimal_write(1e15, 1, text, sizeof text), 0);
    assert_int_equal(tw_units_decimal_write(1.0, 13, text, sizeof text), 0);
    assert_int_equal(tw_units_decimal_write(1.0, -1, text, sizeof text), 0);
    memset(text, 'x', sizeof text);
    assert_int_equal(tw_units_decimal_write(12.5, 1, text, 4), 0); /* 4 characters and a zero need 5 */
    assert_int_equal(text[0], '\0');
    assert_int_equal(text[4], 'x');
    assert_int_equal(tw_units_decimal_write(12.5, 1, text, 5), 4);
    assert_int_equal(tw_units_decimal_write(12.5, 1, text, 0), 0);
    assert_nan(tw_units_decimal_round(NAN, 1));
    assert_same_bits(tw_units_decimal_round(1e300, 1), 1e300);
    assert_same_bits(tw_units_decimal_round(2.675, 2), 2.67);
}

static void text_goes_round(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < 100000; i++) {
        char text[TEXT_BYTES], again[TW_DECIMAL_BYTES];
        random_text(&random, text);
        double value;
        int decimals;
        assert_ok(read_text(text, &value, &decimals));
        if (decimals > TW_DECIMAL_MAX_DECIMALS || value == 0.0)
            continue;
        assert_true(tw_units_decimal_write(value, decimals, again, sizeof again) > 0);
        assert_string_equal(again, text);
    }
}

static void typed_text_becomes_canonical(void **state)
{
    (void)state;
    static const struct {
        const char *typed, *want;
    } row[] = {
        {"7.4", "7.4"},   {"7,4", "7.4"},     {" 7,40 ", "7.40"}, {"+3", "3"},     {".5", "0.5"},  {",5", "0.5"},
        {"5.", "5"},      {"007", "7"},       {"-.5", "-0.5"},    {"0", "0"},      {"00.50", "0.50"}, {"-0,0", "-0.0"},
        {"1130", "1130"}, {"\t12", "12"},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[TW_DECIMAL_BYTES];
        size_t n = 0;
        assert_ok(tw_units_decimal_canonical(tw_units_text(row[i].typed), text, sizeof text, &n));
        assert_string_equal(text, row[i].want);
        assert_int_equal(n, strlen(row[i].want));
    }
    static const struct {
        const char *typed;
        tw_status want;
    } bad[] = {
        {"1,500.0", TW_ERR_AMBIGUOUS}, {"1.500,0", TW_ERR_AMBIGUOUS}, {"1,500,000", TW_ERR_AMBIGUOUS},
        {"", TW_ERR_FORMAT}, {" ", TW_ERR_FORMAT}, {".", TW_ERR_FORMAT}, {"7.4x", TW_ERR_FORMAT},
        {"1 500", TW_ERR_FORMAT}, {"1e3", TW_ERR_FORMAT}, {"--1", TW_ERR_FORMAT}, {"nan", TW_ERR_FORMAT},
        {"12345678901234567", TW_ERR_RANGE},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char text[TW_DECIMAL_BYTES] = "x";
        size_t n = 9;
        assert_status(tw_units_decimal_canonical(tw_units_text(bad[i].typed), text, sizeof text, &n), bad[i].want);
        assert_string_equal(text, "");
        assert_int_equal(n, 0);
    }
    char small[8];
    assert_status(tw_units_decimal_canonical(tw_units_text("1"), small, sizeof small, NULL), TW_ERR_CAPACITY);
}

static void pieces_of_text(void **state)
{
    (void)state;
    const tw_text text = tw_units_text("calcium");
    static const tw_text constant = TW_TEXT("calcium");
    assert_true(tw_units_text_equal(text, constant));
    assert_true(tw_units_text_is(text, "calcium") && !tw_units_text_is(text, "calciu"));
    assert_true(tw_units_text_starts(text, "cal") && !tw_units_text_starts(text, "calcium-"));
    assert_true(tw_units_text_is(tw_units_text_part(text, 3, 2), "ci"));
    assert_true(tw_units_text_is(tw_units_text_part(text, 3, 99), "cium"));
    assert_true(tw_units_text_is(tw_units_text_part(text, 99, 1), ""));
    assert_true(tw_units_text_compare(text, constant) == 0);
    assert_true(tw_units_text_compare(tw_units_text("a"), tw_units_text("ab")) < 0);
    assert_true(tw_units_text_compare(tw_units_text("b"), tw_units_text("ab")) > 0);
    assert_true(tw_units_text_compare(tw_units_text("\xc2"), tw_units_text("z")) > 0); /* bytes are unsigned */
    assert_true(tw_units_text_equal((tw_text){NULL, 0}, tw_units_text("")));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(canonical_text_is_read),
        cmocka_unit_test(other_text_is_refused),
        cmocka_unit_test(reading_is_correctly_rounded),
        cmocka_unit_test(writing_rounds_the_exact_value),
        cmocka_unit_test(ties_go_to_even),
        cmocka_unit_test(what_cannot_be_written_is_refused),
        cmocka_unit_test(text_goes_round),
        cmocka_unit_test(typed_text_becomes_canonical),
        cmocka_unit_test(pieces_of_text),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
