/* tests/torture/record.c: a library to preload, between a program and its disk.
 *
 *   TW_RECORD=FILE   note every write, cut, sync, new name and removed name of logbook files, and
 *                    every write to standard output (an acknowledgement), in order
 *   TW_FAULT=CALL:N:ERROR[:on]   let the N-th such call on a logbook file fail (fdatasync:3:EIO), with "on"
 *                    all after it as well; ERROR may be KILL: half of the write, then SIGKILL
 *
 * Logbook files are those whose name holds ".db". System calls are made directly, so nothing else of
 * the C library is needed. For programs of one thread. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#define FDS 1024

typedef struct {
    uint32_t type; /* 'o' open (payload: name), 'w' write, 't' cut to offset, 's' sync, 'd' folder's sync,
                      'l' link (two names), 'r' rename (two names), 'u' unlink (name), 'a' acknowledgement */
    uint32_t bytes;
    uint64_t file, offset;
} event;

static int log_fd = -2;
static uint64_t inode_of[FDS]; /* 0: not a logbook file */
static int is_folder[FDS];

static const char *fault_call;
static long fault_at;
static int fault_error, fault_on, fault_kill;

static void set_up(void)
{
    static char text[128];
    if (log_fd != -2)
        return;
    log_fd = -1;
    const char *path = getenv("TW_RECORD");
    const char *fault = getenv("TW_FAULT");
    if (path != NULL)
        log_fd = (int)syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (fault == NULL || strlen(fault) >= sizeof text)
        return;
    strcpy(text, fault);
    fault_call = strtok(text, ":");
    const char *at = strtok(NULL, ":");
    const char *error = strtok(NULL, ":");
    fault_on = strtok(NULL, ":") != NULL;
    fault_at = at != NULL ? atol(at) : 0;
    fault_kill = error != NULL && strcmp(error, "KILL") == 0;
    fault_error = error != NULL && strcmp(error, "ENOSPC") == 0 ? ENOSPC : EIO;
}

static void note(uint32_t type, uint64_t file, uint64_t offset, const void *payload, size_t n)
{
    const event e = {type, (uint32_t)n, file, offset};
    if (log_fd < 0)
        return;
    (void)!syscall(SYS_write, log_fd, &e, sizeof e);
    if (n > 0)
        (void)!syscall(SYS_write, log_fd, payload, n);
}

static void note_two(uint32_t type, const char *a, const char *b)
{
    char both[8192];
    const size_t n = strlen(a);
    const size_t m = strlen(b);
    if (n + m + 1 > sizeof both)
        return;
    memcpy(both, a, n + 1);
    memcpy(both + n + 1, b, m);
    note(type, 0, 0, both, n + m + 1);
}

/* 1 when this call is to fail. */
static int fails(const char *call)
{
    set_up();
    if (fault_call == NULL || strcmp(call, fault_call) != 0)
        return 0;
    fault_at--;
    return fault_at == 0 || (fault_at < 0 && fault_on);
}

static int file_of(int fd)
{
    return fd >= 0 && fd < FDS && inode_of[fd] != 0;
}

static int opened(const char *path, int flags, mode_t mode)
{
    struct stat file;
    set_up();
    if (strstr(path, ".db") != NULL && (flags & O_CREAT) != 0 && fails("open64")) {
        errno = fault_error;
        return -1;
    }
    const int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (fd < 0 || fd >= FDS)
        return fd;
    inode_of[fd] = 0;
    is_folder[fd] = 0;
    if (fstat(fd, &file) != 0)
        return fd;
    is_folder[fd] = S_ISDIR(file.st_mode);
    if (S_ISREG(file.st_mode) && strstr(path, ".db") != NULL && strstr(path, "-shm") == NULL) {
        inode_of[fd] = file.st_ino;
        if ((flags & O_ACCMODE) != O_RDONLY)
            note('o', file.st_ino, (flags & O_CREAT) != 0, path, strlen(path));
    }
    return fd;
}

int open64(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(more, mode_t) : 0;
    va_end(more);
    return opened(path, flags, mode);
}

int open(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(more, mode_t) : 0;
    va_end(more);
    return opened(path, flags, mode);
}

int close(int fd)
{
    if (fd >= 0 && fd < FDS)
        inode_of[fd] = 0, is_folder[fd] = 0;
    return (int)syscall(SYS_close, fd);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t offset)
{
    if (file_of(fd) && fails("pwrite64")) {
        if (fault_kill) {
            (void)!syscall(SYS_pwrite64, fd, bytes, n / 2, offset);
            (void)kill(getpid(), SIGKILL);
        }
        errno = fault_error;
        return -1;
    }
    const ssize_t done = (ssize_t)syscall(SYS_pwrite64, fd, bytes, n, offset);
    if (file_of(fd) && done > 0)
        note('w', inode_of[fd], (uint64_t)offset, bytes, (size_t)done);
    return done;
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t offset)
{
    return pwrite64(fd, bytes, n, offset);
}

ssize_t write(int fd, const void *bytes, size_t n)
{
    const ssize_t done = (ssize_t)syscall(SYS_write, fd, bytes, n);
    set_up();
    if (fd == 1 && done > 0)
        note('a', 0, 0, bytes, (size_t)done);
    return done;
}

int ftruncate64(int fd, off64_t size)
{
    if (file_of(fd) && fails("ftruncate64")) {
        errno = fault_error;
        return -1;
    }
    const int done = (int)syscall(SYS_ftruncate, fd, size);
    if (file_of(fd) && done == 0)
        note('t', inode_of[fd], (uint64_t)size, NULL, 0);
    return done;
}

int ftruncate(int fd, off_t size)
{
    return ftruncate64(fd, size);
}

static int synced(int fd, const char *call, long number)
{
    if (file_of(fd) && fails(call)) {
        if (fault_kill)
            (void)kill(getpid(), SIGKILL);
        errno = fault_error;
        return -1;
    }
    const int done = (int)syscall(number, fd);
    if (done == 0 && fd >= 0 && fd < FDS && is_folder[fd])
        note('d', 0, 0, NULL, 0);
    else if (done == 0 && file_of(fd))
        note('s', inode_of[fd], 0, NULL, 0);
    return done;
}

int fdatasync(int fd)
{
    return synced(fd, "fdatasync", SYS_fdatasync);
}

int fsync(int fd)
{
    return synced(fd, "fsync", SYS_fsync);
}

int unlink(const char *path)
{
    const int done = (int)syscall(SYS_unlink, path);
    set_up();
    if (done == 0 && strstr(path, ".db") != NULL && strstr(path, "-shm") == NULL)
        note('u', 0, 0, path, strlen(path));
    return done;
}

int link(const char *from, const char *to)
{
    const int done = (int)syscall(SYS_linkat, AT_FDCWD, from, AT_FDCWD, to, 0);
    set_up();
    if (done == 0)
        note_two('l', from, to);
    return done;
}

int rename(const char *from, const char *to)
{
    const int done = (int)syscall(SYS_renameat, AT_FDCWD, from, AT_FDCWD, to);
    set_up();
    if (done == 0 && strstr(to, ".db") != NULL)
        note_two('r', from, to);
    return done;
}
