/* sync/exchange.c: a client's part: ask what they have, take what arrived there, give what they lack, compare.
 *
 * Nothing here needs to be remembered for the exchange to be right: the place up to which the other side was read saves
 * work, and is dropped when the comparison shows that something was left out. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sync/chains.h"

#define ROUNDS 3 /* of giving: once, again what was spoilt or lost on the way, and again to know that it did not help */

typedef struct {
    tw_store *store;
    const tw_sync_peer *peer;
    tw_sync_clock *clock;
    void *clock_to;
    tw_sync_report *report;
    tw_store_fault *fault;
    char cursor[TW_STORE_MARK_BYTES];
    char writer[TW_ID_BYTES];
    tw_sync_have theirs;
    tw_sync_batch batch;
    tw_sync_result *result; /* TW_SYNC_LINES of them */
    tw_sync_list kept;      /* they said that they keep these */
    tw_sync_list refused;   /* they will not have these        */
    tw_sync_list of_tub;    /* what is here of a peer's one tub */
    size_t sorted[3];       /* of the three: how many were there when they were sorted */
    size_t lacking;         /* how many they lack at the end    */
} exchange;

static int by_hash(const void *a, const void *b)
{
    return memcmp(a, b, TW_SHA256_BYTES);
}

static int in_set(tw_sync_list *set, size_t *sorted, const uint8_t *hash)
{
    if (set->count == 0)
        return 0;
    if (*sorted != set->count)
        qsort(set->hash, set->count, sizeof *set->hash, by_hash);
    *sorted = set->count;
    return bsearch(hash, set->hash, set->count, sizeof *set->hash, by_hash) != NULL;
}

static int is_kept(exchange *x, const uint8_t *hash)
{
    return in_set(&x->kept, &x->sorted[0], hash);
}

static int is_refused(exchange *x, const uint8_t *hash)
{
    return in_set(&x->refused, &x->sorted[1], hash);
}

/* 1 when the peer is of one tub. */
static int of_one_tub(const exchange *x)
{
    return x->peer->tub != NULL && x->peer->tub[0] != '\0';
}

/* In a short list, whose order says something. */
static int listed(const tw_sync_list *list, const uint8_t *hash)
{
    for (size_t i = 0; i < list->count; i++)
        if (memcmp(list->hash[i], hash, TW_SHA256_BYTES) == 0)
            return 1;
    return 0;
}

/* The name of the setting that holds how far this peer was read. */
static void cursor_name(const exchange *x, char out[160])
{
    (void)snprintf(out, 160, "read %.140s", x->peer->name);
}

static void cursor_get(exchange *x)
{
    char name[160];
    size_t length = 0;
    cursor_name(x, name);
    if (tw_store_setting_get(x->store, name, x->cursor, sizeof x->cursor, &length, x->fault) != TW_OK)
        x->cursor[0] = '\0';
}

static tw_status cursor_put(exchange *x, const char *next)
{
    char name[160];
    if (strcmp(x->cursor, next) == 0)
        return TW_OK;
    cursor_name(x, name);
    (void)snprintf(x->cursor, sizeof x->cursor, "%s", next);
    return tw_store_setting_put(x->store, name, tw_units_text(next), x->fault);
}

/* What they have, and by how much their clock differs: their time lies somewhere between asking and hearing. */
static tw_status ask_have(exchange *x)
{
    tw_store_clock clock;
    tw_sync_have_free(&x->theirs);
    const int64_t asked = x->clock(x->clock_to);
    const tw_status status = x->peer->have(x->peer->to, &x->theirs);
    const int64_t heard = x->clock(x->clock_to);
    if (status != TW_OK || x->theirs.now_ms == 0)
        return status;
    memset(&clock, 0, sizeof clock);
    clock.doubt_ms = (heard - asked + 1) / 2;
    clock.ahead_ms = x->theirs.now_ms - asked - (heard - asked) / 2;
    clock.at_ms = heard;
    if (x->theirs.now_ms % 1000 == 0) { /* said in whole seconds: it is somewhere in this one */
        clock.ahead_ms += 500;
        clock.doubt_ms += 500;
    }
    if (!x->report->skew_known || clock.doubt_ms < x->report->skew_doubt_ms) {
        x->report->skew_known = 1;
        x->report->skew_ms = clock.ahead_ms;
        x->report->skew_doubt_ms = clock.doubt_ms;
    }
    (void)snprintf(clock.writer, sizeof clock.writer, "%s", x->theirs.writer);
    return tw_store_clock_note(x->store, &clock, x->fault);
}

