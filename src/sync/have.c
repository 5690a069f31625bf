/* sync/have.c: what one side has, said in runs, and what arrived there since. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/grow.h"
#include "sync/chains.h"

typedef struct {
    tw_sync_have *have;
    tw_sync_chain chain;
    uint32_t *start; /* of each entry: number of the first that its links lead back to */
    size_t room;
    tw_sha256_state seal;
} teller;

/* One line of the seal (docs/logbook-format.md). */
static void seal_on(tw_sha256_state *state, const tw_sync_run *run)
{
    char line[TW_ID_CHARS + 16 + TW_SHA256_HEX + 4];
    char hash[TW_SHA256_HEX];
    tw_sha256_hex(run->hash, hash);
    const int n = snprintf(line, sizeof line, "%s %lu %s\n", run->writer, (unsigned long)run->n, hash);
    tw_sha256_update(state, line, (size_t)n);
}

static tw_status tell_writer(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    teller *tell = to;
    tw_status status = tw_sync_chain_settle(&tell->chain, writer, link, n);
    if (!tw_store_grow(&tell->start, &tell->room, n, sizeof *tell->start))
        return TW_ERR_CAPACITY;
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        const size_t before = tell->chain.before[i];
        tell->start[i] = before == TW_SYNC_NONE ? link[i].n : tell->start[before];
        if (tell->chain.named[i])
            continue;
        tw_sync_run run;
        memset(&run, 0, sizeof run);
        memcpy(run.writer, writer, TW_ID_BYTES);
        run.from = tell->start[i];
        run.n = link[i].n;
        memcpy(run.hash, link[i].hash, TW_SHA256_BYTES);
        seal_on(&tell->seal, &run);
        status = tw_sync_have_add(tell->have, &run);
    }
    tell->have->lines += n;
    return status;
}

/* What is there may grow while it is looked at: everything is read in one statement, but for the cursor, which is read before, so
 * that it never stands behind a line that is not told. */
tw_status tw_sync_have_of(tw_store *store, int64_t now_ms, tw_sync_have *out, tw_store_fault *fault)
{
    teller tell;
    tw_store_cursor end = {0};
    tw_status status = tw_store_newest(store, &end, fault);
    memset(out, 0, sizeof *out);
    memset(&tell, 0, sizeof tell);
    tell.have = out;
    out->now_ms = now_ms;
    tw_sha256_init(&tell.seal);
    if (status == TW_OK)
        status = tw_store_mark(store, end, out->cursor, fault);
    if (status == TW_OK)
        status = tw_store_writer(store, out->writer, fault);
    if (status == TW_OK)
        status = tw_store_links(store, tell_writer, &tell, fault);
    tw_sha256_final(&tell.seal, out->seal);
    tw_sync_chain_free(&tell.chain);
    free(tell.start);
    return status;
}

/* A line of the store goes into a batch, until that is full. */
static tw_status into_batch(void *to, tw_text line)
{
    tw_sync_batch *batch = to;
    uint8_t hash[TW_SHA256_BYTES];
    if (batch->count > 0 && batch->used + line.n > TW_SYNC_LINE_BYTES)
        return TW_ERR_CAPACITY;
    tw_sha256(line.at, line.n, hash);
    return tw_sync_batch_add(batch, line, hash);
}

tw_status tw_sync_since(tw_store *store, tw_text cursor, tw_text tub, size_t most, tw_sync_batch *out,
                        char next[TW_STORE_MARK_BYTES], int *more, tw_store_fault *fault)
{
    tw_store_cursor at;
    *more = 0;
    next[0] = '\0';
    tw_sync_batch_clear(out);
    tw_status status = tw_store_mark_read(store, cursor, &at, fault);
    if (status == TW_OK)
        status = tw_store_page(store, &at, tub, most > 0 && most < TW_SYNC_LINES ? most : TW_SYNC_LINES, into_batch, out, more, fault);
    return status == TW_OK ? tw_store_mark(store, at, next, fault) : status;
}
