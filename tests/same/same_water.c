/* One hash of everything that the room "water" answers over waters wider than any tub (water_bits.h). See same_num.c. */
#include "water/speciate.h" /* the room, for the list of what is linked */
#include "water_bits.h"

int main(void)
{
    tw_sha256_state all;
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    uint64_t results = 0;
    tw_sha256_init(&all);
    for (size_t p = 0; p < BITS_PARTS; p++) {
        results += bits_digest(p, hex);
        tw_sha256_update(&all, hex, strlen(hex));
    }
    tw_sha256_final(&all, digest);
    tw_sha256_hex(digest, hex);
    printf("water %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
