/* num/print.h: a quick fingerprint of many words.
 *
 * It names what was worked out and shows damage by chance; it is no defence against somebody who wants two things of one
 * fingerprint (that is tw_sha256). Eight sums side by side, each (sum ^ word) * odd, then folded onto itself: one to one in the
 * sum and in the word, so one word that differs always shows. At the end SHA-256 of the eight and of the number of words. Some
 * thirty times as quick as SHA-256 alone. */
#ifndef TW_NUM_PRINT_H
#define TW_NUM_PRINT_H

#include <stddef.h>
#include <stdint.h>

#include "num/sha256.h"

/* A fingerprint on its way. */
typedef struct {
    uint64_t sum[8];
    uint64_t words;
} tw_print;

/* Begin. */
void tw_print_init(tw_print *print);

/* The bits of n numbers; n words of eight bytes each, little-endian. */
void tw_print_doubles(tw_print *print, const double *x, size_t n);
void tw_print_bytes(tw_print *print, const uint8_t *bytes, size_t n);

/* The fingerprint of all that came so far. */
void tw_print_final(const tw_print *print, uint8_t out[TW_SHA256_BYTES]);

#endif
