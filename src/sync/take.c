/* sync/take.c: a batch is taken, each line for itself. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/line.h"
#include "sync/sync.h"

static int refuse(tw_sync_result *result, const char *reason, const char *sentence)
{
    result->taken = TW_SYNC_REFUSED;
    if (result->reason[0] == '\0')
        (void)snprintf(result->reason, sizeof result->reason, "%s", reason);
    if (result->sentence[0] == '\0')
        (void)snprintf(result->sentence, sizeof result->sentence, "%s", sentence);
    return 0;
}

/* Whose entry it is, and when it was written down. */
static void identify(const tw_entry *entry, int64_t now_ms, tw_sync_result *result)
{
    double n = 0;
    tw_time entered;
    if (entry->writer.n == TW_ID_CHARS) {
        memcpy(result->writer, entry->writer.at, TW_ID_CHARS);
        result->writer[TW_ID_CHARS] = '\0';
    }
    if (tw_logbook_number(entry, TW_FIELD_N, &n) == TW_OK && n >= 1 && n <= 999999999)
        result->n = (uint32_t)n;
    result->newer = entry->newer;
    if (tw_units_time_read(tw_logbook_text(entry, TW_FIELD_ENTERED), &entered) == TW_OK)
        result->ahead_ms = entered.utc_s * 1000 - now_ms;
}

/* 1 when the line may be stored; else the result says why not. Whether an entry is well formed depends on the entry alone. */
static int acceptable(const tw_sync_batch *in, size_t index, const tw_sync_way *way, tw_entry_room *room, tw_sync_result *result)
{
    const struct tw_sync_item *item = &in->item[index];
    const tw_text line = tw_sync_batch_line(in, index);
    tw_entry entry;
    tw_fault why;
    memset(&why, 0, sizeof why);
    memset(result, 0, sizeof *result);
    tw_sha256(line.at, line.n, result->hash);
    const int readable = tw_logbook_line_read(line, TW_CHECK_IMPORTED, room, &entry, &why) == TW_OK;
    if (readable)
        identify(&entry, way->now_ms, result);
    if (item->hashed && memcmp(item->hash, result->hash, TW_SHA256_BYTES) != 0)
        return refuse(result, "altered", "This line is not the one that was sent: it has another hash.");
    if (!readable) {
        (void)tw_logbook_fault_text(&why, NULL, result->sentence, sizeof result->sentence);
        return refuse(result, tw_logbook_fault_name(why.id), "");
    }
    if (way->judge != NULL && !way->judge(way->judge_to, &entry, result))
        return refuse(result, "not-allowed", "You may not write this entry here.");
    return 1;
}

/* Lines that may be stored, and which of the batch each is. */
typedef struct {
    tw_text *line;
    size_t *index;
    tw_store_landing *landing;
    size_t n;
} accepted;

static int accepted_make(accepted *good, size_t n)
{
    good->n = 0;
    good->line = calloc(n, sizeof *good->line);
    good->index = calloc(n, sizeof *good->index);
    good->landing = calloc(n, sizeof *good->landing);
    return good->line != NULL && good->index != NULL && good->landing != NULL;
}

static void accepted_free(accepted *good)
{
    free(good->line);
    free(good->index);
    free(good->landing);
}

static tw_status note_clock(tw_store *store, const tw_sync_way *way, tw_store_fault *fault)
{
    tw_store_clock clock;
    memset(&clock, 0, sizeof clock);
    if (way->from_writer.n != TW_ID_CHARS || way->from_now_ms == 0)
        return TW_OK;
    memcpy(clock.writer, way->from_writer.at, TW_ID_CHARS);
    clock.ahead_ms = way->from_now_ms - way->now_ms;
    clock.doubt_ms = -1;
    clock.at_ms = way->now_ms;
    return tw_store_clock_note(store, &clock, fault);
}

tw_status tw_sync_take(tw_store *store, const tw_sync_batch *in, const tw_sync_way *way, tw_sync_result *result,
                       tw_store_fault *fault)
{
    accepted good;
    tw_store_arrival arrival = {way->now_ms, way->via};
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (in->count == 0)
        return note_clock(store, way, fault);
    tw_entry_room *room = malloc(sizeof *room);
    tw_status status = accepted_make(&good, in->count) && room != NULL ? TW_OK : tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    for (size_t i = 0; status == TW_OK && i < in->count; i++)
        if (acceptable(in, i, way, room, &result[i])) {
            good.line[good.n] = tw_sync_batch_line(in, i);
            good.index[good.n++] = i;
        }
    if (status == TW_OK && good.n > 0)
        status = tw_store_land(store, good.line, good.n, &arrival, good.landing, fault);
    for (size_t i = 0; status == TW_OK && i < good.n; i++) {
        tw_sync_result *said = &result[good.index[i]];
        said->taken = good.landing[i].added ? TW_SYNC_STORED : TW_SYNC_HAD;
        said->gap = good.landing[i].gap;
        said->forks = good.landing[i].forks;
        memcpy(said->other, good.landing[i].other, TW_SHA256_BYTES);
    }
    if (status == TW_OK)
        status = note_clock(store, way, fault);
    accepted_free(&good);
    free(room);
    return status;
}
