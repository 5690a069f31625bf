/* tests/sync/world.h: installations with clocks of their own, a server among them, and the weather between them.
 *
 * Everything follows from a seed. What a server does is reached through a table (transport below), so the same histories
 * run over the store itself or over any other way; the weather loses, doubles, delays and spoils messages outside of it. */
#ifndef TW_TESTS_SYNC_WORLD_H
#define TW_TESTS_SYNC_WORLD_H

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/random.h"
#include "cut_vfs.h"
#include "logbook/book.h"
#include "logbook/chain.h"
#include "logbook/compose.h"
#include "logbook/line.h"
#include "sync/sync.h"

#define NODES 5          /* most; node 0 is the server */
#define MOST_LINES 2000  /* of one history             */

typedef struct world world;

/* How a server is reached. up: serve this logbook; down: stop, or die when the disk did. */
typedef struct {
    const char *name;
    void *(*up)(world *w, const char *logbook, const char *state);
    void (*down)(void *server);
    void (*peer)(void *server, int from, tw_sync_peer *out);
    int refuses; /* 1: it can be told to refuse one entry */
} transport;

typedef struct {
    char folder[200], logbook[240], state[240], kept[240], name[24];
    tw_store *store; /* NULL for the server while it is served */
    int64_t skew_ms;
    int has_kept;
} node;

typedef struct {
    uint8_t hash[TW_SHA256_BYTES];
    char id[TW_ID_BYTES];
    int by;
} known;

/* A message that comes late. */
typedef struct {
    tw_sync_batch batch;
    int to;
} late;

/* A fault that was planted on purpose, and whether a report named it with its place. */
enum plant { NOTHING, DROP_COMING, DROP_GOING, DOUBLE_COMING, DOUBLE_GOING, ALTER_COMING, ALTER_GOING, FORK, ALTERED, GAP, REFUSED, PLANTS };
static const char *const PLANT_NAME[PLANTS] = {"nothing", "drop-coming", "drop-going", "double-coming", "double-going", "alter-coming",
                                               "alter-going", "fork", "altered", "gap", "refused"};

struct world {
    uint64_t seed, random;
    const transport *how;
    char folder[160];
    int64_t now_ms;
    int nodes;
    node node[NODES];
    void *server;
    int thorough; /* the end is asked for its card as well */
    int calm; /* no weather */
    unsigned drafts;
    known *acked; /* what was acknowledged as being on a disk */
    size_t ackeds;
    char (*unsure)[TW_ID_BYTES]; /* ids of what was being written when its writer died */
    size_t unsures;
    late late[8];
    size_t lates;
    enum plant plant;
    int armed, planted, found;
    char planted_writer[TW_ID_BYTES];
    uint32_t planted_n;
    uint8_t planted_hash[TW_SHA256_BYTES], planted_other[TW_SHA256_BYTES];
    char refused_id[TW_ID_BYTES]; /* the server refuses this entry */
    int stands;                   /* what was planted stays in the chains for good */
    size_t foreign;               /* lines that were planted                       */
    unsigned long exchanges, messages, losts, doubles, restores, files;
};

