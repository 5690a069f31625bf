/* tests/sync/history.h: one random history from its seed: installations write, meet, die and are put back; in the end all meet in
 * calm weather, and everything that was ever acknowledged must be at every end, once. */
#ifndef TW_TESTS_SYNC_HISTORY_H
#define TW_TESTS_SYNC_HISTORY_H

#include "answer/core.h"
#include "weather.h"

static int64_t clock_of_way(void *to)
{
    const way *x = to;
    return clock_of(x->w, x->from);
}

static void remember(world *w, tw_text line, int by)
{
    static tw_entry_room room;
    tw_entry entry;
    HOLD(w, w->ackeds < MOST_LINES && tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) == TW_OK);
    known *k = &w->acked[w->ackeds++];
    tw_sha256(line.at, line.n, k->hash);
    (void)snprintf(k->id, sizeof k->id, "%.*s", (int)entry.id.n, entry.id.at);
    k->by = by;
}

static void reopen(world *w, int at)
{
    tw_store_close(w->node[at].store);
    (void)cut_end();
    w->node[at].store = opened(w, &w->node[at]);
}

/* One to three entries; perhaps it dies in the middle. */
static void write_some(world *w, int at, int may_die)
{
    static char buf[3][TW_LINE_BYTES];
    char id[3][TW_ID_BYTES];
    tw_text text[3];
    heap said = {0};
    const size_t n = 1 + below(w, 3);
    for (size_t i = 0; i < n; i++)
        text[i] = draft(w, at, buf[i], sizeof buf[i], id[i]);
    if (may_die && luck(w, 0.15))
        cut_set(w->node[at].folder, (long)below(w, 20), luck(w, 0.5), random_bits(&w->random));
    const tw_status status = tw_store_append_own(w->node[at].store, text, n, onto_heap, &said, NULL);
    HOLD(w, status == TW_OK || cut.dead);
    if (status == TW_OK) {
        tw_text line;
        for (size_t from = 0; next_line(&said, &from, &line);)
            remember(w, line, at);
    } else {
        for (size_t i = 0; i < n; i++)
            memcpy(w->unsure[w->unsures++], id[i], TW_ID_BYTES);
    }
    if (cut.dead)
        reopen(w, at);
    (void)cut_end();
    free(said.bytes);
}

static int same_pair(const world *w, const tw_sync_odd *odd)
{
    return (memcmp(odd->hash, w->planted_hash, TW_SHA256_BYTES) == 0 && memcmp(odd->other, w->planted_other, TW_SHA256_BYTES) == 0)
        || (memcmp(odd->other, w->planted_hash, TW_SHA256_BYTES) == 0 && memcmp(odd->hash, w->planted_other, TW_SHA256_BYTES) == 0);
}

/* Is this oddness the one that was planted, with its place? */
static int is_planted(const world *w, const tw_sync_odd *odd)
{
    const int place = w->planted && strcmp(odd->writer, w->planted_writer) == 0 && odd->n == w->planted_n;
    const int hash = w->planted && memcmp(odd->hash, w->planted_hash, TW_SHA256_BYTES) == 0;
    switch (w->plant) {
    case DROP_COMING:
        return odd->kind == TW_SYNC_ODD_NOT_GIVEN && place && hash && odd->mended;
    case DROP_GOING:
        return odd->kind == TW_SYNC_ODD_NOT_KEPT && place && hash && odd->mended;
    case ALTER_COMING:
        /* What was spoilt is missing as well, until it comes whole. */
        return (odd->kind == TW_SYNC_ODD_REFUSED_HERE && hash && odd->mended && strcmp(odd->reason, "altered") == 0)
            || (odd->kind == TW_SYNC_ODD_NOT_GIVEN && place && hash && odd->mended);
    case ALTER_GOING:
        return odd->kind == TW_SYNC_ODD_REFUSED_THERE && hash && odd->mended && strcmp(odd->reason, "altered") == 0;
    case REFUSED:
        return odd->kind == TW_SYNC_ODD_REFUSED_THERE && place && hash && !odd->mended && strcmp(odd->reason, "not-yours") == 0;
    case FORK:
        return odd->kind == TW_SYNC_ODD_FORKED && place && same_pair(w, odd);
    case ALTERED:
        return odd->kind == TW_SYNC_ODD_ALTERED && place && hash && memcmp(odd->other, w->planted_other, TW_SHA256_BYTES) == 0;
    case GAP:
        return odd->kind == TW_SYNC_ODD_GAP && place && odd->last == odd->n && memcmp(odd->other, w->planted_other, TW_SHA256_BYTES) == 0;
    case NOTHING:
    case DOUBLE_COMING:
    case DOUBLE_GOING:
    case PLANTS:
    default:
        return 0;
    }
}