static tw_status add_refused(exchange *x, enum tw_sync_odd_kind kind, const tw_sync_result *said, const uint8_t *sent)
{
    tw_sync_odd *odd = tw_sync_report_add(x->report, kind, said->writer, said->n);
    if (odd == NULL)
        return tw_store_fault_set(x->fault, TW_STORE_NO_MEMORY, NULL);
    memcpy(odd->hash, sent, TW_SHA256_BYTES);
    memcpy(odd->other, said->hash, TW_SHA256_BYTES);
    (void)snprintf(odd->reason, sizeof odd->reason, "%s", said->reason);
    (void)snprintf(odd->sentence, sizeof odd->sentence, "%s", said->sentence);
    return TW_OK;
}

/* Take the lines that they gave. */
static tw_status take_here(exchange *x)
{
    tw_sync_way way;
    memset(&way, 0, sizeof way);
    way.now_ms = x->clock(x->clock_to);
    way.via = x->peer->name;
    if (x->batch.count > TW_SYNC_LINES)
        return TW_ERR_FORMAT;
    if (x->batch.count == 0)
        return TW_OK;
    tw_status status = tw_sync_take(x->store, &x->batch, &way, x->result, x->fault);
    for (size_t i = 0; status == TW_OK && i < x->batch.count; i++) {
        const tw_sync_result *said = &x->result[i];
        x->report->got += said->taken == TW_SYNC_STORED;
        x->report->doubled += said->taken == TW_SYNC_HAD;
        if (said->taken == TW_SYNC_REFUSED)
            status = add_refused(x, TW_SYNC_ODD_REFUSED_HERE, said, x->batch.item[i].hashed ? x->batch.item[i].hash : said->hash);
    }
    return status;
}

/* Read on from the cursor until nothing more comes. */
static tw_status read_on(exchange *x)
{
    int more = 1;
    tw_status status = TW_OK;
    while (status == TW_OK && more) {
        char next[TW_STORE_MARK_BYTES] = "";
        more = 0;
        tw_sync_batch_clear(&x->batch);
        status = x->peer->since(x->peer->to, x->cursor, TW_SYNC_LINES, &x->batch, next, &more);
        if (status == TW_ERR_UNKNOWN && x->cursor[0] != '\0') {
            /* Their logbook was restored, or is another one. */
            x->report->began_again = more = 1;
            status = cursor_put(x, "");
            continue;
        }
        if (status == TW_OK && more && strcmp(next, x->cursor) == 0)
            return TW_ERR_FORMAT; /* it would never end */
        if (status == TW_OK)
            status = take_here(x);
        if (status == TW_OK)
            status = cursor_put(x, next);
    }
    return status;
}

static tw_status find_not_given(exchange *x, tw_sync_report *out)
{
    memset(out, 0, sizeof *out);
    return tw_sync_not_given(x->store, &x->theirs, out, x->fault);
}

/* Move what was found into the report; mended where it is not found any more. */
static tw_status settle_not_given(exchange *x, const tw_sync_report *first, const tw_sync_report *second)
{
    for (size_t i = 0; i < first->odds; i++) {
        tw_sync_odd *odd = tw_sync_report_add(x->report, TW_SYNC_ODD_NOT_GIVEN, first->odd[i].writer, first->odd[i].n);
        if (odd == NULL)
            return tw_store_fault_set(x->fault, TW_STORE_NO_MEMORY, NULL);
        *odd = first->odd[i];
        odd->mended = 1;
        for (size_t j = 0; j < second->odds; j++)
            odd->mended &= strcmp(odd->writer, second->odd[j].writer) != 0 || second->odd[j].n > odd->n;
    }
    return TW_OK;
}

/* Take what arrived there. When something that they say they have did not come, everything is read once more. */
static tw_status pull(exchange *x)
{
    tw_sync_report first;
    tw_sync_report second;
    memset(&second, 0, sizeof second);
    cursor_get(x);
    tw_status status = read_on(x);
    if (status != TW_OK)
        return status;
    status = find_not_given(x, &first);
    if (status == TW_OK && first.odds > 0) {
        x->report->began_again = 1;
        status = cursor_put(x, "");
        if (status == TW_OK)
            status = read_on(x);
        if (status == TW_OK)
            status = find_not_given(x, &second);
        if (status == TW_OK)
            status = settle_not_given(x, &first, &second);
    }
    tw_sync_report_free(&first);
    tw_sync_report_free(&second);
    return status;
}

static tw_status into_batch(void *to, tw_text line)
{
    tw_sync_batch *batch = to;
    uint8_t hash[TW_SHA256_BYTES];
    tw_sha256(line.at, line.n, hash);
    return tw_sync_batch_add(batch, line, hash);
}

