/* store/views.c: views over the facts, made from the tables of entries (gen/store_views.h). They are for
 * people with an SQL shell; the program itself reads the lines. A file has those of the version that
 * wrote to it last. */
#include <stdio.h>
#include <string.h>

#include "gen/store_views.h"
#include "store/internal.h"

static void digest_of_views(char out[TW_SHA256_HEX])
{
    uint8_t digest[TW_SHA256_BYTES];
    tw_sha256_state state;
    tw_sha256_init(&state);
    for (size_t i = 0; i < TW_STORE_VIEWS; i++)
        tw_sha256_update(&state, tw_store_views[i].sql, strlen(tw_store_views[i].sql) + 1);
    tw_sha256_final(&state, digest);
    tw_sha256_hex(digest, out);
}

/* Run a statement that gives no row, with a text bound to ?1 when it has one. */
static int run(sqlite3 *db, const char *sql, const char *text, int *row)
{
    sqlite3_stmt *statement = NULL;
    int rc = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    if (rc == SQLITE_OK && text != NULL)
        rc = sqlite3_bind_text(statement, 1, text, -1, SQLITE_STATIC);
    if (rc == SQLITE_OK)
        rc = sqlite3_step(statement);
    if (row != NULL)
        *row = rc == SQLITE_ROW;
    (void)sqlite3_finalize(statement);
    return rc == SQLITE_DONE || rc == SQLITE_ROW ? SQLITE_OK : rc;
}

int tw_store_make_views(sqlite3 *db)
{
    char digest[TW_SHA256_HEX];
    char drop[128];
    int there = 0;
    digest_of_views(digest);
    int rc = run(db, "select 1 from own where name = 'views' and value = ?1", digest, &there);
    if (rc != SQLITE_OK || there)
        return rc;
    rc = run(db, "begin immediate", NULL, NULL);
    for (size_t i = 0; rc == SQLITE_OK && i < TW_STORE_VIEWS; i++) {
        (void)snprintf(drop, sizeof drop, "drop view if exists %s", tw_store_views[i].name);
        rc = run(db, drop, NULL, NULL);
        if (rc == SQLITE_OK)
            rc = run(db, tw_store_views[i].sql, NULL, NULL);
    }
    if (rc == SQLITE_OK)
        rc = run(db, "insert into own values ('views', ?1) on conflict (name) do update set value = excluded.value",
                 digest, NULL);
    if (rc == SQLITE_OK)
        rc = run(db, "commit", NULL, NULL);
    if (rc != SQLITE_OK && !sqlite3_get_autocommit(db))
        (void)run(db, "rollback", NULL, NULL);
    return rc;
}
