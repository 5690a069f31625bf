/* cli/backup.c: a copy of the logbook that was restored and replayed before it is called verified. */
#define _XOPEN_SOURCE 700

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/backups.h"
#include "store/grow.h"

#define STAMP_CHARS 16 /* 20260324T094000Z */
#define KEEP "3,7d,4w,12m"

void tw_cli_backup_folder(const tw_cli *cli, char *buf, size_t cap)
{
    const char *slash = strrchr(cli->logbook, '/');
    (void)snprintf(buf, cap, "%.*sbackups", slash != NULL ? (int)(slash - cli->logbook) + 1 : 0, cli->logbook);
}

/* "barn" of /home/me/barn.db. */
static void stem_of(const tw_cli *cli, char *buf, size_t cap)
{
    const char *slash = strrchr(cli->logbook, '/');
    const char *base = slash != NULL ? slash + 1 : cli->logbook;
    const size_t n = strlen(base);
    const size_t keep = n > 3 && strcmp(base + n - 3, ".db") == 0 ? n - 3 : n;
    (void)snprintf(buf, cap, "%.*s", (int)keep, base);
}

int tw_cli_backup_name(tw_cli *cli, char *buf, size_t cap)
{
    char folder[4352];
    char stem[512];
    tw_civil day;
    tw_cli_backup_folder(cli, folder, sizeof folder);
    stem_of(cli, stem, sizeof stem);
    if (mkdir(folder, 0700) != 0 && errno != EEXIST)
        return tw_cli_problem(cli, TW_EXIT_LOGBOOK, "no-folder", "there is no place for backups", folder);
    if (tw_units_time_civil((tw_time){cli->now.utc_s, 0}, &day) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_INTERNAL, "internal", "the clock is out of range", NULL);
    (void)snprintf(buf, cap, "%s/%s-%04d%02d%02dT%02d%02d%02dZ.db", folder, stem, day.year, day.month, day.day, day.hour, day.minute,
                   day.second);
    return 0;
}

/* The time in the name of a backup of this logbook. 0: it is none, and stays. */
static int time_in_name(const char *name, const char *stem, int64_t *at_s)
{
    const size_t n = strlen(stem);
    tw_civil day = {0, 0, 0, 0, 0, 0, 1};
    tw_time time;
    int used = 0;
    if (strncmp(name, stem, n) != 0 || name[n] != '-' || strlen(name + n + 1) != STAMP_CHARS + 3
        || sscanf(name + n + 1, "%4d%2d%2dT%2d%2d%2dZ.db%n", &day.year, &day.month, &day.day, &day.hour, &day.minute, &day.second, &used) != 6
        || used != STAMP_CHARS + 3 || tw_units_time_from_civil(&day, 0, &time) != TW_OK)
        return 0;
    *at_s = time.utc_s;
    return 1;
}

typedef struct {
    char (*name)[NAME_MAX_BYTES];
    int64_t *at_s;
    unsigned char *keep;
    size_t n, room[3];
} listing;

static void listing_free(listing *list)
{
    free(list->name);
    free(list->at_s);
    free(list->keep);
}

static int listing_add(listing *list, const char *name, int64_t at_s)
{
    if (!tw_store_grow(&list->name, &list->room[0], list->n + 1, sizeof *list->name) ||
        !tw_store_grow(&list->at_s, &list->room[1], list->n + 1, sizeof *list->at_s) || !tw_store_grow(&list->keep, &list->room[2], list->n + 1, 1))
        return 0;
    (void)snprintf(list->name[list->n], NAME_MAX_BYTES, "%s", name);
    list->at_s[list->n++] = at_s;
    return 1;
}

static int list_backups(const tw_cli *cli, const char *folder, listing *list)
{
    char stem[512];
    int good = 1;
    stem_of(cli, stem, sizeof stem);
    DIR *dir = opendir(folder);
    for (struct dirent *entry; good && dir != NULL && (entry = readdir(dir)) != NULL;) {
        int64_t at_s = 0;
        if (strlen(entry->d_name) < NAME_MAX_BYTES && time_in_name(entry->d_name, stem, &at_s))
            good = listing_add(list, entry->d_name, at_s);
    }
    if (dir != NULL)
        (void)closedir(dir);
    return good;
}

