/* The server on loopback: 200 connections that are kept alive ask for an answer that was given before, next to the same
 * from a bare daemon of the same library with a fixed text; a thousand streams that sleep; entries stored next to
 * writes that are synced. */
#define _GNU_SOURCE

#include <arpa/inet.h>
#include <fcntl.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "bench.h"

#include "serve/serve.h"

#define CONNECTIONS 200
#define REQUESTS 20000
#define STREAMS 1000
#define POSTS 400
#define TUB "01890000-0000-7000-8000-00000000000a"
#define AT "2026-03-24T10:40:00+01:00"

static double now_s(clockid_t clock)
{
    struct timespec at;
    (void)clock_gettime(clock, &at);
    return (double)at.tv_sec + 1e-9 * (double)at.tv_nsec;
}

static tw_time still(const void *of)
{
    (void)of;
    return (tw_time){INT64_C(1774345200), 60};
}

static int dial(uint16_t port)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    const int line = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (line < 0 || connect(line, (struct sockaddr *)&to, sizeof to) != 0)
        abort();
    return line;
}

static void put(int line, const char *text, size_t n)
{
    if (write(line, text, n) != (ssize_t)n)
        abort();
}

/* Bytes of a whole answer of which so many are there: 0 when it is not whole yet. */
static size_t whole(const char *bytes, size_t n)
{
    const char *body = memmem(bytes, n, "\r\n\r\n", 4);
    const char *length = body != NULL ? memmem(bytes, (size_t)(body - bytes), "Content-Length: ", 16) : NULL;
    const size_t all = length != NULL ? (size_t)(body - bytes) + 4 + strtoul(length + 16, NULL, 10) : 0;
    return all > 0 && all <= n ? all : 0;
}

