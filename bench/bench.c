/* bench/bench.c: see bench.h. */
#define _POSIX_C_SOURCE 200809L
#include "bench.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static volatile double sink; /* takes what the work returns, so that the work is done */

static double seconds(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_MONOTONIC, &now) != 0)
        abort();
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double time_of(bench_work *work, void *data, uint64_t rounds)
{
    const double began = seconds();
    sink = work(data, rounds);
    return seconds() - began;
}

/* One round is one step of the logistic map: a chain of one subtraction and two products, which
 * nothing can shorten. */
static double reference(void *data, uint64_t rounds)
{
    double x = *(const double *)data;
    for (uint64_t i = 0; i < rounds; i++)
        x = 3.9 * x * (1.0 - x);
    return x;
}

/* The fastest of `trials` trials, in seconds a round. */
static double fastest(bench_work *work, void *data, uint64_t rounds, int trials)
{
    double best = time_of(work, data, rounds);
    for (int i = 1; i < trials; i++) {
        const double t = time_of(work, data, rounds);
        best = t < best ? t : best;
    }
    return best / (double)rounds;
}

static double reference_s(void)
{
    double start = 0.37;
    return fastest(reference, &start, 200000, 30);
}

static void print(const char *name, const char *unit, double per_s, double each_s, double ref_s)
{
    printf("%s_%s %.6g\n%s_ratio %.6g\n", name, unit, each_s * per_s, name, each_s / ref_s);
    fflush(stdout);
}

void bench_ns(const char *name, bench_work *work, void *data)
{
    uint64_t rounds = 1;
    while (time_of(work, data, rounds) < 1e-3 && rounds < UINT64_C(1) << 40)
        rounds *= 2;
    const double before = reference_s();
    const double each = fastest(work, data, rounds, 100);
    const double after = reference_s();
    print(name, "ns", 1e9, each, before < after ? before : after);
}

void bench_ms(const char *name, bench_work *work, void *data)
{
    const double before = reference_s();
    const double each = fastest(work, data, 1, 3);
    const double after = reference_s();
    print(name, "ms", 1e3, each, before < after ? before : after);
}

/* The reference by the processor's clock, as the work it stands beside. */
static double reference_cpu_s(void)
{
    double start = 0.37, best = 1e9;
    for (int i = 0; i < 5; i++) {
        const double began = bench_cpu_s();
        sink = reference(&start, 2000000);
        const double t = bench_cpu_s() - began;
        best = t < best ? t : best;
    }
    return best / 2000000.0;
}

void bench_told_ms(const char *name, double each_s)
{
    print(name, "ms", 1e3, each_s, reference_cpu_s());
}

void bench_number(const char *name, double value)
{
    printf("%s %.6g\n", name, value);
    fflush(stdout);
}

double bench_cpu_s(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now) != 0)
        abort();
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

double bench_clock_s(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_MONOTONIC, &now) != 0)
        abort();
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}
