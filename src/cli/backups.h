/* cli/backups.h: where backups stand when no file is named: a folder beside the logbook. */
#ifndef TW_CLI_BACKUPS_H
#define TW_CLI_BACKUPS_H

#include "cli/book_io.h"
#include "store/backup.h"

#define NAME_MAX_BYTES 256 /* of a file's name, with its zero */

/* The folder: "backups" beside the logbook. */
void tw_cli_backup_folder(const tw_cli *cli, char *buf, size_t cap);

/* The name of a backup made now; its folder is made. 0, or the exit code after the problem was told. */
int tw_cli_backup_name(tw_cli *cli, char *buf, size_t cap);

#endif
