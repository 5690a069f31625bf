/* num/sha256.c: SHA-256 as FIPS 180-4 writes it (section 6.2). */
#include "num/sha256.h"

#include <string.h>

#include "num/require.h"

/* First 32 bits of the fractions of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2). */
static const uint32_t K[64] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static uint32_t turned(uint32_t x, int n)
{
    return (x >> n) | (x << (32 - n));
}

static void block(uint32_t state[8], const uint8_t *at)
{
    uint32_t w[64];
    for (int t = 0; t < 16; t++)
        w[t] = (uint32_t)at[4 * t] << 24 | (uint32_t)at[4 * t + 1] << 16 | (uint32_t)at[4 * t + 2] << 8
             | (uint32_t)at[4 * t + 3];
    for (int t = 16; t < 64; t++) {
        const uint32_t s0 = turned(w[t - 15], 7) ^ turned(w[t - 15], 18) ^ (w[t - 15] >> 3);
        const uint32_t s1 = turned(w[t - 2], 17) ^ turned(w[t - 2], 19) ^ (w[t - 2] >> 10);
        w[t] = w[t - 16] + s0 + w[t - 7] + s1;
    }
    uint32_t a = state[0], b = state[1], c = state[2], d = state[3];
    uint32_t e = state[4], f = state[5], g = state[6], h = state[7];
    for (int t = 0; t < 64; t++) {
        const uint32_t s1 = turned(e, 6) ^ turned(e, 11) ^ turned(e, 25);
        const uint32_t t1 = h + s1 + ((e & f) ^ (~e & g)) + K[t] + w[t];
        const uint32_t s0 = turned(a, 2) ^ turned(a, 13) ^ turned(a, 22);
        const uint32_t t2 = s0 + ((a & b) ^ (a & c) ^ (b & c));
        h = g;
        g = f;
        f = e;
        e = d + t1;
        d = c;
        c = b;
        b = a;
        a = t1 + t2;
    }
    state[0] += a;
    state[1] += b;
    state[2] += c;
    state[3] += d;
    state[4] += e;
    state[5] += f;
    state[6] += g;
    state[7] += h;
}

void tw_sha256_init(tw_sha256_state *state)
{
    /* First 32 bits of the fractions of the square roots of the first 8 primes (5.3.3). */
    static const uint32_t START[8] = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                      0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
    memcpy(state->state, START, sizeof START);
    memset(state->block, 0, sizeof state->block);
    state->bytes = 0;
}

void tw_sha256_update(tw_sha256_state *state, const void *data, size_t n)
{
    TW_REQUIRE(data || n == 0);
    const uint8_t *at = data;
    while (n > 0) {
        const size_t have = (size_t)(state->bytes % 64);
        if (have == 0 && n >= 64) {
            block(state->state, at);
            state->bytes += 64;
            at += 64;
            n -= 64;
            continue;
        }
        const size_t take = n < 64 - have ? n : 64 - have;
        memcpy(state->block + have, at, take);
        state->bytes += take;
        at += take;
        n -= take;
        if (have + take == 64)
            block(state->state, state->block);
    }
}

void tw_sha256_final(tw_sha256_state *state, uint8_t out[TW_SHA256_BYTES])
{
    const uint64_t bits = state->bytes * 8;
    const size_t have = (size_t)(state->bytes % 64);
    uint8_t end[128] = {0x80}; /* a one, zeros, and the length in bits in the last 8 bytes of a block */
    const size_t n = (have < 56 ? 64 : 128) - have;
    for (size_t i = 0; i < 8; i++)
        end[n - 1 - i] = (uint8_t)(bits >> (8 * i));
    tw_sha256_update(state, end, n);
    for (size_t i = 0; i < TW_SHA256_BYTES; i++)
        out[i] = (uint8_t)(state->state[i / 4] >> (24 - 8 * (i % 4)));
}

void tw_sha256(const void *data, size_t n, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    tw_sha256_init(&state);
    tw_sha256_update(&state, data, n);
    tw_sha256_final(&state, out);
}

void tw_sha256_hex(const uint8_t digest[TW_SHA256_BYTES], char out[TW_SHA256_HEX])
{
    for (size_t i = 0; i < TW_SHA256_BYTES; i++) {
        out[2 * i] = "0123456789abcdef"[digest[i] >> 4];
        out[2 * i + 1] = "0123456789abcdef"[digest[i] & 15];
    }
    out[2 * TW_SHA256_BYTES] = '\0';
}
