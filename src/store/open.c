/* store/open.c: a logbook file is found, made, opened and looked at before anything is read from it. */
#define _XOPEN_SOURCE 700

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/backup.h"
#include "store/internal.h"

#define PATH_BYTES 4352

/* What the name leads to: TW_STORE_FINE for a plain file with something in it, TW_STORE_NO_FILE when
 * one may be made there. */
static tw_store_trouble look(const char *path, char *detail, size_t cap)
{
    struct stat found;
    struct stat folder;
    char parent[PATH_BYTES];
    detail[0] = '\0';
    if (strlen(path) >= PATH_BYTES - 64)
        return TW_STORE_NAME_LONG;
    if (stat(path, &found) == 0) {
        if (S_ISDIR(found.st_mode))
            return TW_STORE_IS_FOLDER;
        if (!S_ISREG(found.st_mode))
            return TW_STORE_NO_FILE_KIND;
        if (found.st_size == 0) {
            /* Logbooks are made whole under another name, so an empty file is no new logbook. */
            (void)snprintf(detail, cap, "it has no bytes at all");
            return TW_STORE_CUT;
        }
        return TW_STORE_FINE;
    }
    const int error = errno;
    (void)snprintf(detail, cap, "%s", strerror(error));
    switch (error) {
    case ELOOP:
        return TW_STORE_LINK_LOOP;
    case ENAMETOOLONG:
        return TW_STORE_NAME_LONG;
    case EACCES:
        return TW_STORE_FORBIDDEN;
    case ENOTDIR:
        return TW_STORE_NO_FOLDER;
    case ENOENT:
        break;
    default:
        return TW_STORE_IO;
    }
    if (lstat(path, &found) == 0) {
        (void)snprintf(detail, cap, "it is a link that leads nowhere");
        return TW_STORE_NO_FOLDER;
    }
    (void)snprintf(parent, sizeof parent, "%s", path);
    char *slash = strrchr(parent, '/');
    if (slash != NULL)
        slash[slash == parent] = '\0';
    if (slash != NULL && stat(parent, &folder) != 0)
        return TW_STORE_NO_FOLDER;
    return TW_STORE_NO_FILE;
}

/* "file:" and the path with what URIs reserve as %XX, for options that only a URI can give. */
static void uri_of(const char *path, const char *options, char *out, size_t cap)
{
    size_t used = (size_t)snprintf(out, cap, "file:");
    for (; *path != '\0' && used + 4 < cap; path++) {
        const unsigned char c = (unsigned char)*path;
        if (c == '%' || c == '?' || c == '#' || c < 0x21)
            used += (size_t)snprintf(out + used, cap - used, "%%%02X", (unsigned)c);
        else
            out[used++] = (char)c;
    }
    (void)snprintf(out + used, cap - used, "%s", options);
}

/* A connection with the settings of every connection. The first read is what really opens the file. */
static int connect_to(const char *name, int flags, sqlite3 **db, int *application)
{
    static const char SETTINGS[] =
        "pragma synchronous = full; pragma foreign_keys = on; pragma recursive_triggers = on;"
        "pragma temp_store = memory;";
    int rc = sqlite3_open_v2(name, db, flags | SQLITE_OPEN_NOMUTEX, NULL);
    if (rc != SQLITE_OK)
        return rc;
    (void)sqlite3_extended_result_codes(*db, 1);
    (void)sqlite3_busy_timeout(*db, TW_STORE_BUSY_MS);
    (void)sqlite3_db_config(*db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void)sqlite3_db_config(*db, SQLITE_DBCONFIG_DQS_DML, 0, NULL);
    (void)sqlite3_db_config(*db, SQLITE_DBCONFIG_DQS_DDL, 0, NULL);
    rc = sqlite3_exec(*db, SETTINGS, NULL, NULL, NULL);
    if (rc == SQLITE_OK)
        rc = tw_store_number_of(*db, "pragma application_id", application);
    /* The header alone may be in order where what follows is not. */
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(*db, "select count(*) from sqlite_schema", NULL, NULL, NULL);
    return rc;
}

