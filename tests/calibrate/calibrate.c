/* tests/calibrate/calibrate.c: calibration at length. usage: calibrate [tubs [first seed [file [second|long|later|acts|recalled|dry|hard|unscaled [days [cut]]]]]]
 *
 * Writes a JSON object (to the file, else to standard output): by quantity n, coverage_50, coverage_90,
 * rank_distance, mean_width_90, crps and how often each rank came; the same coverage by stratum, and the worst
 * of them; how often a hold and an overshoot happened where they were said to by each tenth of probability, and how
 * often the hour of hold was in its interval; how often what nobody wrote had been done where a belief told of it. With "second"
 * each tub has two waters and the second is judged; with "long" one of 60 to 90 days (or of so many), cut every three weeks (or
 * after so many days: more than it has, not at all). With "later" it is judged a day (or so many) after its last reading, and somebody may
 * have done something since; with "acts" truths hold acid, base and air that nobody wrote beside chlorine (a truth with air is judged
 * as if it had none in the log-likelihood); with "recalled" the first reading after the first dose is
 * written from memory, its hour off by an sd of half an hour; with "dry"
 * water evaporates; with "hard" the source is hard, with "unscaled" scale never forms. 1,000 tubs take a few minutes. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "../estimate/calibration.h"

/* How often the truth fell between each two of the draws, sixteen together. */
static void write_ranks(FILE *to, const cal_result *r, int q)
{
    unsigned long count[16] = {0};
    for (size_t i = 0; i < r->n; i++) {
        const int rank = (int)(r->draw[q][i] * CAL_DRAWS + 0.5);
        count[rank * 16 / (CAL_DRAWS + 1)]++;
    }
    for (int k = 0; k < 16; k++)
        fprintf(to, "%s%lu", k == 0 ? "[" : ", ", count[k]);
    fprintf(to, "]");
}

#define WORST_OF 50 /* strata with fewer tubs are not called the worst */

static void write_strata(FILE *to, const cal_result *r)
{
    int worst_s = 0, worst_q = 0;
    double worst = 0.0;
    size_t n = 0;
    fprintf(to, " \"strata\": {\n");
    for (int s = 0; s < CAL_STRATA; s++) {
        fprintf(to, "  \"%s\": {", CAL_STRATUM[s]);
        for (int q = 0; q < CAL_QUANTITIES; q++) {
            const double c50 = cal_coverage_in(r, q, 0.5, s, &n), c90 = cal_coverage_in(r, q, 0.9, s, &n);
            fprintf(to, "%s\"%s\": {\"n\": %zu, \"coverage_50\": %.3f, \"coverage_90\": %.3f}", q ? ",\n    " : "", CAL_NAME[q], n, c50, c90);
            if (n >= WORST_OF && fabs(c90 - 0.9) > worst) {
                worst = fabs(c90 - 0.9);
                worst_s = s;
                worst_q = q;
            }
        }
        fprintf(to, "}%s\n", s + 1 < CAL_STRATA ? "," : "");
    }
    const double c90 = cal_coverage_in(r, worst_q, 0.9, worst_s, &n);
    fprintf(to, " },\n \"worst_stratum\": {\"stratum\": \"%s\", \"quantity\": \"%s\", \"n\": %zu, \"coverage_90\": %.3f},\n",
            CAL_STRATUM[worst_s], CAL_NAME[worst_q], n, c90);
}

static void write_decision(FILE *to, const char *name, const cal_decision *d)
{
    size_t all = 0;
    fprintf(to, "  \"%s\": {\"tenths\": [", name);
    for (int i = 0; i < 10; i++) {
        const double n = d->n[i] > 0 ? (double)d->n[i] : 1.0;
        fprintf(to, "%s{\"n\": %zu, \"said\": %.3f, \"happened\": %.3f}", i ? ",\n    " : "", d->n[i], d->said[i] / n,
                (double)d->happened[i] / n);
        all += d->n[i];
    }
    fprintf(to, "], \"n\": %zu, \"brier\": %.4f},\n", all, all > 0 ? d->brier / (double)all : 0.0);
}

static void write_decisions(FILE *to, const cal_result *r)
{
    fprintf(to, " \"decisions\": {\n");
    write_decision(to, "held", &r->held);
    write_decision(to, "overshoot", &r->over);
    write_decision(to, "unwritten", &r->acts);
    fprintf(to, "  \"hold_hour\": {\"n\": %zu, \"coverage_90\": %.3f},\n", r->hours_n,
            r->hours_n > 0 ? (double)r->hours_in / (double)r->hours_n : 0.0);
    fprintf(to, "  \"salt_for_5_percent\": {\"n\": %zu, \"too_much\": %.3f}\n }\n", r->n, (double)r->salt_over / (double)r->n);
}

