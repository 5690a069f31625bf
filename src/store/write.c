/* store/write.c: lines are added, all of a batch or none, and nothing is said before they are on the disk. */
#define _POSIX_C_SOURCE 200809L

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "logbook/compose.h"
#include "logbook/line.h"
#include "store/grow.h"
#include "store/internal.h"

/* A line of the batch that is not as it must be. */
static tw_status entry_fault(tw_store_fault *fault, size_t index, const tw_fault *why)
{
    char sentence[TW_FAULT_TEXT_BYTES];
    char detail[TW_STORE_DETAIL_BYTES];
    (void)tw_logbook_fault_text(why, NULL, sentence, sizeof sentence);
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

/* Inside a transaction: what puts lines in, and how far the digest of arrivals came. */
typedef struct {
    sqlite3_stmt *fact, *arrived;
    const tw_store_arrival *arrival;
    uint8_t digest[TW_SHA256_BYTES];
} inserter;

static tw_status begin_inserting(tw_store *store, const tw_store_arrival *arrival, inserter *in, tw_store_fault *fault)
{
    sqlite3_stmt *last = NULL;
    memset(in, 0, sizeof *in);
    in->arrival = arrival;
    tw_status status = tw_store_prepare(store, "select digest from arrived order by arrival desc limit 1", &last, fault);
    if (status == TW_OK) {
        const int rc = sqlite3_step(last);
        if (rc == SQLITE_ROW)
            memcpy(in->digest, sqlite3_column_blob(last, 0), TW_SHA256_BYTES);
        else if (rc != SQLITE_DONE)
            status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(last);
    if (status == TW_OK)
        status = tw_store_prepare(store, INSERT, &in->fact, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "insert into arrived values (?1, ?2, ?3, ?4)", &in->arrived, fault);
    return status;
}

static void end_inserting(inserter *in)
{
    (void)sqlite3_finalize(in->fact);
    (void)sqlite3_finalize(in->arrived);
}

/* *added: 1 when the line was not there. */
static tw_status insert(tw_store *store, inserter *in, tw_text line, const uint8_t *hash, int *added, tw_store_fault *fault)
{
    const int before = sqlite3_total_changes(store->db);
    tw_store_bind_text(in->fact, 1, line);
    tw_store_bind_blob(in->fact, 2, hash, TW_SHA256_BYTES);
    int rc = sqlite3_step(in->fact);
    *added = rc == SQLITE_DONE && sqlite3_total_changes(store->db) > before;
    if (*added) {
        tw_store_digest_on(in->digest, hash);
        (void)sqlite3_bind_int64(in->arrived, 1, sqlite3_last_insert_rowid(store->db));
        (void)sqlite3_bind_int64(in->arrived, 2, (sqlite3_int64)in->arrival->at_ms);
        tw_store_bind_text(in->arrived, 3, tw_units_text(in->arrival->via));
        tw_store_bind_blob(in->arrived, 4, in->digest, TW_SHA256_BYTES);
        rc = sqlite3_step(in->arrived);
    }
    const tw_status status = rc == SQLITE_DONE ? TW_OK : tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_reset(in->fact);
    (void)sqlite3_reset(in->arrived);
    return status;
}

/* Where a line stands: is the entry before it there, and another with its number? */
static const char STANDS[] =
    "select f.n > 1 and not exists (select 1 from fact as b where b.writer = f.writer and b.n = f.n - 1"
    " and f.prev = lower(hex(b.hash))),"
    " (select o.hash from fact as o where o.writer = f.writer and o.n = f.n and o.hash <> f.hash order by o.hash limit 1)"
    " from fact as f where f.hash = ?1";

static tw_status look_where(tw_store *store, const tw_text *line, size_t n, tw_store_landing *out, tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    tw_status status = tw_store_prepare(store, STANDS, &look, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        uint8_t hash[TW_SHA256_BYTES];
        tw_sha256(line[i].at, line[i].n, hash);
        tw_store_bind_blob(look, 1, hash, TW_SHA256_BYTES);
        const int rc = sqlite3_step(look);
        if (rc == SQLITE_ROW) {
            out[i].gap = sqlite3_column_int(look, 0);
            out[i].forks = sqlite3_column_bytes(look, 1) == TW_SHA256_BYTES;
            if (out[i].forks)
                memcpy(out[i].other, sqlite3_column_blob(look, 1), TW_SHA256_BYTES);
        } else {
            status = tw_store_sql_fault(store, rc, fault);
        }
        (void)sqlite3_reset(look);
    }
    (void)sqlite3_finalize(look);
    return status;
}

static tw_status insert_all(tw_store *store, const tw_text *line, size_t n, const tw_store_arrival *arrival,
                            tw_store_landing *out, size_t *fresh, tw_store_fault *fault)
{
    inserter in;
    tw_status status = begin_inserting(store, arrival, &in, fault);
    *fresh = 0;
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        uint8_t hash[TW_SHA256_BYTES];
        int added = 0;
        tw_sha256(line[i].at, line[i].n, hash);
        status = insert(store, &in, line[i], hash, &added, fault);
        *fresh += added != 0;
        if (out != NULL)
            out[i].added = added;
    }
    end_inserting(&in);
    return status == TW_OK && out != NULL ? look_where(store, line, n, out, fault) : status;
}

/* This machine's clock, for lines that come without a time of arrival. */
static int64_t now_ms(void)
{
    struct timespec now = {0, 0};
    (void)clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + (int64_t)now.tv_nsec / 1000000;
}

static tw_status append(tw_store *store, const tw_text *line, size_t n, const tw_store_arrival *arrival, tw_store_landing *out,
                        size_t *added, tw_store_fault *fault)
{
    size_t fresh = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    *added = 0;
    if (out != NULL)
        memset(out, 0, n * sizeof *out);
    for (size_t i = 0; i < n; i++) {
        const tw_status good = checked(line[i], i, TW_CHECK_IMPORTED, fault);
        if (good != TW_OK)
            return good;
    }
    tw_status status = tw_store_begin(store, fault);
    if (status != TW_OK)
        return status;
    status = insert_all(store, line, n, arrival, out, &fresh, fault);
    /* Lines that are there may come from a process that was killed before its sync. Saying "there" is an
     * acknowledgement too, so something is always written and synced, and with it what stands before it. */
    if (status == TW_OK && fresh == 0 && n > 0)
        status = tw_store_run(store, "insert into own values ('touched', '1')"
                              " on conflict (name) do update set value = value + 1", fault);
    if (status == TW_OK)
        status = tw_store_commit(store, fault);
    if (status != TW_OK)
        tw_store_give_up(store);
    else
        *added = fresh;
    return status;
}

tw_status tw_store_append(tw_store *store, const tw_text *line, size_t n, size_t *added, tw_store_fault *fault)
{
    const tw_store_arrival arrival = {now_ms(), "append"};
    size_t fresh = 0;
    const tw_status status = append(store, line, n, &arrival, NULL, &fresh, fault);
    if (added != NULL)
        *added = fresh;
    return status;
}

tw_status tw_store_land(tw_store *store, const tw_text *line, size_t n, const tw_store_arrival *arrival, tw_store_landing *out,
                        tw_store_fault *fault)
{
    size_t fresh = 0;
    return append(store, line, n, arrival, out, &fresh, fault);
}

/* Lines as written, kept until they are on the disk. */
typedef struct {
    char *bytes;
    size_t used, room;
    size_t *end;
} written;

static int keep(written *to, size_t index, const char *bytes, size_t n)
{
    if (!tw_store_grow(&to->bytes, &to->room, to->used + n, 1))
        return 0;
    memcpy(to->bytes + to->used, bytes, n);
    to->used += n;
    to->end[index] = to->used;
    return 1;
}

/* Give a draft its number and its place behind the entry before, and write it. */
static tw_status insert_own(tw_store *store, inserter *in, tw_text draft, size_t index, tw_store_pen *pen,
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
    int added = 0;
    pen->n++;
    tw_sha256(buf, length, pen->hash);
    if (!keep(kept, index, buf, length))
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    return insert(store, in, line, pen->hash, &added, fault);
}

static tw_status write_own(tw_store *store, const tw_text *draft, size_t n, tw_store_pen *pen, written *kept,
                           tw_store_fault *fault)
{
    const tw_store_arrival here = {now_ms(), "here"};
    inserter in = {0};
    tw_status status = tw_store_begin(store, fault);
    if (status != TW_OK)
        return status;
    status = tw_store_take_pen(store, pen, fault);
    if (status == TW_OK)
        status = begin_inserting(store, &here, &in, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++)
        status = insert_own(store, &in, draft[i], i, pen, kept, fault);
    end_inserting(&in);
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
