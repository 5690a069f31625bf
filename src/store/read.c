/* store/read.c: lines and heads are read, and the file is looked at. */
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

tw_text tw_store_column_text(sqlite3_stmt *statement, int at)
{
    const char *bytes = (const char *)sqlite3_column_text(statement, at);
    const tw_text text = {bytes, (size_t)sqlite3_column_bytes(statement, at)};
    return text;
}

/* 1 when column `at` is the SHA-256 of the text. */
static int hash_fits(sqlite3_stmt *statement, int at, tw_text line)
{
    uint8_t hash[TW_SHA256_BYTES];
    tw_sha256(line.at, line.n, hash);
    return sqlite3_column_bytes(statement, at) == TW_SHA256_BYTES
        && memcmp(sqlite3_column_blob(statement, at), hash, TW_SHA256_BYTES) == 0;
}

static tw_status altered(sqlite3_stmt *statement, tw_store_fault *fault)
{
    char detail[96];
    (void)snprintf(detail, sizeof detail, "line %lld (in order of arrival) is not as it was written",
                   (long long)sqlite3_column_int64(statement, 0));
    return tw_store_fault_set(fault, TW_STORE_DAMAGED, detail);
}

/* Show the lines of a statement (arrival, body, hash); no advice may come of a line that a disk has
 * altered, so the hash is looked at where `strict`. */
tw_status tw_store_show(tw_store *store, sqlite3_stmt *statement, int strict, uint64_t *last, tw_store_visit *visit, void *to,
                        tw_store_fault *fault)
{
    tw_status status = TW_OK;
    int rc = SQLITE_ROW;
    while (status == TW_OK && (rc = sqlite3_step(statement)) == SQLITE_ROW) {
        const tw_text line = tw_store_column_text(statement, 1);
        if (strict && !hash_fits(statement, 2, line))
            status = altered(statement, fault);
        else
            status = visit(to, line);
        if (status == TW_OK && last != NULL)
            *last = (uint64_t)sqlite3_column_int64(statement, 0);
    }
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    return status;
}

