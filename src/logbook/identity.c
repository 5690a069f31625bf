/* logbook/identity.c: UUIDs of RFC 9562. */
#include "logbook/identity.h"

#include <string.h>

#include "num/require.h"
#include "num/sha256.h"

/* Drawn once at random for the readings of devices; part of the format and never changed. */
static const uint8_t NAMESPACE[16] = {0xd1, 0x28, 0x1c, 0x2c, 0x0e, 0x4b, 0x4f, 0x32,
                                      0x87, 0xca, 0xf8, 0x5d, 0xa1, 0x50, 0x15, 0x63};

static void write_id(uint8_t byte[16], uint8_t version, char out[TW_ID_BYTES])
{
    static const char DIGIT[] = "0123456789abcdef";
    byte[6] = (uint8_t)((byte[6] & 0x0F) | version << 4);
    byte[8] = (uint8_t)((byte[8] & 0x3F) | 0x80);
    size_t n = 0;
    for (size_t i = 0; i < 16; i++) {
        if (i == 4 || i == 6 || i == 8 || i == 10)
            out[n++] = '-';
        out[n++] = DIGIT[byte[i] >> 4];
        out[n++] = DIGIT[byte[i] & 15];
    }
    out[n] = '\0';
}

void tw_logbook_id_v7(uint64_t unix_ms, const uint8_t random[10], char out[TW_ID_BYTES])
{
    uint8_t byte[16];
    TW_REQUIRE(unix_ms >> 48 == 0);
    for (int i = 0; i < 6; i++)
        byte[i] = (uint8_t)(unix_ms >> (40 - 8 * i));
    memcpy(byte + 6, random, 10);
    write_id(byte, 7, out);
}

/* Decimal digits of a time after 1970; -1 s and before do not occur in entries (units/time.h: the
 * local year is 1970 or later), but an offset may bring the instant just before it. */
static size_t write_seconds(int64_t utc_s, char out[24])
{
    char digit[20];
    size_t n = 0, at = 0;
    uint64_t left = utc_s < 0 ? (uint64_t)-utc_s : (uint64_t)utc_s;
    if (utc_s < 0)
        out[at++] = '-';
    do
        digit[n++] = (char)('0' + left % 10);
    while ((left /= 10) > 0);
    while (n > 0)
        out[at++] = digit[--n];
    return at;
}

void tw_logbook_id_v8(tw_text device, tw_text quantity, tw_time at, char out[TW_ID_BYTES])
{
    tw_sha256_state state;
    uint8_t digest[TW_SHA256_BYTES];
    char seconds[24];
    const size_t n = write_seconds(at.utc_s, seconds);
    tw_sha256_init(&state);
    tw_sha256_update(&state, NAMESPACE, sizeof NAMESPACE);
    tw_sha256_update(&state, device.at, device.n);
    tw_sha256_update(&state, "\n", 1);
    tw_sha256_update(&state, quantity.at, quantity.n);
    tw_sha256_update(&state, "\n", 1);
    tw_sha256_update(&state, seconds, n);
    tw_sha256_final(&state, digest);
    write_id(digest, 8, out);
}

int tw_logbook_id_is(tw_text text, int *version)
{
    if (text.n != TW_ID_CHARS)
        return 0;
    for (size_t i = 0; i < text.n; i++) {
        const char c = text.at[i];
        const int dash = i == 8 || i == 13 || i == 18 || i == 23;
        const int hex = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
        if (dash ? c != '-' : !hex)
            return 0;
    }
    const char v = text.at[14], variant = text.at[19];
    if (v < '1' || v > '8' || !(variant == '8' || variant == '9' || variant == 'a' || variant == 'b'))
        return 0;
    if (version)
        *version = v - '0';
    return 1;
}