#define HOLD(w, claim)                                                                                        \
    do {                                                                                                      \
        if (!(claim)) {                                                                                       \
            (void)printf("# seed %" PRIu64 " (%s): %s:%d: %s\n", (w)->seed, PLANT_NAME[(w)->plant], __FILE__, __LINE__, #claim); \
            (void)fflush(stdout);                                                                             \
            exit(1);                                                                                          \
        }                                                                                                     \
    } while (0)

static uint64_t below(world *w, uint64_t n)
{
    return random_bits(&w->random) % n;
}

static int luck(world *w, double share)
{
    return random_uniform(&w->random) < share;
}

static int64_t clock_of(world *w, int at)
{
    return w->now_ms + w->node[at].skew_ms;
}

/* A file's bytes into another. */
static void copy_file(world *w, const char *from, const char *to)
{
    static char bytes[1 << 16];
    FILE *in = fopen(from, "rb");
    if (in == NULL) {
        (void)unlink(to);
        return;
    }
    FILE *out = fopen(to, "wb");
    HOLD(w, out != NULL);
    for (size_t n; (n = fread(bytes, 1, sizeof bytes, in)) > 0;)
        HOLD(w, fwrite(bytes, 1, n, out) == n);
    (void)fclose(in);
    HOLD(w, fclose(out) == 0);
}

static tw_store *opened(world *w, node *at)
{
    tw_store *store = NULL;
    tw_store_fault fault;
    const tw_status status = tw_store_open(at->logbook, TW_STORE_WRITE | TW_STORE_MAKE, at->state, &store, &fault);
    if (status != TW_OK)
        (void)printf("# %s: %s: %s\n", at->name, tw_store_trouble_name(fault.id), fault.detail);
    HOLD(w, status == TW_OK);
    return store;
}

/* An id told apart by world and number; entries of one writer are not in its order. */
static void id_of(world *w, unsigned number, char out[TW_ID_BYTES])
{
    uint64_t state = w->seed * 1000003u + number;
    (void)snprintf(out, TW_ID_BYTES, "01890000-0000-7000-8000-%012" PRIx64, random_bits(&state) & 0xffffffffffffu);
}

#define TUB "01890000-0000-7000-8000-00000000000a"

static void time_text(int64_t ms, char out[TW_TIME_BYTES])
{
    const tw_time at = {ms / 1000, 60};
    if (tw_units_time_write(at, out, TW_TIME_BYTES) != TW_OK)
        abort();
}

/* A reading of pH, or the tub itself, written down now by the clock of this node. */
static tw_text draft(world *w, int at, char *buf, size_t cap, char id[TW_ID_BYTES])
{
    char when[TW_TIME_BYTES], entered[TW_TIME_BYTES], value[16], remark[300];
    size_t length = 0;
    const size_t n = below(w, 200) + 1;
    id_of(w, ++w->drafts, id);
    time_text(clock_of(w, at), entered);
    time_text(clock_of(w, at) - (int64_t)below(w, 7200000), when);
    (void)snprintf(value, sizeof value, "7.%u", (unsigned)below(w, 10));
    memset(remark, 'x', n);
    const int tub = below(w, 12) == 0;
    const tw_typed reading[] = {{TW_TEXT("id"), {id, TW_ID_CHARS}}, {TW_TEXT("kind"), TW_TEXT("reading")}, {TW_TEXT("tub"), TW_TEXT(TUB)},
                                {TW_TEXT("at"), {when, TW_TIME_CHARS}}, {TW_TEXT("entered"), {entered, TW_TIME_CHARS}},
                                {TW_TEXT("analyte"), TW_TEXT("ph")}, {TW_TEXT("form"), TW_TEXT("value")},
                                {TW_TEXT("value"), tw_units_text(value)}, {TW_TEXT("remark"), {remark, n}}};
    const tw_typed barn[] = {{TW_TEXT("id"), {id, TW_ID_CHARS}}, {TW_TEXT("kind"), TW_TEXT("tub")}, {TW_TEXT("tub"), TW_TEXT(TUB)},
                             {TW_TEXT("at"), {when, TW_TIME_CHARS}}, {TW_TEXT("entered"), {entered, TW_TIME_CHARS}},
                             {TW_TEXT("name"), TW_TEXT("Barn")}, {TW_TEXT("volume"), TW_TEXT("1300")},
                             {TW_TEXT("volume_unit"), TW_TEXT("L")}};
    HOLD(w, tw_logbook_compose(tub ? barn : reading, tub ? sizeof barn / sizeof *barn : sizeof reading / sizeof *reading, TW_CHECK_DRAFT,
                               buf, cap, &length, NULL) == TW_OK);
    const tw_text text = {buf, length};
    return text;
}

/* Lines collected. */
typedef struct {
    char *bytes;
    size_t used, room, count;
} heap;

static tw_status onto_heap(void *to, tw_text line)
{
    heap *all = to;
    if (all->used + line.n + 1 > all->room) {
        all->room = 2 * (all->used + line.n + 1) + 4096;
        all->bytes = realloc(all->bytes, all->room);
        if (all->bytes == NULL)
            abort();
    }
    memcpy(all->bytes + all->used, line.at, line.n);
    all->used += line.n;
    all->bytes[all->used++] = '\n';
    all->count++;
    return TW_OK;
}

static void export_of(world *w, tw_store *store, heap *out)
{
    out->used = out->count = 0;
    HOLD(w, tw_store_export(store, tw_units_text(""), onto_heap, out, NULL) == TW_OK);
}

/* The next line of a heap, from *at on. */
static int next_line(const heap *all, size_t *at, tw_text *line)
{
    if (*at >= all->used)
        return 0;
    const char *end = memchr(all->bytes + *at, '\n', all->used - *at);
    line->at = all->bytes + *at;
    line->n = (size_t)(end - line->at);
    *at += line->n + 1;
    return 1;
}

static int holds(world *w, tw_store *store, const uint8_t hash[TW_SHA256_BYTES])
{
    heap one = {0};
    uint8_t wanted[1][TW_SHA256_BYTES];
    memcpy(wanted[0], hash, TW_SHA256_BYTES);
    HOLD(w, tw_store_lines(store, (const uint8_t (*)[TW_SHA256_BYTES])wanted, 1, onto_heap, &one, NULL) == TW_OK);
    free(one.bytes);
    return one.count > 0;
}

/* Writer and number of a line. */
static void place_of(world *w, tw_text line, char writer[TW_ID_BYTES], uint32_t *n)
{
    static tw_entry_room room;
    tw_entry entry;
    double number = 0;
    HOLD(w, tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) == TW_OK);
    (void)snprintf(writer, TW_ID_BYTES, "%.*s", (int)entry.writer.n, entry.writer.at);
    HOLD(w, tw_logbook_number(&entry, TW_FIELD_N, &number) == TW_OK);
    *n = (uint32_t)number;
}