static int is_of_chains(const tw_sync_odd *odd)
{
    return odd->kind == TW_SYNC_ODD_FORKED || odd->kind == TW_SYNC_ODD_GAP || odd->kind == TW_SYNC_ODD_ALTERED;
}

/* Exchange between two; how many of what was planted the report names. Nothing else may be odd, but for gaps on the way. */
static int exchange(world *w, int from, int to, int may_die, int strict)
{
    way x = {w, from, to};
    char name[24];
    tw_sync_report report;
    int named = 0;
    (void)snprintf(name, sizeof name, "node %d", to);
    const tw_sync_peer peer = {name, &x, way_have, way_since, way_take, NULL};
    if (may_die && luck(w, 0.1))
        cut_set(w->node[from].folder, (long)below(w, 60), luck(w, 0.5), random_bits(&w->random));
    const tw_status status = tw_sync_exchange(w->node[from].store, &peer, clock_of_way, &x, &report, NULL);
    w->exchanges++;
    HOLD(w, status == TW_OK || !w->calm);
    HOLD(w, status == TW_OK || status == TW_ERR_IO);
    for (size_t i = 0; i < report.odds; i++) {
        const int planted = is_planted(w, &report.odd[i]);
        named += planted;
        if (!planted && !(is_of_chains(&report.odd[i]) && !strict))
            (void)printf("# odd: %s entry %u of %s%s %s\n", tw_sync_odd_name(report.odd[i].kind), report.odd[i].n, report.odd[i].writer,
                         report.odd[i].mended ? ", mended" : "", report.odd[i].reason);
        HOLD(w, planted || (is_of_chains(&report.odd[i]) && !strict));
    }
    if (report.skew_known) {
        const int64_t off = report.skew_ms - (w->node[to].skew_ms - w->node[from].skew_ms);
        HOLD(w, off <= report.skew_doubt_ms && -off <= report.skew_doubt_ms);
    }
    HOLD(w, status != TW_OK || !strict || report.same);
    if (w->plant == DOUBLE_COMING && w->planted && !w->found)
        named += report.doubled > 0;
    tw_sync_report_free(&report);
    if (cut.dead)
        reopen(w, from);
    (void)cut_end();
    return named;
}

/* All lines of one are carried to another by file, in no order, some of them twice; or the other way round. */
static void carry_by_file(world *w, int from, int to)
{
    heap all = {0};
    tw_sync_batch batch = {0};
    tw_text line[MOST_LINES];
    size_t n = 0;
    tw_store *store = from == 0 ? opened(w, &w->node[0]) : w->node[from].store;
    export_of(w, store, &all);
    if (from == 0)
        tw_store_close(store);
    for (size_t at = 0; n < MOST_LINES && next_line(&all, &at, &line[n]);)
        n++;
    for (size_t i = n; i > 1; i--) {
        const size_t j = below(w, i);
        const tw_text swap = line[i - 1];
        line[i - 1] = line[j];
        line[j] = swap;
    }
    for (size_t i = 0; i < n; i++)
        for (int twice = luck(w, 0.1); twice >= 0; twice--)
            HOLD(w, tw_sync_batch_add(&batch, line[i], NULL) == TW_OK);
    tw_sync_result *said = calloc(batch.count + 1, sizeof *said);
    const tw_sync_way by_file = {clock_of(w, to), "file", {"", 0}, 0, NULL, NULL};
    store = to == 0 ? opened(w, &w->node[0]) : w->node[to].store;
    HOLD(w, said != NULL && tw_sync_take(store, &batch, &by_file, said, NULL) == TW_OK);
    if (to == 0)
        tw_store_close(store);
    for (size_t i = 0; i < batch.count; i++)
        HOLD(w, said[i].taken != TW_SYNC_REFUSED);
    free(said);
    free(all.bytes);
    tw_sync_batch_free(&batch);
    w->files++;
}

