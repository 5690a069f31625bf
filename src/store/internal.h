/* store/internal.h: the handle and what the files of this room share. Nobody else includes it, but
 * the tests that plant a fault in the connection. */
#ifndef TW_STORE_INTERNAL_H
#define TW_STORE_INTERNAL_H

#include <sqlite3.h>

#include "store/store.h"

#define TW_STORE_APPLICATION 0x54756277 /* "Tubw" in the file's header */
#define TW_STORE_BUSY_MS 4000           /* how long to wait for another process */

enum { TW_STORE_NO_BACKUP = 4 }; /* flag of open, within this room: no copy before the steps to a newer schema */

struct tw_store {
    sqlite3 *db;
    char *path;
    char *state;   /* folder of the notes about writers, NULL: none                                */
    int writable;
    int unsure;    /* 1: a sync failed; what the disk holds is not known until it is opened again */
};

/* A schema step: what brings a file from version - 1 to version. */
typedef struct {
    int version;
    const char *sql;
    int (*fill)(sqlite3 *db); /* what SQL cannot do, after it; NULL: nothing. Returns a result of SQLite */
} tw_store_step;

/* The one whole number that a question in SQL gives; what SQLite said of it. *out stays where there is none. */
int tw_store_number_of(sqlite3 *db, const char *sql, int *out);

/* Bring a file from its version to that of the last step, inside one transaction. */
int tw_store_migrate(sqlite3 *db, const tw_store_step *step, size_t steps);

/* The steps of this version. */
extern const tw_store_step tw_store_steps[TW_STORE_SCHEMA];

/* 1 when tables, indexes and guards are as the steps up to a version make them; else 0 and what is odd. */
int tw_store_schema_whole(sqlite3 *db, int version, char *odd, size_t cap);

/* The digest of all that arrived, with one more line: SHA-256 of the digest before (of nothing: 32 zeros) and the line's hash. */
void tw_store_digest_on(uint8_t digest[TW_SHA256_BYTES], const uint8_t hash[TW_SHA256_BYTES]);

/* Views over the facts for people with an SQL shell, made again when they are not this version's. */
int tw_store_make_views(sqlite3 *db);

/* Bring the folder of a path to the disk, and with it the names in it. */
void tw_store_sync_folder(const char *path);

/* The fault that goes with a result of SQLite on this handle. */
tw_status tw_store_sql_fault(tw_store *store, int rc, tw_store_fault *fault);

/* Run statements without results. */
tw_status tw_store_run(tw_store *store, const char *sql, tw_store_fault *fault);

/* TW_OK when the handle may write. */
tw_status tw_store_may_write(const tw_store *store, tw_store_fault *fault);

/* Begin to write; end with commit, or give up. commit rolls back when it fails. */
tw_status tw_store_begin(tw_store *store, tw_store_fault *fault);
tw_status tw_store_commit(tw_store *store, tw_store_fault *fault);
void tw_store_give_up(tw_store *store);

/* Prepare a statement with texts bound to ?1..?n. */
tw_status tw_store_prepare(tw_store *store, const char *sql, sqlite3_stmt **out, tw_store_fault *fault);

/* Bind bytes as text or blob, also of no length. Bytes must live until the statement is reset. */
void tw_store_bind_text(sqlite3_stmt *statement, int at, tw_text text);
void tw_store_bind_blob(sqlite3_stmt *statement, int at, const void *bytes, size_t n);

/* A column as text, until the next step. */
tw_text tw_store_column_text(sqlite3_stmt *statement, int at);

/* Show the lines of a statement (arrival, body, hash); strict: only those that have their hash. *last: arrival of the last one
 * that was shown; may be NULL. */
tw_status tw_store_show(tw_store *store, sqlite3_stmt *statement, int strict, uint64_t *last, tw_store_visit *visit, void *to,
                        tw_store_fault *fault);

/* A writer and its last entry in this logbook. n is 0 when it has written nothing. */
typedef struct {
    char id[TW_ID_BYTES];
    uint32_t n;
    uint8_t hash[TW_SHA256_BYTES];
} tw_store_pen;

/* Under whom to write: inside a transaction. Makes a new writer when the logbook was restored or
 * copied, or has none from here yet. */
tw_status tw_store_take_pen(tw_store *store, tw_store_pen *pen, tw_store_fault *fault);

/* Make the folder of the notes and see whether it can be used; else notes are kept in the file. */
void tw_store_settle_state(tw_store *store, const char *state);

/* Bytes that nobody can foresee. 0 when there are none. */
int tw_store_random(void *bytes, size_t n);

/* A setting of this installation, in own transactions or not. */
tw_status tw_store_own_get(tw_store *store, const char *name, char *buf, size_t cap, size_t *length,
                           tw_store_fault *fault);
tw_status tw_store_own_put(tw_store *store, const char *name, tw_text value, tw_store_fault *fault);

/* Note on this machine how far the writer came; after the commit. Failing to is no fault: then the
 * next writing goes on as a new writer. */
void tw_store_note_pen(tw_store *store, const tw_store_pen *pen);

#endif
