/* store/noted.c: what is known of others beside the facts: what a peer refused, and how far a writer's clock is off. */
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

#define DAY_MS 86400000

/* Is anything noted of this peer? Else there is nothing to take away, and no need to write. */
static int any_of(tw_store *store, const char *peer)
{
    sqlite3_stmt *look = NULL;
    int there = 0;
    if (tw_store_prepare(store, "select 1 from refused where peer = ?1 limit 1", &look, NULL) == TW_OK) {
        tw_store_bind_text(look, 1, tw_units_text(peer));
        there = sqlite3_step(look) == SQLITE_ROW;
    }
    (void)sqlite3_finalize(look);
    return there;
}

static tw_status note_one(tw_store *store, sqlite3_stmt *put, sqlite3_stmt *drop, const char *peer, const tw_store_said *said,
                          int64_t at_ms, tw_store_fault *fault)
{
    sqlite3_stmt *statement = said->refused ? put : drop;
    tw_store_bind_text(statement, 1, tw_units_text(peer));
    tw_store_bind_blob(statement, 2, said->hash, TW_SHA256_BYTES);
    if (said->refused) {
        tw_store_bind_text(statement, 3, tw_units_text(said->reason));
        tw_store_bind_text(statement, 4, tw_units_text(said->sentence));
        (void)sqlite3_bind_int64(statement, 5, (sqlite3_int64)at_ms);
    }
    const int rc = sqlite3_step(statement);
    (void)sqlite3_reset(statement);
    return rc == SQLITE_DONE ? TW_OK : tw_store_sql_fault(store, rc, fault);
}

tw_status tw_store_said_note(tw_store *store, const char *peer, const tw_store_said *said, size_t n, int64_t at_ms,
                             tw_store_fault *fault)
{
    sqlite3_stmt *put = NULL;
    sqlite3_stmt *drop = NULL;
    int needed = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    for (size_t i = 0; i < n; i++)
        needed |= said[i].refused;
    if (!needed && !any_of(store, peer))
        return TW_OK;
    tw_status status = tw_store_begin(store, fault);
    if (status != TW_OK)
        return status;
    status = tw_store_prepare(store, "insert into refused values (?1, ?2, ?3, ?4, ?5) on conflict (peer, hash) do update set"
                              " reason = excluded.reason, sentence = excluded.sentence", &put, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "delete from refused where peer = ?1 and hash = ?2", &drop, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++)
        status = note_one(store, put, drop, peer, &said[i], at_ms, fault);
    (void)sqlite3_finalize(put);
    (void)sqlite3_finalize(drop);
    if (status == TW_OK)
        status = tw_store_commit(store, fault);
    if (status != TW_OK)
        tw_store_give_up(store);
    return status;
}

/* A file of an older version, opened for reading, has no such notes. */
static int has_notes(tw_store *store)
{
    int version = 0;
    return tw_store_number_of(store->db, "pragma user_version", &version) == SQLITE_OK && version >= 2;
}

tw_status tw_store_refused(tw_store *store, tw_store_refused_visit *visit, void *to, tw_store_fault *fault)
{
    sqlite3_stmt *rows = NULL;
    int rc = SQLITE_ROW;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (!has_notes(store))
        return TW_OK;
    tw_status status = tw_store_prepare(store, "select r.peer, r.reason, r.sentence, f.body from refused as r join fact as f"
                                        " on f.hash = r.hash order by r.peer, f.writer, f.n, f.hash", &rows, fault);
    while (status == TW_OK && (rc = sqlite3_step(rows)) == SQLITE_ROW)
        status = visit(to, (const char *)sqlite3_column_text(rows, 0), (const char *)sqlite3_column_text(rows, 1),
                       (const char *)sqlite3_column_text(rows, 2), tw_store_column_text(rows, 3));
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(rows);
    return status;
}

static void clock_from(sqlite3_stmt *row, tw_store_clock *out)
{
    memset(out, 0, sizeof *out);
    (void)snprintf(out->writer, sizeof out->writer, "%s", (const char *)sqlite3_column_text(row, 0));
    out->ahead_ms = (int64_t)sqlite3_column_int64(row, 1);
    out->doubt_ms = (int64_t)sqlite3_column_int64(row, 2);
    out->at_ms = (int64_t)sqlite3_column_int64(row, 3);
}

/* Does what is noted of this writer's clock still say the same? */
static int still_so(tw_store *store, const tw_store_clock *clock)
{
    sqlite3_stmt *look = NULL;
    tw_store_clock noted;
    int same = 0;
    if (tw_store_prepare(store, "select * from clock where writer = ?1", &look, NULL) == TW_OK) {
        tw_store_bind_text(look, 1, tw_units_text(clock->writer));
        if (sqlite3_step(look) == SQLITE_ROW) {
            clock_from(look, &noted);
            const int64_t change = clock->ahead_ms > noted.ahead_ms ? clock->ahead_ms - noted.ahead_ms
                                                                    : noted.ahead_ms - clock->ahead_ms;
            const int64_t age = clock->at_ms - noted.at_ms;
            same = change <= 1000 + (clock->doubt_ms > 0 ? clock->doubt_ms : 0) && age >= 0 && age < DAY_MS;
        }
    }
    (void)sqlite3_finalize(look);
    return same;
}

tw_status tw_store_clock_note(tw_store *store, const tw_store_clock *clock, tw_store_fault *fault)
{
    sqlite3_stmt *put = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (clock->writer[0] == '\0' || still_so(store, clock))
        return TW_OK;
    tw_status status = tw_store_may_write(store, fault);
    if (status == TW_OK)
        status = tw_store_prepare(store, "insert into clock values (?1, ?2, ?3, ?4) on conflict (writer) do update set ahead_ms ="
                                  " excluded.ahead_ms, doubt_ms = excluded.doubt_ms, at_ms = excluded.at_ms", &put, fault);
    if (status == TW_OK) {
        tw_store_bind_text(put, 1, tw_units_text(clock->writer));
        (void)sqlite3_bind_int64(put, 2, (sqlite3_int64)clock->ahead_ms);
        (void)sqlite3_bind_int64(put, 3, (sqlite3_int64)clock->doubt_ms);
        (void)sqlite3_bind_int64(put, 4, (sqlite3_int64)clock->at_ms);
        const int rc = sqlite3_step(put);
        status = rc == SQLITE_DONE ? TW_OK : tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(put);
    return status;
}

tw_status tw_store_clocks(tw_store *store, tw_store_clock *out, size_t cap, size_t *count, tw_store_fault *fault)
{
    sqlite3_stmt *rows = NULL;
    int rc = SQLITE_ROW;
    *count = 0;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (!has_notes(store))
        return TW_OK;
    tw_status status = tw_store_prepare(store, "select * from clock order by writer", &rows, fault);
    while (status == TW_OK && (rc = sqlite3_step(rows)) == SQLITE_ROW) {
        if (*count < cap)
            clock_from(rows, &out[*count]);
        (*count)++;
    }
    if (status == TW_OK && rc != SQLITE_DONE)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_finalize(rows);
    return status == TW_OK && *count > cap ? TW_ERR_CAPACITY : status;
}