static uint32_t big_endian(const unsigned char *at, int n)
{
    uint32_t value = 0;
    for (int i = 0; i < n; i++)
        value = value << 8 | at[i];
    return value;
}

/* Is the file shorter than its own header says (or than a header)? It is read through SQLite: to open
 * it beside would drop this process's locks when closed. */
static int is_cut(sqlite3 *db)
{
    static const char MAGIC[16] = "SQLite format 3";
    unsigned char header[100] = {0};
    sqlite3_file *file = NULL;
    sqlite3_int64 size = 0;
    if (sqlite3_file_control(db, "main", SQLITE_FCNTL_FILE_POINTER, &file) != SQLITE_OK || file == NULL
        || file->pMethods == NULL || file->pMethods->xFileSize(file, &size) != SQLITE_OK)
        return 0;
    (void)file->pMethods->xRead(file, header, sizeof header, 0);
    const size_t known = size < (sqlite3_int64)sizeof MAGIC ? (size_t)size : sizeof MAGIC;
    if (memcmp(header, MAGIC, known) != 0)
        return 0;
    if (size < (sqlite3_int64)sizeof header)
        return 1;
    const uint32_t page = big_endian(header + 16, 2);
    const sqlite3_int64 bytes = (sqlite3_int64)big_endian(header + 28, 4) * (page == 1 ? 65536 : (sqlite3_int64)page);
    return size < bytes;
}

static int has_wal(const char *path)
{
    char name[PATH_BYTES];
    struct stat found;
    (void)snprintf(name, sizeof name, "%s-wal", path);
    return stat(name, &found) == 0 && found.st_size > 0;
}

static tw_status open_fault(tw_store *store, int rc, tw_store_fault *fault)
{
    const tw_status status = tw_store_sql_fault(store, rc, fault);
    const int kind = rc & 0xff;
    if ((kind == SQLITE_CORRUPT || kind == SQLITE_NOTADB || rc == SQLITE_IOERR_SHORT_READ) && is_cut(store->db))
        return tw_store_fault_set(fault, TW_STORE_CUT, sqlite3_errmsg(store->db));
    if (kind == SQLITE_CANTOPEN && access(store->path, R_OK) != 0)
        return tw_store_fault_set(fault, TW_STORE_FORBIDDEN, strerror(errno));
    if (kind == SQLITE_CANTOPEN || kind == SQLITE_READONLY) {
        const char *why = has_wal(store->path)
            ? "its newest lines stand in the file beside it that ends in -wal, which cannot be used here; copy both"
            : "its folder cannot be written to";
        return tw_store_fault_set(fault, TW_STORE_READ_ONLY, why);
    }
    return status;
}

/* Open for reading and writing where that may be, else for reading; a disk that is read-only needs
 * to be told that nobody else writes. */
static tw_status connect_store(tw_store *store, unsigned flags, int *application, tw_store_fault *fault)
{
    int rc = connect_to(store->path, SQLITE_OPEN_READWRITE, &store->db, application);
    const int kind = rc & 0xff;
    if ((kind == SQLITE_CANTOPEN || kind == SQLITE_READONLY) && (flags & TW_STORE_WRITE) == 0 && !has_wal(store->path)) {
        char uri[3 * PATH_BYTES];
        uri_of(store->path, "?immutable=1", uri, sizeof uri);
        (void)sqlite3_close(store->db);
        store->db = NULL;
        rc = connect_to(uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, &store->db, application);
    }
    return rc == SQLITE_OK ? TW_OK : open_fault(store, rc, fault);
}

