/* tests/torture/appender.c: a program that writes into a logbook and says so, for tests of crashes.
 *
 *   appender write LOGBOOK STATE FIRST COUNT [OPTION...]   append COUNT entries of its own, one by one
 *       sessions=N    close and open again N times on the way
 *       checkpoint=N  bring the log into the file after N pages (SQLite's own default is 1000)
 *       batch=N       N entries at once
 *       normal        a planted mistake: synchronous=NORMAL
 *       wait          wait for a line on standard input before the first one
 *   appender check          for each path on standard input: open, look at the file and at all chains,
 *                           print "ENTRIES WRITERS ID..." or "bad WHY"
 *
 * Each acknowledgement "n ID" goes out by write(2) after the store has said that it is on the disk. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "logbook/book.h"
#include "logbook/chain.h"
#include "logbook/compose.h"
#include "store/internal.h"

#define MOST 64

static int said(const tw_store_fault *fault)
{
    (void)fprintf(stderr, "%s: %s\n", tw_store_trouble_name(fault->id), fault->detail);
    return 1;
}

static const char *option(int argc, char **argv, const char *name)
{
    for (int i = 6; i < argc; i++) {
        const size_t n = strlen(name);
        if (strncmp(argv[i], name, n) == 0 && (argv[i][n] == '=' || argv[i][n] == '\0'))
            return argv[i][n] == '=' ? argv[i] + n + 1 : argv[i];
    }
    return NULL;
}

static int number(int argc, char **argv, const char *name, int otherwise)
{
    const char *given = option(argc, argv, name);
    return given != NULL ? atoi(given) : otherwise;
}

/* A reading with a remark, so that entries differ in length and some fill more than a page. */
static size_t draft(unsigned which, char *buf, size_t cap)
{
    char id[TW_ID_BYTES];
    char remark[420];
    size_t length = 0;
    const size_t n = which * 97 % 400 + 1;
    (void)snprintf(id, sizeof id, "01890000-0000-7000-8000-%012u", which);
    memset(remark, 'x', n);
    const tw_typed typed[] = {
        {TW_TEXT("id"), {id, TW_ID_CHARS}},
        {TW_TEXT("kind"), TW_TEXT("reading")},
        {TW_TEXT("tub"), TW_TEXT("01890000-0000-7000-8000-00000000000a")},
        {TW_TEXT("at"), TW_TEXT("2026-03-24T10:40:00+01:00")},
        {TW_TEXT("entered"), TW_TEXT("2026-03-24T10:40:00+01:00")},
        {TW_TEXT("analyte"), TW_TEXT("ph")},
        {TW_TEXT("form"), TW_TEXT("value")},
        {TW_TEXT("value"), TW_TEXT("7.4")},
        {TW_TEXT("remark"), {remark, n}},
    };
    if (tw_logbook_compose(typed, sizeof typed / sizeof *typed, TW_CHECK_DRAFT, buf, cap, &length, NULL) != TW_OK)
        abort();
    return length;
}

static tw_status acknowledge(void *to, tw_text line)
{
    char text[96];
    const char *id = strstr(line.at, "\"id\":\"");
    const char *n = strstr(line.at, "\"n\":\"");
    (void)to;
    const int length = snprintf(text, sizeof text, "%ld %.36s\n", strtol(n + 5, NULL, 10), id + 6);
    return write(1, text, (size_t)length) == length ? TW_OK : TW_ERR_IO;
}

static tw_store *open_it(int argc, char **argv)
{
    tw_store *store = NULL;
    tw_store_fault fault;
    char pragma[64];
    if (tw_store_open(argv[2], TW_STORE_WRITE | TW_STORE_MAKE, argv[3], &store, &fault) != TW_OK) {
        (void)said(&fault);
        return NULL;
    }
    (void)snprintf(pragma, sizeof pragma, "pragma wal_autocheckpoint = %d", number(argc, argv, "checkpoint", 1000));
    (void)sqlite3_exec(store->db, pragma, NULL, NULL, NULL);
    if (option(argc, argv, "normal") != NULL)
        (void)sqlite3_exec(store->db, "pragma synchronous = normal", NULL, NULL, NULL);
    return store;
}

static int write_entries(int argc, char **argv)
{
    static char buf[MOST][1024];
    tw_text text[MOST];
    tw_store_fault fault;
    const int first = atoi(argv[4]);
    const int count = atoi(argv[5]);
    const int batch = number(argc, argv, "batch", 1);
    const int each = count / number(argc, argv, "sessions", 1);
    char line[8];
    if (option(argc, argv, "wait") != NULL && fgets(line, sizeof line, stdin) == NULL)
        return 1;
    tw_store *store = open_it(argc, argv);
    for (int done = 0; store != NULL && done < count; done += batch) {
        if (done > 0 && done % each == 0) {
            tw_store_close(store);
            store = open_it(argc, argv);
            if (store == NULL)
                return 1;
        }
        for (int i = 0; i < batch && i < MOST; i++)
            text[i] = (tw_text){buf[i], draft((unsigned)(first + done + i), buf[i], sizeof buf[i])};
        if (tw_store_append_own(store, text, (size_t)batch, acknowledge, NULL, &fault) != TW_OK) {
            tw_store_close(store);
            return said(&fault);
        }
    }
    const int good = store != NULL;
    tw_store_close(store);
    return good ? 0 : 1;
}

static tw_status into_book(void *to, tw_text line)
{
    return tw_logbook_book_add_line(to, line, NULL, NULL);
}

static void check_one(const char *path)
{
    static char mem[24u << 20];
    tw_store *store = NULL;
    tw_store_fault fault;
    tw_store_cursor cursor = {0};
    tw_book *book = NULL;
    size_t troubles = 0;
    size_t heads = 0;
    const size_t text = 1u << 20;
    if (tw_logbook_book_init(mem, sizeof mem, 2000, text, &book) != TW_OK)
        abort();
    if (tw_store_open(path, TW_STORE_READ, NULL, &store, &fault) != TW_OK || tw_store_check(store, &fault) != TW_OK
        || tw_store_since(store, &cursor, into_book, book, &fault) != TW_OK) {
        (void)printf("bad %s %s\n", tw_store_trouble_name(fault.id), fault.detail);
        tw_store_close(store);
        return;
    }
    tw_store_close(store);
    (void)tw_logbook_chain_verify(book, NULL, 0, &troubles);
    (void)tw_logbook_chain_heads(book, NULL, 0, &heads);
    if (troubles > 0) {
        (void)printf("bad chains %zu\n", troubles);
        return;
    }
    (void)printf("%zu %zu", tw_logbook_book_count(book), heads);
    for (size_t i = 0; i < tw_logbook_book_count(book); i++)
        (void)printf(" %.*s", 36, tw_logbook_book_at(book, i)->id.at);
    (void)printf("\n");
}

int main(int argc, char **argv)
{
    char path[4096];
    if (argc > 5 && strcmp(argv[1], "write") == 0)
        return write_entries(argc, argv);
    if (argc != 2 || strcmp(argv[1], "check") != 0)
        return 2;
    while (fgets(path, sizeof path, stdin) != NULL) {
        path[strcspn(path, "\n")] = '\0';
        check_one(path);
        (void)fflush(stdout);
    }
    return 0;
}