/* Lines of a statement that asks with one text. */
static tw_status show_where(tw_store *store, const char *sql, tw_text text, tw_store_visit *visit, void *to, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, sql, &statement, fault);
    if (status == TW_OK) {
        tw_store_bind_text(statement, 1, text);
        status = tw_store_show(store, statement, 1, NULL, visit, to, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_of_tub(tw_store *store, tw_text tub, tw_store_visit *visit, void *to, tw_store_fault *fault)
{
    return show_where(store, "select arrival, body, hash from fact where tub = ?1 order by arrival", tub, visit, to, fault);
}

tw_status tw_store_of_id(tw_store *store, tw_text id, tw_store_visit *visit, void *to, tw_store_fault *fault)
{
    return show_where(store, "select arrival, body, hash from fact where id = ?1 order by arrival", id, visit, to, fault);
}

tw_status tw_store_export(tw_store *store, tw_text tub, tw_store_visit *visit, void *to, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(
        store, tub.n == 0 ? "select arrival, body, hash from fact order by writer, n, hash"
                          : "select arrival, body, hash from fact where tub = ?1 order by writer, n, hash",
        &statement, fault);
    if (status == TW_OK) {
        if (tub.n > 0)
            tw_store_bind_text(statement, 1, tub);
        status = tw_store_show(store, statement, 0, NULL, visit, to, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_size(tw_store *store, uint64_t *lines, uint64_t *bytes, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(
        store, "select count(*), coalesce(sum(length(cast(body as blob))), 0) from fact", &statement, fault);
    if (status == TW_OK) {
        const int rc = sqlite3_step(statement);
        if (rc == SQLITE_ROW) {
            *lines = (uint64_t)sqlite3_column_int64(statement, 0);
            *bytes = (uint64_t)sqlite3_column_int64(statement, 1);
        } else {
            status = tw_store_sql_fault(store, rc, fault);
        }
    }
    (void)sqlite3_finalize(statement);
    return status;
}

static const char HEADS[] =
    "select writer, n, hash from fact as f where not exists ("
    "  select 1 from fact as g where g.writer = f.writer and g.n = f.n + 1 and g.prev = lower(hex(f.hash)))"
    " order by writer, n, hash";

tw_status tw_store_heads(tw_store *store, tw_store_head *out, size_t cap, size_t *count, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    int rc = SQLITE_ROW;
    *count = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, HEADS, &statement, fault);
    while (status == TW_OK && (rc = sqlite3_step(statement)) == SQLITE_ROW) {
        const tw_text writer = tw_store_column_text(statement, 0);
        if (*count < cap && writer.n == TW_ID_CHARS && sqlite3_column_bytes(statement, 2) == TW_SHA256_BYTES) {
            tw_store_head *head = &out[*count];
            memcpy(head->writer, writer.at, TW_ID_CHARS);
            head->writer[TW_ID_CHARS] = '\0';
            head->n = (uint32_t)sqlite3_column_int64(statement, 1);
            memcpy(head->hash, sqlite3_column_blob(statement, 2), TW_SHA256_BYTES);
        }
        (*count)++;
    }
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(statement);
    return status == TW_OK && *count > cap ? TW_ERR_CAPACITY : status;
}

/* Every line against its hash. */
static tw_status check_lines(tw_store *store, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    int rc = SQLITE_ROW;
    tw_status status = tw_store_prepare(store, "select arrival, body, hash from fact order by arrival", &statement, fault);
    while (status == TW_OK && (rc = sqlite3_step(statement)) == SQLITE_ROW)
        if (!hash_fits(statement, 2, tw_store_column_text(statement, 1)))
            status = altered(statement, fault);
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(statement);
    return status;
}

/* Every arrival against its line, and against the digest of all before it: so a line that was taken out together with its hash
 * is missed, but for the last ones. */
static tw_status check_arrivals(tw_store *store, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    uint8_t digest[TW_SHA256_BYTES] = {0};
    char detail[96];
    int rc = SQLITE_ROW;
    int version = 0;
    if (tw_store_number_of(store->db, "pragma user_version", &version) == SQLITE_OK && version < 2)
        return TW_OK;
    tw_status status = tw_store_prepare(store, "select a.arrival, f.hash, a.digest from arrived as a left join fact as f using (arrival)"
                                        " union all select f.arrival, f.hash, null from fact as f where f.arrival not in (select arrival"
                                        " from arrived) order by 1", &statement, fault);
    while (status == TW_OK && (rc = sqlite3_step(statement)) == SQLITE_ROW) {
        const int there = sqlite3_column_bytes(statement, 1) == TW_SHA256_BYTES && sqlite3_column_bytes(statement, 2) == TW_SHA256_BYTES;
        if (there)
            tw_store_digest_on(digest, sqlite3_column_blob(statement, 1));
        if (!there || memcmp(digest, sqlite3_column_blob(statement, 2), TW_SHA256_BYTES) != 0) {
            (void)snprintf(detail, sizeof detail, "line %lld (in order of arrival) is not the one that arrived, or is gone",
                           (long long)sqlite3_column_int64(statement, 0));
            status = tw_store_fault_set(fault, TW_STORE_DAMAGED, detail);
        }
    }
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_check(tw_store *store, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "pragma integrity_check(8)", &statement, fault);
    if (status == TW_OK) {
        const int rc = sqlite3_step(statement);
        if (rc != SQLITE_ROW)
            status = tw_store_sql_fault(store, rc, fault);
        else if (!tw_units_text_is(tw_store_column_text(statement, 0), "ok"))
            status = tw_store_fault_set(fault, TW_STORE_DAMAGED, (const char *)sqlite3_column_text(statement, 0));
    }
    (void)sqlite3_finalize(statement);
    if (status == TW_OK)
        status = check_lines(store, fault);
    return status == TW_OK ? check_arrivals(store, fault) : status;
}
