/* units/decimal.c: decimal text to double and back, exactly, by whole numbers.
 *
 * Reading: up to 15 digits make a whole number below 2^53, and 10^22 is the largest power of ten
 * that is a double, so one division of two exact numbers rounds once (Clinger 1990, the fast way).
 * Writing: |x| < 1e15 is m 2^-s with m < 2^53; m 10^12 < 2^93, so two words of 64 bits hold the
 * exact product, and a shift with its remainder rounds half to even. */
#include "units/decimal.h"

#include <stdint.h>
#include <string.h>

static const double POWER[23] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

static int is_digit(char c)
{
    return c >= '0' && c <= '9';
}

tw_status tw_units_decimal_read(tw_text text, double *out, int *decimals)
{
    if (text.n == 0 || text.n > TW_DECIMAL_MAX_CHARS)
        return TW_ERR_FORMAT;
    size_t at = 0;
    const int minus = text.at[0] == '-';
    if (minus)
        at++;
    const size_t first = at;
    uint64_t mantissa = 0;
    int significant = 0, after = 0, point = 0;
    for (; at < text.n; at++) {
        const char c = text.at[at];
        if (c == '.') {
            if (point || at == first)
                return TW_ERR_FORMAT;
            point = 1;
            continue;
        }
        if (!is_digit(c))
            return TW_ERR_FORMAT;
        if (at == first + 1 && text.at[first] == '0' && !point)
            return TW_ERR_FORMAT; /* a zero in front */
        after += point;
        if (significant > 0 || c != '0')
            significant++;
        if (significant <= TW_DECIMAL_MAX_DIGITS)
            mantissa = mantissa * 10 + (uint64_t)(c - '0');
    }
    if (at == first || (point && after == 0))
        return TW_ERR_FORMAT;
    if (significant > TW_DECIMAL_MAX_DIGITS)
        return TW_ERR_RANGE;
    const double size = (double)mantissa / POWER[after]; /* 24 characters leave at most 22 decimals */
    *out = minus && mantissa != 0 ? -size : size;
    if (decimals)
        *decimals = after;
    return TW_OK;
}

/* Typed text without blanks around it. */
static tw_text trimmed(tw_text typed)
{
    while (typed.n > 0 && (typed.at[0] == ' ' || typed.at[0] == '\t'))
        typed = tw_units_text_part(typed, 1, typed.n);
    while (typed.n > 0 && (typed.at[typed.n - 1] == ' ' || typed.at[typed.n - 1] == '\t'))
        typed.n--;
    return typed;
}

tw_status tw_units_decimal_canonical(tw_text typed, char *buf, size_t cap, size_t *length)
{
    if (length)
        *length = 0;
    if (cap < TW_DECIMAL_BYTES)
        return TW_ERR_CAPACITY;
    buf[0] = '\0';
    typed = trimmed(typed);
    if (typed.n == 0 || typed.n > TW_DECIMAL_MAX_CHARS)
        return TW_ERR_FORMAT;

    size_t points = 0, commas = 0, digits = 0;
    const size_t first = typed.at[0] == '-' || typed.at[0] == '+' ? 1 : 0;
    for (size_t i = first; i < typed.n; i++) {
        points += typed.at[i] == '.';
        commas += typed.at[i] == ',';
        digits += (size_t)is_digit(typed.at[i]);
    }
    if (digits == 0 || digits + points + commas + first != typed.n)
        return TW_ERR_FORMAT;
    if (points + commas > 1)
        return TW_ERR_AMBIGUOUS; /* some of them must separate thousands */

    size_t n = 0, at = first;
    if (typed.at[0] == '-')
        buf[n++] = '-';
    while (at + 1 < typed.n && typed.at[at] == '0' && is_digit(typed.at[at + 1]))
        at++;
    if (!is_digit(typed.at[at]))
        buf[n++] = '0'; /* ".5" */
    for (; at < typed.n; at++)
        if (is_digit(typed.at[at]))
            buf[n++] = typed.at[at];
        else if (at + 1 < typed.n) /* a separator at the very end is dropped: "5." */
            buf[n++] = '.';
    buf[n] = '\0';

    const tw_text made = {buf, n};
    double value;
    const tw_status status = tw_units_decimal_read(made, &value, NULL);
    if (status != TW_OK) {
        buf[0] = '\0';
        return status;
    }
    if (length)
        *length = n;
    return TW_OK;
}

/* A whole number of 128 bits. */
typedef struct {
    uint64_t high, low;
} wide;

