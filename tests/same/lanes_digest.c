/* tests/same/lanes_digest.c: digests of a few folds, for test_lanes.py, which builds it with other lane
 * widths and optimisations. */
#include <stdio.h>
#include <stdlib.h>

#include "estimate/sample.h"
#include "sim_tub.h"

static sim_tub tub;

int main(void)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    const size_t bytes = tw_estimate_sample_bytes(&quick);
    void *mem = malloc(bytes);
    if (mem == NULL)
        return 1;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        tw_belief b;
        sim_start_up(&tub, seed, 2.0 + 2.0 * (double)seed);
        if (tw_estimate_sample(&tub.problem, seed, 0, &quick, mem, bytes, &b) != TW_OK)
            return 1;
        for (int i = 0; i < 32; i++)
            printf("%02x", b.digest[i]);
        printf("\n");
    }
    free(mem);
    return 0;
}
