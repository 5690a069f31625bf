/* serve/server.c: the daemon: what is looked at before a request is answered, what a route does, begin and end. */
#define _GNU_SOURCE

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "gen/serve_openapi.h"
#include "gen/serve_pages.h"
#include "serve/guard.h"
#include "serve/inside.h"
#include "store/grow.h"

#define MEMORY_OF_A_CONNECTION ((size_t)16384) /* head of a request and of its answer */

uint64_t tw_serve_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u;
}

/* ---- headers --------------------------------------------------------------------------------------------- */

typedef struct {
    const char *name;
    tw_text value;
    int times;
} wanted_header;

static enum MHD_Result look_header(void *to, enum MHD_ValueKind kind, const char *name, size_t name_n, const char *value, size_t n)
{
    wanted_header *wanted = to;
    (void)kind;
    if (strlen(wanted->name) != name_n || strncasecmp(name, wanted->name, name_n) != 0)
        return MHD_YES;
    wanted->value = (tw_text){value != NULL ? value : "", value != NULL ? n : 0};
    wanted->times++;
    return MHD_YES;
}

static wanted_header find_header(const tw_serve_request *request, const char *name)
{
    wanted_header wanted = {name, {NULL, 0}, 0};
    (void)MHD_get_connection_values_n(request->connection, MHD_HEADER_KIND, look_header, &wanted);
    return wanted;
}

tw_text tw_serve_header(const tw_serve_request *request, const char *name)
{
    return find_header(request, name).value;
}

/* ---- who asks, and from where ----------------------------------------------------------------------------- */

/* The line of a connection. */
static tw_serve_line *line_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info != NULL ? info->socket_context : NULL;
}

static void set_phase(tw_serve_request *request, enum tw_serve_phase phase)
{
    tw_serve_line *line = line_of(request->connection);
    if (line == NULL)
        return;
    (void)pthread_mutex_lock(&request->serve->lock);
    line->phase = phase;
    line->since_ms = tw_serve_ms();
    line->first = 0;
    (void)pthread_mutex_unlock(&request->serve->lock);
}

/* Where a request comes from: the address, of version 6 the network, which is what one household or machine has. Behind a
 * proxy it is the last one that the proxy names. */
