/* estimate/fold.c: from a book to a belief. */
#include "estimate/fold.h"

#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/conductivity.h"
#include "estimate/from_book.h"
#include "num/sha256.h"

size_t tw_estimate_bytes(const tw_estimate_options *options)
{
    return sizeof(tw_problem) + tw_estimate_sample_bytes(options) + 4 * TW_ARENA_ALIGN;
}

/* The tub's streams: the first eight bytes of the SHA-256 of its id. */
static uint64_t seed_of(tw_text tub)
{
    uint8_t digest[TW_SHA256_BYTES];
    uint64_t seed = 0;
    tw_sha256(tub.at, tub.n, digest);
    for (int i = 0; i < 8; i++)
        seed |= (uint64_t)digest[i] << (8 * i);
    return seed;
}

tw_status tw_estimate_from_book(tw_from_book *f)
{
    const tw_status status = tw_estimate_book_start(f);
    if (status != TW_OK)
        return status;
    f->problem->by_entry = 1;
    tw_estimate_book_doses(f);
    tw_estimate_book_exchanges(f);
    tw_estimate_book_settings(f);
    tw_estimate_book_readings(f);
    return TW_OK;
}

/* One try with at most so many entries of this water. */
static tw_status fold_latest(tw_from_book *f, size_t most_entries, const tw_estimate_options *options,
                             tw_arena rest, tw_belief *out)
{
    const tw_from_book empty = *f;
    f->most_entries = most_entries;
    const tw_status status = tw_estimate_from_book(f);
    if (status != TW_OK)
        return status;
    tw_estimate_fit_conductivity(&f->problem->conductivity);
    const tw_status sampled =
        tw_estimate_sample(f->problem, seed_of(f->tub), f->segment, options, rest.at, rest.left, out);
    if (sampled == TW_ERR_CAPACITY)
        *f = empty;
    return sampled;
}

tw_status tw_estimate_fold_with(const tw_book *book, tw_text tub, tw_time now,
                                const tw_estimate_options *options, void *mem, size_t bytes,
                                tw_belief *out)
{
    tw_arena arena = {mem, bytes};
    tw_problem *problem = tw_arena_take(&arena, sizeof *problem);
    if (problem == NULL)
        return TW_ERR_CAPACITY;
    tw_from_book f;
    memset(&f, 0, sizeof f);
    memset(out, 0, sizeof *out);
    f.book = book;
    f.tub = tub;
    f.now = now;
    f.problem = problem;
    /* A crowded log may not fit even so (air, doses and pH in turn): then fewer of the latest. */
    tw_status status = TW_ERR_CAPACITY;
    for (size_t most = 400; most >= 50 && status == TW_ERR_CAPACITY; most /= 2)
        status = fold_latest(&f, most, options, arena, out);
    if (status != TW_OK)
        return status;
    out->at_utc_s = now.utc_s;
    out->flags |= f.flags;
    out->density_kg_per_l = tw_estimate_water_density(out->temp_set_c);
    tw_estimate_seal(out);
    return TW_OK;
}

tw_status tw_estimate_fold(const tw_book *book, tw_text tub, tw_time now, void *mem, size_t bytes,
                           tw_belief *out)
{
    return tw_estimate_fold_with(book, tub, now, NULL, mem, bytes, out);
}
