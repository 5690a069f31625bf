/* A year of a tub: what an entry more costs, what everything anew costs, what was kept saves. Processor time. */
#include "bench.h"

#include <stdlib.h>
#include <string.h>

#include "../tests/estimate/sim_tub.h"
#include "answer/core.h"
#include "estimate/checkpoint.h"
#include "year.h"

#define ANSWER_BYTES ((size_t)4 << 20)
#define MANY_TUBS 8

static char line[YEAR_LINES][640];
static year tub;
static char *answer;
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
static double one_entry_more(tw_core *core)
{
    tub.hour += 1.0;
    year_read(&tub, "free-chlorine", 3.0, 0, "mg/L", "strip", "lot=K41");
    const double from = bench_cpu_s();
    if (tw_core_add_line(core, line[tub.n - 1], strlen(line[tub.n - 1]), NULL, 0) != 0)
        abort();
    ask(core, "now", tub.hour + 0.1);
    return bench_cpu_s() - from;
}

static double least(double a, double b) { return a < b ? a : b; }

static void of_a_year(int days, const char *update, const char *refold)
{
    void *mem = NULL;
    double best = 1e9, all = 1e9;
    year_make(&tub, line, 1, days);
    tw_core *core = core_of(&mem, tub.n);
    for (int i = 0; i < 3; i++) {
        memset(&core->shelf, 0, sizeof core->shelf);
        core->has_belief = 0;
        const double from = bench_cpu_s();
        ask(core, "now", tub.hour + 0.1);
        all = least(all, bench_cpu_s() - from);
    }
    for (int i = 0; i < 3; i++)
        best = least(best, one_entry_more(core));
    bench_told_ms(update, best);
    bench_told_ms(refold, all);
    free(mem);
}

/* What was kept is there and current. */
static void from_what_was_kept(void)
{
    void *mem = NULL;
    size_t length = 0;
    double best = 1e9;
    year_make(&tub, line, 1, 365);
    tw_core *core = core_of(&mem, tub.n);
    uint8_t *kept = malloc(tw_core_keep_bytes());
    ask(core, "now", tub.hour + 0.1);
    if (kept == NULL || tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &length) != 0)
        abort();
    for (int i = 0; i < 5; i++) {
        core->has_belief = 0;
        const double from = bench_cpu_s();
        tw_core_kept(core, PROGRAM, kept, length);
        ask(core, "now", tub.hour + 0.1);
        best = least(best, bench_cpu_s() - from);
        if (core->folded)
            abort();
    }
    bench_told_ms("now_cached", best);
    core->has_belief = 0;
    const double from = bench_cpu_s();
    tw_core_kept(core, PROGRAM, kept, length);
    tw_status status;
    tw_tub of;
    tw_ask nothing;
    memset(&nothing, 0, sizeof nothing);
    nothing.now = (tw_time){YEAR_FROM + (int64_t)((tub.hour + 0.1) * 3600.0), 60};
    if (tw_answer_tub(core, &nothing, &of) != TW_OK || tw_answer_belief(core, &of, nothing.now, &status) == NULL)
        abort();
    bench_told_ms("belief_cached", bench_cpu_s() - from);
    bench_number("checkpoint_bytes", (double)length);
    free(kept);
    free(mem);
}

/* Each tub in a core of its own, with what was kept of it and one entry more: lines read, belief, answer. */
static void of_many_tubs(void)
{
    double sum = 0.0;
    uint8_t *kept = malloc(tw_core_keep_bytes());
    for (unsigned i = 0; i < MANY_TUBS; i++) {
        void *mem = NULL;
        size_t length = 0;
        year_make(&tub, line, 100 + i, 180);
        tw_core *core = core_of(&mem, tub.n);
        ask(core, "now", tub.hour + 0.1);
        if (kept == NULL || tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &length) != 0)
            abort();
        free(mem);
        const double from = bench_cpu_s();
        core = core_of(&mem, tub.n);
        tw_core_kept(core, PROGRAM, kept, length);
        (void)one_entry_more(core);
        sum += bench_cpu_s() - from;
        free(mem);
    }
    free(kept);
    bench_told_ms("now_one_behind", sum / MANY_TUBS);
    bench_number("now_10000_tubs_extrapolated_s", 1e4 * sum / MANY_TUBS);
}

#define STARTUPS 40

/* 14 days, 120 readings: mean and worst of many start-ups. */
static void of_start_ups(void)
{
    static sim_tub start;
    const tw_estimate_options options = tw_estimate_options_default();
    const size_t bytes = tw_estimate_sample_bytes(&options);
    void *mem = malloc(bytes);
    double sum = 0.0, worst = 0.0;
    if (mem == NULL)
        abort();
    for (uint64_t seed = 1; seed <= STARTUPS; seed++) {
        tw_belief belief;
        sim_start_up(&start, seed, 12.75); /* the first chlorine comes after 30 hours */
        tw_problem *p = &start.problem;
        const tw_reading *like = NULL;
        for (size_t i = 0; i < p->readings; i++)
            like = p->reading[i].observed == TW_OBSERVED_FREE_CHLORINE && p->reading[i].bias == SIM_LOT_A ? &p->reading[i] : like;
        for (double t = 34.0; like != NULL && t < p->now_h && p->readings < 120; t += 7.3) {
            const tw_reading copy = *like; /* not what would have been read: only as much work */
            p->reading[p->readings] = copy;
            p->reading[p->readings++].at_h = t;
        }
        const double from = bench_cpu_s();
        if (tw_estimate_sample(p, seed, 0, &options, mem, bytes, &belief) != TW_OK)
            abort();
        const double took = bench_cpu_s() - from;
        sum += took;
        worst = took > worst ? took : worst;
    }
    bench_told_ms("startup_refold", sum / STARTUPS);
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
    of_start_ups();
    of_a_year(90, "entry_update_quarter", "quarter_refold");
    of_a_year(180, "entry_update_half_year", "half_year_refold");
    of_a_year(365, "entry_update", "year_refold");
    bench_number("year_entries", (double)tub.n);
    from_what_was_kept();
    of_many_tubs();
    free(answer);
    return 0;
}
