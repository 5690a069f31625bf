/* store/page.c: lines in order of arrival, page by page, and cursors that others keep. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

#define MARK_DIGITS TW_STORE_MARK_DIGITS

tw_status tw_store_since(tw_store *store, tw_store_cursor *cursor, tw_store_visit *visit, void *to,
                         tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(
        store, "select arrival, body, hash from fact where arrival > ?1 order by arrival", &statement, fault);
    if (status == TW_OK) {
        (void)sqlite3_bind_int64(statement, 1, (sqlite3_int64)cursor->opaque);
        status = tw_store_show(store, statement, 1, &cursor->opaque, visit, to, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_newest(tw_store *store, tw_store_cursor *out, tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select coalesce(max(arrival), 0) from fact", &look, fault);
    if (status == TW_OK) {
        const int rc = sqlite3_step(look);
        if (rc == SQLITE_ROW)
            out->opaque = (uint64_t)sqlite3_column_int64(look, 0);
        else
            status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(look);
    return status;
}

static const char ALL_SINCE[] =
    "select arrival, body, hash from fact where arrival > ?1 and arrival <= ?2 order by arrival limit ?3";
static const char TUB_SINCE[] =
    "select arrival, body, hash from fact where tub = ?4 and arrival > ?1 and arrival <= ?2 order by arrival limit ?3";

/* A visit that counts, and stops nobody. */
typedef struct {
    tw_store_visit *visit;
    void *to;
    size_t count;
} counted;

static tw_status count_line(void *to, tw_text line)
{
    counted *shown = to;
    shown->count++;
    return shown->visit(shown->to, line);
}

tw_status tw_store_page(tw_store *store, tw_store_cursor *cursor, tw_text tub, size_t lines, tw_store_visit *visit, void *to,
                        int *more, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    counted shown = {visit, to, 0};
    tw_store_cursor end = {0};
    uint64_t at = cursor->opaque;
    *more = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_newest(store, &end, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, tub.n == 0 ? ALL_SINCE : TUB_SINCE, &statement, fault);
    if (status == TW_OK) {
        (void)sqlite3_bind_int64(statement, 1, (sqlite3_int64)cursor->opaque);
        (void)sqlite3_bind_int64(statement, 2, (sqlite3_int64)end.opaque);
        (void)sqlite3_bind_int64(statement, 3, (sqlite3_int64)lines);
        if (tub.n > 0)
            tw_store_bind_text(statement, 4, tub);
        status = tw_store_show(store, statement, 1, &at, count_line, &shown, fault);
    }
    (void)sqlite3_finalize(statement);
    if (status == TW_ERR_CAPACITY && shown.count > 1 && at > cursor->opaque) {
        *more = 1;
        cursor->opaque = at;
        return TW_OK;
    }
    if (status != TW_OK)
        return status;
    /* Fewer than were asked for: nothing is left of what was there when it was asked. */
    *more = shown.count == lines && at < end.opaque;
    if (!*more && end.opaque > at)
        at = end.opaque;
    cursor->opaque = at;
    return TW_OK;
}

/* The first digits of the digest of all that had arrived with this arrival. TW_ERR_MISSING when there is none. */
static tw_status digits_at(tw_store *store, uint64_t arrival, char out[MARK_DIGITS + 1], tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    tw_status status = tw_store_prepare(store, "select lower(hex(digest)) from arrived where arrival = ?1", &look, fault);
    if (status == TW_OK) {
        (void)sqlite3_bind_int64(look, 1, (sqlite3_int64)arrival);
        const int rc = sqlite3_step(look);
        if (rc == SQLITE_ROW)
            (void)snprintf(out, MARK_DIGITS + 1, "%.*s", MARK_DIGITS, (const char *)sqlite3_column_text(look, 0));
        else
            status = rc == SQLITE_DONE ? TW_ERR_MISSING : tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(look);
    return status;
}

tw_status tw_store_mark(tw_store *store, tw_store_cursor cursor, char out[TW_STORE_MARK_BYTES], tw_store_fault *fault)
{
    char digits[MARK_DIGITS + 1];
    out[0] = '\0';
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (cursor.opaque == 0)
        return TW_OK;
    const tw_status status = digits_at(store, cursor.opaque, digits, fault);
    if (status == TW_OK)
        (void)snprintf(out, TW_STORE_MARK_BYTES, "%" PRIx64 ".%s", cursor.opaque, digits);
    return status;
}

tw_status tw_store_mark_read(tw_store *store, tw_text mark, tw_store_cursor *out, tw_store_fault *fault)
{
    char digits[MARK_DIGITS + 1];
    uint64_t arrival = 0;
    tw_text said;
    out->opaque = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (mark.n == 0)
        return TW_OK;
    if (!tw_store_mark_split(mark, &arrival, &said))
        return TW_ERR_FORMAT;
    const tw_status status = digits_at(store, arrival, digits, fault);
    if (status == TW_ERR_MISSING || (status == TW_OK && memcmp(digits, said.at, MARK_DIGITS) != 0))
        return TW_ERR_UNKNOWN;
    if (status == TW_OK)
        out->opaque = arrival;
    return status;
}

tw_status tw_store_lines(tw_store *store, const uint8_t (*hash)[TW_SHA256_BYTES], size_t n, tw_store_visit *visit, void *to,
                         tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select arrival, body, hash from fact where hash = ?1", &statement, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        tw_store_bind_blob(statement, 1, hash[i], TW_SHA256_BYTES);
        status = tw_store_show(store, statement, 1, NULL, visit, to, fault);
        (void)sqlite3_reset(statement);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_has(tw_store *store, const uint8_t hash[TW_SHA256_BYTES], int *there, tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    *there = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select 1 from fact where hash = ?1", &look, fault);
    if (status == TW_OK) {
        tw_store_bind_blob(look, 1, hash, TW_SHA256_BYTES);
        const int rc = sqlite3_step(look);
        *there = rc == SQLITE_ROW;
        if (rc != SQLITE_ROW && rc != SQLITE_DONE)
            status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(look);
    return status;
}

tw_status tw_store_arrived(tw_store *store, const uint8_t hash[TW_SHA256_BYTES], int64_t *at_ms, char *via, size_t cap,
                           tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select a.at_ms, a.via from fact as f join arrived as a on a.arrival = f.arrival"
                                        " where f.hash = ?1 and a.at_ms is not null", &look, fault);
    if (status == TW_OK) {
        tw_store_bind_blob(look, 1, hash, TW_SHA256_BYTES);
        const int rc = sqlite3_step(look);
        if (rc == SQLITE_ROW) {
            *at_ms = (int64_t)sqlite3_column_int64(look, 0);
            (void)snprintf(via, cap, "%s", (const char *)sqlite3_column_text(look, 1));
        } else {
            status = rc == SQLITE_DONE ? TW_ERR_MISSING : tw_store_sql_fault(store, rc, fault);
        }
    }
    (void)sqlite3_finalize(look);
    return status;
}
