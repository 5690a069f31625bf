/* cli/restore.c: a backup is put back, after it was shown what that replaces. */
#define _XOPEN_SOURCE 700

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/backups.h"

/* What is, what would be, and what would be gone. */
typedef struct {
    tw_store_sum now, then;
    int is_there;      /* 1: there is a logbook that can be read      */
    uint64_t gone;     /* entries of it that the backup does not have */
    tw_store *backup;  /* while it is compared                        */
    char kept[5000];   /* copy of the logbook as it was, "" when none */
} exchange;

static tw_status count_gone(void *to, tw_text line)
{
    exchange *x = to;
    uint8_t hash[TW_SHA256_BYTES];
    int there = 0;
    tw_sha256(line.at, line.n, hash);
    const tw_status status = tw_store_has(x->backup, hash, &there, NULL);
    x->gone += !there;
    return status;
}

/* The backup must be whole before anything is asked. */
static int look_at_backup(tw_cli *cli, const char *path, exchange *x)
{
    tw_store_fault fault;
    if (tw_store_open(path, TW_STORE_READ, NULL, &x->backup, &fault) != TW_OK || tw_store_replay(x->backup, &x->then, &fault) != TW_OK)
        return tw_cli_store_problem(cli, &fault, path);
    return 0;
}

/* A logbook that is damaged or not there is no reason to stop: that is what backups are for. */
static int look_at_logbook(tw_cli *cli, exchange *x)
{
    tw_store *store = NULL;
    tw_store_fault fault;
    tw_store_cursor from = {0};
    const tw_status opened = tw_store_open(cli->logbook, TW_STORE_READ, NULL, &store, &fault);
    if (opened == TW_OK && tw_store_sum_up(store, &x->now, &fault) == TW_OK
        && tw_store_since(store, &from, count_gone, x, &fault) == TW_OK)
        x->is_there = 1;
    tw_store_close(store);
    return opened == TW_ERR_LOCKED || opened == TW_ERR_IO ? tw_cli_store_problem(cli, &fault, cli->logbook) : 0;
}

static void show(tw_cli *cli, const char *path, const exchange *x)
{
    FILE *out = cli->json ? cli->err : cli->out;
    (void)fprintf(out, "%s\n", cli->logbook);
    if (x->is_there)
        (void)fprintf(out, "  now   %llu entries by %zu writers\n", (unsigned long long)x->now.lines, x->now.writers);
    else
        (void)fprintf(out, "  now   no logbook that can be read\n");
    (void)fprintf(out, "  then  %llu entries by %zu writers, from %s\n", (unsigned long long)x->then.lines, x->then.writers, path);
    if (x->gone > 0)
        (void)fprintf(out, "%llu %s now would be gone. Other devices that have it bring it back.\n"
                      "To add what the backup has, and lose nothing:\n  tubwright export --logbook %s more.jsonl && tubwright import more.jsonl\n",
                      (unsigned long long)x->gone, x->gone == 1 ? "entry that is there" : "entries that are there", path);
    else if (x->is_there)
        (void)fprintf(out, "No entry would be gone.\n");
}

/* With --yes, or a y on a terminal. */
static int agreed(tw_cli *cli)
{
    char line[32];
    if (cli->yes)
        return 1;
    if (cli->json || !isatty(fileno(cli->in)))
        return 0;
    (void)fprintf(cli->out, "%s ", tw_cli_say(cli, "Put it back? y or n:"));
    (void)fflush(cli->out);
    return fgets(line, sizeof line, cli->in) != NULL && (strcmp(line, "y\n") == 0 || strcmp(line, "yes\n") == 0);
}

/* The logbook as it is, kept before it is replaced. */
static int keep_now(tw_cli *cli, exchange *x)
{
    tw_store *store = NULL;
    tw_store_fault fault;
    char name[4900];
    int taken = 1;
    int code = tw_cli_backup_name(cli, name, sizeof name);
    for (int i = 1; code == 0 && taken; i++) {
        (void)snprintf(x->kept, sizeof x->kept, "%s.replaced-%d", name, i);
        taken = access(x->kept, F_OK) == 0;
    }
    if (code == 0) {
        if (tw_store_open(cli->logbook, TW_STORE_READ, NULL, &store, &fault) != TW_OK
            || tw_store_backup(store, x->kept, NULL, &fault) != TW_OK)
            code = tw_cli_store_problem(cli, &fault, x->kept);
    }
    tw_store_close(store);
    return code;
}

static void tell(tw_cli *cli, const exchange *x)
{
    char seal[TW_SHA256_HEX];
    tw_sha256_hex(x->then.seal, seal);
    if (cli->json) {
        (void)fprintf(cli->out, "{\"entries\": %llu, \"writers\": %zu, \"gone\": %llu, \"kept\": ", (unsigned long long)x->then.lines,
                      x->then.writers, (unsigned long long)x->gone);
        tw_cli_json_string(cli->out, x->kept, strlen(x->kept));
        (void)fprintf(cli->out, ", \"seal\": \"%s\"}\n", seal);
        return;
    }
    (void)fprintf(cli->out, "restored: %llu entries by %zu writers; what is written next is a new writer's\n", (unsigned long long)x->then.lines,
                  x->then.writers);
    if (x->kept[0] != '\0')
        (void)fprintf(cli->out, "what was there before is kept as %s\n", x->kept);
    (void)fprintf(cli->out, "seal %s\n", seal);
}

int tw_cli_restore(tw_cli *cli, int argc, char **argv)
{
    static exchange x; /* large */
    tw_store_fault fault;
    char aside[4500];
    memset(&x, 0, sizeof x);
    if (argc != 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "which backup?", "tubwright restore FILE");
    int code = look_at_backup(cli, argv[1], &x);
    if (code == 0)
        code = look_at_logbook(cli, &x);
    tw_store_close(x.backup);
    if (code != 0)
        return code;
    if (!cli->json || !cli->yes)
        show(cli, argv[1], &x);
    if (!agreed(cli))
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "not-said", "nothing was restored", "Say so with --yes.");
    if (x.is_there)
        code = keep_now(cli, &x);
    if (code == 0 && tw_store_restore(argv[1], cli->logbook, aside, sizeof aside, &x.then, &fault) != TW_OK)
        code = tw_cli_store_problem(cli, &fault, cli->logbook);
    if (code != 0)
        return code;
    if (aside[0] != '\0')
        (void)snprintf(x.kept, sizeof x.kept, "%s", aside);
    tell(cli, &x);
    return 0;
}
