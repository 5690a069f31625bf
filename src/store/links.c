/* store/links.c: the links of every writer's chain, read from one index without the lines. */
#include <stdlib.h>
#include <string.h>

#include "store/grow.h"
#include "store/internal.h"

typedef struct {
    char writer[TW_ID_BYTES];
    tw_store_link *link;
    size_t n, room;
} chain;

static int nibble(char c)
{
    return c >= 'a' ? c - 'a' + 10 : c - '0';
}

/* A hash as 64 small digits, which the check of the entry has seen to. */
static int hash_from(tw_text text, uint8_t out[TW_SHA256_BYTES])
{
    if (text.n != 2 * TW_SHA256_BYTES)
        return 0;
    for (size_t i = 0; i < TW_SHA256_BYTES; i++)
        out[i] = (uint8_t)(nibble(text.at[2 * i]) << 4 | nibble(text.at[2 * i + 1]));
    return 1;
}

static tw_status add_row(chain *of, sqlite3_stmt *row)
{
    const tw_text prev = tw_store_column_text(row, 3);
    if (!tw_store_grow(&of->link, &of->room, of->n + 1, sizeof *of->link))
        return TW_ERR_CAPACITY;
    tw_store_link *link = &of->link[of->n++];
    memset(link, 0, sizeof *link);
    link->n = (uint32_t)sqlite3_column_int64(row, 1);
    if (sqlite3_column_bytes(row, 2) == TW_SHA256_BYTES)
        memcpy(link->hash, sqlite3_column_blob(row, 2), TW_SHA256_BYTES);
    link->first = !hash_from(prev, link->prev);
    return TW_OK;
}

static tw_status end_of_writer(chain *of, tw_store_links_visit *visit, void *to)
{
    const tw_status status = of->n > 0 ? visit(to, of->writer, of->link, of->n) : TW_OK;
    of->n = 0;
    return status;
}

tw_status tw_store_links(tw_store *store, tw_store_links_visit *visit, void *to, tw_store_fault *fault)
{
    sqlite3_stmt *rows = NULL;
    chain of = {"", NULL, 0, 0};
    int rc = SQLITE_ROW;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select writer, n, hash, prev from fact order by writer, n, hash", &rows, fault);
    while (status == TW_OK && (rc = sqlite3_step(rows)) == SQLITE_ROW) {
        const tw_text writer = tw_store_column_text(rows, 0);
        if (writer.n != TW_ID_CHARS) {
            status = tw_store_fault_set(fault, TW_STORE_DAMAGED, "a line without a writer");
            break;
        }
        if (memcmp(writer.at, of.writer, TW_ID_CHARS) != 0) {
            status = end_of_writer(&of, visit, to);
            memcpy(of.writer, writer.at, TW_ID_CHARS);
            of.writer[TW_ID_CHARS] = '\0';
        }
        if (status == TW_OK && (status = add_row(&of, rows)) != TW_OK)
            status = tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    }
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    if (status == TW_OK)
        status = end_of_writer(&of, visit, to);
    (void)sqlite3_finalize(rows);
    free(of.link);
    return status;
}