/* What they said of the lines of the batch. */
static tw_status hear(exchange *x)
{
    tw_store_said *said = calloc(x->batch.count, sizeof *said);
    tw_status status = said != NULL ? TW_OK : tw_store_fault_set(x->fault, TW_STORE_NO_MEMORY, NULL);
    for (size_t i = 0; status == TW_OK && i < x->batch.count; i++) {
        const tw_sync_result *result = &x->result[i];
        const uint8_t *sent = x->batch.item[i].hash;
        memcpy(said[i].hash, sent, TW_SHA256_BYTES);
        said[i].refused = result->taken == TW_SYNC_REFUSED;
        said[i].reason = result->reason;
        said[i].sentence = result->sentence;
        x->report->given += result->taken == TW_SYNC_STORED;
        x->report->doubled += result->taken == TW_SYNC_HAD;
        if (result->taken != TW_SYNC_REFUSED)
            status = tw_sync_list_add(&x->kept, sent);
        else
            status = add_refused(x, TW_SYNC_ODD_REFUSED_THERE, result, sent);
        /* What was spoilt on the way may be given again. */
        if (status == TW_OK && said[i].refused && strcmp(result->reason, "altered") != 0)
            status = tw_sync_list_add(&x->refused, sent);
    }
    if (status == TW_OK)
        status = tw_store_said_note(x->store, x->peer->name, said, x->batch.count, x->clock(x->clock_to), x->fault);
    free(said);
    return status;
}

/* Give lines from a list, as many messages as it takes. */
static tw_status give(exchange *x, const tw_sync_list *list)
{
    tw_status status = TW_OK;
    for (size_t at = 0; status == TW_OK && at < list->count;) {
        tw_sync_batch_clear(&x->batch);
        for (; status == TW_OK && at < list->count && x->batch.count < TW_SYNC_LINES
             && x->batch.used + TW_LINE_BYTES <= TW_SYNC_LINE_BYTES; at++)
            status = tw_store_lines(x->store, (const uint8_t (*)[TW_SHA256_BYTES])&list->hash[at], 1, into_batch, &x->batch, x->fault);
        if (status == TW_OK && x->batch.count > 0) {
            memset(x->result, 0, x->batch.count * sizeof *x->result);
            status = x->peer->take(x->peer->to, &x->batch, tw_units_text(x->writer), x->clock(x->clock_to), x->result);
            if (status == TW_OK)
                status = hear(x);
        }
    }
    return status;
}

static tw_status hash_of(void *to, tw_text line)
{
    uint8_t hash[TW_SHA256_BYTES];
    tw_sha256(line.at, line.n, hash);
    return tw_sync_list_add(to, hash);
}

/* What is here of the peer's one tub; nothing when it takes every one. */
static tw_status list_tub(exchange *x)
{
    x->of_tub.count = x->sorted[2] = 0;
    return of_one_tub(x) ? tw_store_of_tub(x->store, tw_units_text(x->peer->tub), hash_of, &x->of_tub, x->fault) : TW_OK;
}

/* What is still to be given: not what they will not have. What they said they keep and do not have is an oddness. */
static tw_status to_give(exchange *x, tw_sync_list *list)
{
    size_t n = 0;
    const tw_status status = tw_sync_lacking(x->store, &x->theirs, list, x->fault);
    for (size_t i = 0; status == TW_OK && i < list->count; i++)
        if (!is_refused(x, list->hash[i]) && (!of_one_tub(x) || in_set(&x->of_tub, &x->sorted[2], list->hash[i])))
            memmove(list->hash[n++], list->hash[i], TW_SHA256_BYTES);
    list->count = status == TW_OK ? n : 0;
    return status;
}

typedef struct {
    exchange *x;
    const tw_sync_list *list;
} not_kept;

/* Name those of the list that they said they keep, by writer and number. */
static tw_status name_not_kept(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n)
{
    const not_kept *look = to;
    for (size_t i = 0; i < n; i++)
        if (is_kept(look->x, link[i].hash) && listed(look->list, link[i].hash)) {
            tw_sync_odd *odd = tw_sync_report_add(look->x->report, TW_SYNC_ODD_NOT_KEPT, writer, link[i].n);
            if (odd == NULL)
                return TW_ERR_CAPACITY;
            memcpy(odd->hash, link[i].hash, TW_SHA256_BYTES);
        }
    return TW_OK;
}

/* After the last round: what was odd in giving and is not lacking there any more was mended. */
static void settle_given(exchange *x, const tw_sync_list *lacking)
{
    for (size_t i = 0; i < x->report->odds; i++) {
        tw_sync_odd *odd = &x->report->odd[i];
        if (odd->kind == TW_SYNC_ODD_NOT_KEPT || odd->kind == TW_SYNC_ODD_REFUSED_THERE)
            odd->mended = !listed(lacking, odd->hash) && !is_refused(x, odd->hash);
    }
}

