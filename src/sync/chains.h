/* sync/chains.h: a writer's links with what each follows. Of this room only. */
#ifndef TW_SYNC_CHAINS_H
#define TW_SYNC_CHAINS_H

#include "sync/sync.h"

#define TW_SYNC_NONE ((size_t)-1) /* no entry */

/* Links in order of number, hash, as the store shows them. */
typedef struct {
    const char *writer;
    const tw_store_link *link;
    size_t n;
    size_t *before;       /* of each: index of the entry that it follows, or TW_SYNC_NONE */
    unsigned char *named; /* of each: 1 when another follows it                           */
    size_t room[2];
} tw_sync_chain;

/* Fill before and named; memory is kept in the chain from one writer to the next. TW_ERR_CAPACITY: no memory. */
tw_status tw_sync_chain_settle(tw_sync_chain *chain, const char *writer, const tw_store_link *link, size_t n);

/* Give the memory back. */
void tw_sync_chain_free(tw_sync_chain *chain);

/* Index of an entry, or TW_SYNC_NONE. */
size_t tw_sync_chain_find(const tw_sync_chain *chain, uint32_t n, const uint8_t hash[TW_SHA256_BYTES]);

/* End of the entries with the number of the one at `from`. */
size_t tw_sync_chain_number_end(const tw_sync_chain *chain, size_t from);

/* Add to a report. The kind and the place; the rest is zero. NULL: no memory. */
tw_sync_odd *tw_sync_report_add(tw_sync_report *report, enum tw_sync_odd_kind kind, const char *writer, uint32_t n);

/* Add a hash to a list. TW_ERR_CAPACITY: no memory. */
tw_status tw_sync_list_add(tw_sync_list *list, const uint8_t hash[TW_SHA256_BYTES]);

#endif
