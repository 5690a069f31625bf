/* tests/calibrate/startups.c: when is a tub said to hold? Four rules on the same simulated start-ups.
 * usage: startups [tubs [first seed [file]]]
 *
 * A quarter each: sound and clean, a weak cell (15 to 45 % of its plate), thirsty plumbing, over-dosed (12 mg/L at once).
 * Once a day somebody reads a strip and counts drops; under 2 mg/L by drops 3 mg/L are poured, the same for every rule. Full
 * duty, floor 3, no ceiling, 14 days. The rules:
 *   trade    no product for 24 h, and the strip says 3 or more
 *   remnant  no product for 24 h, P(remnant of the doses < 1 mg/L) and P(free chlorine >= 3) both 0.95
 *   ours     estimate/held.h
 *   oracle   knows the tub: at this duty the generator's part stays at 3 or more for seven days from now
 * Whatever a rule declares is tried out: nobody in, nothing poured. False: free chlorine falls under 3 mg/L within 48 h.
 * Short: within seven days. A rule that was false goes on; its day is that of its first hold that lasts seven days. */
#include <stdio.h>
#include <stdlib.h>

#include "../estimate/sim_tub.h"
#include "estimate/held.h"
#include "estimate/sample.h"

enum { TRADE, REMNANT, OURS, ORACLE, RULES };
enum { CLEAN, WEAK, THIRSTY, OVERDOSED, KINDS };
#define DAYS 14

static const char *const RULE[RULES] = {"trade", "remnant", "ours", "oracle"};
static const char *const TUB[KINDS] = {"clean", "weak_cell", "thirsty", "overdosed"};

typedef struct {
    size_t declared, false_holds, short_holds, reached;
    size_t tubs_false;             /* tubs with at least one false hold                            */
    double strips, drops, grams;   /* until the first hold that lasts, or the end                  */
    double day[4096];              /* of the first hold that lasts; DAYS + 1: none                 */
} tally;

static tally found[KINDS][RULES];
static size_t tubs[KINDS];
static sim_tub tub, tried;
static int kind_now;

static void change(sim_tub *s)
{
    const double u = sim_uniform(&s->random), v = sim_uniform(&s->random);
    if (kind_now == WEAK)
        s->factor = 0.15 + 0.3 * u;
    else if (s->factor < 0.7)
        s->factor = 0.7 + 0.3 * u;
    if (kind_now == THIRSTY) {
        s->film = 0.04 + 0.06 * u;
        s->film_h = 30.0 + 60.0 * v;
        s->d += 2.0;
    } else {
        s->film = s->film > 0.02 ? 0.02 : s->film;
        s->d = s->d > 2.0 ? 2.0 : s->d;
    }
}

/* What comes when all is left as it is: hours until free chlorine, and until the generator's part, is under 3; 168 when not. */
static void try_out(double *free_h, double *made_h)
{
    tried = tub;
    tried.duty = 1.0;
    tried.jets = 0.02;
    *free_h = *made_h = 168.0;
    for (int h = 0; h <= 168; h++) {
        if (h > 0)
            sim_run(&tried, tub.t + h, 38.0);
        if (tried.c < 3.0 && *free_h >= 168.0)
            *free_h = h;
        if (tried.c - tried.remnant < 3.0 && *made_h >= 168.0)
            *made_h = h;
    }
}

