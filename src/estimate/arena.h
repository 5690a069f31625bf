/* estimate/arena.h: pieces of the caller's memory, one after another. Internal. */
#ifndef TW_ESTIMATE_ARENA_H
#define TW_ESTIMATE_ARENA_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"

#define TW_ARENA_ALIGN 64 /* bytes: of the widest group of lanes */
#define TW_ARENA_SLACK 512 /* what aligning a few pieces may cost */

/* Memory of the caller, given out piece by piece. */
typedef struct {
    unsigned char *at;
    size_t left;
} tw_arena;

/* The next n bytes, aligned; NULL when they are not there (and from then on). */
static inline void *tw_arena_take(tw_arena *arena, size_t n)
{
    if (arena->at == NULL)
        return NULL;
    const size_t skip = (TW_ARENA_ALIGN - (size_t)((uintptr_t)arena->at % TW_ARENA_ALIGN)) % TW_ARENA_ALIGN;
    if (n > arena->left || skip > arena->left - n) {
        arena->at = NULL;
        return NULL;
    }
    void *piece = arena->at + skip;
    arena->at += skip + n;
    arena->left -= skip + n;
    return piece;
}

/* Lay out the arrays of a belief of n members; its block is NULL when the arena is too small. */
void tw_estimate_belief_lay(tw_belief *belief, size_t n, tw_arena *arena);

/* Everything of a belief into one that is laid out for as many members. */
void tw_estimate_belief_copy(const tw_belief *from, tw_belief *to);

#endif
