/* store/beside.c: what stands beside the facts: settings of this installation, caches, work that is due. */
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

tw_status tw_store_own_get(tw_store *store, const char *name, char *buf, size_t cap, size_t *length,
                           tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = tw_store_prepare(store, "select value from own where name = ?1", &statement, fault);
    *length = 0;
    if (cap > 0)
        buf[0] = '\0';
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, tw_units_text(name));
    const int rc = sqlite3_step(statement);
    if (rc == SQLITE_ROW) {
        const char *value = (const char *)sqlite3_column_text(statement, 0);
        const size_t n = (size_t)sqlite3_column_bytes(statement, 0);
        if (n + 1 > cap) {
            status = TW_ERR_CAPACITY;
        } else {
            memcpy(buf, value, n);
            buf[n] = '\0';
            *length = n;
        }
    } else if (rc != SQLITE_DONE) {
        status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

/* Run a prepared statement that gives no rows. */
static tw_status finish(tw_store *store, sqlite3_stmt *statement, tw_store_fault *fault)
{
    const int rc = sqlite3_step(statement);
    const tw_status status = rc == SQLITE_DONE ? TW_OK : tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_own_put(tw_store *store, const char *name, tw_text value, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    const tw_status status = tw_store_prepare(
        store, value.n == 0 ? "delete from own where name = ?1"
                            : "insert into own values (?1, ?2) on conflict (name) do update set value = excluded.value",
        &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, tw_units_text(name));
    if (value.n > 0)
        tw_store_bind_text(statement, 2, value);
    return finish(store, statement, fault);
}

tw_status tw_store_setting_get(tw_store *store, const char *name, char *buf, size_t cap, size_t *length,
                               tw_store_fault *fault)
{
    char full[80];
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    (void)snprintf(full, sizeof full, "set %s", name);
    return tw_store_own_get(store, full, buf, cap, length, fault);
}

tw_status tw_store_setting_put(tw_store *store, const char *name, tw_text value, tw_store_fault *fault)
{
    char full[80];
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    (void)snprintf(full, sizeof full, "set %s", name);
    const tw_status status = tw_store_may_write(store, fault);
    return status == TW_OK ? tw_store_own_put(store, full, value, fault) : status;
}

/* The digest is over key and value, so that a value under another key is no value either. */
static void cache_digest(tw_text key, const void *bytes, size_t n, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    tw_sha256_init(&state);
    tw_sha256_update(&state, key.at, key.n);
    tw_sha256_update(&state, "\n", 1);
    tw_sha256_update(&state, bytes, n);
    tw_sha256_final(&state, out);
}

tw_status tw_store_cache_get(tw_store *store, tw_text key, void *buf, size_t cap, size_t *length, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    *length = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_prepare(store, "select value, digest from cache where key = ?1", &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, key);
    const int rc = sqlite3_step(statement);
    status = TW_ERR_MISSING;
    if (rc == SQLITE_ROW) {
        const void *value = sqlite3_column_blob(statement, 0);
        const size_t n = (size_t)sqlite3_column_bytes(statement, 0);
        uint8_t digest[TW_SHA256_BYTES];
        cache_digest(key, value, n, digest);
        if (sqlite3_column_bytes(statement, 1) == TW_SHA256_BYTES
            && memcmp(sqlite3_column_blob(statement, 1), digest, TW_SHA256_BYTES) == 0) {
            *length = n;
            status = n > cap ? TW_ERR_CAPACITY : TW_OK;
            if (status == TW_OK && n > 0)
                memcpy(buf, value, n);
        }
    } else if (rc != SQLITE_DONE) {
        status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_cache_put(tw_store *store, tw_text key, const void *bytes, size_t n, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    uint8_t digest[TW_SHA256_BYTES];
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "insert into cache values (?1, ?2, ?3) on conflict (key)"
                                  " do update set digest = excluded.digest, value = excluded.value", &statement, fault);
    if (status != TW_OK)
        return status;
    cache_digest(key, bytes, n, digest);
    tw_store_bind_text(statement, 1, key);
    tw_store_bind_blob(statement, 2, digest, sizeof digest);
    tw_store_bind_blob(statement, 3, bytes, n);
    return finish(store, statement, fault);
}

tw_status tw_store_cache_drop(tw_store *store, tw_text prefix, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "delete from cache where substr(key, 1, length(?1)) = ?1", &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, prefix);
    return finish(store, statement, fault);
}

tw_status tw_store_due(tw_store *store, tw_text tub, int64_t at_s, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "insert into due (tub, due_s) values (?1, ?2) on conflict (tub)"
                                  " do update set due_s = min(due_s, excluded.due_s)", &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, tub);
    (void)sqlite3_bind_int64(statement, 2, at_s);
    return finish(store, statement, fault);
}

/* The longest due first. */
static const char CLAIM[] =
    "update due set holder = ?1, until_s = ?2 + ?3 where tub in ("
    "  select tub from due where due_s <= ?2 and (until_s is null or until_s <= ?2) order by due_s, tub limit ?4)"
    " returning tub, due_s";

tw_status tw_store_claim(tw_store *store, tw_text holder, int64_t now_s, int64_t lease_s, tw_store_work *out, size_t cap,
                         size_t *count, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    int rc = SQLITE_ROW;
    *count = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, CLAIM, &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, holder);
    (void)sqlite3_bind_int64(statement, 2, now_s);
    (void)sqlite3_bind_int64(statement, 3, lease_s);
    (void)sqlite3_bind_int64(statement, 4, (sqlite3_int64)cap);
    while ((rc = sqlite3_step(statement)) == SQLITE_ROW && *count < cap) {
        (void)snprintf(out[*count].tub, TW_ID_BYTES, "%s", (const char *)sqlite3_column_text(statement, 0));
        out[(*count)++].due_s = sqlite3_column_int64(statement, 1);
    }
    if (rc != SQLITE_DONE) {
        *count = 0;
        status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_done(tw_store *store, tw_text holder, tw_text tub, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "delete from due where tub = ?1 and holder = ?2", &statement, fault);
    if (status != TW_OK)
        return status;
    tw_store_bind_text(statement, 1, tub);
    tw_store_bind_text(statement, 2, holder);
    status = finish(store, statement, fault);
    return status == TW_OK && sqlite3_changes(store->db) == 0 ? TW_ERR_CONFLICT : status;
}