static void go_down(world *w, int at)
{
    if (at == 0)
        w->how->down(w->server);
    else
        tw_store_close(w->node[at].store);
}

static void come_up(world *w, int at)
{
    if (at == 0)
        w->server = w->how->up(w, w->node[0].logbook, w->node[0].state);
    else
        w->node[at].store = opened(w, &w->node[at]);
}

static void keep_copy(world *w, int at)
{
    node *of = &w->node[at];
    go_down(w, at);
    copy_file(w, of->logbook, of->kept);
    of->has_kept = 1;
    come_up(w, at);
}

/* Is every line of a node somewhere else as well? */
static int all_elsewhere(world *w, int at)
{
    heap all = {0};
    tw_text line;
    int whole = 1;
    tw_store *server = opened(w, &w->node[0]);
    export_of(w, at == 0 ? server : w->node[at].store, &all);
    for (size_t from = 0; whole && next_line(&all, &from, &line);) {
        uint8_t hash[TW_SHA256_BYTES];
        int there = 0;
        tw_sha256(line.at, line.n, hash);
        for (int i = 0; !there && i < w->nodes; i++)
            there = i != at && holds(w, i == 0 ? server : w->node[i].store, hash);
        whole = there;
    }
    tw_store_close(server);
    free(all.bytes);
    return whole;
}

/* An older copy is put back, where that loses nothing for good. */
static void put_back(world *w, int at)
{
    node *of = &w->node[at];
    char put[280];
    if (!of->has_kept || !all_elsewhere(w, at))
        return;
    go_down(w, at);
    (void)snprintf(put, sizeof put, "%s.put", of->logbook);
    copy_file(w, of->kept, put);
    HOLD(w, rename(put, of->logbook) == 0);
    come_up(w, at);
    w->restores++;
}

/* A chain of another program's: four entries, of which the second was changed afterwards, or taken out. */
static void plant_chain(world *w, int at)
{
    static char buf[2][TW_LINE_BYTES];
    char writer[TW_ID_BYTES], id[TW_ID_BYTES];
    uint8_t hash[TW_SHA256_BYTES] = {0};
    tw_sync_batch batch = {0};
    tw_sync_result said[4];
    (void)snprintf(writer, sizeof writer, "5a000000-0000-4000-8000-%012u", 77u);
    for (uint32_t n = 1; n <= 4; n++) {
        size_t length = 0;
        tw_text text = draft(w, 1, buf[0], sizeof buf[0], id);
        HOLD(w, tw_logbook_compose_chained(text, tw_units_text(writer), n, n > 1 ? hash : NULL, buf[1], sizeof buf[1], &length, NULL) == TW_OK);
        tw_text line = {buf[1], length};
        uint8_t prev[TW_SHA256_BYTES];
        memcpy(prev, hash, sizeof prev);
        tw_sha256(line.at, line.n, hash);
        if (n == 2) {
            memcpy(w->planted_other, hash, sizeof hash);
            if (w->plant == GAP)
                continue;
            text = draft(w, 1, buf[0], sizeof buf[0], id);
            HOLD(w, tw_logbook_compose_chained(text, tw_units_text(writer), n, prev, buf[1], sizeof buf[1], &length, NULL) == TW_OK);
            line.n = length;
            tw_sha256(line.at, line.n, w->planted_hash);
        }
        remember(w, line, -1);
        HOLD(w, tw_sync_batch_add(&batch, line, NULL) == TW_OK);
    }
    const tw_sync_way by_file = {clock_of(w, at), "file", {"", 0}, 0, NULL, NULL};
    HOLD(w, tw_sync_take(w->node[at].store, &batch, &by_file, said, NULL) == TW_OK);
    tw_sync_batch_free(&batch);
    (void)snprintf(w->planted_writer, sizeof w->planted_writer, "%s", writer);
    w->planted_n = 2;
    w->planted = w->stands = 1;
}