static void from_where(const tw_serve_request *request, uint8_t from[TW_SERVE_FROM])
{
    memset(from, 0, TW_SERVE_FROM);
    if (request->serve->config.proxy) {
        const tw_text all = tw_serve_header(request, "X-Forwarded-For");
        char last[64];
        size_t begin = all.n;
        while (begin > 0 && all.at[begin - 1] != ',')
            begin--;
        while (begin < all.n && all.at[begin] == ' ')
            begin++;
        (void)snprintf(last, sizeof last, "%.*s", (int)(all.n - begin < 60 ? all.n - begin : 60), all.n > 0 ? all.at + begin : "");
        if (inet_pton(AF_INET, last, from + 12) == 1)
            return;
        if (inet_pton(AF_INET6, last, from) == 1)
            memset(from + 8, 0, 8);
        return;
    }
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(request->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    if (info == NULL || info->client_addr == NULL)
        return;
    if (info->client_addr->sa_family == AF_INET) {
        struct sockaddr_in four;
        memcpy(&four, info->client_addr, sizeof four);
        memcpy(from + 12, &four.sin_addr, 4);
    } else if (info->client_addr->sa_family == AF_INET6) {
        struct sockaddr_in6 six;
        memcpy(&six, info->client_addr, sizeof six);
        memcpy(from, &six.sin6_addr, 8);
    }
}

/* ---- what is looked at first -------------------------------------------------------------------------------- */

/* The Host must be one of this server's, there once. */
static int host_fits(tw_serve_request *request, tw_text *host)
{
    const tw_serve *serve = request->serve;
    const wanted_header found = find_header(request, "Host");
    *host = found.value;
    if (found.times == 1 && tw_serve_host_fits(found.value, serve->hosts, serve->port, serve->config.proxy))
        return 1;
    tw_serve_reply_problem(request, found.times == 1 ? TW_PROBLEM_HOST : TW_PROBLEM_REQUEST,
                           "Another name is allowed with --hosts when the server is started.", NULL, NULL);
    return 0;
}

/* A browser says which page a request comes from; other programs say nothing. What another site's page may do is follow a link to
 * the start or to a lid link, and nothing else. */
static int origin_fits(tw_serve_request *request, tw_text host)
{
    const wanted_header origin = find_header(request, "Origin");
    const tw_text site = tw_serve_header(request, "Sec-Fetch-Site");
    const int link = request->route == TW_ROUTE_START || request->route == TW_ROUTE_LID_PAGE;
    const int same = origin.times == 0 || (origin.times == 1 && tw_serve_origin_fits(origin.value, request->serve->tls, host));
    const int told = site.n == 0 || link || tw_units_text_is(site, "same-origin") || tw_units_text_is(site, "none");
    if (same && told)
        return 1;
    tw_serve_reply_problem(request, TW_PROBLEM_ORIGIN, NULL, NULL, NULL);
    return 0;
}

/* A connection too many is told so and ends. */
static int there_is_room(tw_serve_request *request)
{
    const tw_serve_line *line = line_of(request->connection);
    if (line == NULL || !line->over)
        return 1;
    tw_serve_reply_problem(request, TW_PROBLEM_BUSY, "There are as many connections as there may be.", NULL, NULL);
    request->reply.wait_s = 5;
    request->reply.close = 1;
    return 0;
}

static int rate_fits(tw_serve_request *request)
{
    tw_serve *serve = request->serve;
    from_where(request, request->from);
    if (serve->config.rate == 0)
        return 1;
    const double per_s = serve->config.rate;
    const unsigned wait = tw_serve_rate_take(&serve->rate, request->from, tw_serve_ms(), per_s, 4.0 * per_s);
    if (wait == 0)
        return 1;
    tw_serve_reply_problem(request, TW_PROBLEM_WAIT, NULL, NULL, NULL);
    request->reply.wait_s = wait;
    return 0;
}

/* Method, address and parameters against the table. */
static int route_fits(tw_serve_request *request, const char *method)
{
    char allowed[64];
    request->route = TW_ROUTES;
    if (request->target_problem != TW_PROBLEMS) {
        tw_serve_reply_problem(request, request->target_problem, NULL,
                               request->target_problem == TW_PROBLEM_PARAMETER ? "parameter" : NULL, request->target.culprit);
        return 0;
    }
    request->route = tw_serve_route_find(&request->target, method, &request->of, allowed, sizeof allowed);
    if (request->route == TW_ROUTES) {
        tw_serve_reply_problem(request, allowed[0] != '\0' ? TW_PROBLEM_METHOD : TW_PROBLEM_PATH, NULL, NULL, NULL);
        (void)snprintf(request->reply.allow, sizeof request->reply.allow, "%s", allowed);
        return 0;
    }
    for (int i = 0; i < TW_PARAMETERS; i++)
        if (request->target.value[i].at != NULL && (tw_serve_routes[request->route].parameters >> i & 1u) == 0) {
            tw_serve_reply_problem(request, TW_PROBLEM_PARAMETER, "This address does not take it.", "parameter", tw_serve_parameters[i].name);
            return 0;
        }
    return 1;
}

/* A body only where one is wanted, and of its kind. */
static int body_fits(tw_serve_request *request)
{
    const tw_serve_takes takes = tw_serve_routes[request->route].takes;
    const tw_text length = tw_serve_header(request, "Content-Length");
    const int has = (length.n > 0 && !tw_units_text_is(length, "0")) || tw_serve_header(request, "Transfer-Encoding").n > 0;
    const tw_text type = tw_serve_header(request, "Content-Type");
    const wanted_header coding = find_header(request, "Transfer-Encoding");
    const int lengths = find_header(request, "Content-Length").times;
    /* Two lengths, and programs on the way may disagree where the next request begins. */
    if (lengths > 1 || coding.times > 1 || (coding.times == 1 && (lengths > 0 || !tw_units_text_is(coding.value, "chunked")))) {
        tw_serve_reply_problem(request, TW_PROBLEM_REQUEST, "A body has one length.", NULL, NULL);
        request->reply.close = 1;
        return 0;
    }
    if (takes == TW_TAKES_NOTHING) {
        if (!has)
            return 1;
        tw_serve_reply_problem(request, TW_PROBLEM_REQUEST, "This address takes no body.", NULL, NULL);
        return 0;
    }
    if (tw_serve_content_is(type, "application/json") || (takes == TW_TAKES_LINES && tw_serve_content_is(type, "application/jsonl")))
        return 1;
    tw_serve_reply_problem(request, TW_PROBLEM_MEDIA, takes == TW_TAKES_LINES ? "There are application/jsonl and application/json."
                           : "It is application/json.", NULL, NULL);
    return 0;
}

/* Everything that is known before the body. */
static void look(tw_serve_request *request, const char *method)
{
    tw_text host;
    request->head = strcmp(method, "HEAD") == 0;
    if (!there_is_room(request) || !rate_fits(request) || !host_fits(request, &host) || !route_fits(request, method) || !origin_fits(request, host))
        return;
    if (tw_serve_door(request))
        (void)body_fits(request);
}

/* ---- a request ------------------------------------------------------------------------------------------------ */

void tw_serve_wait(tw_serve_request *request)
{
    set_phase(request, TW_PHASE_WORK);
    request->held = 1;
    MHD_suspend_connection(request->connection);
}

int tw_serve_hold(tw_serve_request *request, tw_serve_desk *desk, void (*run)(tw_serve_job *job))
{
    request->job.run = run;
    tw_serve_wait(request);
    if (tw_serve_desk_put(desk, &request->job))
        return 1;
    tw_serve_reply_problem(request, TW_PROBLEM_BUSY, NULL, NULL, NULL);
    request->reply.wait_s = 2;
    MHD_resume_connection(request->connection);
    return 0;
}

void tw_serve_release(tw_serve_request *request)
{
    MHD_resume_connection(request->connection);
}

static char *copy_of(const char *text)
{
    const size_t n = strlen(text) + 1;
    char *copy = malloc(n);
    return copy != NULL ? memcpy(copy, text, n) : NULL;
}

static void plain(tw_serve_request *request, const char *type, const char *text)
{
    char *copy = copy_of(text);
    tw_serve_reply_bytes(request, MHD_HTTP_OK, type, copy, strlen(text));
    if (copy != NULL)
        tw_serve_reply_tag(&request->reply);
}

/* What a route does, once the request is there whole. */
static void act(tw_serve_request *request)
{
    switch (tw_serve_routes[request->route].gives) {
    case TW_GIVES_ANSWER:
        tw_serve_answers_ask(request);
        return;
    case TW_GIVES_OPENAPI:
        plain(request, "application/json", tw_serve_openapi);
        return;
    case TW_GIVES_SITE:
        if (!tw_serve_site(request))
            plain(request, "text/plain; charset=utf-8",
                  "A logbook of Tubwright.\nWhat can be asked for: /api/openapi.json\n");
        return;
    case TW_GIVES_HAVE:
    case TW_GIVES_ENTRIES:
    case TW_GIVES_LINES:
    case TW_GIVES_RESULTS:
        tw_serve_exchange(request);
        return;
    case TW_GIVES_SENSORS:
    case TW_GIVES_PUSHED:
        tw_serve_sensors_act(request);
        return;
    case TW_GIVES_SESSION:
    case TW_GIVES_PEOPLE:
    case TW_GIVES_LIDS:
    case TW_GIVES_NEW_LID:
    case TW_GIVES_NOTHING:
        tw_serve_people_act(request);
        return;
    case TW_GIVES_PAGE:
        plain(request, "text/html; charset=utf-8", tw_serve_lid_page);
        request->reply.policy = tw_serve_lid_policy;
        return;
    case TW_GIVES_EVENTS: /* the head of a stream, without a stream */
    case TW_GIVES_END:
    default:
        plain(request, "text/event-stream", "");
    }
}

/* More of the body; what is too much is passed over, so that the answer can be read. 0: end the connection. */
static int take_body(tw_serve_request *request, const char *data, size_t n)
{
    request->seen += n;
    if (request->seen > TW_SERVE_BODY_BYTES && !request->ready)
        tw_serve_reply_problem(request, TW_PROBLEM_SIZE, "At most 1 MiB at once.", NULL, NULL);
    if (request->ready)
        return request->seen <= TW_SERVE_DRAIN_BYTES;
    if (!tw_store_grow(&request->body, &request->room, request->used + n, 1))
        return 0;
    memcpy(request->body + request->used, data, n);
    request->used += n;
    return 1;
}

static enum MHD_Result handle(void *of, struct MHD_Connection *connection, const char *url, const char *method, const char *version,
                              const char *data, size_t *size, void **context)
{
    tw_serve_request *request = *context;
    (void)of;
    (void)url;
    (void)version;
    if (request == NULL)
        return MHD_NO;
    if (!request->begun) {
        request->begun = 1;
        request->connection = connection;
        request->since_ms = tw_serve_ms();
        set_phase(request, TW_PHASE_BODY);
        look(request, method);
        return MHD_YES;
    }
    if (*size > 0) {
        const size_t n = *size;
        *size = 0;
        return take_body(request, data, n) ? MHD_YES : MHD_NO;
    }
    if (request->held) { /* back from a desk, with its reply */
        request->held = 0;
        return tw_serve_reply_send(request);
    }
    if (!request->ready && tw_serve_routes[request->route].gives == TW_GIVES_EVENTS && !request->head) {
        set_phase(request, TW_PHASE_STREAM);
        return tw_serve_events_begin(request);
    }
    if (!request->ready) {
        act(request);
        if (request->held)
            return MHD_YES; /* a desk has it: nothing else of it may be looked at here */
    }
    return tw_serve_reply_send(request);
}

/* The first that is known of a request: its target, before anything of it was changed. */
static void *begin(void *of, const char *target, struct MHD_Connection *connection)
{
    tw_serve_request *request = calloc(1, sizeof *request);
    (void)connection;
    if (request == NULL)
        return NULL;
    request->serve = of;
    request->route = TW_ROUTES;
    request->target_problem = tw_serve_target_read(target, &request->target);
    return request;
}

/* One line for a person, without anything that a client chose but the method's route. */
static void log_line(const tw_serve_request *request)
{
    FILE *log = request->serve->config.log;
    char at[TW_TIME_BYTES];
    if (log == NULL || !request->begun || tw_units_time_write(request->serve->config.clock(request->serve->config.clock_of), at, sizeof at) != TW_OK)
        return;
    const tw_serve_route_row *row = request->route < TW_ROUTES ? &tw_serve_routes[request->route] : NULL;
    (void)fprintf(log, "%s %s %s %u %llu ms\n", at, row != NULL ? row->method : "-", row != NULL ? row->path : "-", request->reply.status,
                  (unsigned long long)(tw_serve_ms() - request->since_ms));
    (void)fflush(log);
}

static void finished(void *of, struct MHD_Connection *connection, void **context, enum MHD_RequestTerminationCode code)
{
    tw_serve_request *request = *context;
    (void)of;
    (void)connection;
    (void)code;
    if (request == NULL)
        return;
    if (request->begun) {
        set_phase(request, TW_PHASE_HEAD);
        log_line(request);
    }
    free(request->body);
    free(request->reply.bytes);
    free(request);
    *context = NULL;
}

/* ---- what arrives ------------------------------------------------------------------------------------------------- */

void tw_serve_arrived(tw_serve *serve)
{
    tw_store_fault fault;
    tw_store_cursor last;
    if (tw_store_newest(serve->writer, &last, &fault) != TW_OK)
        return;
    const int64_t now_s = serve->config.clock(serve->config.clock_of).utc_s;
    (void)pthread_mutex_lock(&serve->lock);
    if (last.opaque != serve->place) {
        serve->place = last.opaque;
        serve->changed_s = (uint64_t)now_s;
        tw_serve_events_wake(serve, 1);
    } else {
        tw_serve_events_wake(serve, 0);
    }
    (void)pthread_mutex_unlock(&serve->lock);
}

/* Once a second, at the desk that writes. */
static void tick(void *of)
{
    tw_serve_arrived(of);
    tw_serve_end_drips(of);
}

/* ---- begin and end ------------------------------------------------------------------------------------------------ */

int tw_serve_is_own(const char *address)
{
    return address == NULL || strcmp(address, "localhost") == 0 || strcmp(address, "::1") == 0 || strncmp(address, "127.", 4) == 0;
}

const char *tw_serve_lacks(const tw_serve_config *config)
{
    if ((config->certificate == NULL) != (config->key == NULL))
        return "A certificate and its key belong together.";
    if (!tw_serve_is_own(config->address) && !config->sign_in)
        return "On another address than this machine's own, signing in is needed.";
    return NULL;
}

/* Names under which it answers: its address, what leads to this machine, and what was given. */
static void fill_hosts(tw_serve *serve)
{
    const char *address = serve->config.address;
    const char *own = tw_serve_is_own(address) ? "localhost,127.0.0.1,[::1]" : "";
    const char *open = strchr(address, ':') != NULL ? "[" : "", *shut = open[0] != '\0' ? "]" : "";
    (void)snprintf(serve->hosts, sizeof serve->hosts, "%s%s%s%s%s%s%s", own, own[0] != '\0' ? "," : "", open, address, shut,
                   serve->config.hosts != NULL ? "," : "", serve->config.hosts != NULL ? serve->config.hosts : "");
}

/* The thread that speaks HTTP begins here; everything that it looks at is there by now. */
static int start_daemon(tw_serve *serve, int listening, char *why, size_t cap)
{
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME;
    struct MHD_OptionItem tls[] = {{MHD_OPTION_END, 0, NULL}, {MHD_OPTION_END, 0, NULL}, {MHD_OPTION_END, 0, NULL}};
    if (serve->config.certificate != NULL) {
        flags |= MHD_USE_TLS;
        tls[0] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(uintptr_t)serve->config.certificate};
        tls[1] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(uintptr_t)serve->config.key};
    }
    serve->daemon = MHD_start_daemon(flags, 0, tw_serve_line_may, serve, handle, serve, MHD_OPTION_LISTEN_SOCKET, listening,
        MHD_OPTION_CONNECTION_TIMEOUT, serve->config.patience_s, MHD_OPTION_CONNECTION_LIMIT, serve->config.connections + TW_SERVE_SPARE + 1,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, MEMORY_OF_A_CONNECTION, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_NOTIFY_CONNECTION, tw_serve_line_changed, serve, MHD_OPTION_NOTIFY_COMPLETED, finished, serve,
        MHD_OPTION_URI_LOG_CALLBACK, begin, serve, MHD_OPTION_ARRAY, tls, MHD_OPTION_END);
    if (serve->daemon != NULL)
        return 1;
    (void)close(listening);
    (void)snprintf(why, cap, "%s", serve->config.certificate != NULL ? "The certificate or its key cannot be used." : "No thread could be had.");
    return 0;
}