/* Before its tables change a logbook is copied, beside itself; a name that is taken is left alone. */
static tw_status copy_before_steps(tw_store *store, int version, tw_store_fault *fault)
{
    char name[PATH_BYTES];
    struct stat found;
    int taken = 1;
    for (int i = 1; taken && i < 100; i++) {
        (void)snprintf(name, sizeof name, i == 1 ? "%s.version-%d" : "%s.version-%d.%d", store->path, version, i);
        taken = lstat(name, &found) == 0;
    }
    return taken ? tw_store_fault_set(fault, TW_STORE_IO, "no name is left for a copy") : tw_store_backup(store, name, NULL, fault);
}

/* From an older version to this one, in one transaction, after a copy was made that is known to be good. */
static tw_status step_up(tw_store *store, unsigned flags, int version, tw_store_fault *fault)
{
    tw_status status = (flags & TW_STORE_NO_BACKUP) != 0 ? TW_OK : copy_before_steps(store, version, fault);
    if (status == TW_OK) {
        const int rc = tw_store_migrate(store->db, tw_store_steps, TW_STORE_SCHEMA);
        status = rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(store, rc, fault);
    }
    return status;
}

/* Is it a logbook of this version? */
static tw_status look_inside(tw_store *store, unsigned flags, int application, tw_store_fault *fault)
{
    char detail[160];
    int version = 0;
    if (application != TW_STORE_APPLICATION) {
        (void)snprintf(detail, sizeof detail, "application id %d", application);
        return tw_store_fault_set(fault, TW_STORE_FOREIGN, detail);
    }
    const int rc = tw_store_number_of(store->db, "pragma user_version", &version);
    if (rc != SQLITE_OK)
        return tw_store_sql_fault(store, rc, fault);
    if (version > TW_STORE_SCHEMA) {
        (void)snprintf(detail, sizeof detail, "its tables are of version %d, this program knows version %d", version,
                       TW_STORE_SCHEMA);
        return tw_store_fault_set(fault, TW_STORE_NEWER, detail);
    }
    if (version < 1 || !tw_store_schema_whole(store->db, version, detail, sizeof detail))
        return tw_store_fault_set(fault, TW_STORE_SCHEMA_ODD, version < 1 ? "tables of no version" : detail);
    /* Who only reads takes an older file as it is. */
    if (store->writable && version < TW_STORE_SCHEMA)
        return step_up(store, flags, version, fault);
    return TW_OK;
}

/* The folder that a path is in. */
static void folder_of(const char *path, char folder[PATH_BYTES])
{
    (void)snprintf(folder, PATH_BYTES, "%s", path);
    char *slash = strrchr(folder, '/');
    if (slash != NULL)
        slash[slash == folder] = '\0';
    else
        (void)snprintf(folder, PATH_BYTES, ".");
}

/* An empty logbook, whole or not at all: made under another name and then linked to its own, so that
 * a cut in between leaves no half-made one, and of two processes that make it one finds it there. */
static tw_status make(tw_store *store, tw_store_fault *fault)
{
    char name[PATH_BYTES];
    char token[2 * 16 + 1];
    unsigned char random[16];
    int application = 0;
    if (!tw_store_random(random, sizeof random))
        return tw_store_fault_set(fault, TW_STORE_IO, "no random bytes");
    for (size_t i = 0; i < sizeof random; i++)
        (void)snprintf(token + 2 * i, 3, "%02x", random[i]);
    (void)snprintf(name, sizeof name, "%s.new-%.8s", store->path, token);
    char folder[PATH_BYTES];
    int rc = connect_to(name, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_EXCLUSIVE, &store->db, &application);
    char pragma[96];
    (void)snprintf(pragma, sizeof pragma, "pragma application_id = %d; pragma journal_mode = wal;", TW_STORE_APPLICATION);
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(store->db, pragma, NULL, NULL, NULL);
    if (rc == SQLITE_OK)
        rc = tw_store_migrate(store->db, tw_store_steps, TW_STORE_SCHEMA);
    if (rc == SQLITE_OK)
        rc = tw_store_make_views(store->db);
    tw_status status = rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(store, rc, fault);
    folder_of(name, folder);
    if (((rc & 0xff) == SQLITE_CANTOPEN || (rc & 0xff) == SQLITE_READONLY) && access(folder, W_OK | X_OK) != 0)
        status = tw_store_fault_set(fault, TW_STORE_READ_ONLY, "no file can be made in its folder");
    if (status == TW_OK)
        status = tw_store_own_put(store, "token", tw_units_text(token), fault);
    if (status == TW_OK && (rc = sqlite3_wal_checkpoint_v2(store->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL)) != SQLITE_OK)
        status = tw_store_sql_fault(store, rc, fault);
    (void)sqlite3_close(store->db); /* removes the file beside it */
    store->db = NULL;
    store->unsure = 0;
    if (status == TW_OK && link(name, store->path) != 0 && errno != EEXIST
        && (access(store->path, F_OK) == 0 || rename(name, store->path) != 0))
        status = tw_store_fault_set(fault, TW_STORE_IO, strerror(errno));
    (void)unlink(name);
    return status;
}