static int rising(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

typedef struct {
    int line;
    size_t used;
    double sent;
    char bytes[16384];
} client;

/* 99 of 100 answers came within so many seconds; *errors counts what was no 200. */
static double p99(uint16_t port, const char *path, unsigned *errors)
{
    static client all[CONNECTIONS];
    static double took[REQUESTS];
    struct epoll_event ready[64];
    char request[400];
    const int n = snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\n\r\n", path, port);
    const int poll = epoll_create1(EPOLL_CLOEXEC);
    size_t asked = 0, got = 0;
    for (size_t i = 0; i < CONNECTIONS; i++, asked++) {
        all[i].line = dial(port);
        all[i].used = 0;
        struct epoll_event event = {.events = EPOLLIN, .data.ptr = &all[i]};
        (void)epoll_ctl(poll, EPOLL_CTL_ADD, all[i].line, &event);
        all[i].sent = now_s(CLOCK_MONOTONIC);
        put(all[i].line, request, (size_t)n);
    }
    while (got < REQUESTS) {
        const int some = epoll_wait(poll, ready, 64, 10000);
        if (some <= 0)
            abort();
        for (int i = 0; i < some; i++) {
            client *one = ready[i].data.ptr;
            const ssize_t more = read(one->line, one->bytes + one->used, sizeof one->bytes - one->used);
            if (more <= 0)
                abort();
            one->used += (size_t)more;
            if (whole(one->bytes, one->used) == 0)
                continue;
            took[got++] = now_s(CLOCK_MONOTONIC) - one->sent;
            *errors += memcmp(one->bytes, "HTTP/1.1 200", 12) != 0;
            one->used = 0;
            if (got == REQUESTS)
                break;
            if (asked < REQUESTS) {
                asked++;
                one->sent = now_s(CLOCK_MONOTONIC);
                put(one->line, request, (size_t)n);
            }
        }
    }
    for (size_t i = 0; i < CONNECTIONS; i++)
        (void)close(all[i].line);
    (void)close(poll);
    qsort(took, REQUESTS, sizeof took[0], rising);
    return took[REQUESTS * 99 / 100];
}

/* ---- a bare daemon ---------------------------------------------------------------------------------------- */

static enum MHD_Result fixed(void *of, struct MHD_Connection *connection, const char *url, const char *method, const char *version,
                             const char *data, size_t *size, void **context)
{
    static int seen;
    (void)url, (void)method, (void)version, (void)data, (void)size;
    if (*context == NULL) { /* an answer at once would end the connection */
        *context = &seen;
        return MHD_YES;
    }
    *context = NULL;
    return MHD_queue_response(connection, MHD_HTTP_OK, of);
}

/* ---- posts -------------------------------------------------------------------------------------------------- */

static double post_each_s(uint16_t port, unsigned *errors)
{
    char line[600], request[1200], answer[8192];
    const int to = dial(port);
    const double began = now_s(CLOCK_MONOTONIC);
    for (unsigned i = 0; i < POSTS; i++) {
        const int n = snprintf(line, sizeof line, "{\"analyte\":\"ph\",\"at\":\"" AT "\",\"entered\":\"" AT "\",\"form\":\"value\","
                               "\"id\":\"01890000-0000-7000-8000-%012x\",\"kind\":\"reading\",\"n\":\"1\",\"tub\":\"" TUB "\",\"value\":\"7.2\","
                               "\"writer\":\"5a000000-0000-4000-8000-%012x\"}", i + 4096u, i + 4096u);
        const int all = snprintf(request, sizeof request, "POST /api/entries HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nContent-Type: application/jsonl\r\n"
                                 "Content-Length: %d\r\n\r\n%s", port, n, line);
        put(to, request, (size_t)all);
        size_t used = 0;
        while (whole(answer, used) == 0) {
            const ssize_t more = read(to, answer + used, sizeof answer - used);
            if (more <= 0)
                abort();
            used += (size_t)more;
        }
        *errors += memmem(answer, used, "\"stored\":1", 10) == NULL;
    }
    (void)close(to);
    return (now_s(CLOCK_MONOTONIC) - began) / POSTS;
}

static double synced_write_each_s(const char *folder)
{
    char name[200], page[4096] = {0};
    (void)snprintf(name, sizeof name, "%s/raw", folder);
    const int file = open(name, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    const double began = now_s(CLOCK_MONOTONIC);
    for (int i = 0; i < POSTS; i++)
        if (pwrite(file, page, sizeof page, (off_t)i * 4096) != 4096 || fdatasync(file) != 0)
            abort();
    const double each = (now_s(CLOCK_MONOTONIC) - began) / POSTS;
    (void)close(file);
    (void)unlink(name);
    return each;
}

/* Share of a core that so many sleeping streams take. */
static double streams_share(uint16_t port, int *line, int count)
{
    char request[200], some[4096];
    const int n = snprintf(request, sizeof request, "GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:%u\r\n\r\n", port);
    for (int i = 0; i < count; i++) {
        line[i] = dial(port);
        put(line[i], request, (size_t)n);
        if (read(line[i], some, sizeof some) <= 0 || memcmp(some, "HTTP/1.1 200", 12) != 0)
            abort();
    }
    (void)sleep(1);
    const double cpu = now_s(CLOCK_PROCESS_CPUTIME_ID), wall = now_s(CLOCK_MONOTONIC);
    (void)sleep(22); /* each of them says once that it is still there */
    return (now_s(CLOCK_PROCESS_CPUTIME_ID) - cpu) / (now_s(CLOCK_MONOTONIC) - wall);
}

int main(void)
{
    static const char TUB_LINE[] = "{\"at\":\"2026-03-24T08:00:00+01:00\",\"entered\":\"2026-03-24T08:00:00+01:00\",\"id\":\"01890000-0000-7000-8000-000000000001\","
        "\"kind\":\"tub\",\"n\":\"1\",\"name\":\"Barn\",\"tub\":\"" TUB "\",\"volume\":\"1300\",\"volume_unit\":\"L\",\"writer\":\"5a000000-0000-4000-8000-000000000001\"}";
    static const uint8_t PROGRAM[32] = {1};
    static int streams[STREAMS];
    char folder[] = "/tmp/tubwright-bench-XXXXXX", logbook[100], why[200], command[120];
    struct rlimit files;
    tw_store *store = NULL;
    tw_serve *serve = NULL;
    tw_store_fault fault;
    unsigned errors = 0;
    if (getrlimit(RLIMIT_NOFILE, &files) == 0) {
        files.rlim_cur = files.rlim_max;
        (void)setrlimit(RLIMIT_NOFILE, &files);
    }
    if (mkdtemp(folder) == NULL)
        return 1;
    (void)snprintf(logbook, sizeof logbook, "%s/l.db", folder);
    const tw_text line = {TUB_LINE, sizeof TUB_LINE - 1};
    if (tw_store_open(logbook, TW_STORE_WRITE | TW_STORE_MAKE, NULL, &store, &fault) != TW_OK ||
        tw_store_append(store, &line, 1, NULL, &fault) != TW_OK)
        return 1;
    tw_store_close(store);
    const tw_serve_config config = {.logbook = logbook, .program = PROGRAM, .clock = still, .connections = 1500, .patience_s = 30};
    if (tw_serve_open(&config, &serve, &fault, why, sizeof why) != TW_OK) {
        (void)fprintf(stderr, "%s %s\n", why, fault.detail);
        return 1;
    }
    struct MHD_Response *text = MHD_create_response_from_buffer(1250, malloc(1250), MHD_RESPMEM_MUST_FREE);
    struct MHD_Daemon *bare = MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD, 0, NULL, NULL, fixed, text, MHD_OPTION_CONNECTION_LIMIT, 1500u,
                                               MHD_OPTION_END);
    const union MHD_DaemonInfo *bound = bare != NULL ? MHD_get_daemon_info(bare, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (bound == NULL)
        return 1;
    double best = 1e9, least = 1e9;
    for (int i = 0; i < 3; i++) {
        const double plain = p99(bound->port, "/", &errors), cached = p99(tw_serve_port(serve), "/api/tubs/Barn/now", &errors);
        least = plain < least ? plain : least;
        best = cached < best ? cached : best;
    }
    bench_number("serve_answer_p99_us", best * 1e6);
    bench_number("serve_answer_p99_to_fixed_text", best / least);
    const double raw = synced_write_each_s(folder), post = post_each_s(tw_serve_port(serve), &errors);
    bench_number("serve_entries_a_second", 1.0 / post);
    bench_number("serve_entry_to_synced_write", post / raw);
    bench_number("serve_errors", errors);
    bench_number("serve_1000_streams_core_percent", 100.0 * streams_share(tw_serve_port(serve), streams, STREAMS));
    for (int i = 0; i < STREAMS; i++)
        (void)close(streams[i]);
    MHD_stop_daemon(bare);
    MHD_destroy_response(text);
    tw_serve_close(serve);
    (void)snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) != 0;
}
