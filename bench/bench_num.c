/* The elementary functions and the streams: what everything above spends its time in. */
#include "bench.h"

#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "num/normal.h"
#include "num/normal_inline.h"
#include "num/philox.h"
#include "num/sha256.h"
#include "num/sort.h"
#include "units/decimal.h"

static double exponentials(void *data, uint64_t rounds)
{
    (void)data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++)
        sum += tw_exp((double)(i & 1023) * 0.01 - 5.0);
    return sum;
}

static double logarithms(void *data, uint64_t rounds)
{
    (void)data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++)
        sum += tw_log((double)(i & 1023) * 0.01 + 0.001);
    return sum;
}

static double quantiles(void *data, uint64_t rounds)
{
    (void)data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++)
        sum += tw_normal_quantile(((double)(i & 1023) + 0.5) / 1024.0);
    return sum;
}

/* One round is a kilobyte. */
static double digests(void *data, uint64_t rounds)
{
    uint8_t *text = data;
    for (uint64_t i = 0; i < rounds; i++)
        tw_sha256(text, 1024, text);
    return text[0];
}

/* Loops over arrays, in blocks of constant length, which gcc turns into vector code at -O2. One
 * round is one element. */
#define ELEMENTS 1024

typedef struct {
    double in[ELEMENTS], out[ELEMENTS];
} arrays;

#define BLOCKS(work)                                                     \
    arrays *at = data;                                                   \
    for (uint64_t done = 0; done < rounds; done += ELEMENTS)             \
        for (int i = 0; i < ELEMENTS; i += TW_LANES)                     \
            for (int j = 0; j < TW_LANES; j++)                           \
                at->out[i + j] = work(at->in[i + j]);                    \
    return at->out[rounds % ELEMENTS]

static double exp_lanes(void *data, uint64_t rounds)
{
    BLOCKS(tw_exp_lane);
}

static double log_lanes(void *data, uint64_t rounds)
{
    BLOCKS(tw_log_lane);
}

static double expm1_lanes(void *data, uint64_t rounds)
{
    BLOCKS(tw_expm1_lane);
}

static double cdf_lanes(void *data, uint64_t rounds)
{
    BLOCKS(tw_normal_cdf_lane);
}

static double cdfs(void *data, uint64_t rounds)
{
    (void)data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++)
        sum += tw_normal_cdf((double)(i & 1023) * 0.01 - 5.0);
    return sum;
}

static double normals(void *data, uint64_t rounds)
{
    tw_stream *stream = data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++)
        sum += tw_stream_normal(stream);
    return sum;
}

/* One round is a sort of 1,024 members by weight. */
static double sorts(void *data, uint64_t rounds)
{
    static double key[1024];
    static uint32_t order[1024];
    tw_stream *stream = data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        for (int k = 0; k < 1024; k++)
            key[k] = (double)tw_stream_u32(stream);
        tw_sort_index(key, 1024, order);
        sum += key[order[512]];
    }
    return sum;
}

/* One round writes a number with two decimals and reads it back. */
static double decimals(void *data, uint64_t rounds)
{
    (void)data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        char buf[TW_DECIMAL_BYTES];
        double back = 0.0;
        const size_t n = tw_units_decimal_write((double)(i & 65535) * 0.0137, 2, buf, sizeof buf);
        const tw_text text = {buf, n};
        if (tw_units_decimal_read(text, &back, NULL) == TW_OK)
            sum += back;
    }
    return sum;
}

int main(void)
{
    static uint8_t text[1024];
    static arrays some;
    tw_stream stream = tw_stream_make(1, 2, 3, 4);
    for (int i = 0; i < ELEMENTS; i++)
        some.in[i] = 0.001 + 0.01 * i;
    bench_ns("exp", exponentials, 0);
    bench_ns("log", logarithms, 0);
    bench_ns("normal_quantile", quantiles, 0);
    bench_ns("sha256_kilobyte", digests, text);
    bench_ns("exp_lane", exp_lanes, &some);
    bench_ns("log_lane", log_lanes, &some);
    bench_ns("expm1_lane", expm1_lanes, &some);
    bench_ns("normal_cdf", cdfs, 0);
    bench_ns("normal_cdf_lane", cdf_lanes, &some);
    bench_ns("stream_normal", normals, &stream);
    bench_ns("sort_index_1024", sorts, &stream);
    bench_ns("decimal_round_trip", decimals, 0);
    return 0;
}