/* ---- The server over the store itself ---- */

typedef struct {
    world *w;
    tw_store *store;
    int at; /* which node it is */
} direct;

static void *direct_up(world *w, const char *logbook, const char *state)
{
    direct *server = calloc(1, sizeof *server);
    if (server == NULL)
        abort();
    (void)logbook;
    (void)state;
    server->w = w;
    server->store = opened(w, &w->node[0]);
    return server;
}

static void direct_down(void *to)
{
    direct *server = to;
    tw_store_close(server->store);
    free(server);
}

static tw_status direct_have(void *to, tw_sync_have *out)
{
    direct *server = to;
    return tw_sync_have_of(server->store, clock_of(server->w, server->at), out, NULL);
}

static tw_status direct_since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more)
{
    direct *server = to;
    return tw_sync_since(server->store, tw_units_text(cursor), tw_units_text(""), most, out, next, more, NULL);
}

/* The server of a test refuses one entry. */
static int refuse_one(void *to, const tw_entry *entry, tw_sync_result *result)
{
    const world *w = to;
    if (w->refused_id[0] == '\0' || !tw_units_text_is(entry->id, w->refused_id))
        return 1;
    (void)snprintf(result->reason, sizeof result->reason, "not-yours");
    (void)snprintf(result->sentence, sizeof result->sentence, "This tub is not yours.");
    return 0;
}

static tw_status direct_take(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    direct *server = to;
    const tw_sync_way way = {clock_of(server->w, server->at), "phone", writer, now_ms, server->at == 0 ? refuse_one : NULL, server->w};
    return tw_sync_take(server->store, in, &way, result, NULL);
}

static void direct_peer(void *to, int from, tw_sync_peer *out)
{
    (void)from;
    out->name = "server";
    out->to = to;
    out->have = direct_have;
    out->since = direct_since;
    out->take = direct_take;
}

static const transport DIRECT = {"store", direct_up, direct_down, direct_peer, 1};

#endif
