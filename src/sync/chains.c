/* sync/chains.c: a writer's links, and what each follows. */
#include "store/grow.h"
#include "sync/chains.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

size_t tw_sync_chain_number_end(const tw_sync_chain *chain, size_t from)
{
    size_t at = from;
    while (at < chain->n && chain->link[at].n == chain->link[from].n)
        at++;
    return at;
}

/* Of the entries from..end-1, which share a number, the one with the hash that this link names. */
static size_t followed(const tw_store_link *links, size_t from, size_t end, const tw_store_link *link)
{
    for (size_t i = from; !link->first && i < end; i++)
        if (memcmp(links[i].hash, link->prev, TW_SHA256_BYTES) == 0)
            return i;
    return TW_SYNC_NONE;
}

tw_status tw_sync_chain_settle(tw_sync_chain *chain, const char *writer, const tw_store_link *link, size_t n)
{
    if (!tw_store_grow(&chain->before, &chain->room[0], n, sizeof *chain->before) || !tw_store_grow(&chain->named, &chain->room[1], n, 1))
        return TW_ERR_CAPACITY;
    chain->writer = writer;
    chain->link = link;
    chain->n = n;
    memset(chain->named, 0, n);
    size_t from = 0; /* the number before: from..end-1 */
    size_t end = 0;
    for (size_t at = 0; at < n;) {
        const size_t next = tw_sync_chain_number_end(chain, at);
        const int adjoins = end > from && link[from].n + 1 == link[at].n;
        for (size_t i = at; i < next; i++) {
            chain->before[i] = adjoins ? followed(link, from, end, &link[i]) : TW_SYNC_NONE;
            if (chain->before[i] != TW_SYNC_NONE)
                chain->named[chain->before[i]] = 1;
        }
        from = at;
        end = at = next;
    }
    return TW_OK;
}

void tw_sync_chain_free(tw_sync_chain *chain)
{
    free(chain->before);
    free(chain->named);
    memset(chain, 0, sizeof *chain);
}

size_t tw_sync_chain_find(const tw_sync_chain *chain, uint32_t n, const uint8_t hash[TW_SHA256_BYTES])
{
    size_t low = 0;
    size_t high = chain->n;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        const tw_store_link *link = &chain->link[mid];
        const int order = link->n != n ? (link->n < n ? -1 : 1) : memcmp(link->hash, hash, TW_SHA256_BYTES);
        if (order == 0)
            return mid;
        if (order < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return TW_SYNC_NONE;
}

tw_status tw_sync_list_add(tw_sync_list *list, const uint8_t hash[TW_SHA256_BYTES])
{
    if (!tw_store_grow(&list->hash, &list->room, list->count + 1, sizeof *list->hash))
        return TW_ERR_CAPACITY;
    memcpy(list->hash[list->count++], hash, TW_SHA256_BYTES);
    return TW_OK;
}

tw_sync_odd *tw_sync_report_add(tw_sync_report *report, enum tw_sync_odd_kind kind, const char *writer, uint32_t n)
{
    if (!tw_store_grow(&report->odd, &report->room, report->odds + 1, sizeof *report->odd))
        return NULL;
    tw_sync_odd *odd = &report->odd[report->odds++];
    memset(odd, 0, sizeof *odd);
    odd->kind = kind;
    odd->n = odd->last = n;
    (void)snprintf(odd->writer, sizeof odd->writer, "%s", writer);
    return odd;
}

void tw_sync_report_free(tw_sync_report *report)
{
    free(report->odd);
    memset(report, 0, sizeof *report);
}

const char *tw_sync_odd_name(enum tw_sync_odd_kind kind)
{
    switch (kind) {
    case TW_SYNC_ODD_REFUSED_HERE:
        return "refused-here";
    case TW_SYNC_ODD_REFUSED_THERE:
        return "refused-there";
    case TW_SYNC_ODD_NOT_GIVEN:
        return "not-given";
    case TW_SYNC_ODD_NOT_KEPT:
        return "not-kept";
    case TW_SYNC_ODD_FORKED:
        return "forked";
    case TW_SYNC_ODD_GAP:
        return "gap";
    case TW_SYNC_ODD_ALTERED:
    default:
        return "altered";
    }
}

/* What is looked at writer by writer. */
typedef struct {
    tw_sync_chain chain;
    tw_sync_report *report;
} looker;

static tw_status look_at_number(looker *look, size_t from, size_t end, size_t last)
{
    const tw_sync_chain *chain = &look->chain;
    const tw_store_link *link = &chain->link[from];
    for (size_t i = from + 1; i < end; i++) {
        tw_sync_odd *odd = tw_sync_report_add(look->report, TW_SYNC_ODD_FORKED, chain->writer, link->n);
        if (odd == NULL)
            return TW_ERR_CAPACITY;
        memcpy(odd->hash, link->hash, TW_SHA256_BYTES);
        memcpy(odd->other, chain->link[i].hash, TW_SHA256_BYTES);
    }
    const uint32_t before = last == TW_SYNC_NONE ? 0 : chain->link[last].n;
    if (link->n > before + 1) {
        tw_sync_odd *odd = tw_sync_report_add(look->report, TW_SYNC_ODD_GAP, chain->writer, before + 1);
        if (odd == NULL)
            return TW_ERR_CAPACITY;
        odd->last = link->n - 1;
        memcpy(odd->other, link->prev, TW_SHA256_BYTES);
    }
    for (size_t i = from; link->n == before + 1 && before > 0 && i < end; i++)
        if (chain->before[i] == TW_SYNC_NONE) {
            tw_sync_odd *odd = tw_sync_report_add(look->report, TW_SYNC_ODD_ALTERED, chain->writer, before);
            if (odd == NULL)
                return TW_ERR_CAPACITY;
            memcpy(odd->hash, chain->link[last].hash, TW_SHA256_BYTES);
            memcpy(odd->other, chain->link[i].prev, TW_SHA256_BYTES);
        }
    return TW_OK;
}

static tw_status look_at_writer(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    looker *look = to;
    tw_status status = tw_sync_chain_settle(&look->chain, writer, link, n);
    size_t last = TW_SYNC_NONE;
    for (size_t at = 0; status == TW_OK && at < n;) {
        const size_t end = tw_sync_chain_number_end(&look->chain, at);
        status = look_at_number(look, at, end, last);
        last = at;
        at = end;
    }
    return status;
}

tw_status tw_sync_chains(tw_store *store, tw_sync_report *out, tw_store_fault *fault)
{
    looker look = {{0}, out};
    const tw_status status = tw_store_links(store, look_at_writer, &look, fault);
    tw_sync_chain_free(&look.chain);
    return status;
}