/* A second entry with the number of one that is there, as a copied installation would write it. */
static void plant_fork(world *w, int at, int elsewhere)
{
    static char buf[2][TW_LINE_BYTES];
    static tw_entry_room room;
    char id[TW_ID_BYTES];
    heap all = {0};
    tw_text line = {"", 0};
    tw_entry entry;
    uint8_t prev[TW_SHA256_BYTES];
    unsigned byte = 0;
    size_t length = 0;
    size_t from = 0;
    export_of(w, w->node[at].store, &all);
    for (size_t which = below(w, all.count) + 1; which > 0; which--)
        HOLD(w, next_line(&all, &from, &line));
    place_of(w, line, w->planted_writer, &w->planted_n);
    tw_sha256(line.at, line.n, w->planted_hash);
    HOLD(w, tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) == TW_OK);
    const tw_text named = tw_logbook_text(&entry, TW_FIELD_PREV);
    for (size_t i = 0; named.n == 64 && i < sizeof prev; i++) {
        HOLD(w, sscanf(named.at + 2 * i, "%2x", &byte) == 1);
        prev[i] = (uint8_t)byte;
    }
    const tw_text text = draft(w, at, buf[0], sizeof buf[0], id);
    HOLD(w, tw_logbook_compose_chained(text, tw_units_text(w->planted_writer), w->planted_n, named.n == 64 ? prev : NULL, buf[1], sizeof buf[1],
                                       &length, NULL) == TW_OK);
    const tw_text forged = {buf[1], length};
    tw_sha256(forged.at, forged.n, w->planted_other);
    remember(w, forged, -1);
    HOLD(w, tw_store_append(w->node[elsewhere].store, &forged, 1, NULL, NULL) == TW_OK);
    free(all.bytes);
    w->planted = w->stands = 1;
}

static int refused_visible(world *w, int at)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *look = NULL;
    int count = 0;
    HOLD(w, sqlite3_open(w->node[at].logbook, &db) == SQLITE_OK
         && sqlite3_prepare_v2(db, "select count(*) from refused where reason = 'not-yours'", -1, &look, NULL) == SQLITE_OK
         && sqlite3_step(look) == SQLITE_ROW);
    count = sqlite3_column_int(look, 0);
    (void)sqlite3_finalize(look);
    (void)sqlite3_close(db);
    return count;
}

/* The fault of this history, in calm weather, so that a lost answer does not hide it. */
static void plant(world *w)
{
    const int at = 1 + (int)below(w, (uint64_t)w->nodes - 1);
    const int other = 1 + (at + (int)below(w, (uint64_t)w->nodes - 2)) % (w->nodes - 1);
    const int calm = w->calm;
    w->calm = 1;
    switch (w->plant) {
    case DROP_COMING:
    case DOUBLE_COMING:
    case ALTER_COMING:
        write_some(w, other, 0);
        (void)exchange(w, other, 0, 0, 0);
        w->armed = 1;
        w->found += exchange(w, at, 0, 0, 0) > 0;
        HOLD(w, w->planted);
        break;
    case DROP_GOING:
    case DOUBLE_GOING:
    case ALTER_GOING:
        write_some(w, at, 0);
        w->armed = 1;
        w->found += exchange(w, at, 0, 0, 0) > 0;
        HOLD(w, w->planted);
        break;
    case REFUSED:
        write_some(w, at, 0);
        memcpy(w->refused_id, w->acked[w->ackeds - 1].id, TW_ID_BYTES);
        memcpy(w->planted_hash, w->acked[w->ackeds - 1].hash, TW_SHA256_BYTES);
        HOLD(w, tw_store_writer(w->node[at].store, w->planted_writer, NULL) == TW_OK);
        {
            heap one = {0};
            char writer[TW_ID_BYTES];
            HOLD(w, tw_store_lines(w->node[at].store, (const uint8_t (*)[TW_SHA256_BYTES])&w->planted_hash, 1, onto_heap, &one, NULL) == TW_OK);
            place_of(w, (tw_text){one.bytes, one.used - 1}, writer, &w->planted_n);
            free(one.bytes);
        }
        w->planted = 1;
        w->found += exchange(w, at, 0, 0, 0) > 0;
        HOLD(w, refused_visible(w, at) == 1);
        write_some(w, at, 0); /* which it does not block */
        (void)exchange(w, at, 0, 0, 0);
        break;
    case FORK:
        write_some(w, at, 0);
        plant_fork(w, at, other);
        break;
    case ALTERED:
    case GAP:
        plant_chain(w, at);
        break;
    case NOTHING:
    case PLANTS:
    default:
        break;
    }
    w->calm = calm;
}