/* What they refused once, and have now: it came to them by another way. */
typedef struct {
    exchange *x;
    const tw_sync_list *lacking;
    tw_sync_list come;
} come_round;

static tw_status look_at_refused(void *to, const char *peer, const char *reason, const char *sentence, tw_text line)
{
    come_round *look = to;
    uint8_t hash[TW_SHA256_BYTES];
    (void)reason;
    (void)sentence;
    if (strcmp(peer, look->x->peer->name) != 0)
        return TW_OK;
    tw_sha256(line.at, line.n, hash);
    return listed(look->lacking, hash) || is_refused(look->x, hash) ? TW_OK : tw_sync_list_add(&look->come, hash);
}

static tw_status forget_refusals(exchange *x, const tw_sync_list *lacking)
{
    come_round look = {x, lacking, {NULL, 0, 0}};
    tw_status status = tw_store_refused(x->store, look_at_refused, &look, x->fault);
    tw_store_said *said = status == TW_OK && look.come.count > 0 ? calloc(look.come.count, sizeof *said) : NULL;
    for (size_t i = 0; said != NULL && i < look.come.count; i++)
        memcpy(said[i].hash, look.come.hash[i], TW_SHA256_BYTES);
    if (said != NULL)
        status = tw_store_said_note(x->store, x->peer->name, said, look.come.count, x->clock(x->clock_to), x->fault);
    free(said);
    free(look.come.hash);
    return status;
}

static tw_status push(exchange *x)
{
    tw_sync_list list = {0};
    tw_status status = list_tub(x);
    if (status == TW_OK)
        status = to_give(x, &list);
    for (int round = 0; status == TW_OK && list.count > 0 && round < ROUNDS; round++) {
        not_kept look = {x, &list};
        if (round == 1)
            status = tw_store_links(x->store, name_not_kept, &look, x->fault);
        if (status == TW_OK)
            status = give(x, &list);
        if (status == TW_OK)
            status = ask_have(x);
        if (status == TW_OK)
            status = to_give(x, &list);
    }
    settle_given(x, &list);
    x->lacking = list.count;
    if (status == TW_OK)
        status = forget_refusals(x, &list);
    free(list.hash);
    return status;
}

/* A line that was refused here, but came whole when it was asked for again. */
static tw_status settle_refused_here(exchange *x)
{
    for (size_t i = 0; i < x->report->odds; i++) {
        tw_sync_odd *odd = &x->report->odd[i];
        int there = 0;
        if (odd->kind != TW_SYNC_ODD_REFUSED_HERE)
            continue;
        const tw_status status = tw_store_has(x->store, odd->hash, &there, x->fault);
        if (status != TW_OK)
            return status;
        odd->mended = there;
    }
    return TW_OK;
}

/* Of one tub there is no seal to compare: the same is what lacks nothing on either side. */
static int same_of_tub(const exchange *x)
{
    int open = x->lacking > 0 || x->refused.count > 0;
    for (size_t i = 0; i < x->report->odds; i++)
        open |= !x->report->odd[i].mended;
    return !open;
}

static tw_status compare(exchange *x)
{
    tw_sync_have ours;
    tw_status status = tw_sync_have_of(x->store, x->clock(x->clock_to), &ours, x->fault);
    if (status == TW_OK) {
        memcpy(x->report->seal, ours.seal, TW_SHA256_BYTES);
        status = settle_refused_here(x);
        x->report->same = of_one_tub(x) ? same_of_tub(x) : memcmp(ours.seal, x->theirs.seal, TW_SHA256_BYTES) == 0;
    }
    tw_sync_have_free(&ours);
    return status == TW_OK ? tw_sync_chains(x->store, x->report, x->fault) : status;
}

tw_status tw_sync_exchange(tw_store *store, const tw_sync_peer *peer, tw_sync_clock *clock, void *clock_to,
                           tw_sync_report *report, tw_store_fault *fault)
{
    exchange x;
    memset(&x, 0, sizeof x);
    memset(report, 0, sizeof *report);
    x.store = store;
    x.peer = peer;
    x.clock = clock;
    x.clock_to = clock_to;
    x.report = report;
    x.fault = fault;
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    x.result = calloc(TW_SYNC_LINES, sizeof *x.result);
    tw_status status = x.result != NULL ? tw_store_writer(store, x.writer, fault) : tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    if (status == TW_OK)
        status = ask_have(&x);
    if (status == TW_OK)
        status = pull(&x);
    if (status == TW_OK)
        status = push(&x);
    if (status == TW_OK)
        status = compare(&x);
    tw_sync_have_free(&x.theirs);
    tw_sync_batch_free(&x.batch);
    free(x.result);
    free(x.kept.hash);
    free(x.refused.hash);
    free(x.of_tub.hash);
    return status;
}
