/* tests/calibrate/wrong.c: what the intervals are worth where the model is wrong. usage: wrong [tubs [first seed [file]]]
 *
 * Start-ups whose truth breaks what the estimator takes for granted, one thing at a time. A JSON object by kind: of each
 * quantity coverage_90, interval score over the mean width, and the signed bias of the median in mean widths; kept_horizon_h
 * is the longest forecast of free chlorine that, like all shorter ones, covers 80 % in every kind. */
#include <stdio.h>
#include <stdlib.h>

#include "../estimate/calibration.h"

static const char *const KIND[SIM_WRONGS] = {"as_modelled",  "other_decay",   "lot_half_high", "volume_off",
                                             "weak_product", "wild_readings", "unlogged_dose", "unlogged_use", "generator_off"};

static cal_work work;
static cal_result result;

static void write_kind(FILE *to, int kind, const cal_result *r)
{
    fprintf(to, "%s  \"%s\": {", kind ? ",\n" : "", KIND[kind]);
    for (int q = 0; q < CAL_QUANTITIES; q++)
        fprintf(to, "%s\"%s\": {\"n\": %zu, \"coverage_90\": %.3f, \"score_per_width\": %.2f, \"bias_in_widths\": %.3f}", q ? ",\n    " : "",
                CAL_NAME[q], r->n, cal_coverage(r, q, 0.9), r->score90[q] / r->width90[q], r->off[q] / r->width90[q]);
    fprintf(to, "}");
}

int main(int argc, char **argv)
{
    const unsigned long n = argc > 1 ? strtoul(argv[1], NULL, 10) : 200;
    const unsigned long first = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    FILE *to = argc > 3 ? fopen(argv[3], "w") : stdout;
    static const int AHEAD[3] = {CAL_CHLORINE_6H, CAL_CHLORINE_24H, CAL_CHLORINE_72H}, HOURS[3] = {6, 24, 72};
    int good[3] = {1, 1, 1}, kept = 0;
    work.options = tw_estimate_options_default();
    work.mem_bytes = tw_estimate_sample_bytes(&work.options);
    work.forecast_bytes = tw_estimate_held_bytes((size_t)work.options.chains * work.options.keep);
    work.mem = malloc(work.mem_bytes);
    work.forecast = malloc(work.forecast_bytes);
    work.timeline = malloc(tw_estimate_timeline_bytes());
    if (to == NULL || work.mem == NULL || work.forecast == NULL || work.timeline == NULL || n > CAL_MAX)
        return 2;
    fprintf(to, "{\"kinds\": {\n");
    for (int kind = 0; kind < SIM_WRONGS; kind++) {
        memset(&result, 0, sizeof result);
        work.wrong = (sim_wrong)kind;
        for (unsigned long i = 0; i < n; i++)
            if (!cal_one(&work, &result, first + i, NULL))
                fprintf(stderr, "tub %lu was not folded\n", first + i);
        write_kind(to, kind, &result);
        for (int k = 0; k < 3; k++)
            good[k] &= cal_coverage(&result, AHEAD[k], 0.9) >= 0.8;
    }
    for (int k = 0; k < 3 && good[k]; k++)
        kept = HOURS[k];
    fprintf(to, "\n },\n \"kept_horizon_h\": %d}\n", kept);
    if (to != stdout)
        (void)fclose(to);
    free(work.timeline);
    free(work.forecast);
    free(work.mem);
    return 0;
}