static void step(world *w)
{
    const int at = 1 + (int)below(w, (uint64_t)w->nodes - 1);
    const int other = 1 + (int)below(w, (uint64_t)w->nodes - 1);
    const double which = random_uniform(&w->random);
    w->now_ms += (int64_t)below(w, 6 * 3600 * 1000);
    if (which < 0.42)
        write_some(w, at, 1);
    else if (which < 0.74)
        (void)exchange(w, at, 0, 1, 0);
    else if (which < 0.80 && other != at)
        (void)exchange(w, at, other, 1, 0);
    else if (which < 0.84 && other != at && w->plant != REFUSED)
        carry_by_file(w, at, luck(w, 0.3) ? 0 : other);
    else if (which < 0.90)
        late_arrival(w);
    else if (which < 0.93)
        reopen(w, at);
    else if (which < 0.97)
        keep_copy(w, luck(w, 0.4) ? 0 : at);
    else
        put_back(w, luck(w, 0.4) ? 0 : at);
}

/* A core with the lines of a logbook, in the order in which they arrived there. */
static tw_status into_core(void *to, tw_text line)
{
    return tw_core_add_line(to, line.at, line.n, NULL, 0) == 0 ? TW_OK : TW_ERR_FORMAT;
}

/* What a logbook says when it is asked: of its tubs, and of the entries that it holds; with `thorough` also the card. */
static size_t answer_of(world *w, tw_store *store, int thorough, char *out, size_t cap)
{
    static void *mem;
    static size_t bytes;
    const char *const word[] = {"tubs", "now"};
    char at[TW_TIME_BYTES], question[128];
    tw_core *core = NULL;
    tw_store_cursor cursor = {0};
    size_t used = 0;
    if (mem == NULL) {
        bytes = tw_core_bytes(MOST_LINES, 1u << 20);
        mem = malloc(bytes);
        if (mem == NULL)
            abort();
    }
    time_text(w->now_ms + 86400000, at);
    HOLD(w, tw_core_init(mem, bytes, MOST_LINES, 1u << 20, &core) == 0);
    HOLD(w, tw_store_since(store, &cursor, into_core, core, NULL) == TW_OK);
    tw_logbook_book_digest(core->book, (uint8_t *)out);
    used = TW_SHA256_BYTES;
    for (int i = 0; i < (thorough ? 2 : 1); i++) {
        size_t length = 0;
        const int n = snprintf(question, sizeof question, "%s tub=%s at=%s as=json", word[i], TUB, at);
        const int status = tw_core_ask(core, question, (size_t)n, out + used, cap - used, &length);
        if (status != 0)
            (void)printf("# %s: %s\n", question, tw_core_status_text(status));
        HOLD(w, status == 0 || i > 0);
        used += length;
    }
    return used;
}

/* The chains once more by the core's own eyes: the seal, and whether anything is wrong. */
static void check_by_book(world *w, const heap *all, const uint8_t seal[TW_SHA256_BYTES])
{
    static void *mem;
    const size_t bytes = tw_logbook_book_bytes(MOST_LINES, 1u << 20);
    uint8_t found[TW_SHA256_BYTES];
    tw_book *book = NULL;
    tw_text line;
    size_t troubles = 0;
    mem = mem != NULL ? mem : malloc(bytes);
    HOLD(w, mem != NULL && tw_logbook_book_init(mem, bytes, MOST_LINES, 1u << 20, &book) == TW_OK);
    for (size_t at = 0; next_line(all, &at, &line);)
        HOLD(w, tw_logbook_book_add_line(book, line, NULL, NULL) == TW_OK);
    tw_logbook_chain_seal(book, found);
    HOLD(w, memcmp(found, seal, sizeof found) == 0);
    (void)tw_logbook_chain_verify(book, NULL, 0, &troubles);
    HOLD(w, (troubles > 0) == w->stands);
}

