/* serve/book.c: lines of a store are brought into a core, and what it works out is kept beside them. */
#include "serve/book.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SPARE_ENTRIES 1024 /* room for lines that are written while a core is used */
#define SPARE_TEXT ((size_t)1 << 19)

static tw_status add_line(void *to, tw_text line)
{
    return (tw_status)tw_core_add_line(to, line.at, line.n, NULL, 0);
}

tw_status tw_serve_book_fill(tw_serve_book *book, tw_store_fault *fault)
{
    uint64_t entries = 0;
    uint64_t text = 0;
    tw_status status = TW_OK;
    memset(fault, 0, sizeof *fault);
    free(book->mem);
    free(book->kept);
    book->mem = book->kept = NULL;
    book->core = NULL;
    book->cursor.opaque = 0;
    if (book->store != NULL)
        status = tw_store_size(book->store, &entries, &text, fault);
    if (status != TW_OK)
        return status;
    const size_t room = (size_t)entries + SPARE_ENTRIES;
    const size_t room_text = (size_t)text + SPARE_TEXT;
    const size_t bytes = tw_core_bytes(room, room_text);
    book->mem = malloc(bytes);
    if (book->mem == NULL)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    status = (tw_status)tw_core_init(book->mem, bytes, room, room_text, &book->core);
    if (status == TW_OK)
        book->core->crew = book->crew;
    if (status == TW_OK && book->store != NULL)
        status = tw_store_since(book->store, &book->cursor, add_line, book->core, fault);
    return status;
}

tw_status tw_serve_book_refresh(tw_serve_book *book, tw_store_fault *fault)
{
    const tw_status status = tw_store_since(book->store, &book->cursor, add_line, book->core, fault);
    return status == TW_ERR_CAPACITY && fault->id == TW_STORE_FINE ? tw_serve_book_fill(book, fault) : status;
}

/* The key of a tub's cache. */
static tw_text cache_key(tw_text tub, char buf[64])
{
    const int n = snprintf(buf, 64, "belief/%.*s", (int)tub.n, tub.at);
    return (tw_text){buf, n > 0 && n < 64 ? (size_t)n : 0};
}

void tw_serve_book_recall(tw_serve_book *book, const uint8_t *program, tw_text tub)
{
    char key[64];
    tw_store_fault fault;
    size_t length = 0;
    const size_t cap = tw_core_keep_bytes();
    if (book->store == NULL || book->kept != NULL || (book->kept = malloc(cap)) == NULL)
        return;
    if (tw_store_cache_get(book->store, cache_key(tub, key), book->kept, cap, &length, &fault) == TW_OK)
        tw_core_kept(book->core, program, book->kept, length);
}

void tw_serve_book_keep(tw_serve_book *book, const uint8_t *program, tw_text tub)
{
    char key[64];
    tw_store_fault fault;
    size_t length = 0;
    const size_t cap = tw_core_keep_bytes();
    if (book->store == NULL || !book->writes || !book->core->folded)
        return;
    void *now = malloc(cap);
    if (now != NULL && tw_core_keep(book->core, program, now, cap, &length) == TW_OK &&
        tw_store_cache_put(book->store, cache_key(tub, key), now, length, &fault) == TW_OK)
        book->core->folded = 0; /* until the sampler runs again there is nothing new to keep */
    free(now);
}

void tw_serve_book_forget(tw_serve_book *book)
{
    static const uint8_t NONE[32] = {0};
    if (book->kept == NULL)
        return;
    tw_core_kept(book->core, NONE, NULL, 0);
    free(book->kept);
    book->kept = NULL;
}

void tw_serve_book_close(tw_serve_book *book)
{
    free(book->kept);
    tw_store_close(book->store);
    free(book->mem);
    memset(book, 0, sizeof *book);
}
