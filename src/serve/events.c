/* serve/events.c: entries as they arrive (server-sent events). A stream that has nothing to send sleeps and costs nothing; it is
 * woken when something arrives, and now and then to say that it is still there. */
#define _GNU_SOURCE

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "serve/inside.h"
#include "store/grow.h"

#define AT_ONCE 32           /* lines that are read at once                                        */
#define QUIET_S 20           /* a comment is sent after so many seconds without an event          */
#define UNREAD_MS 60000      /* a client that does not take what was sent for so long is let go    */

typedef struct tw_serve_stream {
    struct tw_serve_stream *next, *before;
    tw_serve *serve;
    struct MHD_Connection *connection;
    tw_serve_who who;
    tw_store_cursor cursor;
    uint64_t seen;           /* place of the logbook that was looked at          */
    uint64_t spoke_ms;
    int asleep;
    char *bytes;             /* what is to be sent                               */
    size_t at, n, room;
} tw_serve_stream;

static tw_status add_bytes(tw_serve_stream *stream, const char *bytes, size_t n)
{
    if (!tw_store_grow(&stream->bytes, &stream->room, stream->n + n, 1))
        return TW_ERR_CAPACITY;
    memcpy(stream->bytes + stream->n, bytes, n);
    stream->n += n;
    return TW_OK;
}

/* A line of an entry has no line end in it, so it is one line of data. */
static tw_status add_event(void *to, tw_text line)
{
    tw_serve_stream *stream = to;
    tw_status status = add_bytes(stream, "event: entry\ndata: ", 19);
    if (status == TW_OK)
        status = add_bytes(stream, line.at, line.n);
    return status == TW_OK ? add_bytes(stream, "\n\n", 2) : status;
}

/* Where one goes on when the line breaks: behind everything that stands before it. */
static tw_status add_place(tw_serve_stream *stream, tw_store_fault *fault)
{
    char mark[TW_STORE_MARK_BYTES], text[2 * TW_STORE_MARK_BYTES + 40];
    const tw_status status = tw_store_mark(stream->serve->reader, stream->cursor, mark, fault);
    if (status != TW_OK || mark[0] == '\0')
        return status;
    (void)snprintf(text, sizeof text, "event: cursor\nid: %s\ndata: %s\n\n", mark, mark);
    return add_bytes(stream, text, strlen(text));
}

/* Read what is new into the bytes to be sent. 0: the stream ends. */
static int fill(tw_serve_stream *stream)
{
    tw_store_fault fault;
    int more = 0;
    const uint64_t before = stream->cursor.opaque;
    stream->at = stream->n = 0;
    tw_status status = tw_store_page(stream->serve->reader, &stream->cursor, tw_units_text(stream->who.tub), AT_ONCE, add_event, stream,
                                     &more, &fault);
    if (status == TW_OK && stream->cursor.opaque != before)
        status = add_place(stream, &fault);
    if (status == TW_OK && stream->n == 0 && tw_serve_ms() - stream->spoke_ms >= QUIET_S * 1000u)
        status = add_bytes(stream, ":\n\n", 3);
    return status == TW_OK;
}

/* The library asks for bytes; what is asked under the lock decides whether to sleep, so nobody sleeps through an arrival. */
static ssize_t more_bytes(void *of, uint64_t position, char *out, size_t cap)
{
    tw_serve_stream *stream = of;
    tw_serve *serve = stream->serve;
    (void)position;
    while (stream->at == stream->n) {
        (void)pthread_mutex_lock(&serve->lock);
        const int ends = serve->ends;
        const int quiet = tw_serve_ms() - stream->spoke_ms >= QUIET_S * 1000u;
        const int sleeps = !ends && !quiet && stream->seen == serve->place;
        if (sleeps) {
            stream->asleep = 1;
            MHD_suspend_connection(stream->connection);
        }
        stream->seen = serve->place;
        (void)pthread_mutex_unlock(&serve->lock);
        if (sleeps)
            return 0;
        if (ends || !tw_serve_still(serve, &stream->who) || !fill(stream))
            return MHD_CONTENT_READER_END_OF_STREAM;
        /* A page that was full is not all: look again. */
        if (stream->n > 0) {
            stream->spoke_ms = tw_serve_ms();
            stream->seen = stream->cursor.opaque < stream->seen ? stream->cursor.opaque : stream->seen;
        }
    }
    const size_t left = stream->n - stream->at;
    const size_t n = left < cap ? left : cap;
    memcpy(out, stream->bytes + stream->at, n);
    stream->at += n;
    return (ssize_t)n;
}

