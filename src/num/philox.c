/* num/philox.c: Philox4x32-10 of Salmon, Moraes, Dror and Shaw (SC11, 2011), and streams over it. */
#include "num/philox.h"

#include "num/normal.h"
#include "num/require.h"

void tw_philox4x32(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    const uint64_t m0 = UINT64_C(0xD2511F53), m1 = UINT64_C(0xCD9E8D57);
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];
    for (int round = 0; round < 10; round++) {
        const uint64_t p0 = m0 * c0;
        const uint64_t p1 = m1 * c2;
        c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
        c1 = (uint32_t)p1;
        c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c3 = (uint32_t)p0;
        k0 += UINT32_C(0x9E3779B9); /* the golden ratio and the square root of 3, as fractions */
        k1 += UINT32_C(0xBB67AE85);
    }
    out[0] = c0;
    out[1] = c1;
    out[2] = c2;
    out[3] = c3;
}

tw_stream tw_stream_make(uint64_t seed, uint32_t segment, uint32_t purpose, uint32_t member)
{
    const tw_stream stream = {{(uint32_t)seed, (uint32_t)(seed >> 32)},
                              {0, member, segment, purpose},
                              {0, 0, 0, 0},
                              4};
    return stream;
}

void tw_stream_skip(tw_stream *stream, uint32_t blocks)
{
    TW_REQUIRE(stream->used == 4);
    stream->counter[0] += blocks;
}

uint32_t tw_stream_u32(tw_stream *stream)
{
    if (stream->used == 4) {
        tw_philox4x32(stream->counter, stream->key, stream->word);
        stream->counter[0]++;
        stream->used = 0;
    }
    return stream->word[stream->used++];
}

double tw_stream_uniform(tw_stream *stream)
{
    const uint64_t high = tw_stream_u32(stream);
    const uint64_t low = tw_stream_u32(stream);
    const uint64_t k = (high << 20) | (low >> 12);
    return ((double)k + 0.5) * 0x1p-52;
}

double tw_stream_normal(tw_stream *stream)
{
    return tw_normal_quantile(tw_stream_uniform(stream));
}

uint32_t tw_stream_below(tw_stream *stream, uint32_t n)
{
    TW_REQUIRE(n >= 1);
    /* 2^32 mod n words at the bottom are drawn again, so each rest is met equally often. */
    const uint32_t first = (0u - n) % n;
    uint32_t word = tw_stream_u32(stream);
    while (word < first)
        word = tw_stream_u32(stream);
    return word % n;
}
