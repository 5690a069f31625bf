/* tests/sync/weather.h: what happens to messages on their way, and the faults that are planted there. */
#ifndef TW_TESTS_SYNC_WEATHER_H
#define TW_TESTS_SYNC_WEATHER_H

#include "world.h"

/* The way from one node to another. */
typedef struct {
    world *w;
    int from, to;
} way;

static void the_other_side(const way *x, direct *room, tw_sync_peer *out)
{
    world *w = x->w;
    if (x->to == 0) {
        w->how->peer(w->server, x->from, out);
        return;
    }
    room->w = w;
    room->store = w->node[x->to].store;
    room->at = x->to;
    direct_peer(room, x->from, out);
}

/* 0: the message is lost before it arrives. */
static int sets_out(way *x)
{
    x->w->messages++;
    x->w->now_ms += 1 + (int64_t)below(x->w, 400);
    if (x->w->calm || !luck(x->w, 0.05))
        return 1;
    x->w->losts++;
    return 0;
}

/* The answer comes back, or does not. */
static tw_status comes_back(way *x, tw_status status)
{
    x->w->now_ms += (int64_t)below(x->w, 400);
    if (x->w->calm || !luck(x->w, 0.05))
        return status;
    x->w->losts++;
    return TW_ERR_IO;
}

static void copy_batch(const tw_sync_batch *from, tw_sync_batch *to)
{
    memset(to, 0, sizeof *to);
    for (size_t i = 0; i < from->count; i++)
        if (tw_sync_batch_add(to, tw_sync_batch_line(from, i), from->item[i].hashed ? from->item[i].hash : NULL) != TW_OK)
            abort();
}

/* A batch without one of its lines. */
static void without(const tw_sync_batch *from, size_t index, tw_sync_batch *to)
{
    memset(to, 0, sizeof *to);
    for (size_t i = 0; i < from->count; i++)
        if (i != index && tw_sync_batch_add(to, tw_sync_batch_line(from, i), from->item[i].hash) != TW_OK)
            abort();
}

/* Another letter somewhere in a line. */
static void spoil(way *x, tw_sync_batch *batch, size_t index)
{
    const struct tw_sync_item *item = &batch->item[index];
    batch->bytes[item->at + below(x->w, item->n)] ^= (char)(1 + below(x->w, 127));
}

static void note_planted(way *x, const tw_sync_batch *batch, size_t index)
{
    world *w = x->w;
    const tw_text line = tw_sync_batch_line(batch, index);
    place_of(w, line, w->planted_writer, &w->planted_n);
    memcpy(w->planted_hash, batch->item[index].hash, TW_SHA256_BYTES);
    w->planted = 1;
    w->armed = 0;
}

static tw_status way_have(void *to, tw_sync_have *out)
{
    way *x = to;
    direct room;
    tw_sync_peer peer;
    if (!sets_out(x))
        return TW_ERR_IO;
    the_other_side(x, &room, &peer);
    return comes_back(x, peer.have(peer.to, out));
}

static tw_status way_since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more)
{
    way *x = to;
    world *w = x->w;
    direct room;
    tw_sync_peer peer;
    if (!sets_out(x))
        return TW_ERR_IO;
    the_other_side(x, &room, &peer);
    /* Small pages, so that an exchange has many of them. */
    const tw_status status = comes_back(x, peer.since(peer.to, cursor, w->calm && luck(w, 0.5) ? most : 1 + below(w, 6), out, next, more));
    const int spoils = w->plant == DROP_COMING || w->plant == DOUBLE_COMING || w->plant == ALTER_COMING;
    for (size_t i = 0; status == TW_OK && w->armed && spoils && i < out->count; i++) {
        if (holds(w, w->node[x->from].store, out->item[i].hash))
            continue;
        tw_sync_batch other;
        note_planted(x, out, i);
        if (w->plant == DROP_COMING) {
            without(out, i, &other);
            tw_sync_batch_free(out);
            *out = other;
        } else if (w->plant == DOUBLE_COMING) {
            copy_batch(out, &other);
            if (tw_sync_batch_add(out, tw_sync_batch_line(&other, i), other.item[i].hash) != TW_OK)
                abort();
            tw_sync_batch_free(&other);
        } else {
            spoil(x, out, i);
        }
    }
    return status;
}

