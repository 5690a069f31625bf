/* cli/book_io.c: the logbook is opened, read into a core, and written. */
#define _XOPEN_SOURCE 700

#include "cli/book_io.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "serve/crew.h"

int tw_cli_store_problem(tw_cli *cli, const tw_store_fault *fault, const char *what)
{
    char detail[TW_STORE_DETAIL_BYTES + 4608];
    const char *members[][2] = {{"logbook", what}};
    const tw_exit exit = fault->status == TW_ERR_NEWER ? TW_EXIT_NEWER
        : fault->id == TW_STORE_ENTRY ? TW_EXIT_BAD_INPUT : TW_EXIT_LOGBOOK;
    (void)snprintf(detail, sizeof detail, "%s%s%s\n%s", what, fault->detail[0] != '\0' ? ": " : "", fault->detail,
                   tw_store_trouble_remedy(fault->id));
    return tw_cli_problem_with(cli, exit, tw_store_trouble_name(fault->id), tw_store_trouble_text(fault->id), detail, 1,
                               (const char *const (*)[2])members);
}

void tw_cli_state_folder(char *buf, size_t cap)
{
    const char *state = getenv("XDG_STATE_HOME");
    const char *home = getenv("HOME");
    int n = 0;
    if (state != NULL && state[0] == '/')
        n = snprintf(buf, cap, "%s/tubwright/writers", state);
    else if (home != NULL && home[0] == '/')
        n = snprintf(buf, cap, "%s/.local/state/tubwright/writers", home);
    if (n <= 0 || (size_t)n >= cap)
        buf[0] = '\0';
}

/* The folder of the default logbook, with all folders above it. What fails is told by opening. */
static void make_folder(const char *logbook)
{
    char path[sizeof((tw_cli *)0)->path];
    (void)snprintf(path, sizeof path, "%s", logbook);
    for (char *at = path + 1; *at != '\0'; at++)
        if (*at == '/') {
            *at = '\0';
            (void)mkdir(path, 0700);
            *at = '/';
        }
}

int tw_cli_store_open(tw_cli *cli, tw_cli_book_use use, tw_store **out)
{
    char state[4096];
    tw_store_fault fault;
    const unsigned flags = use == TW_CLI_BOOK_READ ? TW_STORE_READ : TW_STORE_WRITE | TW_STORE_MAKE;
    tw_cli_state_folder(state, sizeof state);
    if (use != TW_CLI_BOOK_READ && !cli->logbook_given)
        make_folder(cli->logbook);
    if (tw_store_open(cli->logbook, flags, state, out, &fault) == TW_OK)
        return 0;
    /* Nobody has begun yet: that is an empty logbook, unless one was named. */
    if (use == TW_CLI_BOOK_READ && !cli->logbook_given
        && (fault.id == TW_STORE_NO_FILE || fault.id == TW_STORE_NO_FOLDER))
        return 0;
    return tw_cli_store_problem(cli, &fault, cli->logbook);
}

/* What reading into a core ended with. */
static int told(tw_cli *cli, tw_status status, const tw_store_fault *fault)
{
    if (status == TW_OK)
        return 0;
    return fault->id != TW_STORE_FINE ? tw_cli_store_problem(cli, fault, cli->logbook)
                                      : tw_cli_trouble(cli, (int)status, cli->logbook);
}

/* The core answers in the language that was asked for. */
static int speak(tw_cli *cli, tw_core *core)
{
    char fault[TW_LANGUAGE_FAULT];
    if (cli->language == NULL || tw_core_language(core, cli->language->bytes, cli->language->n, fault, sizeof fault) == TW_OK)
        return 0;
    return tw_cli_problem(cli, TW_EXIT_INTERNAL, "internal", "the language does not fit this program", fault);
}

int tw_cli_book_open(tw_cli *cli, tw_cli_book_use use, tw_cli_book *out)
{
    tw_store_fault fault;
    memset(out, 0, sizeof *out);
    const int trouble = tw_cli_store_open(cli, use, &out->store);
    out->writes = use == TW_CLI_BOOK_WRITE;
    out->crew = tw_serve_crew_open(0);
    const int code = trouble != 0 ? trouble : told(cli, tw_serve_book_fill(out, &fault), &fault);
    return code != 0 ? code : speak(cli, out->core);
}

void tw_cli_book_recall(tw_cli_book *book, tw_text tub)
{
    tw_serve_book_recall(book, tw_cli_core_digest, tub);
}