static wide product(uint64_t a, uint64_t b)
{
    const uint64_t mask = UINT64_C(0xFFFFFFFF);
    const uint64_t ll = (a & mask) * (b & mask);
    const uint64_t lh = (a & mask) * (b >> 32);
    const uint64_t hl = (a >> 32) * (b & mask);
    const uint64_t middle = (ll >> 32) + (lh & mask) + (hl & mask);
    const wide out = {(a >> 32) * (b >> 32) + (lh >> 32) + (hl >> 32) + (middle >> 32),
                      (middle << 32) | (ll & mask)};
    return out;
}

/* a >> n rounded half to even, for n >= 1 and a < 2^127. */
static wide shifted(wide a, int n)
{
    const wide none = {0, 0};
    if (n > 127)
        return none; /* a is less than half of 2^n */
    wide quotient, rest, half;
    if (n >= 64) {
        quotient.high = 0;
        quotient.low = n == 64 ? a.high : a.high >> (n - 64);
        rest.high = n == 64 ? 0 : a.high & ((UINT64_C(1) << (n - 64)) - 1);
        rest.low = a.low;
    } else {
        quotient.high = a.high >> n;
        quotient.low = (a.low >> n) | (a.high << (64 - n));
        rest.high = 0;
        rest.low = a.low & ((UINT64_C(1) << n) - 1);
    }
    half.high = n - 1 >= 64 ? UINT64_C(1) << (n - 1 - 64) : 0;
    half.low = n - 1 >= 64 ? 0 : UINT64_C(1) << (n - 1);
    const int above = rest.high > half.high || (rest.high == half.high && rest.low > half.low);
    const int equal = rest.high == half.high && rest.low == half.low;
    if (above || (equal && (quotient.low & 1))) {
        quotient.low++;
        quotient.high += quotient.low == 0;
    }
    return quotient;
}

/* Divide by 10^9 and return the rest. */
static uint32_t take_billion(wide *a)
{
    const uint64_t billion = 1000000000u;
    uint64_t rest = 0;
    uint32_t word[4] = {(uint32_t)(a->high >> 32), (uint32_t)a->high, (uint32_t)(a->low >> 32), (uint32_t)a->low};
    for (int i = 0; i < 4; i++) {
        const uint64_t part = (rest << 32) | word[i];
        word[i] = (uint32_t)(part / billion);
        rest = part % billion;
    }
    a->high = (uint64_t)word[0] << 32 | word[1];
    a->low = (uint64_t)word[2] << 32 | word[3];
    return (uint32_t)rest;
}

/* |x| 10^decimals rounded half to even, as a whole number. 0 when x cannot be written. */
static int scaled(double x, int decimals, wide *out)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    const int exponent = (int)((bits >> 52) & 0x7FF);
    const uint64_t fraction = bits & UINT64_C(0xFFFFFFFFFFFFF);
    if (!(x > -1e15 && x < 1e15) || decimals < 0 || decimals > TW_DECIMAL_MAX_DECIMALS)
        return 0;
    const uint64_t mantissa = exponent == 0 ? fraction : fraction | (UINT64_C(1) << 52);
    const int shift = 1075 - (exponent == 0 ? 1 : exponent); /* at least 3, for |x| < 2^50 */
    *out = shifted(product(mantissa, (uint64_t)POWER[decimals]), shift);
    return 1;
}

size_t tw_units_decimal_write(double x, int decimals, char *buf, size_t cap)
{
    if (cap > 0)
        buf[0] = '\0';
    wide value;
    if (!scaled(x, decimals, &value))
        return 0;
    const int minus = x < 0.0 && (value.high | value.low) != 0;

    char digit[32]; /* from the last to the first */
    int n = 0;
    while ((value.high | value.low) != 0) {
        uint32_t part = take_billion(&value);
        const int more = (value.high | value.low) != 0;
        for (int i = 0; i < 9 && (more || part != 0); i++) {
            digit[n++] = (char)('0' + part % 10);
            part /= 10;
        }
    }
    while (n <= decimals)
        digit[n++] = '0';

    const size_t length = (size_t)minus + (size_t)n + (decimals > 0);
    if (length + 1 > cap)
        return 0;
    size_t at = 0;
    if (minus)
        buf[at++] = '-';
    while (n > 0) {
        if (n == decimals)
            buf[at++] = '.';
        buf[at++] = digit[--n];
    }
    buf[at] = '\0';
    return length;
}

double tw_units_decimal_round(double x, int decimals)
{
    wide value;
    if (!scaled(x, decimals, &value))
        return x;
    /* From 2^53 on a step of the last decimal is at most an ulp of x, so x itself is the double
     * nearest to the text. Below, both numbers are exact and the division rounds once. */
    if (value.high != 0 || value.low >= (UINT64_C(1) << 53))
        return x;
    const double size = (double)value.low / POWER[decimals];
    return x < 0.0 && size > 0.0 ? -size : size;
}
