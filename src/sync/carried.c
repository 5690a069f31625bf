/* sync/carried.c: what messages carry: runs, and lines on their way. Of memory alone, so that fuzzers have it as well. */
#include <stdlib.h>
#include <string.h>

#include "store/grow.h"
#include "sync/sync.h"

const char *tw_sync_taken_name(tw_sync_taken taken)
{
    return taken == TW_SYNC_STORED ? "stored" : taken == TW_SYNC_HAD ? "had" : "refused";
}

void tw_sync_have_free(tw_sync_have *have)
{
    free(have->run);
    memset(have, 0, sizeof *have);
}

tw_status tw_sync_have_add(tw_sync_have *have, const tw_sync_run *run)
{
    if (!tw_store_grow(&have->run, &have->room, have->runs + 1, sizeof *have->run))
        return TW_ERR_CAPACITY;
    have->run[have->runs++] = *run;
    return TW_OK;
}

tw_status tw_sync_batch_add(tw_sync_batch *batch, tw_text line, const uint8_t *hash)
{
    if (!tw_store_grow(&batch->bytes, &batch->room, batch->used + line.n, 1) ||
        !tw_store_grow(&batch->item, &batch->items, batch->count + 1, sizeof *batch->item))
        return TW_ERR_CAPACITY;
    struct tw_sync_item *item = &batch->item[batch->count++];
    memset(item, 0, sizeof *item);
    item->at = batch->used;
    item->n = line.n;
    item->hashed = hash != NULL;
    if (hash != NULL)
        memcpy(item->hash, hash, TW_SHA256_BYTES);
    if (line.n > 0)
        memcpy(batch->bytes + batch->used, line.at, line.n);
    batch->used += line.n;
    return TW_OK;
}

tw_text tw_sync_batch_line(const tw_sync_batch *batch, size_t index)
{
    const struct tw_sync_item *item = &batch->item[index];
    const tw_text line = {batch->bytes + item->at, item->n};
    return line;
}

void tw_sync_batch_clear(tw_sync_batch *batch)
{
    batch->used = batch->count = 0;
}

void tw_sync_batch_free(tw_sync_batch *batch)
{
    free(batch->bytes);
    free(batch->item);
    memset(batch, 0, sizeof *batch);
}
