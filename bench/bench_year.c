/* A year of a tub: what an entry more costs, what everything anew costs, what was kept saves. Processor time of one core;
 * beside it, named so, the time on a clock when all cores share the work. */
#include "bench.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer/core.h"
#include "estimate/sample.h"
#include "serve/crew.h"
#include "startup.h"
#include "year.h"

#define ANSWER_BYTES ((size_t)4 << 20)
#define MANY_TUBS 24

static char line[YEAR_LINES][640];
static year tub;
static char *answer;
static tw_crew *all_cores; /* NULL: there is one */
static const uint8_t PROGRAM[32] = {7};

static tw_core *core_of(void **mem, size_t lines)
{
    tw_core *core = NULL;
    const size_t text = (lines + 64) * 640, bytes = tw_core_bytes(lines + 64, text);
    *mem = malloc(bytes);
    if (*mem == NULL || tw_core_init(*mem, bytes, lines + 64, text, &core) != 0)
        abort();
    for (size_t i = 0; i < lines; i++)
        if (tw_core_add_line(core, line[i], strlen(line[i]), NULL, 0) != 0)
            abort();
    return core;
}

static void ask(tw_core *core, const char *word, double hour)
{
    char at[TW_TIME_BYTES], question[160];
    const tw_time now = {YEAR_FROM + (int64_t)(hour * 3600.0), 60};
    size_t length = 0;
    (void)tw_units_time_write(now, at, sizeof at);
    (void)snprintf(question, sizeof question, "%s at=%s as=json", word, at);
    if (tw_core_ask(core, question, strlen(question), answer, ANSWER_BYTES, &length) != 0 || length < 100)
        abort();
}

/* One strip more, and the answer of the hour. */
static double one_entry_more(tw_core *core, double (*clock_s)(void))
{
    tub.hour += 1.0;
    year_read(&tub, "free-chlorine", 3.0, 0, "mg/L", "strip", "lot=K41");
    const double from = clock_s();
    if (tw_core_add_line(core, line[tub.n - 1], strlen(line[tub.n - 1]), NULL, 0) != 0)
        abort();
    ask(core, "now", tub.hour + 0.1);
    return clock_s() - from;
}

static double least(double a, double b) { return a < b ? a : b; }

static void told_both(const char *name, double one_s, double all_s)
{
    char shared[80];
    (void)snprintf(shared, sizeof shared, "%s_all_cores", name);
    bench_told_ms(name, one_s);
    bench_told_ms(shared, all_s);
}

/* Everything anew, as if nothing had been worked out before. */
static double anew(tw_core *core, double (*clock_s)(void))
{
    memset(&core->shelf, 0, sizeof core->shelf);
    core->has_belief = core->settled.there = 0;
    const double from = clock_s();
    ask(core, "now", tub.hour + 0.1);
    return clock_s() - from;
}

static void of_a_year(int days, const char *update, const char *refold)
{
    void *mem = NULL;
    double best = 1e9, all = 1e9, best_shared = 1e9, all_shared = 1e9;
    year_make(&tub, line, 1, days);
    tw_core *core = core_of(&mem, tub.n);
    for (int i = 0; i < 3; i++) {
        core->crew = NULL;
        all = least(all, anew(core, bench_cpu_s));
        core->crew = all_cores;
        all_shared = least(all_shared, anew(core, bench_clock_s));
    }
    for (int i = 0; i < 3; i++) {
        core->crew = NULL;
        best = least(best, one_entry_more(core, bench_cpu_s));
        core->crew = all_cores;
        best_shared = least(best_shared, one_entry_more(core, bench_clock_s));
    }
    told_both(update, best, best_shared);
    told_both(refold, all, all_shared);
    free(mem);
}

/* The answer `now` of a core into which only lines and what was kept came, so many hours after the last question. */
static double now_from_kept(tw_core *core, const uint8_t *kept, size_t length, double later)
{
    double best = 1e9;
    for (int i = 0; i < 7; i++) {
        const double from = bench_cpu_s();
        tw_core_kept(core, PROGRAM, kept, length); /* forgets what the core itself had */
        ask(core, "now", tub.hour + 0.1 + later);
        best = least(best, bench_cpu_s() - from);
        if (core->folded)
            abort();
    }
    return best;
}

/* What was kept is there and no entry came since. days: until a card of the usual sort, or one that weighs the proof. */
static void from_what_was_kept(int days, const char *at_once, const char *later, const char *next_day)
{
    void *mem = NULL;
    size_t length = 0;
    year_make(&tub, line, 1, days);
    tw_core *core = core_of(&mem, tub.n);
    uint8_t *kept = malloc(tw_core_keep_bytes());
    ask(core, "now", tub.hour + 0.1);
    if (kept == NULL || tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &length) != 0)
        abort();
    bench_told_ms(at_once, now_from_kept(core, kept, length, 0.0));
    bench_told_ms(later, now_from_kept(core, kept, length, 1.37));
    bench_told_ms(next_day, now_from_kept(core, kept, length, 26.2));
    bench_number("checkpoint_bytes", (double)length);
    free(kept);
    free(mem);
}

