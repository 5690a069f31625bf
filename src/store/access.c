/* store/access.c: the file beside the logbook that holds who may come in. What is removed is overwritten. */
#define _POSIX_C_SOURCE 200809L

#include "store/access.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/internal.h"

#define APPLICATION 0x54756261 /* "Tuba" in the file's header */
#define VERSION 1

/* A store without facts: what runs statements and names faults is the same. */
struct tw_access {
    tw_store store;
};

static const char TABLES[] =
    "create table if not exists person ("
    "  name text primary key, role text not null, secret text not null, made_s integer not null) strict, without rowid;"
    "create table if not exists lid ("
    "  id text primary key, tub text not null, role text not null, hash blob not null unique check (length(hash) = 32),"
    "  made_s integer not null, until_s integer not null) strict, without rowid;"
    "create table if not exists session ("
    "  hash blob primary key check (length(hash) = 32),"
    "  person text references person (name) on delete cascade,"
    "  lid text references lid (id) on delete cascade,"
    "  until_s integer not null,"
    "  check ((person is null) <> (lid is null))) strict, without rowid;";

static const char SETTINGS[] =
    "pragma synchronous = full; pragma foreign_keys = on; pragma secure_delete = on; pragma temp_store = memory;"
    "pragma journal_mode = wal;";

/* Is it this version's file? An empty one becomes it. */
static tw_status settle(tw_store *store, tw_store_fault *fault)
{
    int application = 0, version = 0;
    char pragma[80];
    tw_status status = tw_store_run(store, SETTINGS, fault);
    if (status != TW_OK)
        return status;
    int rc = tw_store_number_of(store->db, "pragma application_id", &application);
    if (rc == SQLITE_OK)
        rc = tw_store_number_of(store->db, "pragma user_version", &version);
    if (rc != SQLITE_OK)
        return tw_store_sql_fault(store, rc, fault);
    if (application == APPLICATION && version == VERSION)
        return TW_OK;
    if (application == APPLICATION && version > VERSION)
        return tw_store_fault_set(fault, TW_STORE_NEWER, "the file of who may come in");
    if (application != 0)
        return tw_store_fault_set(fault, TW_STORE_FOREIGN, "the file of who may come in");
    (void)snprintf(pragma, sizeof pragma, "pragma application_id = %d; pragma user_version = %d;", APPLICATION, VERSION);
    status = tw_store_begin(store, fault);
    if (status == TW_OK)
        status = tw_store_run(store, TABLES, fault);
    if (status == TW_OK)
        status = tw_store_run(store, pragma, fault);
    if (status == TW_OK)
        status = tw_store_commit(store, fault);
    else
        tw_store_give_up(store);
    return status;
}

/* Made by hand first: what the library makes beside it takes the same rights. A file that is there is not opened here: closing any descriptor
 * of it would end the locks (fcntl) of every connection that this process has to it. */
static int make(const char *path)
{
    const int made = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (made >= 0)
        return close(made) == 0;
    return errno == EEXIST && access(path, R_OK | W_OK) == 0;
}

