/* store/write.c: lines are added, all of a batch or none, and nothing is said before they are on the disk. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/compose.h"
#include "logbook/line.h"
#include "store/internal.h"

/* A line of the batch that is not as it must be. */
static tw_status entry_fault(tw_store_fault *fault, size_t index, const tw_fault *why)
{
    char sentence[TW_FAULT_TEXT_BYTES];
    char detail[TW_STORE_DETAIL_BYTES];
    (void)tw_logbook_fault_text(why, sentence, sizeof sentence);
    (void)snprintf(detail, sizeof detail, "line %zu: %s", index + 1, sentence);
    (void)tw_store_fault_set(fault, TW_STORE_ENTRY, detail);
    const tw_status status = tw_logbook_fault_status(why->id);
    if (fault != NULL)
        fault->status = status;
    return status;
}

static tw_status checked(tw_text line, size_t index, tw_check_mode mode, tw_store_fault *fault)
{
    tw_entry_room room;
    tw_entry entry;
    tw_fault why;
    memset(&why, 0, sizeof why);
    const tw_status status = tw_logbook_line_read(line, mode, &room, &entry, &why);
    return status == TW_OK ? TW_OK : entry_fault(fault, index, &why);
}

/* The guard refuses a line in the place of another, so what is there already is left out here. */
static const char INSERT[] =
    "insert into fact (body, hash) select ?1, ?2 where not exists (select 1 from fact where hash = ?2)";

static tw_status insert(tw_store *store, sqlite3_stmt *statement, tw_text line, const uint8_t *hash, tw_store_fault *fault)
{
    tw_store_bind_text(statement, 1, line);
    tw_store_bind_blob(statement, 2, hash, TW_SHA256_BYTES);
    const int rc = sqlite3_step(statement);
    const tw_status status = rc == SQLITE_DONE ? TW_OK : tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_reset(statement);
    return status;
}

static tw_status insert_all(tw_store *store, const tw_text *line, size_t n, size_t *added, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = tw_store_prepare(store, INSERT, &statement, fault);
    const int before = sqlite3_total_changes(store->db);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        uint8_t hash[TW_SHA256_BYTES];
        tw_sha256(line[i].at, line[i].n, hash);
        status = insert(store, statement, line[i], hash, fault);
    }
    *added = (size_t)(sqlite3_total_changes(store->db) - before);
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_append(tw_store *store, const tw_text *line, size_t n, size_t *added, tw_store_fault *fault)
{
    size_t fresh = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (added != NULL)
        *added = 0;
    for (size_t i = 0; i < n; i++) {
        const tw_status good = checked(line[i], i, TW_CHECK_IMPORTED, fault);
        if (good != TW_OK)
            return good;
    }
    tw_status status = tw_store_begin(store, fault);
    if (status != TW_OK)
        return status;
    status = insert_all(store, line, n, &fresh, fault);
    /* Lines that are there may come from a process that was killed before its sync. Saying "there" is an
     * acknowledgement too, so something is always written and synced, and with it what stands before it. */
    if (status == TW_OK && fresh == 0 && n > 0)
        status = tw_store_run(store, "insert into own values ('touched', '1')"
                              " on conflict (name) do update set value = value + 1", fault);
    if (status == TW_OK)
        status = tw_store_commit(store, fault);
    if (status != TW_OK)
        tw_store_give_up(store);
    else if (added != NULL)
        *added = fresh;
    return status;
}

/* Lines as written, kept until they are on the disk. */
typedef struct {
    char *bytes;
    size_t used, room;
    size_t *end;
} written;

static int keep(written *to, size_t index, const char *bytes, size_t n)
{
    if (to->used + n > to->room) {
        const size_t room = 2 * (to->used + n) + TW_LINE_BYTES;
        char *more = realloc(to->bytes, room);
        if (more == NULL)
            return 0;
        to->bytes = more;
        to->room = room;
    }
    memcpy(to->bytes + to->used, bytes, n);
    to->used += n;
    to->end[index] = to->used;
    return 1;
}

/* Give a draft its number and its place behind the entry before, and write it. */
static tw_status insert_own(tw_store *store, sqlite3_stmt *statement, tw_text draft, size_t index, tw_store_pen *pen,
                            written *kept, tw_store_fault *fault)
{
    char buf[TW_LINE_BYTES];
    size_t length = 0;
    tw_fault why;
    memset(&why, 0, sizeof why);
    const tw_status composed = tw_logbook_compose_chained(draft, tw_units_text(pen->id), pen->n + 1,
                                                          pen->n > 0 ? pen->hash : NULL, buf, sizeof buf, &length, &why);
    if (composed != TW_OK)
        return entry_fault(fault, index, &why);
    const tw_text line = {buf, length};
    pen->n++;
    tw_sha256(buf, length, pen->hash);
    if (!keep(kept, index, buf, length))
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    return insert(store, statement, line, pen->hash, fault);
}

static tw_status write_own(tw_store *store, const tw_text *draft, size_t n, tw_store_pen *pen, written *kept,
                           tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = tw_store_begin(store, fault);
    if (status != TW_OK)
        return status;
    status = tw_store_take_pen(store, pen, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, INSERT, &statement, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++)
        status = insert_own(store, statement, draft[i], i, pen, kept, fault);
    (void)sqlite3_finalize(statement);
    if (status == TW_OK)
        status = tw_store_commit(store, fault);
    if (status != TW_OK)
        tw_store_give_up(store);
    return status;
}

tw_status tw_store_append_own(tw_store *store, const tw_text *draft, size_t n, tw_store_visit *visit, void *to,
                              tw_store_fault *fault)
{
    written kept = {NULL, 0, 0, NULL};
    tw_store_pen pen;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (n == 0)
        return TW_OK;
    for (size_t i = 0; i < n; i++) {
        const tw_status good = checked(draft[i], i, TW_CHECK_DRAFT, fault);
        if (good != TW_OK)
            return good;
    }
    kept.end = calloc(n, sizeof *kept.end);
    if (kept.end == NULL)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    tw_status status = write_own(store, draft, n, &pen, &kept, fault);
    if (status == TW_OK) {
        size_t start = 0;
        tw_store_note_pen(store, &pen);
        for (size_t i = 0; visit != NULL && status == TW_OK && i < n; i++) {
            const tw_text line = {kept.bytes + start, kept.end[i] - start};
            start = kept.end[i];
            status = visit(to, line);
        }
    }
    free(kept.bytes);
    free(kept.end);
    return status;
}