/* Each tub in a core of its own, with what was kept of it and one entry more: lines read, belief, answer. Tubs of all
 * ages up to a year, so that the present water is young in some and old in others. */
static void of_many_tubs(unsigned tubs)
{
    double sum = 0.0, square = 0.0, worst = 0.0, lines = 0.0, reading = 0.0;
    uint8_t *kept = malloc(tw_core_keep_bytes());
    for (unsigned i = 0; i < tubs; i++) {
        void *mem = NULL;
        size_t length = 0;
        year_make(&tub, line, 100 + i, 12 + (int)(i * 131 % 353));
        tw_core *core = core_of(&mem, tub.n);
        ask(core, "now", tub.hour + 0.1);
        if (kept == NULL || tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &length) != 0)
            abort();
        free(mem);
        const double from = bench_cpu_s();
        core = core_of(&mem, tub.n);
        reading += bench_cpu_s() - from;
        tw_core_kept(core, PROGRAM, kept, length);
        (void)one_entry_more(core, bench_cpu_s);
        const double took = bench_cpu_s() - from;
        lines += (double)tub.n;
        sum += took;
        square += took * took;
        worst = took > worst ? took : worst;
        free(mem);
    }
    free(kept);
    const double n = (double)tubs, mean = sum / n, variance = (square - n * mean * mean) / (n - 1.0);
    bench_told_ms("now_one_behind", mean);
    bench_told_ms("now_one_behind_sd", sqrt(variance));
    bench_told_ms("now_one_behind_worst", worst);
    bench_told_ms("now_one_behind_reading", reading / n);
    bench_number("now_one_behind_tubs", n);
    bench_number("now_one_behind_lines", lines / n);
    bench_number("now_10000_tubs_extrapolated_s", 1e4 * mean);
    bench_number("now_10000_tubs_standard_error_s", 1e4 * sqrt(variance / n));
}

#define STARTUPS 40

static double start_up(const tw_problem *start, uint64_t seed, const tw_estimate_options *options, void *mem, size_t bytes, double (*clock_s)(void))
{
    tw_belief belief;
    const double from = clock_s();
    if (tw_estimate_sample(start, seed, 0, options, mem, bytes, &belief) != TW_OK)
        abort();
    return clock_s() - from;
}

/* 14 days, 120 readings: mean and worst of many start-ups. */
static void of_start_ups(void)
{
    static tw_problem start;
    tw_estimate_options options = tw_estimate_options_default();
    const size_t bytes = tw_estimate_sample_bytes(&options);
    void *mem = malloc(bytes);
    double sum = 0.0, worst = 0.0, shared = 0.0;
    if (mem == NULL)
        abort();
    for (uint64_t seed = 1; seed <= STARTUPS; seed++) {
        startup_make(&start, seed, 336.0, 5.5);
        options.crew = NULL;
        const double took = start_up(&start, seed, &options, mem, bytes, bench_cpu_s);
        options.crew = all_cores;
        sum += took;
        worst = took > worst ? took : worst;
        shared += start_up(&start, seed, &options, mem, bytes, bench_clock_s);
    }
    told_both("startup_refold", sum / STARTUPS, shared / STARTUPS);
    bench_told_ms("startup_refold_worst", worst);
    free(mem);
}

/* For another machine than this program: the year, a time to ask at, an entry more, a time to ask at. */
static int write_lines(void)
{
    char at[TW_TIME_BYTES];
    year_make(&tub, line, 1, 365);
    for (size_t i = 0; i < tub.n; i++)
        (void)puts(line[i]);
    for (int k = 0; k < 2; k++) {
        const tw_time now = {YEAR_FROM + (int64_t)((tub.hour + 0.1) * 3600.0), 60};
        (void)tw_units_time_write(now, at, sizeof at);
        (void)printf("# %s\n", at);
        if (k == 0) {
            tub.hour += 1.0;
            year_read(&tub, "free-chlorine", 3.0, 0, "mg/L", "strip", "lot=K41");
            (void)puts(line[tub.n - 1]);
        }
    }
    return 0;
}

int main(int argc, char **argv)
{
    if (argc > 1 && strcmp(argv[1], "lines") == 0)
        return write_lines();
    answer = malloc(ANSWER_BYTES);
    if (answer == NULL)
        return 1;
    if (argc > 2 && strcmp(argv[1], "tubs") == 0) { /* so many tubs, for a closer figure */
        of_many_tubs((unsigned)strtoul(argv[2], NULL, 10));
        return 0;
    }
    all_cores = tw_serve_crew_open(0);
    bench_number("cores", all_cores != NULL ? (double)all_cores->hands : 1.0);
    of_start_ups();
    of_a_year(90, "entry_update_quarter", "quarter_refold");
    of_a_year(180, "entry_update_half_year", "half_year_refold");
    of_a_year(365, "entry_update", "year_refold");
    bench_number("year_entries", (double)tub.n);
    from_what_was_kept(364, "now_cached", "now_cached_later", "now_cached_next_day");
    from_what_was_kept(176, "now_cached_proof", "now_cached_proof_later", "now_cached_proof_next_day");
    of_many_tubs(MANY_TUBS);
    tw_serve_crew_close(all_cores);
    free(answer);
    return 0;
}
