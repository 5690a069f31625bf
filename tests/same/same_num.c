/* One hash of several hundred thousand results of num and units. Printed on one line; tests/same/
 * builds this with several compilers, for WebAssembly and with processor features masked, and
 * wants one line from all.
 *
 * Only integers reach the hash: the bits of doubles, words, text. Arguments come from Philox, and
 * are named before use, because compilers evaluate arguments in different orders. */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "num/normal.h"
#include "num/normal_inline.h"
#include "num/philox.h"
#include "num/sha256.h"
#include "num/sort.h"
#include "units/convert.h"
#include "units/decimal.h"
#include "units/time.h"

#define CASES 20000

static tw_sha256_state hash;
static uint64_t results;

static void add_word(uint64_t word)
{
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(word >> (8 * i)); /* the same order on every machine */
    tw_sha256_update(&hash, bytes, sizeof bytes);
    results++;
}

static void add(double x)
{
    add_word(tw_bits_of(x));
}

static double between(tw_stream *stream, double low, double high)
{
    const double u = tw_stream_uniform(stream);
    return low + (high - low) * u;
}

/* Any finite double, or now and then an edge case. */
static double any(tw_stream *stream)
{
    static const double EDGE[] = {0.0, -0.0, 1.0, -1.0, 0x1p-1074, -0x1p-1074, 0x1p-1022, 0x1.fffffffffffffp1023,
                                  709.8, -745.2, -708.4, 0x1p-53, 37.5, -38.0};
    const uint32_t pick = tw_stream_below(stream, 64);
    if (pick < sizeof EDGE / sizeof *EDGE)
        return EDGE[pick];
    const uint64_t high = tw_stream_u32(stream);
    const uint64_t low = tw_stream_u32(stream);
    const double x = tw_of_bits(high << 32 | low);
    return tw_is_finite(x) ? x : 0.5;
}

static void elementary(void)
{
    tw_stream stream = tw_stream_make(1, 0, 0, 0);
    for (int i = 0; i < CASES; i++) {
        const double wide = any(&stream);
        const double x = between(&stream, -745.0, 710.0);
        const double small_x = between(&stream, -2.0, 2.0);
        const double positive = between(&stream, 1e-9, 50.0);
        const double y = between(&stream, -30.0, 30.0);
        add(tw_exp(wide));
        add(tw_exp(x));
        add(tw_exp(small_x));
        add(tw_expm1(wide));
        add(tw_expm1(small_x));
        add(tw_log(wide));
        add(tw_log(positive));
        add(tw_log1p(wide));
        add(tw_log1p(small_x * 0.4));
        add(tw_log10(positive));
        add(tw_pow10(y));
        add(tw_pow10(wide));
        add(tw_pow(positive, y));
        add(tw_pow(wide, y));
        add(tw_exp_sum(x, x * 0x1p-60));
    }
}

/* Loops that compilers turn into vector code. */
static void lanes(void)
{
    enum { N = 1000 };
    static double x[N], positive[N], out[6][N];
    tw_stream stream = tw_stream_make(2, 0, 0, 0);
    for (int round = 0; round < CASES / N; round++) {
        for (int i = 0; i < N; i++) {
            x[i] = between(&stream, -40.0, 40.0);
            positive[i] = between(&stream, 1e-9, 50.0);
        }
        for (int i = 0; i < N; i++)
            out[0][i] = tw_exp_lane(x[i]);
        for (int i = 0; i < N; i++)
            out[1][i] = tw_expm1_lane(x[i]);
        for (int i = 0; i < N; i++)
            out[2][i] = tw_log_lane(positive[i]);
        for (int i = 0; i < N; i++)
            out[3][i] = tw_log1p_lane(positive[i]);
        for (int i = 0; i < N; i++) {
            const tw_normal_point at = tw_normal_lane(x[i]);
            out[4][i] = at.cdf;
            out[5][i] = at.pdf + at.upper;
        }
        for (int k = 0; k < 6; k++)
            for (int i = 0; i < N; i++)
                add(out[k][i]);
    }
}

static void normal(void)
{
    tw_stream stream = tw_stream_make(3, 0, 0, 0);
    for (int i = 0; i < CASES; i++) {
        const double x = between(&stream, -39.0, 9.0);
        const double p = tw_stream_uniform(&stream);
        const double z = tw_stream_normal(&stream);
        const double width = tw_stream_uniform(&stream);
        add(tw_normal_cdf(x));
        add(tw_normal_pdf(x));
        add(tw_normal_log_cdf(x));
        add(tw_normal_quantile(p));
        add(tw_normal_quantile(p * 1e-30));
        add(z);
        add(tw_normal_interval(x, x + width));
        add_word(tw_stream_u32(&stream));
        add_word(tw_stream_below(&stream, 1 + (uint32_t)i));
    }
}

static void sorting(void)
{
    enum { N = 257 };
    double value[N], weight[N], sorted[N];
    uint32_t index[N];
    tw_stream stream = tw_stream_make(4, 0, 0, 0);
    for (int round = 0; round < 40; round++) {
        for (int i = 0; i < N; i++) {
            value[i] = (double)tw_stream_below(&stream, 100) * 0.1;
            weight[i] = tw_stream_uniform(&stream);
        }
        memcpy(sorted, value, sizeof sorted);
        tw_sort(sorted, N);
        tw_sort_index(value, N, index);
        const double p = tw_stream_uniform(&stream);
        add(tw_quantile_sorted(sorted, N, p));
        add(tw_quantile_weighted(value, weight, index, N, p));
        for (int i = 0; i < N; i++) {
            add(sorted[i]);
            add_word(index[i]);
        }
    }
}

static void text(void)
{
    static const tw_unit UNIT[] = {TW_UNIT_GAL_US, TW_UNIT_GAL_IMP, TW_UNIT_DEGF, TW_UNIT_LB, TW_UNIT_OZ,
                                   TW_UNIT_DH,     TW_UNIT_FH,      TW_UNIT_EH,   TW_UNIT_GPG, TW_UNIT_MMOL_PER_L,
                                   TW_UNIT_MIN,    TW_UNIT_M3_PER_H};
    tw_stream stream = tw_stream_make(5, 0, 0, 0);
    for (int i = 0; i < CASES; i++) {
        char buf[TW_DECIMAL_BYTES];
        const int decimals = (int)tw_stream_below(&stream, 13);
        const double size = tw_pow10(between(&stream, -10.0, 15.0));
        const double x = size * between(&stream, -1.0, 1.0);
        const size_t n = tw_units_decimal_write(x, decimals, buf, sizeof buf);
        tw_sha256_update(&hash, buf, n);
        double back = 0.0;
        const tw_text written = {buf, n};
        add_word((uint64_t)tw_units_decimal_read(written, &back, NULL));
        add(back);
        add(tw_units_decimal_round(x, decimals));
        const tw_unit unit = UNIT[tw_stream_below(&stream, sizeof UNIT / sizeof *UNIT)];
        const double inside = tw_units_inside(unit, x);
        add(inside);
        add(tw_units_typed(unit, inside));
        const double when = between(&stream, 50400.0, 7.258e9);
        const tw_time time = {(int64_t)when, (int32_t)tw_stream_below(&stream, 1681) - 840};
        char clock[TW_TIME_BYTES];
        add_word((uint64_t)tw_units_time_write(time, clock, sizeof clock));
        tw_sha256_update(&hash, clock, strlen(clock));
    }
}

int main(void)
{
    tw_sha256_init(&hash);
    elementary();
    lanes();
    normal();
    sorting();
    text();
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    printf("num %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