static tw_status open_all(tw_serve *serve, tw_store_fault *fault, char *why, size_t cap)
{
    const tw_serve_config *config = &serve->config;
    tw_status status = tw_store_open(config->logbook, TW_STORE_WRITE | TW_STORE_MAKE, config->state, &serve->writer, fault);
    if (status == TW_OK)
        status = tw_store_open(config->logbook, TW_STORE_READ, NULL, &serve->reader, fault);
    if (status != TW_OK)
        return status;
    tw_serve_arrived(serve);
    status = tw_serve_people_open(serve, fault);
    if (status == TW_ERR_MISSING && fault->id == TW_STORE_FINE)
        (void)snprintf(why, cap, "Nobody can sign in yet. First: tubwright serve person add NAME owner");
    if (status == TW_OK)
        status = tw_serve_answers_open(serve, fault);
    if (status != TW_OK)
        return status;
    tw_serve_raise_files(config->connections);
    const int listening = tw_serve_listen(serve, why, cap);
    if (listening < 0)
        return TW_ERR_IO;
    if (!tw_serve_desk_open(&serve->writing, 256, tick, serve)) {
        (void)close(listening);
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, "no thread");
    }
    return start_daemon(serve, listening, why, cap) ? TW_OK : TW_ERR_IO;
}

