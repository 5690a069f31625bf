/* store/writer.c: under whom this installation writes.
 *
 * A writer's numbers must never be given twice, so a logbook that was copied, or put back from an older copy,
 * goes on under a new writer. The file cannot know that it is a copy; this machine can: in its state
 * folder it notes, for each logbook file (token in the file, inode), the writer and its last entry.
 * The writer goes on only when the note is there, the file is the one it speaks of, and the file
 * still holds that last entry. A new writer too many is harmless; a number given twice is not. */
#define _XOPEN_SOURCE 700

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "store/internal.h"

#define NAME_BYTES 4352
#define NOTE_BYTES 6144

typedef struct {
    char writer[TW_ID_BYTES];
    uint32_t n;
    char hash[TW_SHA256_HEX];
    unsigned long long device;
    char path[PATH_MAX];
} note;

int tw_store_random(void *bytes, size_t n)
{
    FILE *file = fopen("/dev/urandom", "rb");
    if (file == NULL)
        return 0;
    const size_t got = fread(bytes, 1, n, file);
    (void)fclose(file);
    return got == n;
}

void tw_store_settle_state(tw_store *store, const char *state)
{
    char path[NAME_BYTES];
    const size_t n = strlen(state);
    if (n + 1 > sizeof path)
        return;
    memcpy(path, state, n + 1);
    for (char *at = path + 1; *at != '\0'; at++)
        if (*at == '/') {
            *at = '\0';
            (void)mkdir(path, 0700);
            *at = '/';
        }
    (void)mkdir(path, 0700);
    if (access(path, W_OK | X_OK) != 0)
        return;
    store->state = malloc(n + 1);
    if (store->state != NULL)
        memcpy(store->state, path, n + 1);
}

/* Where the note of this file lies, which file it is, and what it is called. 0 when there is none. */
static int note_name(tw_store *store, char name[NAME_BYTES], struct stat *file)
{
    char token[64];
    size_t length = 0;
    if (store->state == NULL || stat(store->path, file) != 0
        || tw_store_own_get(store, "token", token, sizeof token, &length, NULL) != TW_OK || length == 0
        || strchr(token, '/') != NULL)
        return 0;
    const int n = snprintf(name, NAME_BYTES, "%s/%s-%llu", store->state, token, (unsigned long long)file->st_ino);
    return n > 0 && n < NAME_BYTES;
}

static int note_read(const char *name, note *out)
{
    char text[NOTE_BYTES];
    FILE *file = fopen(name, "rb");
    if (file == NULL)
        return 0;
    const size_t n = fread(text, 1, sizeof text - 1, file);
    (void)fclose(file);
    text[n] = '\0';
    unsigned long number = 0;
    int path_at = 0;
    if (sscanf(text, "tubwright writer 1\nwriter %36[0-9a-f-]\nlast %lu %64[0-9a-f]\ndevice %llu\npath %n",
               out->writer, &number, out->hash, &out->device, &path_at) != 4
        || path_at <= 0 || strlen(out->writer) != TW_ID_CHARS || strlen(out->hash) != TW_SHA256_HEX - 1
        || number < 1 || number > UINT32_MAX)
        return 0;
    out->n = (uint32_t)number;
    char *path = text + path_at;
    path[strcspn(path, "\n")] = '\0';
    (void)snprintf(out->path, sizeof out->path, "%.*s", (int)sizeof out->path - 1, path);
    return 1;
}

/* A file that keeps its inode was not copied; the device's number may change when the machine starts
 * again, the name when somebody moves the file, but hardly both. */
static int same_place(const tw_store *store, const note *seen, const struct stat *file)
{
    char path[PATH_MAX];
    if (seen->device == (unsigned long long)file->st_dev)
        return 1;
    return realpath(store->path, path) != NULL && strcmp(path, seen->path) == 0;
}

static int holds(tw_store *store, const note *seen)
{
    sqlite3_stmt *look = NULL;
    int there = 0;
    if (tw_store_prepare(store, "select 1 from fact where writer = ?1 and n = ?2 and lower(hex(hash)) = ?3", &look, NULL)
        == TW_OK) {
        tw_store_bind_text(look, 1, tw_units_text(seen->writer));
        (void)sqlite3_bind_int64(look, 2, (sqlite3_int64)seen->n);
        tw_store_bind_text(look, 3, tw_units_text(seen->hash));
        there = sqlite3_step(look) == SQLITE_ROW;
    }
    (void)sqlite3_finalize(look);
    return there;
}