/* The server dies while it takes. */
static tw_status dies(way *x, tw_status status)
{
    world *w = x->w;
    if (!cut.dead)
        return status;
    w->how->down(w->server);
    (void)cut_end();
    w->server = w->how->up(w, w->node[0].logbook, w->node[0].state);
    return TW_ERR_IO;
}

static tw_status deliver(way *x, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    world *w = x->w;
    direct room;
    tw_sync_peer peer;
    the_other_side(x, &room, &peer);
    const int deadly = !w->calm && x->to == 0 && cut.folder[0] == '\0' && luck(w, 0.06);
    if (deadly)
        cut_set(w->node[0].folder, (long)below(w, 24), luck(w, 0.5), random_bits(&w->random));
    const tw_status status = peer.take(peer.to, in, writer, now_ms, result);
    if (!deadly)
        return status;
    if (cut.dead)
        return dies(x, status);
    (void)cut_end();
    return status;
}

/* The planted ones of the way there. */
static tw_status spoilt(way *x, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    world *w = x->w;
    tw_sync_batch other;
    const size_t i = below(w, in->count);
    tw_sync_result *said = calloc(in->count + 1, sizeof *said);
    if (said == NULL)
        abort();
    note_planted(x, in, i);
    if (w->plant == DROP_GOING)
        without(in, i, &other);
    else
        copy_batch(in, &other);
    if (w->plant == DOUBLE_GOING && tw_sync_batch_add(&other, tw_sync_batch_line(in, i), in->item[i].hash) != TW_OK)
        abort();
    if (w->plant == ALTER_GOING)
        spoil(x, &other, i);
    const tw_status status = deliver(x, &other, writer, now_ms, said);
    for (size_t at = 0, from = 0; status == TW_OK && at < in->count; at++) {
        if (w->plant == DROP_GOING && at == i) {
            result[at].taken = TW_SYNC_STORED; /* a lie */
            memcpy(result[at].hash, in->item[i].hash, TW_SHA256_BYTES);
        } else {
            result[at] = said[from++];
        }
    }
    /* The second of two is said to have been there. */
    if (status == TW_OK && w->plant == DOUBLE_GOING) {
        HOLD(w, said[in->count].taken == TW_SYNC_HAD);
        w->found = 1;
    }
    tw_sync_batch_free(&other);
    free(said);
    return status;
}

static tw_status way_take(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    way *x = to;
    world *w = x->w;
    const int out = sets_out(x);
    if (!w->calm && luck(w, 0.08) && w->lates < sizeof w->late / sizeof *w->late) {
        copy_batch(in, &w->late[w->lates].batch);
        w->late[w->lates++].to = x->to;
    }
    if (!out)
        return TW_ERR_IO;
    if (!w->calm && luck(w, 0.05)) {
        w->doubles++;
        (void)deliver(x, in, writer, now_ms, result);
        memset(result, 0, in->count * sizeof *result);
    }
    if (w->armed && (w->plant == DROP_GOING || w->plant == DOUBLE_GOING || w->plant == ALTER_GOING))
        return spoilt(x, in, writer, now_ms, result);
    return comes_back(x, deliver(x, in, writer, now_ms, result));
}

/* A message arrives that everybody had given up. */
static void late_arrival(world *w)
{
    if (w->lates == 0)
        return;
    const size_t which = below(w, w->lates);
    late *message = &w->late[which];
    tw_sync_result *said = calloc(message->batch.count + 1, sizeof *said);
    way x = {w, 1, message->to};
    if (said == NULL)
        abort();
    (void)deliver(&x, &message->batch, tw_units_text(""), 0, said);
    free(said);
    tw_sync_batch_free(&message->batch);
    *message = w->late[--w->lates];
}

#endif
