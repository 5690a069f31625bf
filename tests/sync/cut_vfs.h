/* tests/sync/cut_vfs.h: files that die in the middle of a write, and disks that lose what was not synced.
 *
 * A layer over SQLite's own way to the disk. A cut counts the writes, cuts and syncs of the files of one folder; at the last of
 * them half a write is done, and from then on that folder can be read and no longer written: a process that was killed.
 * With power lost as well, what was written since each file's last sync is undone when the file is closed, from some
 * write on. */
#ifndef TW_TESTS_SYNC_CUT_VFS_H
#define TW_TESTS_SYNC_CUT_VFS_H

#include <sqlite3.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is about to happen to whom. */
static struct {
    char folder[256];
    long left;     /* writes until it dies; -1: it does not */
    int dead;
    int power;     /* 1: what was not synced is lost        */
    uint64_t luck; /* how much of it                        */
    long died;     /* how often so far                      */
} cut = {"", -1, 0, 0, 0, 0};

/* Bytes as they were before a write since the last sync; n 0: the file was `at` long. */
typedef struct cut_undo {
    struct cut_undo *before;
    sqlite3_int64 at;
    int n;
    unsigned char was[];
} cut_undo;

typedef struct {
    sqlite3_file base;
    sqlite3_file *real;
    const char *name;
    cut_undo *undo;
    long undos;
} cut_file;

static sqlite3_vfs *cut_under;

static int cut_is_meant(const cut_file *file)
{
    return file->name != NULL && cut.folder[0] != '\0' && strncmp(file->name, cut.folder, strlen(cut.folder)) == 0;
}

/* One more write. 0: go on; 1: this is the one in which it dies; 2: it is dead. */
static int cut_count(const cut_file *file)
{
    if (!cut_is_meant(file))
        return 0;
    if (cut.dead)
        return 2;
    if (cut.left < 0 || cut.left-- > 0)
        return 0;
    cut.dead = 1;
    cut.died++;
    return 1;
}

static void cut_remember(cut_file *file, sqlite3_int64 at, int n)
{
    sqlite3_int64 size = 0;
    if (!cut_is_meant(file) || file->real->pMethods->xFileSize(file->real, &size) != SQLITE_OK)
        return;
    const sqlite3_int64 there = at >= size ? 0 : size - at < n ? size - at : n;
    for (int part = 0; part < 2; part++) { /* the length first, so that it is the last to be undone */
        const int bytes = part == 0 ? 0 : (int)there;
        if (part == 1 && bytes == 0)
            break;
        cut_undo *undo = malloc(sizeof *undo + (size_t)bytes);
        if (undo == NULL)
            abort();
        undo->before = file->undo;
        undo->at = part == 0 ? size : at;
        undo->n = bytes;
        if (bytes > 0 && file->real->pMethods->xRead(file->real, undo->was, bytes, at) != SQLITE_OK)
            abort();
        file->undo = undo;
        file->undos++;
    }
}

static void cut_forget(cut_file *file, int undone)
{
    long keep = undone && cut.power && file->undos > 0 ? (long)(cut.luck % (uint64_t)(file->undos + 1)) : file->undos;
    while (file->undo != NULL) {
        cut_undo *undo = file->undo;
        if (file->undos > keep) {
            if (undo->n == 0)
                (void)file->real->pMethods->xTruncate(file->real, undo->at);
            else
                (void)file->real->pMethods->xWrite(file->real, undo->was, undo->n, undo->at);
        }
        file->undos--;
        file->undo = undo->before;
        free(undo);
    }
}

static int cut_close(sqlite3_file *base)
{
    cut_file *file = (cut_file *)base;
    cut_forget(file, cut_is_meant(file) && cut.dead);
    const int rc = file->real->pMethods->xClose(file->real);
    free(file->real);
    return rc;
}

static int cut_read(sqlite3_file *base, void *to, int n, sqlite3_int64 at)
{
    cut_file *file = (cut_file *)base;
    return file->real->pMethods->xRead(file->real, to, n, at);
}

static int cut_write(sqlite3_file *base, const void *from, int n, sqlite3_int64 at)
{
    cut_file *file = (cut_file *)base;
    const int how = cut_count(file);
    if (how == 2)
        return SQLITE_IOERR_WRITE;
    cut_remember(file, at, n);
    const int rc = file->real->pMethods->xWrite(file->real, from, how == 1 ? n / 2 : n, at);
    return how == 1 ? SQLITE_IOERR_WRITE : rc;
}

