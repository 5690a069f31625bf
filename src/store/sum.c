/* store/sum.c: what a logbook comes to, by its links and by its lines. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/chain.h"
#include "store/backup.h"
#include "store/internal.h"

typedef struct {
    tw_store_sum *sum;
    tw_sha256_state seal;
} summer;

/* Does a later link of these name this one? They are in order of number. */
static int is_named(const tw_store_link *link, size_t n, size_t at)
{
    for (size_t i = at + 1; i < n && link[i].n <= link[at].n + 1; i++)
        if (link[i].n == link[at].n + 1 && !link[i].first && memcmp(link[i].prev, link[at].hash, TW_SHA256_BYTES) == 0)
            return 1;
    return 0;
}

static tw_status add_writer(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    summer *state = to;
    for (size_t i = 0; i < n; i++) {
        char line[TW_ID_CHARS + TW_SHA256_HEX + 32];
        char hash[TW_SHA256_HEX];
        if (is_named(link, n, i))
            continue;
        tw_sha256_hex(link[i].hash, hash);
        const int bytes = snprintf(line, sizeof line, "%s %lu %s\n", writer, (unsigned long)link[i].n, hash);
        tw_sha256_update(&state->seal, line, (size_t)bytes);
    }
    state->sum->lines += n;
    state->sum->writers++;
    return TW_OK;
}

tw_status tw_store_sum_up(tw_store *store, tw_store_sum *out, tw_store_fault *fault)
{
    summer state;
    memset(out, 0, sizeof *out);
    state.sum = out;
    tw_sha256_init(&state.seal);
    const tw_status status = tw_store_links(store, add_writer, &state, fault);
    tw_sha256_final(&state.seal, out->seal);
    return status;
}

static tw_status into_book(void *to, tw_text line)
{
    return tw_logbook_book_add_line(to, line, NULL, NULL) == TW_OK ? TW_OK : TW_ERR_DAMAGED;
}

/* Writers of a book, by its heads, which are in their order. */
static tw_status count_writers(const tw_book *book, size_t *writers)
{
    size_t heads = 0;
    *writers = 0;
    (void)tw_logbook_chain_heads(book, NULL, 0, &heads);
    tw_chain_head *head = calloc(heads + 1, sizeof *head);
    if (head == NULL)
        return TW_ERR_CAPACITY;
    (void)tw_logbook_chain_heads(book, head, heads, &heads);
    for (size_t i = 0; i < heads; i++)
        *writers += i == 0 || !tw_units_text_equal(head[i].writer, head[i - 1].writer);
    free(head);
    return TW_OK;
}

tw_status tw_store_replay(tw_store *store, tw_store_sum *out, tw_store_fault *fault)
{
    uint64_t lines = 0;
    uint64_t text = 0;
    tw_book *book = NULL;
    tw_store_cursor from = {0};
    memset(out, 0, sizeof *out);
    tw_status status = tw_store_check(store, fault);
    if (status == TW_OK)
        status = tw_store_size(store, &lines, &text, fault);
    if (status != TW_OK)
        return status;
    const size_t bytes = tw_logbook_book_bytes((size_t)lines + 1, (size_t)text + 1);
    void *mem = malloc(bytes);
    if (mem == NULL || tw_logbook_book_init(mem, bytes, (size_t)lines + 1, (size_t)text + 1, &book) != TW_OK) {
        free(mem);
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    }
    status = tw_store_since(store, &from, into_book, book, fault);
    if (status == TW_ERR_DAMAGED && fault != NULL && fault->id == TW_STORE_FINE)
        (void)tw_store_fault_set(fault, TW_STORE_DAMAGED, "a line is no entry any more");
    if (status == TW_OK && count_writers(book, &out->writers) != TW_OK)
        status = tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    out->lines = tw_logbook_book_count(book);
    tw_logbook_chain_seal(book, out->seal);
    free(mem);
    return status;
}
