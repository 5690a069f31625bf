/* estimate/alone.c: a fold without what earlier waters taught. */
#include "estimate/alone.h"

#include <string.h>

#include "estimate/arena.h"
#include "estimate/conductivity.h"
#include "estimate/from_book.h"
#include "estimate/sample.h"

#define MOST_ENTRIES 400 /* of the stretch; halved while it does not fit */
#define LEAST_ENTRIES 50

tw_status tw_estimate_fold_alone(const tw_book *book, tw_text tub, tw_time now, tw_time end, const tw_estimate_options *options,
                                 void *mem, size_t bytes, tw_belief *out)
{
    tw_arena arena = {mem, bytes};
    tw_problem *problem = tw_arena_take(&arena, sizeof *problem);
    tw_status status = TW_ERR_CAPACITY;
    memset(out, 0, sizeof *out);
    if (problem == NULL)
        return TW_ERR_CAPACITY;
    for (size_t most = MOST_ENTRIES; most >= LEAST_ENTRIES && status == TW_ERR_CAPACITY; most /= 2) {
        tw_from_book f;
        memset(&f, 0, sizeof f);
        f.book = book;
        f.tub = tub;
        f.now = now;
        f.end = end;
        f.problem = problem;
        f.most_entries = most;
        status = tw_estimate_from_book(&f);
        if (status != TW_OK)
            continue;
        tw_estimate_fit_conductivity(&problem->conductivity);
        /* The streams need no name of the tub: nothing is compared by them. */
        status = tw_estimate_sample(problem, 1, f.segment, options, arena.at, arena.left, out);
        out->flags |= f.flags;
    }
    return status;
}
