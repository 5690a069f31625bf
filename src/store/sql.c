/* store/sql.c: results of SQLite as named faults, and the few things that all files of this room do. */
#define _POSIX_C_SOURCE 200809L

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

static tw_store_trouble trouble_of_errno(int error, tw_store_trouble otherwise)
{
    switch (error) {
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
        return TW_STORE_FULL;
    case EROFS:
        return TW_STORE_READ_ONLY;
    case EACCES:
    case EPERM:
        return TW_STORE_FORBIDDEN;
    case ELOOP:
        return TW_STORE_LINK_LOOP;
    case ENAMETOOLONG:
        return TW_STORE_NAME_LONG;
    case EISDIR:
        return TW_STORE_IS_FOLDER;
    case ENOTDIR:
        return TW_STORE_NO_FOLDER;
    case ENOMEM:
        return TW_STORE_NO_MEMORY;
    default:
        return otherwise;
    }
}

static tw_store_trouble trouble_of(sqlite3 *db, int rc)
{
    const int error = db != NULL ? sqlite3_system_errno(db) : 0;
    switch (rc & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return TW_STORE_LOCKED;
    case SQLITE_FULL:
        return TW_STORE_FULL;
    case SQLITE_READONLY:
        return TW_STORE_READ_ONLY;
    case SQLITE_CANTOPEN:
        return trouble_of_errno(error, TW_STORE_IO);
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return TW_STORE_FORBIDDEN;
    case SQLITE_CORRUPT:
        return TW_STORE_DAMAGED;
    case SQLITE_NOTADB:
        return TW_STORE_NO_DATABASE;
    case SQLITE_NOMEM:
        return TW_STORE_NO_MEMORY;
    case SQLITE_ERROR: /* a table or a column is not there */
        return TW_STORE_SCHEMA_ODD;
    case SQLITE_IOERR:
        return rc == SQLITE_IOERR_NOMEM ? TW_STORE_NO_MEMORY : trouble_of_errno(error, TW_STORE_IO);
    default:
        return TW_STORE_IO;
    }
}

tw_status tw_store_sql_fault(tw_store *store, int rc, tw_store_fault *fault)
{
    char detail[TW_STORE_DETAIL_BYTES];
    const int error = store->db != NULL ? sqlite3_system_errno(store->db) : 0;
    const int by_system = (rc & 0xff) == SQLITE_IOERR || (rc & 0xff) == SQLITE_CANTOPEN;
    if ((rc & 0xff) == SQLITE_IOERR)
        store->unsure = 1;
    (void)snprintf(detail, sizeof detail, "%s%s%s", store->db != NULL ? sqlite3_errmsg(store->db) : sqlite3_errstr(rc),
                   by_system && error != 0 ? ": " : "", by_system && error != 0 ? strerror(error) : "");
    return tw_store_fault_set(fault, trouble_of(store->db, rc), detail);
}

tw_status tw_store_run(tw_store *store, const char *sql, tw_store_fault *fault)
{
    const int rc = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    return rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(store, sqlite3_extended_errcode(store->db), fault);
}

tw_status tw_store_may_write(const tw_store *store, tw_store_fault *fault)
{
    if (!store->writable)
        return tw_store_fault_set(fault, TW_STORE_READ_ONLY, "opened for reading");
    /* After a failed sync the system may take unwritten pages for written ones, so that a later sync
     * would succeed without them. Only a new look at the file tells what it holds. */
    if (store->unsure)
        return tw_store_fault_set(fault, TW_STORE_IO, "an earlier write failed; open the logbook again");
    return TW_OK;
}

tw_status tw_store_begin(tw_store *store, tw_store_fault *fault)
{
    const tw_status status = tw_store_may_write(store, fault);
    return status == TW_OK ? tw_store_run(store, "begin immediate", fault) : status;
}

tw_status tw_store_commit(tw_store *store, tw_store_fault *fault)
{
    const tw_status status = tw_store_run(store, "commit", fault);
    if (status != TW_OK)
        tw_store_give_up(store);
    return status;
}

void tw_store_give_up(tw_store *store)
{
    if (!sqlite3_get_autocommit(store->db))
        (void)sqlite3_exec(store->db, "rollback", NULL, NULL, NULL);
}

tw_status tw_store_prepare(tw_store *store, const char *sql, sqlite3_stmt **out, tw_store_fault *fault)
{
    const int rc = sqlite3_prepare_v2(store->db, sql, -1, out, NULL);
    return rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(store, rc, fault);
}

void tw_store_bind_text(sqlite3_stmt *statement, int at, tw_text text)
{
    (void)sqlite3_bind_text64(statement, at, text.n > 0 ? text.at : "", text.n, SQLITE_STATIC, SQLITE_UTF8);
}

void tw_store_bind_blob(sqlite3_stmt *statement, int at, const void *bytes, size_t n)
{
    (void)sqlite3_bind_blob64(statement, at, n > 0 ? bytes : "", n, SQLITE_STATIC);
}