void tw_cli_book_keep(tw_cli_book *book, tw_text tub)
{
    tw_serve_book_keep(book, tw_cli_core_digest, tub);
}

void tw_cli_book_close(tw_cli_book *book)
{
    tw_crew *const crew = book->crew;
    tw_serve_book_close(book);
    tw_serve_crew_close(crew);
}

int tw_cli_book_write(tw_cli *cli, tw_cli_book *book, const tw_text *draft, size_t n, tw_store_visit *visit, void *to)
{
    tw_store_fault fault;
    if (book->store == NULL)
        return tw_cli_problem(cli, TW_EXIT_INTERNAL, "internal", "the logbook was opened for reading", NULL);
    tw_status status = tw_store_append_own(book->store, draft, n, visit, to, &fault);
    if (status != TW_OK)
        return told(cli, status, &fault);
    status = tw_serve_book_refresh(book, &fault);
    return told(cli, status, &fault);
}

/* For tests and demos: with TUBWRIGHT_RANDOM set, ids follow from that word, the clock that was given, the words
 * of the command line and a counter, so that a story told twice has the same bytes. */
static int repeated_id(const tw_cli *cli, char out[TW_ID_BYTES])
{
    static uint64_t count;
    const char *word = getenv("TUBWRIGHT_RANDOM");
    uint8_t digest[TW_SHA256_BYTES];
    tw_sha256_state state;
    if (word == NULL || word[0] == '\0')
        return 0;
    tw_sha256_init(&state);
    tw_sha256_update(&state, word, strlen(word));
    tw_sha256_update(&state, cli->salt, sizeof cli->salt);
    tw_sha256_update(&state, &cli->now.utc_s, sizeof cli->now.utc_s);
    tw_sha256_update(&state, &count, sizeof count);
    tw_sha256_final(&state, digest);
    tw_logbook_id_v7((uint64_t)cli->now.utc_s * 1000u + count % 1000u, digest, out);
    count++;
    return 1;
}

void tw_cli_new_id(const tw_cli *cli, char out[TW_ID_BYTES])
{
    if (repeated_id(cli, out))
        return;
    static uint64_t last_ms; /* ids of one process rise: what cannot be told by the clock is counted */
    static unsigned count;
    uint8_t random[10] = {0};
    struct timespec now = {0, 0};
    FILE *file = fopen("/dev/urandom", "rb");
    if (file != NULL) {
        (void)!fread(random, 1, sizeof random, file);
        (void)fclose(file);
    }
    (void)clock_gettime(CLOCK_REALTIME, &now);
    uint64_t ms = (uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u;
    if (ms > last_ms) {
        count = (unsigned)(random[0] & 7u) << 8 | random[1]; /* leaves room to count up */
    } else if (++count > 0xfffu) {
        count = 0;
        ms = last_ms + 1;
    } else {
        ms = last_ms;
    }
    last_ms = ms;
    random[0] = (uint8_t)(count >> 8);
    random[1] = (uint8_t)count;
    tw_logbook_id_v7(ms, random, out);
}

/* One of role and initials: what the options say, else what was kept for this logbook. What is not
 * allowed is passed on for the check of the entry to refuse, and not kept. */
static int who(tw_cli *cli, tw_store *store, int keep, const char *given, const char *name, char *buf, size_t cap)
{
    tw_store_fault fault;
    size_t length = 0;
    buf[0] = '\0';
    if (given != NULL) {
        if (strlen(given) >= cap)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "long", "the name of who writes is too long",
                                  "Roles are owner, technician, tester, manager or reader; initials have at most 24 characters.");
        (void)snprintf(buf, cap, "%s", given);
        const tw_status kept = store != NULL && keep ? tw_store_setting_put(store, name, tw_units_text(buf), &fault) : TW_OK;
        return kept == TW_OK || kept == TW_ERR_READ_ONLY ? 0 : tw_cli_store_problem(cli, &fault, cli->logbook);
    }
    if (store == NULL || tw_store_setting_get(store, name, buf, cap, &length, &fault) == TW_OK)
        return 0;
    return tw_cli_store_problem(cli, &fault, cli->logbook);
}

int tw_cli_who(tw_cli *cli, tw_store *store, int remember, char role[17], char by[97])
{
    const int known = cli->role == NULL || tw_logbook_find_word(TW_SET_ROLE, tw_units_text(cli->role)) >= 0;
    const int trouble = who(cli, store, remember && known, cli->role, "role", role, 17);
    return trouble != 0 ? trouble : who(cli, store, remember && known, cli->by, "by", by, 97);
}
