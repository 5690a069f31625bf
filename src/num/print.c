/* num/print.c: see print.h. */
#include "num/print.h"

#include "num/bytes.h"

#define ODD UINT64_C(0x9e3779b97f4a7c15) /* 2^64 over the golden ratio */

void tw_print_init(tw_print *p)
{
    for (uint64_t i = 0; i < 8; i++)
        p->sum[i] = i;
    p->words = 0;
}

static inline void take(uint64_t *sum, uint64_t word)
{
    const uint64_t x = (*sum ^ word) * ODD;
    *sum = x ^ (x >> 32);
}

void tw_print_doubles(tw_print *p, const double *x, size_t n)
{
    size_t i = 0;
    if (p->words % 8 == 0)
        for (; i + 8 <= n; i += 8)
            for (size_t k = 0; k < 8; k++)
                take(&p->sum[k], tw_bits_of(x[i + k]));
    for (p->words += i; i < n; i++)
        take(&p->sum[p->words++ % 8], tw_bits_of(x[i]));
}

void tw_print_bytes(tw_print *p, const uint8_t *bytes, size_t n)
{
    size_t i = 0;
    if (p->words % 8 == 0)
        for (; i + 8 <= n; i += 8)
            for (size_t k = 0; k < 8; k++)
                take(&p->sum[k], tw_get_u64(bytes + 8 * (i + k)));
    for (p->words += i; i < n; i++)
        take(&p->sum[p->words++ % 8], tw_get_u64(bytes + 8 * i));
}

void tw_print_final(const tw_print *p, uint8_t out[TW_SHA256_BYTES])
{
    uint8_t bytes[72], *at = bytes;
    for (int i = 0; i < 8; i++)
        at = tw_put_u64(at, p->sum[i]);
    (void)tw_put_u64(at, p->words);
    tw_sha256(bytes, sizeof bytes, out);
}
