/* store/backup.c: a logbook is copied while it is in use, and a copy comes back in its place. */
#define _XOPEN_SOURCE 700

#include "store/backup.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/internal.h"

#define PATH_BYTES 4352

/* A name beside another that nobody has. */
static int name_beside(const char *path, const char *what, char out[PATH_BYTES])
{
    unsigned char random[4];
    if (!tw_store_random(random, sizeof random))
        return 0;
    const int n = snprintf(out, PATH_BYTES, "%s.%s-%02x%02x%02x%02x", path, what, random[0], random[1], random[2], random[3]);
    return n > 0 && n < PATH_BYTES;
}

/* With what SQLite leaves beside a file. */
static void remove_all(const char *path)
{
    static const char *const BESIDE[] = {"", "-wal", "-shm", "-journal"};
    char name[PATH_BYTES + 16];
    for (size_t i = 0; i < sizeof BESIDE / sizeof *BESIDE; i++) {
        (void)snprintf(name, sizeof name, "%s%s", path, BESIDE[i]);
        (void)unlink(name);
    }
}

/* All pages of one database into another, as they are at one moment. */
static tw_status copy_pages(tw_store *from, sqlite3 *into, tw_store_fault *fault)
{
    sqlite3_backup *copy = sqlite3_backup_init(into, "main", from->db, "main");
    if (copy == NULL)
        return tw_store_fault_set(fault, TW_STORE_IO, sqlite3_errmsg(into));
    int rc = SQLITE_OK;
    int waited_ms = 0;
    do {
        rc = sqlite3_backup_step(copy, -1);
        if (rc == SQLITE_BUSY || rc == SQLITE_LOCKED)
            waited_ms += sqlite3_sleep(20);
    } while ((rc == SQLITE_BUSY || rc == SQLITE_LOCKED) && waited_ms < TW_STORE_BUSY_MS);
    const int end = sqlite3_backup_finish(copy);
    if (rc == SQLITE_DONE && end == SQLITE_OK)
        return TW_OK;
    tw_store room = {into, from->path, NULL, 0, 0};
    return tw_store_sql_fault(&room, rc == SQLITE_DONE ? end : rc, fault);
}

/* A new file with these pages, on the disk. */
static tw_status copy_to_new(tw_store *from, const char *name, tw_store_fault *fault)
{
    sqlite3 *into = NULL;
    const int rc = sqlite3_open_v2(name, &into, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_EXCLUSIVE
                                   | SQLITE_OPEN_NOMUTEX, NULL);
    tw_store room = {into, from->path, NULL, 0, 0};
    tw_status status = rc == SQLITE_OK ? TW_OK : tw_store_sql_fault(&room, rc, fault);
    if (status == TW_OK)
        (void)sqlite3_exec(into, "pragma synchronous = full", NULL, NULL, NULL);
    if (status == TW_OK)
        status = copy_pages(from, into, fault);
    (void)sqlite3_close(into);
    return status;
}

static tw_status differs(tw_store_fault *fault)
{
    return tw_store_fault_set(fault, TW_STORE_DAMAGED, "the copy, restored and replayed, does not come to the same seal");
}

static int same_sum(const tw_store_sum *a, const tw_store_sum *b)
{
    return a->lines == b->lines && a->writers == b->writers && memcmp(a->seal, b->seal, TW_SHA256_BYTES) == 0;
}

/* Restore a file into a scratch file beside it, replay that, and compare. */
static tw_status try_out(const char *name, const tw_store_sum *wanted, tw_store_fault *fault)
{
    char scratch[PATH_BYTES];
    tw_store *from = NULL;
    tw_store *tried = NULL;
    tw_store_sum found;
    if (!name_beside(name, "try", scratch))
        return tw_store_fault_set(fault, TW_STORE_NAME_LONG, NULL);
    tw_status status = tw_store_open(name, TW_STORE_READ, NULL, &from, fault);
    if (status == TW_OK)
        status = copy_to_new(from, scratch, fault);
    tw_store_close(from);
    if (status == TW_OK)
        status = tw_store_open(scratch, TW_STORE_READ, NULL, &tried, fault);
    if (status == TW_OK)
        status = tw_store_replay(tried, &found, fault);
    if (status == TW_OK && !same_sum(&found, wanted))
        status = differs(fault);
    tw_store_close(tried);
    remove_all(scratch);
    return status;
}

/* The sum and the pages of one moment: both are read in one transaction. */
static tw_status copy_with_sum(tw_store *store, const char *name, tw_store_sum *sum, tw_store_fault *fault)
{
    tw_status status = tw_store_run(store, "begin", fault);
    if (status == TW_OK)
        status = tw_store_sum_up(store, sum, fault);
    if (status == TW_OK)
        status = copy_to_new(store, name, fault);
    tw_store_give_up(store);
    return status;
}

tw_status tw_store_backup(tw_store *store, const char *path, tw_store_sum *out, tw_store_fault *fault)
{
    char name[PATH_BYTES];
    tw_store_sum sum;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (!name_beside(path, "new", name))
        return tw_store_fault_set(fault, TW_STORE_NAME_LONG, NULL);
    tw_status status = copy_with_sum(store, name, &sum, fault);
    if (status == TW_OK)
        status = try_out(name, &sum, fault);
    if (status == TW_OK && rename(name, path) != 0)
        status = tw_store_fault_set(fault, errno == EISDIR ? TW_STORE_IS_FOLDER : TW_STORE_IO, strerror(errno));
    remove_all(name);
    if (status != TW_OK)
        return status;
    tw_store_sync_folder(path);
    if (out != NULL)
        *out = sum;
    return TW_OK;
}

