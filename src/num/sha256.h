/* num/sha256.h: SHA-256 (FIPS 180-4). Tested against the standard's examples and libsodium. */
#ifndef TW_NUM_SHA256_H
#define TW_NUM_SHA256_H

#include <stddef.h>
#include <stdint.h>

#define TW_SHA256_BYTES 32 /* of a digest */
#define TW_SHA256_HEX 65 /* 64 digits and the final zero */

/* Digest of n bytes; data may be NULL when n is 0. */
void tw_sha256(const void *data, size_t n, uint8_t out[TW_SHA256_BYTES]);

/* Lower-case hexadecimal text of a digest, ended by a zero. */
void tw_sha256_hex(const uint8_t digest[TW_SHA256_BYTES], char out[TW_SHA256_HEX]);

/* In pieces: init, update any number of times, final once. After final the struct must be
 * initialised again before further use. */
typedef struct {
    uint32_t state[8];
    uint64_t bytes;       /* how many came in so far          */
    uint8_t block[64];    /* the last, not yet full 64 bytes  */
} tw_sha256_state;

/* Begin; take in n more bytes; end and give the digest. */
void tw_sha256_init(tw_sha256_state *state);
void tw_sha256_update(tw_sha256_state *state, const void *data, size_t n);
void tw_sha256_final(tw_sha256_state *state, uint8_t out[TW_SHA256_BYTES]);

#endif