static void one(uint64_t seed, int kind, void *mem, size_t bytes, void *work, size_t work_bytes)
{
    int done[RULES] = {0}, was_false[RULES] = {0};
    double strips = 0.0, drops = 0.0, grams = 0.0, last_dose = 30.0;
    kind_now = kind;
    sim_begin(&tub, seed);
    change(&tub);
    const double said = sim_say_volume(&tub), nominal = sim_before_chlorine(&tub, said);
    const double first = (kind == OVERDOSED ? 12.0 : 5.0) * nominal;
    sim_chlorine(&tub, first);
    grams += 1e-3 * first;
    sim_stretch(&tub, 32.0, 0.0, 0.02, 38.0);
    (void)sim_drops_fc(&tub);
    drops += 1.0;
    for (int day = 1; day <= DAYS; day++) {
        sim_stretch(&tub, 30.0 + 24.0 * day + 0.5, 1.0, 0.02, 38.0);
        const double strip = sim_read(&tub, TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, tub.c, SIM_LOT_A, 0.0, 0);
        const double drop = sim_drops_fc(&tub);
        const int day_without = tub.t - last_dose >= 24.0;
        double free_h = 0.0, made_h = 0.0;
        int says[RULES] = {0};
        strips += 1.0;
        drops += 1.0;
        try_out(&free_h, &made_h);
        says[TRADE] = day_without && strip >= 3.0;
        says[ORACLE] = day_without && made_h >= 168.0;
        if (!(done[REMNANT] && done[OURS])) {
            tw_belief b;
            tw_held h;
            const tw_held_ask ask = {.duty = 1.0, .floor_mg_per_l = 3.0};
            tub.problem.now_h = tub.t;
            if (tw_estimate_sample(&tub.problem, seed, 0, NULL, mem, bytes, &b) != TW_OK ||
                tw_estimate_held(&b, &ask, work, work_bytes, &h) != TW_OK)
                exit(1);
            says[REMNANT] = h.remnant_rule;
            says[OURS] = h.held;
        }
        for (int r = 0; r < RULES; r++) {
            tally *t = &found[kind][r];
            if (done[r] || !says[r])
                continue;
            t->declared++;
            t->false_holds += free_h <= 48.0 && free_h < 168.0;
            t->short_holds += free_h < 168.0;
            was_false[r] |= free_h <= 48.0;
            if (free_h < 168.0)
                continue;
            done[r] = 1;
            t->reached++;
            t->day[tubs[kind]] = day;
            t->strips += r == TRADE ? strips : 0.0;
            t->drops += r == TRADE ? 0.0 : drops;
            t->grams += grams;
        }
        if (done[TRADE] && done[REMNANT] && done[OURS] && done[ORACLE])
            break;
        if (drop < 2.0) {
            sim_chlorine(&tub, 3.0 * nominal);
            grams += 3e-3 * nominal;
            last_dose = tub.t;
        }
    }
    for (int r = 0; r < RULES; r++) {
        tally *t = &found[kind][r];
        t->tubs_false += was_false[r] != 0;
        if (!done[r]) {
            t->day[tubs[kind]] = DAYS + 1;
            t->strips += r == TRADE ? strips : 0.0;
            t->drops += r == TRADE ? 0.0 : drops;
            t->grams += grams;
        }
    }
    tubs[kind]++;
}

static int rises(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of the tubs that reach a lasting hold by the oracle's rule within the days. */
static double median_day(int kind, int rule)
{
    static double v[4 * 4096];
    size_t n = 0;
    for (int k = 0; k < KINDS; k++)
        for (size_t i = 0; (kind < 0 || k == kind) && i < tubs[k]; i++)
            if (found[k][ORACLE].day[i] <= DAYS)
                v[n++] = found[k][rule].day[i];
    qsort(v, n, sizeof *v, rises);
    return n > 0 ? v[n / 2] : 0.0;
}

static void write_row(FILE *to, int kind, int rule)
{
    tally sum = {0};
    size_t n = 0;
    for (int k = 0; k < KINDS; k++)
        if (kind < 0 || k == kind) {
            const tally *t = &found[k][rule];
            n += tubs[k];
            sum.declared += t->declared;
            sum.false_holds += t->false_holds;
            sum.short_holds += t->short_holds;
            sum.tubs_false += t->tubs_false;
            sum.reached += t->reached;
            sum.strips += t->strips;
            sum.drops += t->drops;
            sum.grams += t->grams;
        }
    fprintf(to, "{\"tubs\": %zu, \"declared\": %zu, \"false_holds\": %zu, \"tubs_with_a_false_hold\": %zu, \"short_within_7_days\": %zu, "
                "\"reached\": %zu, \"median_day\": %.0f, \"strips\": %.1f, \"drop_tests\": %.1f, \"grams\": %.1f}",
            n, sum.declared, sum.false_holds, sum.tubs_false, sum.short_holds, sum.reached, median_day(kind, rule),
            sum.strips / (double)n, sum.drops / (double)n, sum.grams / (double)n);
}

int main(int argc, char **argv)
{
    const unsigned long n = argc > 1 ? strtoul(argv[1], NULL, 10) : 200;
    const unsigned long first = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    FILE *to = argc > 3 ? fopen(argv[3], "w") : stdout;
    const tw_estimate_options usual = tw_estimate_options_default();
    const size_t bytes = tw_estimate_sample_bytes(&usual), work_bytes = tw_estimate_held_bytes((size_t)usual.chains * usual.keep);
    void *mem = malloc(bytes), *work = malloc(work_bytes);
    if (to == NULL || mem == NULL || work == NULL || n > 4 * 4096)
        return 2;
    for (unsigned long i = 0; i < n; i++)
        one(first + i, (int)(i % KINDS), mem, bytes, work, work_bytes);
    fprintf(to, "{\n");
    for (int kind = -1; kind < KINDS; kind++) {
        fprintf(to, " \"%s\": {\n", kind < 0 ? "all" : TUB[kind]);
        for (int r = 0; r < RULES; r++) {
            fprintf(to, "  \"%s\": ", RULE[r]);
            write_row(to, kind, r);
            fprintf(to, "%s\n", r + 1 < RULES ? "," : "");
        }
        fprintf(to, " }%s\n", kind + 1 < KINDS ? "," : "");
    }
    fprintf(to, "}\n");
    if (to != stdout)
        (void)fclose(to);
    free(mem);
    free(work);
    return 0;
}
