/* tests/support/random.h: random cases that do not rest on the code under test: SplitMix64 (Steele, Lea and Flood 2014), and a
 * rough normal that needs no library. */
#ifndef TW_TESTS_RANDOM_H
#define TW_TESTS_RANDOM_H

#include <math.h>
#include <stdint.h>

static inline uint64_t random_bits(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9E3779B97F4A7C15));
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* Uniform between 0 and 1, neither of them. */
static inline double random_uniform(uint64_t *state)
{
    return ((double)(random_bits(state) >> 12) + 0.5) * 0x1p-52;
}

/* Box and Muller's. */
static inline double random_normal(uint64_t *state)
{
    const double u = random_uniform(state), v = random_uniform(state);
    return sqrt(-2.0 * log(u)) * cos(6.283185307179586 * v);
}

/* A sum of twelve, less six, of a congruential stream. */
static inline double random_rough_normal(uint64_t *state)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++) {
        *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        sum += (double)(*state >> 11) * 0x1p-53;
    }
    return sum;
}

#endif