static int cut_truncate(sqlite3_file *base, sqlite3_int64 size)
{
    cut_file *file = (cut_file *)base;
    sqlite3_int64 was = 0;
    if (cut_count(file) != 0)
        return SQLITE_IOERR_TRUNCATE;
    if (cut_is_meant(file) && file->real->pMethods->xFileSize(file->real, &was) == SQLITE_OK && was > size)
        cut_remember(file, size, (int)(was - size));
    return file->real->pMethods->xTruncate(file->real, size);
}

static int cut_sync(sqlite3_file *base, int flags)
{
    cut_file *file = (cut_file *)base;
    if (cut_count(file) != 0)
        return SQLITE_IOERR_FSYNC;
    const int rc = file->real->pMethods->xSync(file->real, flags);
    cut_forget(file, 0);
    return rc;
}

#define CUT_THROUGH(name, args, call)                         \
    static int name args                                      \
    {                                                         \
        sqlite3_file *real = ((cut_file *)base)->real;        \
        return real->pMethods->call;                          \
    }
CUT_THROUGH(cut_size, (sqlite3_file *base, sqlite3_int64 *size), xFileSize(real, size))
CUT_THROUGH(cut_lock, (sqlite3_file *base, int kind), xLock(real, kind))
CUT_THROUGH(cut_unlock, (sqlite3_file *base, int kind), xUnlock(real, kind))
CUT_THROUGH(cut_reserved, (sqlite3_file *base, int *out), xCheckReservedLock(real, out))
CUT_THROUGH(cut_control, (sqlite3_file *base, int what, void *arg), xFileControl(real, what, arg))
CUT_THROUGH(cut_sector, (sqlite3_file *base), xSectorSize(real))
CUT_THROUGH(cut_traits, (sqlite3_file *base), xDeviceCharacteristics(real))
CUT_THROUGH(cut_shm_map, (sqlite3_file *base, int page, int size, int extend, void volatile **out),
            xShmMap(real, page, size, extend, out))
CUT_THROUGH(cut_shm_lock, (sqlite3_file *base, int at, int n, int flags), xShmLock(real, at, n, flags))
CUT_THROUGH(cut_shm_unmap, (sqlite3_file *base, int drop), xShmUnmap(real, drop))

static void cut_barrier(sqlite3_file *base)
{
    sqlite3_file *real = ((cut_file *)base)->real;
    real->pMethods->xShmBarrier(real);
}

static const sqlite3_io_methods CUT_METHODS = {
    2, cut_close, cut_read, cut_write, cut_truncate, cut_sync, cut_size, cut_lock, cut_unlock, cut_reserved, cut_control,
    cut_sector, cut_traits, cut_shm_map, cut_shm_lock, cut_barrier, cut_shm_unmap, NULL, NULL,
};

static int cut_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *base, int flags, int *out)
{
    cut_file *file = (cut_file *)base;
    (void)vfs;
    memset(file, 0, sizeof *file);
    file->real = calloc(1, (size_t)cut_under->szOsFile);
    if (file->real == NULL)
        abort();
    file->name = name;
    const int rc = cut_under->xOpen(cut_under, name, file->real, flags, out);
    if (rc == SQLITE_OK)
        file->base.pMethods = &CUT_METHODS;
    else
        free(file->real);
    return rc;
}

/* The dead remove nothing. */
static int cut_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
    (void)vfs;
    if (cut.dead && cut.folder[0] != '\0' && strncmp(name, cut.folder, strlen(cut.folder)) == 0)
        return SQLITE_IOERR_DELETE;
    return cut_under->xDelete(cut_under, name, sync);
}

static sqlite3_vfs cut_vfs;

/* Put the layer in. */
static inline void cut_install(void)
{
    cut_under = sqlite3_vfs_find(NULL);
    cut_vfs = *cut_under;
    cut_vfs.szOsFile = (int)sizeof(cut_file);
    cut_vfs.zName = "cut";
    cut_vfs.xOpen = cut_open;
    cut_vfs.xDelete = cut_delete;
    if (sqlite3_vfs_register(&cut_vfs, 1) != SQLITE_OK)
        abort();
}

/* The files of this folder die in the write after so many; with power they lose what was not synced. */
static inline void cut_set(const char *folder, long writes, int power, uint64_t luck)
{
    (void)snprintf(cut.folder, sizeof cut.folder, "%s/", folder);
    cut.left = writes;
    cut.dead = 0;
    cut.power = power;
    cut.luck = luck;
}

/* Whether it died; the next opening is a new process on a running machine. */
static inline int cut_end(void)
{
    const int died = cut.dead;
    cut.folder[0] = '\0';
    cut.left = -1;
    cut.dead = 0;
    cut.power = 0;
    return died;
}

#endif