/* Every line that was acknowledged is there; none twice; and nothing that nobody wrote. */
static void check_lines(world *w, const heap *all)
{
    tw_text line;
    static tw_entry_room room;
    size_t acked = 0;
    for (size_t at = 0; next_line(all, &at, &line);) {
        uint8_t hash[TW_SHA256_BYTES];
        tw_entry entry;
        int there = 0;
        tw_sha256(line.at, line.n, hash);
        for (size_t i = 0; !there && i < w->ackeds; i++)
            there = memcmp(w->acked[i].hash, hash, sizeof hash) == 0;
        acked += (size_t)there;
        HOLD(w, tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) == TW_OK);
        for (size_t i = 0; !there && i < w->unsures; i++)
            there = tw_units_text_is(entry.id, w->unsure[i]);
        HOLD(w, there);
        size_t ids = 0;
        tw_text other;
        for (size_t from = at; next_line(all, &from, &other);) {
            tw_entry seen;
            static tw_entry_room seen_room;
            HOLD(w, tw_logbook_line_read(other, TW_CHECK_IMPORTED, &seen_room, &seen, NULL) == TW_OK);
            ids += (size_t)tw_units_text_equal(seen.id, entry.id);
        }
        HOLD(w, ids == 0);
    }
    HOLD(w, acked == w->ackeds);
}

/* The server compared the writers' clocks with its own, as well as one way can. */
static void check_clocks(world *w, tw_store *server)
{
    tw_store_clock clock[64];
    size_t count = 0;
    HOLD(w, tw_store_clocks(server, clock, 64, &count, NULL) == TW_OK);
    for (size_t i = 0; i < count; i++)
        for (int at = 1; at < w->nodes; at++) {
            char writer[TW_ID_BYTES];
            HOLD(w, tw_store_writer(w->node[at].store, writer, NULL) == TW_OK);
            const int64_t off = clock[i].ahead_ms - (w->node[at].skew_ms - w->node[0].skew_ms);
            HOLD(w, strcmp(writer, clock[i].writer) != 0 || (off < 3000 && off > -3000));
        }
}

static void settle(world *w)
{
    static char answer[1 << 20], first_answer[1 << 20];
    size_t answered = 0;
    heap all = {0};
    heap first = {0};
    w->calm = 1;
    while (w->lates > 0)
        late_arrival(w);
    if (w->plant == REFUSED) { /* the others do not have it before the server takes it */
        for (int at = 1; at < w->nodes; at++)
            (void)exchange(w, at, 0, 0, 0);
        w->refused_id[0] = '\0';
    }
    for (int at = 1; at < w->nodes; at++)
        (void)exchange(w, at, 0, 0, 0);
    for (int at = 1; at < w->nodes; at++) {
        const int named = exchange(w, at, 0, 0, 1);
        HOLD(w, named == w->stands);
        HOLD(w, refused_visible(w, at) == 0);
    }
    tw_store *server = opened(w, &w->node[0]);
    check_clocks(w, server);
    for (int at = 0; at < w->nodes; at++) {
        tw_store *store = at == 0 ? server : w->node[at].store;
        HOLD(w, tw_store_check(store, NULL) == TW_OK);
        export_of(w, store, at == 0 ? &first : &all);
        const size_t n = answer_of(w, store, w->thorough, at == 0 ? first_answer : answer, sizeof answer);
        answered = at == 0 ? n : answered;
        HOLD(w, at == 0 || (all.used == first.used && memcmp(all.bytes, first.bytes, all.used) == 0));
        HOLD(w, at == 0 || (n == answered && memcmp(answer, first_answer, n) == 0));
    }
    tw_sync_have have;
    HOLD(w, tw_sync_have_of(server, 0, &have, NULL) == TW_OK && have.lines == first.count);
    check_by_book(w, &first, have.seal);
    check_lines(w, &first);
    tw_sync_have_free(&have);
    tw_store_close(server);
    HOLD(w, w->plant == NOTHING || w->planted);
    HOLD(w, w->plant == NOTHING || w->found || w->stands);
    free(all.bytes);
    free(first.bytes);
}

