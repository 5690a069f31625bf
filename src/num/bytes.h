/* num/bytes.h: numbers as eight bytes, the lowest first, on every machine. */
#ifndef TW_NUM_BYTES_H
#define TW_NUM_BYTES_H

#include <stdint.h>

#include "num/elementary_inline.h"

/* Write x to at; returns what stands behind it. */
static inline uint8_t *tw_put_u64(uint8_t *at, uint64_t x)
{
    for (int i = 0; i < 8; i++)
        at[i] = (uint8_t)(x >> (8 * i));
    return at + 8;
}

/* The eight bytes at `at`. */
static inline uint64_t tw_get_u64(const uint8_t *at)
{
    uint64_t x = 0;
    for (int i = 0; i < 8; i++)
        x |= (uint64_t)at[i] << (8 * i);
    return x;
}

/* The bits of a double, likewise. */
static inline uint8_t *tw_put_double(uint8_t *at, double x)
{
    return tw_put_u64(at, tw_bits_of(x));
}

/* The double whose bits stand at `at`. */
static inline double tw_get_double(const uint8_t *at)
{
    return tw_of_bits(tw_get_u64(at));
}

#endif
