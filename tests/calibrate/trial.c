/* tests/calibrate/trial.c: many tubs of trial_sim.h; prints the tally as JSON. usage: trial TUBS FIRST_SEED */
#include <stdio.h>

#include "trial_sim.h"

int main(int argc, char **argv)
{
    const long tubs = argc > 1 ? strtol(argv[1], NULL, 10) : 1000, first = argc > 2 ? strtol(argv[2], NULL, 10) : 1001;
    const size_t bytes = tw_estimate_trial_bytes(4096);
    void *work = malloc(bytes);
    trial_tally t;
    int failed = 0;
    memset(&t, 0, sizeof t);
    for (long k = 0; k < tubs && work != NULL; k++)
        failed += trial_play((uint64_t)(first + k), work, bytes, &t) < 0;
    printf("{\"tubs\": %d, \"failed\": %d, \"proposed\": %d, \"cannot\": %d, \"too_low\": %d, \"sure\": %d, \"right\": %d, \"wrong\": %d, "
           "\"judge_right\": %d, \"judge_wrong\": %d, \"promised\": %.4f, \"hours\": %.1f}\n",
           t.tubs, failed, t.proposed, t.cannot, t.low, t.sure, t.right, t.wrong, t.judge_right, t.judge_wrong, t.promised, t.hours);
    free(work);
    return 0;
}