tw_status tw_store_access_open(const char *logbook, tw_access **out, tw_store_fault *fault)
{
    const size_t n = strlen(logbook) + sizeof "-access";
    tw_access *access = calloc(1, sizeof *access);
    *out = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (access == NULL || (access->store.path = malloc(n)) == NULL) {
        free(access);
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    }
    (void)snprintf(access->store.path, n, "%s-access", logbook);
    access->store.writable = 1;
    if (!make(access->store.path)) {
        const tw_status no = tw_store_fault_set(fault, errno == EACCES ? TW_STORE_FORBIDDEN : errno == EROFS ? TW_STORE_READ_ONLY : TW_STORE_IO,
                                                strerror(errno));
        tw_store_access_close(access);
        return no;
    }
    const int rc = sqlite3_open_v2(access->store.path, &access->store.db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    tw_status status = rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(&access->store, rc, fault);
    if (status == TW_OK) {
        (void)sqlite3_extended_result_codes(access->store.db, 1);
        (void)sqlite3_busy_timeout(access->store.db, TW_STORE_BUSY_MS);
        (void)sqlite3_db_config(access->store.db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
        status = settle(&access->store, fault);
    }
    if (status == TW_OK)
        *out = access;
    else
        tw_store_access_close(access);
    return status;
}

void tw_store_access_close(tw_access *access)
{
    if (access == NULL)
        return;
    if (access->store.db != NULL)
        (void)sqlite3_close(access->store.db);
    free(access->store.path);
    free(access);
}

/* ---- statements ------------------------------------------------------------------------------------------- */

/* Prepare and bind: s a text (NULL: null), h a hash, i a whole number. */
static tw_status bound(tw_access *access, sqlite3_stmt **out, tw_store_fault *fault, const char *sql, const char *kinds, ...)
{
    va_list list;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    const tw_status status = tw_store_prepare(&access->store, sql, out, fault);
    if (status != TW_OK)
        return status;
    va_start(list, kinds);
    for (int i = 0; kinds[i] != '\0'; i++) {
        if (kinds[i] == 'i') {
            (void)sqlite3_bind_int64(*out, i + 1, va_arg(list, int64_t));
        } else if (kinds[i] == 'h') {
            tw_store_bind_blob(*out, i + 1, va_arg(list, const uint8_t *), TW_SHA256_BYTES);
        } else {
            const char *text = va_arg(list, const char *);
            if (text != NULL)
                tw_store_bind_text(*out, i + 1, tw_units_text(text));
        }
    }
    va_end(list);
    return TW_OK;
}

/* Run a statement that gives no rows. `conflict` when a rule of the tables stands against it. */
static tw_status run(tw_access *access, sqlite3_stmt *statement, tw_store_fault *fault)
{
    const int rc = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    if (rc == SQLITE_DONE)
        return TW_OK;
    return (rc & 0xff) == SQLITE_CONSTRAINT ? TW_ERR_CONFLICT : tw_store_sql_fault(&access->store, rc, fault);
}

static void column(sqlite3_stmt *statement, int at, char *out, size_t cap)
{
    const char *text = (const char *)sqlite3_column_text(statement, at);
    (void)snprintf(out, cap, "%s", text != NULL ? text : "");
}

/* One row or none: TW_ERR_MISSING. The statement stands on it. */
static tw_status one_row(tw_access *access, sqlite3_stmt *statement, tw_store_fault *fault)
{
    const int rc = sqlite3_step(statement);
    return rc == SQLITE_ROW ? TW_OK : rc == SQLITE_DONE ? TW_ERR_MISSING : tw_store_sql_fault(&access->store, rc, fault);
}

/* ---- people -------------------------------------------------------------------------------------------------- */

tw_status tw_store_person_add(tw_access *access, const tw_access_person *person, int64_t now_s, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    const tw_status status = bound(access, &statement, fault, "insert into person values (?1, ?2, ?3, ?4)", "sssi", person->name, person->role,
                                   person->secret, now_s);
    return status == TW_OK ? run(access, statement, fault) : status;
}

static void read_person(sqlite3_stmt *statement, tw_access_person *out)
{
    column(statement, 0, out->name, sizeof out->name);
    column(statement, 1, out->role, sizeof out->role);
    column(statement, 2, out->secret, sizeof out->secret);
}

tw_status tw_store_person_get(tw_access *access, const char *name, tw_access_person *out, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = bound(access, &statement, fault, "select name, role, secret from person where name = ?1", "s", name);
    if (status == TW_OK)
        status = one_row(access, statement, fault);
    if (status == TW_OK)
        read_person(statement, out);
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_person_remove(tw_access *access, const char *name, const char *keep, tw_store_fault *fault)
{
    tw_access_person person;
    sqlite3_stmt *statement = NULL;
    tw_status status = tw_store_person_get(access, name, &person, fault);
    if (status == TW_OK)
        status = bound(access, &statement, fault, "delete from person where name = ?1 and (role <> ?2 or"
                       " exists (select 1 from person where role = ?2 and name <> ?1))", "ss", name, keep);
    if (status == TW_OK)
        status = run(access, statement, fault);
    return status == TW_OK && sqlite3_changes(access->store.db) == 0 ? TW_ERR_CONFLICT : status;
}

tw_status tw_store_person_list(tw_access *access, tw_access_person *out, size_t cap, size_t *count, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_access_person person;
    *count = 0;
    tw_status status = bound(access, &statement, fault, "select name, role, secret from person order by name", "");
    while (status == TW_OK && (status = one_row(access, statement, fault)) == TW_OK) {
        read_person(statement, &person);
        if (*count < cap)
            out[*count] = person;
        (*count)++;
    }
    (void)sqlite3_finalize(statement);
    return status == TW_ERR_MISSING ? TW_OK : status;
}

/* ---- lid links ------------------------------------------------------------------------------------------------- */

tw_status tw_store_lid_add(tw_access *access, const tw_access_lid *lid, const uint8_t hash[TW_SHA256_BYTES], tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    const tw_status status = bound(access, &statement, fault, "insert into lid values (?1, ?2, ?3, ?4, ?5, ?6)", "ssshii", lid->id, lid->tub,
                                   lid->role, hash, lid->made_s, lid->until_s);
    return status == TW_OK ? run(access, statement, fault) : status;
}

static void read_lid(sqlite3_stmt *statement, tw_access_lid *out)
{
    column(statement, 0, out->id, sizeof out->id);
    column(statement, 1, out->tub, sizeof out->tub);
    column(statement, 2, out->role, sizeof out->role);
    out->made_s = sqlite3_column_int64(statement, 3);
    out->until_s = sqlite3_column_int64(statement, 4);
}

tw_status tw_store_lid_find(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], int64_t now_s, tw_access_lid *out, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = bound(access, &statement, fault, "select id, tub, role, made_s, until_s from lid where hash = ?1 and until_s > ?2", "hi",
                             hash, now_s);
    if (status == TW_OK)
        status = one_row(access, statement, fault);
    if (status == TW_OK)
        read_lid(statement, out);
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_lid_remove(tw_access *access, const char *id, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = bound(access, &statement, fault, "delete from lid where id = ?1", "s", id);
    if (status == TW_OK)
        status = run(access, statement, fault);
    return status == TW_OK && sqlite3_changes(access->store.db) == 0 ? TW_ERR_MISSING : status;
}

tw_status tw_store_lid_list(tw_access *access, int64_t now_s, tw_access_lid *out, size_t cap, size_t *count, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_access_lid lid;
    *count = 0;
    tw_status status = bound(access, &statement, fault, "select id, tub, role, made_s, until_s from lid where until_s > ?1 order by made_s, id",
                             "i", now_s);
    while (status == TW_OK && (status = one_row(access, statement, fault)) == TW_OK) {
        read_lid(statement, &lid);
        if (*count < cap)
            out[*count] = lid;
        (*count)++;
    }
    (void)sqlite3_finalize(statement);
    return status == TW_ERR_MISSING ? TW_OK : status;
}

/* ---- sessions ----------------------------------------------------------------------------------------------------- */

tw_status tw_store_session_add(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], const char *person, const char *lid, int64_t now_s,
                               int64_t until_s, tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = bound(access, &statement, fault, "delete from session where until_s <= ?1", "i", now_s);
    if (status == TW_OK)
        status = run(access, statement, fault);
    if (status == TW_OK)
        status = bound(access, &statement, fault, "insert into session values (?1, ?2, ?3, ?4)", "hssi", hash, person, lid, until_s);
    return status == TW_OK ? run(access, statement, fault) : status;
}

static const char FIND_SESSION[] =
    "select coalesce(p.name, l.id), coalesce(p.role, l.role), coalesce(l.tub, '') from session as s"
    " left join person as p on p.name = s.person left join lid as l on l.id = s.lid"
    " where s.hash = ?1 and s.until_s > ?2 and (l.until_s is null or l.until_s > ?2)";

tw_status tw_store_session_find(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], int64_t now_s, tw_access_session *out,
                                tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    tw_status status = bound(access, &statement, fault, FIND_SESSION, "hi", hash, now_s);
    if (status == TW_OK)
        status = one_row(access, statement, fault);
    if (status == TW_OK) {
        column(statement, 0, out->name, sizeof out->name);
        column(statement, 1, out->role, sizeof out->role);
        column(statement, 2, out->tub, sizeof out->tub);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

tw_status tw_store_session_remove(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], tw_store_fault *fault)
{
    sqlite3_stmt *statement = NULL;
    const tw_status status = bound(access, &statement, fault, "delete from session where hash = ?1", "h", hash);
    return status == TW_OK ? run(access, statement, fault) : status;
}
