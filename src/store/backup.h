/* store/backup.h: copies of a logbook that are known to be good, and the way back.
 *
 * A backup is a logbook file like any other, made while others read and write. It stands under its name only after it
 * was restored into a scratch file and replayed line by line to the seal of the logbook at that moment. */
#ifndef TW_STORE_BACKUP_H
#define TW_STORE_BACKUP_H

#include "store/store.h"

/* What a logbook comes to. */
typedef struct {
    uint64_t lines;
    size_t writers;
    uint8_t seal[TW_SHA256_BYTES];
} tw_store_sum;

/* Of the links of all chains, without the lines. */
tw_status tw_store_sum_up(tw_store *store, tw_store_sum *out, tw_store_fault *fault);

/* The same from every line, as a core replays them: the file is looked at (tw_store_check), each line read, linked and sealed.
 * TW_ERR_DAMAGED: a line is none any more. */
tw_status tw_store_replay(tw_store *store, tw_store_sum *out, tw_store_fault *fault);

/* Copy the logbook as it is now into a new file. Others may read and write meanwhile. A file of this name is replaced, at once
 * and only by a verified one.
 *   out  what was copied, and replayed; may be NULL
 * TW_OK: the file is there and verified. Anything else: there is no new file, and one that was there is unchanged. */
tw_status tw_store_backup(tw_store *store, const char *path, tw_store_sum *out, tw_store_fault *fault);

/* Put a backup in the place of a logbook, which goes on under a new writer. The file of the backup stays as it is.
 *   path   of the logbook; it may be missing, or damaged: then what is there is put aside first
 *   aside  name under which a damaged one was put aside, "" when none was
 * TW_ERR_LOCKED: another program has the logbook open. On anything but TW_OK the logbook is as it was. */
tw_status tw_store_restore(const char *backup, const char *path, char *aside, size_t cap, tw_store_sum *out, tw_store_fault *fault);

/* How many backups to keep: the newest `last`, and of each of the newest so many days, weeks and months (of UTC) in which
 * there is one, the newest of it. */
typedef struct {
    unsigned last, days, weeks, months;
} tw_store_keep;

/* Which of n backups, made at these seconds since 1970 in any order, to keep: keep[i] is set to 1 or 0. */
void tw_store_keep_which(const tw_store_keep *rule, const int64_t *at_s, size_t n, unsigned char *keep);

/* Read "3,7d,4w,12m" (any of the four, each once). 0: it is none. */
int tw_store_keep_read(tw_text text, tw_store_keep *out);

#endif
