/* num/philox.h: random numbers by counter, not by state (Philox4x32-10).
 *
 * Salmon, Moraes, Dror, Shaw: "Parallel random numbers: as easy as 1, 2, 3", SC11, 2011. A draw is
 * a pure function of (seed, segment, purpose, member, draw number), so adding an entry, a member
 * or a thread never shifts the numbers of another. Never draw two numbers inside one expression:
 * compilers evaluate arguments in different orders. Name them first. */
#ifndef TW_NUM_PHILOX_H
#define TW_NUM_PHILOX_H

#include <stdint.h>

/* Ten rounds: out = the four words that belong to counter and key. out may be the counter's array. */
void tw_philox4x32(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);

/* A stream: the caller's value; copying it copies the position. */
typedef struct {
    uint32_t key[2];     /* the seed, low word first                                   */
    uint32_t counter[4]; /* block number, member, segment, purpose                     */
    uint32_t word[4];    /* the present block                                          */
    uint32_t used;       /* how many words of it are spent; 4 at the start             */
} tw_stream;

/* Start the stream of one (seed, segment, purpose, member). seed: 64 bits, for a tub a hash of its
 * id; segment: number of the water (fill) in the logbook; purpose: what is drawn, a constant of the
 * caller's; member: which member of the ensemble. Different arguments give independent streams. */
tw_stream tw_stream_make(uint64_t seed, uint32_t segment, uint32_t purpose, uint32_t member);

/* Leave out this many blocks of four words (two normals each) of a stream that stands between blocks. */
void tw_stream_skip(tw_stream *stream, uint32_t blocks);

/* Next 32 random bits. A stream has 2^34 of them. */
uint32_t tw_stream_u32(tw_stream *stream);

/* Uniform in (0,1), never 0 or 1: (k + 0.5) * 2^-53 with k of 53 bits would round to 1 at the top,
 * so k has 52 bits, from two words; every value and its complement to 1 are exact. */
double tw_stream_uniform(tw_stream *stream);

/* Standard normal by the inverse distribution: one uniform, one normal, so streams stay aligned. */
double tw_stream_normal(tw_stream *stream);

/* Uniform whole number in 0..n-1, without bias (words that would favour some are drawn again). n >= 1. */
uint32_t tw_stream_below(tw_stream *stream, uint32_t n);

#endif