/* Take away what the rule does not keep, never the one that was made now. */
static size_t thin_out(const tw_cli *cli, const tw_store_keep *rule, const char *made)
{
    char folder[4352];
    char path[4352 + NAME_MAX_BYTES];
    listing list = {NULL, NULL, NULL, 0, {0, 0, 0}};
    size_t removed = 0;
    tw_cli_backup_folder(cli, folder, sizeof folder);
    if (list_backups(cli, folder, &list) && list.n > 0) {
        tw_store_keep_which(rule, list.at_s, list.n, list.keep);
        for (size_t i = 0; i < list.n; i++) {
            (void)snprintf(path, sizeof path, "%s/%s", folder, list.name[i]);
            removed += !list.keep[i] && strcmp(path, made) != 0 && unlink(path) == 0;
        }
    }
    listing_free(&list);
    return removed;
}

static void tell(tw_cli *cli, const char *path, const tw_store_sum *sum, size_t removed)
{
    char seal[TW_SHA256_HEX];
    tw_sha256_hex(sum->seal, seal);
    if (cli->json) {
        (void)fprintf(cli->out, "{\"file\": ");
        tw_cli_json_string(cli->out, path, strlen(path));
        (void)fprintf(cli->out, ", \"entries\": %llu, \"writers\": %zu, \"verified\": true, \"removed\": %zu, \"seal\": \"%s\"}\n",
                      (unsigned long long)sum->lines, sum->writers, removed, seal);
        return;
    }
    (void)fprintf(cli->out, "%s\n%llu entries by %zu writers\nverified: restored into a scratch file and replayed to the same seal\n", path,
                  (unsigned long long)sum->lines, sum->writers);
    if (removed > 0)
        (void)fprintf(cli->out, "%zu older ones removed by the rule of --keep\n", removed);
    (void)fprintf(cli->out, "seal %s\n", seal);
}

/* A file that is there is only replaced when that was said, and never the logbook itself. */
static int may_stand_there(tw_cli *cli, const char *path)
{
    struct stat file;
    struct stat logbook;
    if (stat(path, &file) != 0)
        return 0;
    if (stat(cli->logbook, &logbook) == 0 && file.st_ino == logbook.st_ino && file.st_dev == logbook.st_dev)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "same-file", "this is the logbook itself", "Name another file.");
    if (!S_ISREG(file.st_mode))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "no-plain-file", "this is no plain file", "Name a file, or none for the folder backups.");
    if (!cli->yes)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "there", "there is a file of this name", "With --yes a verified backup takes its place.");
    return 0;
}

int tw_cli_backup(tw_cli *cli, int argc, char **argv)
{
    const char *typed = cli->option[TW_OPTION_KEEP];
    char made[5000];
    const char *path = argc > 1 ? argv[1] : made;
    tw_store_keep rule;
    tw_store_sum sum;
    tw_store_fault fault;
    tw_store *store = NULL;
    if (argc > 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "one file is enough", "See tubwright backup --help");
    if (argc > 1 && typed != NULL)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "--keep is for the folder of backups", "Leave FILE out: backups then stand in a folder and are thinned out.");
    if (!tw_store_keep_read(tw_units_text(typed != NULL ? typed : KEEP), &rule))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "keep", "this is no rule", "For example 10 (the newest ten), or 3,7d,4w,12m.");
    int code = tw_cli_store_open(cli, TW_CLI_BOOK_READ, &store);
    if (code == 0 && store == NULL)
        code = tw_cli_problem(cli, TW_EXIT_LOGBOOK, "no-file", "there is no logbook yet", cli->logbook);
    if (code == 0)
        code = argc > 1 ? may_stand_there(cli, path) : tw_cli_backup_name(cli, made, sizeof made);
    if (code == 0 && tw_store_backup(store, path, &sum, &fault) != TW_OK)
        code = tw_cli_store_problem(cli, &fault, path);
    tw_store_close(store);
    if (code == 0)
        tell(cli, path, &sum, argc > 1 ? 0 : thin_out(cli, &rule, path));
    return code;
}