static void stream_free(void *of)
{
    tw_serve_stream *stream = of;
    tw_serve *serve = stream->serve;
    (void)pthread_mutex_lock(&serve->lock);
    if (stream->before != NULL)
        stream->before->next = stream->next;
    else
        serve->streams = stream->next;
    if (stream->next != NULL)
        stream->next->before = stream->before;
    serve->streaming--;
    (void)pthread_mutex_unlock(&serve->lock);
    free(stream->bytes);
    free(stream);
}

void tw_serve_events_wake(tw_serve *serve, int all)
{
    const uint64_t now = tw_serve_ms();
    for (tw_serve_stream *stream = serve->streams; stream != NULL; stream = stream->next) {
        if (!stream->asleep || (!all && now - stream->spoke_ms < QUIET_S * 1000u))
            continue;
        stream->asleep = 0;
        MHD_resume_connection(stream->connection);
    }
}

/* Where a stream begins. 0: the reply says what is wrong. */
static int begin_at(tw_serve_request *request, tw_store_cursor *cursor)
{
    tw_store_fault fault;
    tw_text from = tw_serve_header(request, "Last-Event-ID");
    if (from.n == 0 && request->target.value[TW_PARAMETER_SINCE].at != NULL)
        from = request->target.value[TW_PARAMETER_SINCE];
    const tw_status status = from.n > 0 ? tw_store_mark_read(request->serve->reader, from, cursor, &fault)
                                        : tw_store_newest(request->serve->reader, cursor, &fault);
    if (status == TW_OK)
        return 1;
    if (fault.id != TW_STORE_FINE)
        tw_serve_reply_fault(request, &fault, status);
    else if (status == TW_ERR_UNKNOWN)
        tw_serve_reply_problem(request, TW_PROBLEM_CURSOR, NULL, NULL, NULL);
    else
        tw_serve_reply_problem(request, TW_PROBLEM_PARAMETER, "This is no cursor.", "parameter", "since");
    return 0;
}

/* A stream may be silent for long, but whoever does not take what was sent is let go. */
static void let_wait(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    const unsigned unread = UNREAD_MS;
    (void)MHD_set_connection_option(connection, MHD_CONNECTION_OPTION_TIMEOUT, 0u);
    if (info != NULL)
        (void)setsockopt(info->connect_fd, IPPROTO_TCP, TCP_USER_TIMEOUT, &unread, sizeof unread);
}

enum MHD_Result tw_serve_events_begin(tw_serve_request *request)
{
    tw_serve *serve = request->serve;
    tw_store_fault fault;
    tw_store_cursor cursor = {0};
    if (!begin_at(request, &cursor))
        return tw_serve_reply_send(request);
    (void)pthread_mutex_lock(&serve->lock);
    /* A share of the connections stays for short requests. */
    const int full = serve->ends || serve->streaming >= (serve->config.connections * 3u) / 4u;
    serve->streaming += !full;
    (void)pthread_mutex_unlock(&serve->lock);
    tw_serve_stream *stream = full ? NULL : calloc(1, sizeof *stream);
    if (stream == NULL) {
        tw_serve_reply_problem(request, full ? TW_PROBLEM_BUSY : TW_PROBLEM_MEMORY, NULL, NULL, NULL);
        request->reply.wait_s = 30;
        return tw_serve_reply_send(request);
    }
    *stream = (tw_serve_stream){.serve = serve, .connection = request->connection, .who = request->who, .cursor = cursor,
                                .seen = cursor.opaque, .spoke_ms = tw_serve_ms()};
    if (add_place(stream, &fault) != TW_OK || add_bytes(stream, ":\n\n", 3) != TW_OK)
        stream->n = 0;
    (void)pthread_mutex_lock(&serve->lock);
    stream->next = serve->streams;
    if (serve->streams != NULL)
        serve->streams->before = stream;
    serve->streams = stream;
    (void)pthread_mutex_unlock(&serve->lock);
    struct MHD_Response *response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 4096, more_bytes, stream, stream_free);
    if (response == NULL) {
        stream_free(stream);
        return MHD_NO;
    }
    let_wait(request->connection);
    request->reply.status = MHD_HTTP_OK;
    (void)MHD_add_response_header(response, "Content-Type", "text/event-stream");
    tw_serve_reply_headers(request, response);
    const enum MHD_Result sent = MHD_queue_response(request->connection, MHD_HTTP_OK, response);
    MHD_destroy_response(response);
    return sent;
}