/* A copy of a backup that has forgotten which installation it belonged to: the next entry is a new writer's. */
static tw_status prepare(const char *backup, const char *scratch, tw_store_sum *sum, tw_store_fault *fault)
{
    char token[2 * 16 + 1];
    unsigned char random[16];
    tw_store *from = NULL;
    tw_store *store = NULL;
    tw_status status = tw_store_open(backup, TW_STORE_READ, NULL, &from, fault);
    if (status == TW_OK)
        status = copy_with_sum(from, scratch, sum, fault);
    tw_store_close(from);
    if (status == TW_OK)
        status = try_out(scratch, sum, fault);
    /* An older one is brought to this version's tables: the backup itself is the copy from before. */
    if (status == TW_OK)
        status = tw_store_open(scratch, TW_STORE_WRITE | TW_STORE_NO_BACKUP, NULL, &store, fault);
    if (status == TW_OK && !tw_store_random(random, sizeof random))
        status = tw_store_fault_set(fault, TW_STORE_IO, "no random bytes");
    for (size_t i = 0; status == TW_OK && i < sizeof random; i++)
        (void)snprintf(token + 2 * i, 3, "%02x", random[i]);
    if (status == TW_OK)
        status = tw_store_run(store, "delete from own where name like 'writer %'", fault);
    if (status == TW_OK)
        status = tw_store_own_put(store, "token", tw_units_text(token), fault);
    tw_store_close(store);
    return status;
}

/* What is there is no logbook any more: it is put aside, with what stands beside it. */
static tw_status put_aside(const char *path, char *aside, size_t cap, tw_store_fault *fault)
{
    static const char *const BESIDE[] = {"-wal", "-shm", "-journal", ""};
    char name[PATH_BYTES];
    char from[PATH_BYTES + 16];
    char to[PATH_BYTES + 16];
    if (!name_beside(path, "damaged", name) || strlen(name) >= cap)
        return tw_store_fault_set(fault, TW_STORE_NAME_LONG, NULL);
    for (size_t i = 0; i < sizeof BESIDE / sizeof *BESIDE; i++) {
        (void)snprintf(from, sizeof from, "%s%s", path, BESIDE[i]);
        (void)snprintf(to, sizeof to, "%s%s", name, BESIDE[i]);
        if (rename(from, to) != 0 && errno != ENOENT)
            return tw_store_fault_set(fault, TW_STORE_IO, strerror(errno));
    }
    (void)snprintf(aside, cap, "%s", name);
    return TW_OK;
}

/* Nobody else has it open: only then does SQLite leave its log. */
static int is_alone(tw_store *store)
{
    sqlite3_stmt *mode = NULL;
    int alone = 0;
    if (sqlite3_prepare_v2(store->db, "pragma journal_mode = delete", -1, &mode, NULL) == SQLITE_OK
        && sqlite3_step(mode) == SQLITE_ROW)
        alone = strcmp((const char *)sqlite3_column_text(mode, 0), "delete") == 0;
    (void)sqlite3_finalize(mode);
    return alone;
}

/* Into the file that is there, page by page in one transaction: whoever opens it finds the one or the other, whole. */
static tw_status copy_over(const char *scratch, tw_store *live, tw_store_fault *fault)
{
    tw_store *from = NULL;
    if (!is_alone(live))
        return tw_store_fault_set(fault, TW_STORE_LOCKED, "it can be put back only while nobody else has it open");
    tw_status status = tw_store_open(scratch, TW_STORE_READ, NULL, &from, fault);
    if (status == TW_OK)
        status = copy_pages(from, live->db, fault);
    tw_store_close(from);
    return status;
}

/* Files that are no logbook any more, or none that this version can write to, and names without a file. */
static int is_replaced(tw_store_trouble id)
{
    return id == TW_STORE_NO_FILE || id == TW_STORE_NO_DATABASE || id == TW_STORE_FOREIGN || id == TW_STORE_CUT
        || id == TW_STORE_DAMAGED || id == TW_STORE_SCHEMA_ODD || id == TW_STORE_NEWER;
}

tw_status tw_store_restore(const char *backup, const char *path, char *aside, size_t cap, tw_store_sum *out, tw_store_fault *fault)
{
    char scratch[PATH_BYTES];
    tw_store *live = NULL;
    tw_store_sum sum;
    aside[0] = '\0';
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (!name_beside(path, "restore", scratch))
        return tw_store_fault_set(fault, TW_STORE_NAME_LONG, NULL);
    tw_status status = prepare(backup, scratch, &sum, fault);
    if (status == TW_OK) {
        tw_store_fault found;
        const tw_status opened = tw_store_open(path, TW_STORE_WRITE | TW_STORE_NO_BACKUP, NULL, &live, &found);
        if (opened == TW_OK) {
            status = copy_over(scratch, live, fault);
        } else if (is_replaced(found.id)) {
            if (found.id != TW_STORE_NO_FILE)
                status = put_aside(path, aside, cap, fault);
            if (status == TW_OK && rename(scratch, path) != 0)
                status = tw_store_fault_set(fault, TW_STORE_IO, strerror(errno));
            tw_store_sync_folder(path);
        } else {
            if (fault != NULL)
                *fault = found;
            status = opened;
        }
    }
    tw_store_close(live);
    remove_all(scratch);
    if (status == TW_OK && out != NULL)
        *out = sum;
    return status;
}
