/* sync/lacking.c: what one side has and the other does not. */
#include <stdlib.h>
#include <string.h>

#include "store/grow.h"
#include "sync/chains.h"

/* A run of theirs against this side's chain of the same writer. */
typedef void run_visit(void *to, const tw_sync_chain *chain, const tw_sync_run *run);

/* Runs of theirs come in any order: they are few, and those of one writer are looked for. */
static void each_run(const tw_sync_have *theirs, const tw_sync_chain *chain, run_visit *visit, void *to)
{
    for (size_t i = 0; i < theirs->runs; i++)
        if (strcmp(theirs->run[i].writer, chain->writer) == 0)
            visit(to, chain, &theirs->run[i]);
}

/* Walk back along a run from its end as far as it goes here. Every link is a hash, so what is walked over is what they have. */
static size_t walk(const tw_sync_chain *chain, const tw_sync_run *run, unsigned char *mark)
{
    size_t last = TW_SYNC_NONE;
    for (size_t at = tw_sync_chain_find(chain, run->n, run->hash); at != TW_SYNC_NONE && chain->link[at].n >= run->from;
         at = chain->before[at]) {
        if (mark != NULL)
            mark[at] = 1;
        last = at;
    }
    return last;
}

typedef struct {
    const tw_sync_have *theirs;
    tw_sync_chain chain;
    unsigned char *theirs_too;
    size_t room;
    tw_sync_list *out;
} lacking;

static void mark_run(void *to, const tw_sync_chain *chain, const tw_sync_run *run)
{
    (void)walk(chain, run, ((lacking *)to)->theirs_too);
}

static tw_status lacking_of_writer(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    lacking *look = to;
    tw_status status = tw_sync_chain_settle(&look->chain, writer, link, n);
    if (status != TW_OK || !tw_store_grow(&look->theirs_too, &look->room, n, 1))
        return status != TW_OK ? status : TW_ERR_CAPACITY;
    memset(look->theirs_too, 0, n);
    each_run(look->theirs, &look->chain, mark_run, look);
    for (size_t i = 0; status == TW_OK && i < n; i++)
        if (!look->theirs_too[i])
            status = tw_sync_list_add(look->out, link[i].hash);
    return status;
}

tw_status tw_sync_lacking(tw_store *store, const tw_sync_have *theirs, tw_sync_list *out, tw_store_fault *fault)
{
    lacking look;
    memset(&look, 0, sizeof look);
    look.theirs = theirs;
    look.out = out;
    out->count = 0;
    const tw_status status = tw_store_links(store, lacking_of_writer, &look, fault);
    tw_sync_chain_free(&look.chain);
    free(look.theirs_too);
    return status;
}

typedef struct {
    const tw_sync_have *theirs;
    tw_sync_chain chain;
    unsigned char *seen; /* of each run of theirs: 1 when its writer is known here */
    tw_sync_report *out;
    tw_status status;
} not_given;

static void say(not_given *look, const tw_sync_run *run, uint32_t n, const uint8_t *hash)
{
    tw_sync_odd *odd = tw_sync_report_add(look->out, TW_SYNC_ODD_NOT_GIVEN, run->writer, n);
    if (odd == NULL)
        look->status = TW_ERR_CAPACITY;
    else
        memcpy(odd->hash, hash, TW_SHA256_BYTES);
}

static void look_at_run(void *to, const tw_sync_chain *chain, const tw_sync_run *run)
{
    not_given *look = to;
    const size_t last = walk(chain, run, NULL);
    look->seen[run - look->theirs->run] = 1;
    if (last == TW_SYNC_NONE)
        say(look, run, run->n, run->hash);
    else if (chain->link[last].n > run->from && !chain->link[last].first)
        say(look, run, chain->link[last].n - 1, chain->link[last].prev);
}

static tw_status not_given_of_writer(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    not_given *look = to;
    if (tw_sync_chain_settle(&look->chain, writer, link, n) != TW_OK)
        return TW_ERR_CAPACITY;
    each_run(look->theirs, &look->chain, look_at_run, look);
    return look->status;
}

tw_status tw_sync_not_given(tw_store *store, const tw_sync_have *theirs, tw_sync_report *out, tw_store_fault *fault)
{
    not_given look;
    memset(&look, 0, sizeof look);
    look.theirs = theirs;
    look.out = out;
    look.seen = calloc(theirs->runs + 1, 1);
    if (look.seen == NULL)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    tw_status status = tw_store_links(store, not_given_of_writer, &look, fault);
    for (size_t i = 0; status == TW_OK && i < theirs->runs; i++)
        if (!look.seen[i])
            say(&look, &theirs->run[i], theirs->run[i].n, theirs->run[i].hash);
    tw_sync_chain_free(&look.chain);
    free(look.seen);
    return status == TW_OK ? look.status : status;
}