/* The name of a file is on the disk only when its folder is. */
void tw_store_sync_folder(const char *path)
{
    char folder[PATH_BYTES];
    folder_of(path, folder);
    const int at = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (at < 0)
        return;
    (void)fsync(at); /* some file systems cannot; then nothing better is to be had */
    (void)close(at);
}

static char *copy_of(const char *text)
{
    const size_t n = strlen(text) + 1;
    char *copy = malloc(n);
    return copy != NULL ? memcpy(copy, text, n) : NULL;
}

static tw_status open_store(tw_store *store, unsigned flags, tw_store_fault *fault)
{
    char detail[256];
    int application = 0;
    tw_store_trouble found = look(store->path, detail, sizeof detail);
    if (found == TW_STORE_NO_FILE && (flags & TW_STORE_MAKE) != 0) {
        const tw_status made = make(store, fault);
        if (made != TW_OK)
            return made;
        tw_store_sync_folder(store->path);
        found = TW_STORE_FINE;
    }
    if (found != TW_STORE_FINE)
        return tw_store_fault_set(fault, found, detail);
    tw_status status = connect_store(store, flags, &application, fault);
    if (status != TW_OK)
        return status;
    /* SQLite fills the end of a last page that is not there with zeros and says nothing. */
    if (!has_wal(store->path) && is_cut(store->db))
        return tw_store_fault_set(fault, TW_STORE_CUT, "it is shorter than it says");
    store->writable = (flags & TW_STORE_WRITE) != 0;
    if (store->writable && sqlite3_db_readonly(store->db, "main") == 1) {
        store->writable = 0;
        return tw_store_fault_set(fault, TW_STORE_READ_ONLY, "the file may not be written to");
    }
    status = look_inside(store, flags, application, fault);
    if (status != TW_OK)
        return status;
    if (!store->writable)
        return tw_store_run(store, "pragma query_only = on", fault);
    /* Somebody may have switched the file to another kind of journal with a shell. */
    status = tw_store_run(store, "pragma journal_mode = wal", fault);
    if (status == TW_OK && tw_store_make_views(store->db) != SQLITE_OK)
        status = tw_store_sql_fault(store, sqlite3_extended_errcode(store->db), fault);
    return status;
}

tw_status tw_store_open(const char *path, unsigned flags, const char *state, tw_store **out, tw_store_fault *fault)
{
    tw_store *store = calloc(1, sizeof *store);
    *out = NULL;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (store == NULL || (store->path = copy_of(path)) == NULL) {
        free(store);
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    }
    const tw_status status = open_store(store, flags, fault);
    if (status != TW_OK) {
        tw_store_close(store);
        return status;
    }
    store->unsure = 0;
    if (state != NULL && state[0] != '\0')
        tw_store_settle_state(store, state);
    *out = store;
    return TW_OK;
}

void tw_store_close(tw_store *store)
{
    if (store == NULL)
        return;
    if (store->db != NULL) {
        tw_store_give_up(store);
        (void)sqlite3_close(store->db);
    }
    free(store->path);
    free(store->state);
    free(store);
}