/* Last entry of a writer in the file: highest number, of these the smallest hash. */
static tw_status last_of(tw_store *store, tw_store_pen *pen, tw_store_fault *fault)
{
    sqlite3_stmt *look = NULL;
    tw_status status = tw_store_prepare(
        store, "select n, hash from fact where writer = ?1 order by n desc, hash limit 1", &look, fault);
    pen->n = 0;
    if (status != TW_OK)
        return status;
    tw_store_bind_text(look, 1, tw_units_text(pen->id));
    const int rc = sqlite3_step(look);
    if (rc == SQLITE_ROW && sqlite3_column_bytes(look, 1) == TW_SHA256_BYTES) {
        pen->n = (uint32_t)sqlite3_column_int64(look, 0);
        memcpy(pen->hash, sqlite3_column_blob(look, 1), TW_SHA256_BYTES);
    } else if (rc != SQLITE_DONE && rc != SQLITE_ROW) {
        status = tw_store_sql_fault(store, rc, fault);
    }
    (void)sqlite3_finalize(look);
    return status;
}

/* Where no state folder can be used the file itself says which writer belongs to which inode: a copy is found
 * out, an old copy put in its place is not. */
static int own_name(const tw_store *store, char name[96])
{
    struct stat file;
    if (stat(store->path, &file) != 0)
        return 0;
    (void)snprintf(name, 96, "writer %llu %llu", (unsigned long long)file.st_dev, (unsigned long long)file.st_ino);
    return 1;
}

/* The writer that may go on, 0 when there is none. */
static int may_go_on(tw_store *store, char id[TW_ID_BYTES])
{
    char name[NAME_BYTES];
    char own[96];
    struct stat file;
    note seen;
    size_t length = 0;
    if (store->state == NULL)
        return own_name(store, own) && tw_store_own_get(store, own, id, TW_ID_BYTES, &length, NULL) == TW_OK
            && length == TW_ID_CHARS;
    if (!note_name(store, name, &file) || !note_read(name, &seen) || !same_place(store, &seen, &file)
        || !holds(store, &seen))
        return 0;
    memcpy(id, seen.writer, TW_ID_BYTES);
    return 1;
}

tw_status tw_store_take_pen(tw_store *store, tw_store_pen *pen, tw_store_fault *fault)
{
    uint8_t random[10];
    struct timespec now;
    char own[96];
    if (may_go_on(store, pen->id))
        return last_of(store, pen, fault);
    if (!tw_store_random(random, sizeof random) || clock_gettime(CLOCK_REALTIME, &now) != 0)
        return tw_store_fault_set(fault, TW_STORE_IO, "no random bytes");
    tw_logbook_id_v7((uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u, random, pen->id);
    pen->n = 0;
    if (store->state == NULL && own_name(store, own))
        return tw_store_own_put(store, own, tw_units_text(pen->id), fault);
    return TW_OK;
}

void tw_store_note_pen(tw_store *store, const tw_store_pen *pen)
{
    char name[NAME_BYTES];
    char made[NAME_BYTES + 32];
    char path[PATH_MAX];
    char hash[TW_SHA256_HEX];
    struct stat file;
    note seen;
    if (!note_name(store, name, &file) || realpath(store->path, path) == NULL)
        return;
    /* Another process may have written and noted a later one since the commit. */
    if (note_read(name, &seen) && strcmp(seen.writer, pen->id) == 0 && seen.n >= pen->n)
        return;
    (void)snprintf(made, sizeof made, "%s.%ld", name, (long)getpid());
    FILE *out = fopen(made, "wb");
    if (out == NULL)
        return;
    tw_sha256_hex(pen->hash, hash);
    const int written = fprintf(out, "tubwright writer 1\nwriter %s\nlast %lu %s\ndevice %llu\npath %s\n", pen->id,
                                (unsigned long)pen->n, hash, (unsigned long long)file.st_dev, path);
    if (fclose(out) != 0 || written < 0 || rename(made, name) != 0)
        (void)unlink(made);
}

tw_status tw_store_writer(tw_store *store, char out[TW_ID_BYTES], tw_store_fault *fault)
{
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (!may_go_on(store, out))
        out[0] = '\0';
    return TW_OK;
}

int tw_store_lost(tw_store *store, tw_store_loss *out)
{
    char name[NAME_BYTES];
    struct stat file;
    note seen;
    tw_store_pen pen;
    if (!note_name(store, name, &file) || !note_read(name, &seen) || holds(store, &seen))
        return 0;
    memcpy(out->writer, seen.writer, TW_ID_BYTES);
    memcpy(pen.id, seen.writer, TW_ID_BYTES);
    out->had_n = seen.n;
    out->has_n = last_of(store, &pen, NULL) == TW_OK ? pen.n : 0;
    return 1;
}
