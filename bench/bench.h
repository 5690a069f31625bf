/* bench/bench.h: measure, next to a fixed loop of the same run.
 *
 * A benchmark is a function that does `rounds` rounds of one thing and returns a number that
 * depends on all of them, so that no compiler leaves the work out. bench_ns and bench_ms print
 *     x_ns 12.3
 *     x_ratio 4.5
 * where the ratio is the time of one round over the time of one round of the reference loop,
 * measured right before and after: it stays put when the machine is busy or another one. */
#ifndef TW_BENCH_H
#define TW_BENCH_H

#include <stdint.h>

typedef double bench_work(void *data, uint64_t rounds);

/* Nanoseconds a round of work: repeats until a trial takes 1 ms, then prints the fastest of a hundred. So short a trial is
 * seldom interrupted, also on a machine that has much else to do. */
void bench_ns(const char *name, bench_work *work, void *data);

/* The same in milliseconds, for work that takes long: the fastest of three single rounds. */
void bench_ms(const char *name, bench_work *work, void *data);

/* What was measured otherwise: seconds of processor time as milliseconds with their ratio; a number that is no time. */
void bench_told_ms(const char *name, double each_s);
void bench_number(const char *name, double value);

/* Seconds of processor time so far, of all threads; seconds on a clock, for work that several share. */
double bench_cpu_s(void);
double bench_clock_s(void);

#endif