int main(int argc, char **argv)
{
    const unsigned long n = argc > 1 ? strtoul(argv[1], NULL, 10) : 1000;
    const unsigned long first = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    const int second = argc > 4 && strcmp(argv[4], "second") == 0, is_long = argc > 4 && strcmp(argv[4], "long") == 0;
    const int is_later = argc > 4 && strcmp(argv[4], "later") == 0, with_acts = argc > 4 && strcmp(argv[4], "acts") == 0;
    const double of_days = argc > 5 ? strtod(argv[5], NULL) : 0.0, cut_h = argc > 6 ? 24.0 * strtod(argv[6], NULL) : SIM_CUT_H;
    FILE *to = argc > 3 && strcmp(argv[3], "-") != 0 ? fopen(argv[3], "w") : stdout;
    cal_work *w = cal_work_new();
    cal_result *r = calloc(1, sizeof *r);
    if (to == NULL || w == NULL || r == NULL || n > CAL_MAX)
        return 2;
    w->options = tw_estimate_options_default();
    w->mem_bytes = tw_estimate_sample_bytes(&w->options);
    w->decide = 1;
    w->unwritten = with_acts ? 2 : 1;
    w->recalled_sd_h = argc > 4 && strcmp(argv[4], "recalled") == 0 ? 0.5 : 0.0;
    w->dries = argc > 4 && strcmp(argv[4], "dry") == 0;
    w->scale = argc <= 4 ? SIM_SCALE : strcmp(argv[4], "hard") == 0 ? SIM_SCALE_HARD
               : strcmp(argv[4], "unscaled") == 0 ? SIM_SCALE_NEVER : SIM_SCALE;
    w->unread_h = is_later ? 24.0 * (of_days > 0.0 ? of_days : 1.0) : 0.0;
    w->forecast_bytes = tw_estimate_held_bytes((size_t)w->options.chains * w->options.keep); /* enough for a forecast too */
    w->mem = malloc(w->mem_bytes);
    w->forecast = malloc(w->forecast_bytes);
    w->timeline = malloc(tw_estimate_timeline_bytes());
    if (w->mem == NULL || w->forecast == NULL || w->timeline == NULL)
        return 2;
    const clock_t start = clock();
    for (unsigned long i = 0; i < n; i++)
        if (!(is_long  ? cal_long(w, r, first + i, of_days > 0.0 ? of_days : 60.0 + (double)((first + i) % 31), cut_h)
              : second ? cal_boundary(w, r, first + i, NULL)
                       : cal_one(w, r, first + i, NULL)))
            fprintf(stderr, "tub %lu was not folded\n", first + i);
    const double ms = 1e3 * (double)(clock() - start) / (double)CLOCKS_PER_SEC / (double)n;
    fprintf(to, "{\"tubs\": %zu, \"ms_each\": %.1f, \"acceptance\": %.3f, \"lag\": %.3f, \"repeated\": %zu, "
                "\"still_bad\": %zu, \"prior_frame\": %zu,\n \"quantities\": {\n",
            r->n, ms, r->sum_acceptance / (double)r->n, r->sum_lag / (double)r->n, r->repeated, r->still_bad,
            r->prior_frame);
    for (int q = 0; q < CAL_QUANTITIES; q++) {
        fprintf(to, "  \"%s\": {\"n\": %zu, \"coverage_50\": %.3f, \"coverage_90\": %.3f, \"rank_distance\": %.3f, "
                    "\"mean_width_90\": %.5g, \"crps\": %.5g, \"ranks\": ",
                CAL_NAME[q], r->n, cal_coverage(r, q, 0.5), cal_coverage(r, q, 0.9), cal_distance(r, q),
                r->width90[q] / (double)r->n, r->crps[q] / (double)r->n);
        write_ranks(to, r, q);
        fprintf(to, "}%s\n", q + 1 < CAL_QUANTITIES ? "," : "");
    }
    fprintf(to, " },\n");
    write_strata(to, r);
    write_decisions(to, r);
    fprintf(to, "}\n");
    if (to != stdout)
        (void)fclose(to);
    free(w->unread);
    free(w->timeline);
    free(w->forecast);
    free(w->mem);
    free(r);
    free(w);
    return 0;
}
