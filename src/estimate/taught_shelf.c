/* estimate/taught_shelf.c: what earlier stretches taught, as bytes, a cache and nothing more. */
#include <string.h>

#include "estimate/checkpoint.h"
#include "num/bytes.h"
#include "num/sha256.h"

#define HEAD_BYTES (8 + 32)
#define SLOT_BYTES (8 + TW_SHA256_BYTES + TW_TAUGHT_BYTES)
#define NAMES_BYTES (8 + TW_SHA256_BYTES + TW_MOST_STRETCHES * (1 + TW_SHA256_BYTES))

static const uint8_t MAGIC[8] = {'T', 'W', 't', 'a', 'u', 'g', 'h', '5'};

size_t tw_estimate_shelf_bytes(void)
{
    return HEAD_BYTES + TW_SHELF_SLOTS * SLOT_BYTES + NAMES_BYTES + TW_SHA256_BYTES;
}

static uint8_t *write_names(const tw_stretch_names *names, uint8_t *at)
{
    at = tw_put_u64(at, names->n);
    memcpy(at, names->entries, TW_SHA256_BYTES);
    at += TW_SHA256_BYTES;
    memcpy(at, names->teaches, TW_MOST_STRETCHES);
    at += TW_MOST_STRETCHES;
    memcpy(at, names->key, sizeof names->key);
    return at + sizeof names->key;
}

static void read_names(const uint8_t *at, tw_stretch_names *names)
{
    names->n = (uint32_t)tw_get_u64(at);
    memcpy(names->entries, at + 8, TW_SHA256_BYTES);
    memcpy(names->teaches, at + 8 + TW_SHA256_BYTES, TW_MOST_STRETCHES);
    memcpy(names->key, at + 8 + TW_SHA256_BYTES + TW_MOST_STRETCHES, sizeof names->key);
}

void tw_estimate_shelf_write(const tw_taught_shelf *shelf, const uint8_t core[32], uint8_t *out)
{
    uint8_t *at = out;
    memcpy(at, MAGIC, sizeof MAGIC);
    memcpy(at + sizeof MAGIC, core, 32);
    at += HEAD_BYTES;
    for (uint32_t i = 0; i < TW_SHELF_SLOTS; i++) {
        const uint32_t slot = (shelf->next + i) % TW_SHELF_SLOTS; /* the oldest first */
        memset(at, 0, 8);
        at[0] = shelf->used[slot] != 0;
        memcpy(at + 8, shelf->key[slot], TW_SHA256_BYTES);
        tw_estimate_taught_write(&shelf->taught[slot], at + 8 + TW_SHA256_BYTES);
        at += SLOT_BYTES;
    }
    at = write_names(&shelf->names, at);
    tw_sha256(out, (size_t)(at - out), at);
}

tw_status tw_estimate_shelf_read(const uint8_t *in, size_t length, const uint8_t core[32], tw_taught_shelf *out)
{
    uint8_t digest[TW_SHA256_BYTES];
    memset(out, 0, sizeof *out);
    if (length != tw_estimate_shelf_bytes() || memcmp(in, MAGIC, sizeof MAGIC) != 0)
        return TW_ERR_DAMAGED;
    if (memcmp(in + sizeof MAGIC, core, 32) != 0)
        return TW_ERR_MISSING;
    tw_sha256(in, length - TW_SHA256_BYTES, digest);
    if (memcmp(digest, in + length - TW_SHA256_BYTES, TW_SHA256_BYTES) != 0)
        return TW_ERR_DAMAGED;
    for (uint32_t i = 0; i < TW_SHELF_SLOTS; i++) {
        const uint8_t *at = in + HEAD_BYTES + i * SLOT_BYTES;
        out->used[i] = at[0];
        memcpy(out->key[i], at + 8, TW_SHA256_BYTES);
        tw_estimate_taught_read(at + 8 + TW_SHA256_BYTES, &out->taught[i]);
    }
    read_names(in + HEAD_BYTES + TW_SHELF_SLOTS * SLOT_BYTES, &out->names);
    return TW_OK;
}
