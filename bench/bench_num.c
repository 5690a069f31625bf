/* The elementary functions and the streams: what everything above spends its time in. */
#include "bench.h"

#include "num/elementary.h"
#include "num/normal.h"
#include "num/sha256.h"

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

int main(void)
{
    static uint8_t text[1024];
    bench_ns("exp", exponentials, 0);
    bench_ns("log", logarithms, 0);
    bench_ns("normal_quantile", quantiles, 0);
    bench_ns("sha256_kilobyte", digests, text);
    return 0;
}