/* What many histories came to. */
typedef struct {
    unsigned long histories, planted[PLANTS], entries, unsure, exchanges, messages, losts, doubles, restores, files, died;
} tally;

static void history(const transport *how, const char *folder, uint64_t seed, int thorough, tally *total)
{
    static known acked[MOST_LINES];
    static char unsure[MOST_LINES][TW_ID_BYTES];
    static world room;
    char template[200];
    char its[200];
    world *w = &room;
    memset(w, 0, sizeof *w);
    w->seed = seed;
    w->random = seed * UINT64_C(0x9E3779B97F4A7C15) + 1;
    w->how = how;
    w->thorough = thorough;
    w->acked = acked;
    w->unsure = unsure;
    w->now_ms = INT64_C(1774345200000); /* 24 March 2026 */
    /* Every other one is honest, the others have each fault in turn. */
    w->plant = seed % 2 == 0 ? NOTHING : (enum plant)(1 + seed / 2 % (PLANTS - 1));
    if (w->plant == REFUSED && !how->refuses)
        w->plant = NOTHING;
    w->nodes = 3 + (int)below(w, NODES - 2);
    (void)snprintf(w->folder, sizeof w->folder, "%s", folder);
    for (int i = 0; i < w->nodes; i++) {
        node *at = &w->node[i];
        (void)snprintf(at->name, sizeof at->name, "node %d", i);
        (void)snprintf(its, sizeof its, "%s/%" PRIu64 "-%d", folder, seed, i);
        (void)snprintf(at->folder, sizeof at->folder, "%s", its);
        (void)snprintf(at->logbook, sizeof at->logbook, "%s/logbook.db", its);
        (void)snprintf(at->state, sizeof at->state, "%s/state", its);
        (void)snprintf(at->kept, sizeof at->kept, "%s/kept.db", its);
        HOLD(w, mkdir(at->folder, 0700) == 0);
        /* An empty logbook is a file like another: it is made once, and copied. */
        (void)snprintf(template, sizeof template, "%s/empty.db", folder);
        if (access(template, F_OK) == 0)
            copy_file(w, template, at->logbook);
        at->skew_ms = luck(w, 0.3) ? 0 : (int64_t)below(w, 2 * 86400000) - 86400000;
        if (i > 0)
            at->store = opened(w, at);
        if (i == 1 && access(template, F_OK) != 0) {
            tw_store_close(at->store);
            copy_file(w, at->logbook, template);
            at->store = opened(w, at);
        }
    }
    w->server = how->up(w, w->node[0].logbook, w->node[0].state);
    const long died = cut.died;
    const int steps = 12 + (int)below(w, 30);
    const int when = (int)below(w, (uint64_t)steps);
    for (int i = 0; i < steps; i++) {
        step(w);
        if (i == when)
            plant(w);
    }
    settle(w);
    how->down(w->server);
    for (int i = 0; i < w->nodes; i++) {
        char command[600];
        tw_store_close(w->node[i].store);
        (void)snprintf(command, sizeof command, "%s/logbook.db", w->node[i].folder);
        (void)unlink(command);
        (void)snprintf(command, sizeof command, "%s/kept.db", w->node[i].folder);
        (void)unlink(command);
    }
    total->histories++;
    total->planted[w->plant]++;
    total->entries += w->ackeds;
    total->unsure += w->unsures;
    total->exchanges += w->exchanges;
    total->messages += w->messages;
    total->losts += w->losts;
    total->doubles += w->doubles;
    total->restores += w->restores;
    total->files += w->files;
    total->died += (unsigned long)(cut.died - died);
}

#endif