tw_status tw_serve_open(const tw_serve_config *config, tw_serve **out, tw_store_fault *fault, char *why, size_t cap)
{
    tw_serve *serve = calloc(1, sizeof *serve);
    *out = NULL;
    why[0] = '\0';
    (void)tw_store_fault_set(fault, TW_STORE_FINE, NULL);
    if (serve == NULL)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    serve->config = *config;
    if (serve->config.address == NULL)
        serve->config.address = "127.0.0.1";
    serve->tls = config->certificate != NULL || config->proxy;
    serve->guarded = config->sign_in;
    (void)pthread_mutex_init(&serve->lock, NULL);
    fill_hosts(serve);
    const tw_status status = open_all(serve, fault, why, cap);
    if (status == TW_OK)
        *out = serve;
    else
        tw_serve_close(serve);
    return status;
}

uint16_t tw_serve_port(const tw_serve *serve)
{
    return serve->port;
}

void tw_serve_address(const tw_serve *serve, char *buf, size_t cap)
{
    const char *address = serve->config.address;
    const int six = strchr(address, ':') != NULL;
    (void)snprintf(buf, cap, "%s://%s%s%s:%u", serve->config.certificate != NULL ? "https" : "http", six ? "[" : "", address,
                   six ? "]" : "", serve->port);
}

void tw_serve_close(tw_serve *serve)
{
    if (serve == NULL)
        return;
    (void)pthread_mutex_lock(&serve->lock);
    serve->ends = 1;
    tw_serve_events_wake(serve, 1);
    (void)pthread_mutex_unlock(&serve->lock);
    /* No new connections; then the desks finish what they have, so that no connection is left held. */
    if (serve->daemon != NULL) {
        const MHD_socket listening = MHD_quiesce_daemon(serve->daemon);
        if (listening != MHD_INVALID_SOCKET)
            (void)close(listening);
    }
    tw_serve_desk_close(&serve->writing);
    tw_serve_desk_close(&serve->signing);
    tw_serve_answers_end(serve);
    if (serve->daemon != NULL)
        MHD_stop_daemon(serve->daemon);
    tw_serve_answers_close(serve);
    tw_store_close(serve->reader);
    tw_store_close(serve->writer);
    tw_store_close(serve->shelf);
    tw_store_access_close(serve->door);
    tw_store_access_close(serve->people);
    (void)pthread_mutex_destroy(&serve->lock);
    free(serve);
}
