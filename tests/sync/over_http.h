/* tests/sync/over_http.h: the server of the histories behind HTTP, with TLS or without: another table of the same functions. The server runs in
 * this process, by the clock of the world; its client here is a few lines over a socket, so that it shares nothing with the server. */
#ifndef TW_TESTS_SYNC_OVER_HTTP_H
#define TW_TESTS_SYNC_OVER_HTTP_H

#include <arpa/inet.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <jansson.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include "serve/serve.h"
#include "world.h"

typedef struct {
    world *w;
    tw_serve *serve;
    int fd;
    gnutls_session_t session; /* NULL: plain */
    int tls;
} http_server;

/* ---- a certificate of our own ---- */

static char http_certificate[8192], http_key[8192];
static gnutls_certificate_credentials_t http_trust;

static void http_make_certificate(void)
{
    gnutls_x509_privkey_t key;
    gnutls_x509_crt_t crt;
    size_t n = sizeof http_key - 1;
    if (http_key[0] != '\0')
        return;
    int rc = gnutls_global_init();
    rc |= gnutls_x509_privkey_init(&key) | gnutls_x509_crt_init(&crt);
    rc |= gnutls_x509_privkey_generate(key, GNUTLS_PK_ECDSA, GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0);
    rc |= gnutls_x509_crt_set_version(crt, 3) | gnutls_x509_crt_set_serial(crt, "\x01", 1);
    rc |= gnutls_x509_crt_set_dn_by_oid(crt, GNUTLS_OID_X520_COMMON_NAME, 0, "127.0.0.1", 9);
    rc |= gnutls_x509_crt_set_activation_time(crt, 0) | gnutls_x509_crt_set_expiration_time(crt, 4102444800);
    rc |= gnutls_x509_crt_set_key(crt, key) | gnutls_x509_crt_sign2(crt, crt, key, GNUTLS_DIG_SHA256, 0);
    rc |= gnutls_x509_privkey_export(key, GNUTLS_X509_FMT_PEM, http_key, &n);
    n = sizeof http_certificate - 1;
    rc |= gnutls_x509_crt_export(crt, GNUTLS_X509_FMT_PEM, http_certificate, &n);
    rc |= gnutls_certificate_allocate_credentials(&http_trust);
    gnutls_x509_crt_deinit(crt);
    gnutls_x509_privkey_deinit(key);
    if (rc != 0)
        abort();
}

/* ---- the server ---- */

static tw_time http_clock(const void *of)
{
    const http_server *server = of;
    const tw_time now = {clock_of(server->w, 0) / 1000, 0};
    return now;
}

static void *http_start(world *w, const char *logbook, const char *state, int tls)
{
    static const uint8_t program[32];
    http_server *server = calloc(1, sizeof *server);
    tw_serve_config config;
    tw_store_fault fault;
    char why[256] = "";
    if (server == NULL)
        abort();
    server->w = w;
    server->fd = -1;
    server->tls = tls;
    memset(&config, 0, sizeof config);
    config.logbook = logbook;
    config.state = state;
    config.program = program;
    config.clock = http_clock;
    config.clock_of = server;
    config.connections = 16;
    config.patience_s = 10;
    if (tls) {
        http_make_certificate();
        config.certificate = http_certificate;
        config.key = http_key;
    }
    const tw_status status = tw_serve_open(&config, &server->serve, &fault, why, sizeof why);
    if (status != TW_OK)
        (void)printf("# the server: %s %s %s\n", tw_store_trouble_name(fault.id), fault.detail, why);
    HOLD(w, status == TW_OK);
    return server;
}

static void *http_up(world *w, const char *logbook, const char *state)
{
    return http_start(w, logbook, state, 0);
}

static void *https_up(world *w, const char *logbook, const char *state)
{
    return http_start(w, logbook, state, 1);
}

static void http_hang_up(http_server *server)
{
    if (server->session != NULL)
        gnutls_deinit(server->session);
    server->session = NULL;
    if (server->fd >= 0)
        (void)close(server->fd);
    server->fd = -1;
}

static void http_down(void *to)
{
    http_server *server = to;
    http_hang_up(server);
    tw_serve_close(server->serve);
    free(server);
}

/* ---- the client ---- */

static int http_connect(http_server *server)
{
    const int one = 1;
    struct sockaddr_in address;
    if (server->fd >= 0)
        return 1;
    memset(&address, 0, sizeof address);
    address.sin_family = AF_INET;
    address.sin_port = htons(tw_serve_port(server->serve));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    server->fd = socket(AF_INET, SOCK_STREAM, 0);
    if (server->fd < 0 || connect(server->fd, (const struct sockaddr *)&address, sizeof address) != 0)
        return 0;
    (void)setsockopt(server->fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    if (!server->tls)
        return 1;
    if (gnutls_init(&server->session, GNUTLS_CLIENT) != 0 || gnutls_set_default_priority(server->session) != 0
        || gnutls_credentials_set(server->session, GNUTLS_CRD_CERTIFICATE, http_trust) != 0)
        abort();
    gnutls_transport_set_int(server->session, server->fd);
    int rc = 0;
    do
        rc = gnutls_handshake(server->session);
    while (rc < 0 && !gnutls_error_is_fatal(rc));
    return rc == 0;
}

static int http_send(http_server *server, const char *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t sent = server->session != NULL ? gnutls_record_send(server->session, bytes, n) : send(server->fd, bytes, n, MSG_NOSIGNAL);
        if (sent <= 0)
            return 0;
        bytes += sent;
        n -= (size_t)sent;
    }
    return 1;
}

static ssize_t http_receive(http_server *server, char *bytes, size_t n)
{
    ssize_t got = 0;
    do
        got = server->session != NULL ? gnutls_record_recv(server->session, bytes, n) : recv(server->fd, bytes, n, 0);
    while (server->session != NULL && got < 0 && !gnutls_error_is_fatal((int)got));
    return got;
}

/* One request; the status of HTTP, and the body as JSON (NULL when it is none). 0: no answer. */
static long http_ask(http_server *server, const char *method, const char *path, const char *body, json_t **out)
{
    static char room[1 << 22];
    char head[512];
    size_t used = 0;
    size_t need = 0;
    long status = 0;
    *out = NULL;
    const size_t n = body != NULL ? strlen(body) : 0;
    (void)snprintf(head, sizeof head, "%s %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nAccept: application/json\r\n%s", method, path,
                   tw_serve_port(server->serve), body != NULL ? "Content-Type: application/json\r\n" : "");
    (void)snprintf(head + strlen(head), sizeof head - strlen(head), "Content-Length: %zu\r\n\r\n", n);
    if (!http_connect(server) || !http_send(server, head, strlen(head)) || !http_send(server, body != NULL ? body : "", n)) {
        http_hang_up(server);
        return 0;
    }
    while (need == 0 || used < need) {
        const ssize_t got = used + 1 < sizeof room ? http_receive(server, room + used, sizeof room - 1 - used) : 0;
        if (got <= 0) {
            http_hang_up(server);
            return 0;
        }
        used += (size_t)got;
        room[used] = '\0';
        const char *end = need == 0 ? strstr(room, "\r\n\r\n") : NULL;
        const char *length = end != NULL ? strstr(room, "Content-Length: ") : NULL;
        if (end != NULL)
            need = (size_t)(end - room) + 4 + (length != NULL && length < end ? strtoul(length + 16, NULL, 10) : 0);
    }
    status = strtol(room + 9, NULL, 10);
    const char *from = strstr(room, "\r\n\r\n") + 4;
    *out = json_loadb(from, used - (size_t)(from - room), 0, NULL);
    return status;
}

static void http_text(const json_t *object, const char *name, char *out, size_t cap)
{
    const char *text = json_string_value(json_object_get(object, name));
    (void)snprintf(out, cap, "%s", text != NULL ? text : "");
}

static void http_hash(const json_t *object, const char *name, uint8_t out[TW_SHA256_BYTES])
{
    const char *text = json_string_value(json_object_get(object, name));
    unsigned byte = 0;
    memset(out, 0, TW_SHA256_BYTES);
    for (size_t i = 0; text != NULL && strlen(text) == 64 && i < TW_SHA256_BYTES && sscanf(text + 2 * i, "%2x", &byte) == 1; i++)
        out[i] = (uint8_t)byte;
}

static tw_status http_have(void *to, tw_sync_have *out)
{
    json_t *answer = NULL;
    json_t *one = NULL;
    size_t i = 0;
    const long status = http_ask(to, "GET", "/api/have", NULL, &answer);
    if (status == 200) {
        http_text(answer, "writer", out->writer, sizeof out->writer);
        http_text(answer, "cursor", out->cursor, sizeof out->cursor);
        http_hash(answer, "seal", out->seal);
        out->now_ms = json_integer_value(json_object_get(answer, "now_ms"));
        out->lines = (uint64_t)json_integer_value(json_object_get(answer, "lines"));
        json_array_foreach(json_object_get(answer, "runs"), i, one)
        {
            tw_sync_run run;
            memset(&run, 0, sizeof run);
            http_text(one, "writer", run.writer, sizeof run.writer);
            http_hash(one, "hash", run.hash);
            run.from = (uint32_t)json_integer_value(json_object_get(one, "from"));
            run.n = (uint32_t)json_integer_value(json_object_get(one, "n"));
            if (tw_sync_have_add(out, &run) != TW_OK)
                abort();
        }
    }
    json_decref(answer);
    return status == 200 ? TW_OK : TW_ERR_IO;
}

static tw_status http_since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more)
{
    char path[160];
    json_t *answer = NULL;
    json_t *one = NULL;
    size_t i = 0;
    (void)snprintf(path, sizeof path, "/api/entries?limit=%zu%s%s", most, cursor[0] != '\0' ? "&since=" : "", cursor);
    const long status = http_ask(to, "GET", path, NULL, &answer);
    if (status == 200) {
        http_text(answer, "next", next, TW_STORE_MARK_BYTES);
        *more = json_is_true(json_object_get(answer, "more"));
        json_array_foreach(json_object_get(answer, "entries"), i, one)
        {
            uint8_t hash[TW_SHA256_BYTES];
            const json_t *line = json_object_get(one, "line");
            http_hash(one, "hash", hash);
            if (tw_sync_batch_add(out, (tw_text){json_string_value(line), json_string_length(line)}, hash) != TW_OK)
                abort();
        }
    }
    json_decref(answer);
    return status == 200 ? TW_OK : status == 410 ? TW_ERR_UNKNOWN : TW_ERR_IO;
}

/* A line that was spoilt may hold bytes that are no UTF-8, which no JSON carries: each is sent as a question mark, spoilt as well. */
static json_t *http_line(tw_text line)
{
    json_t *text = json_stringn(line.at, line.n);
    char copy[TW_LINE_BYTES];
    for (size_t i = 0; text == NULL && i < line.n && i < sizeof copy; i++)
        copy[i] = (unsigned char)line.at[i] < 0x80 && line.at[i] != '\0' ? line.at[i] : '?';
    return text != NULL ? text : json_stringn(copy, line.n);
}

static tw_status http_take(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    json_t *entries = json_array();
    json_t *answer = NULL;
    json_t *one = NULL;
    size_t i = 0;
    for (size_t at = 0; at < in->count; at++) {
        char hash[TW_SHA256_HEX];
        json_t *entry = json_object();
        tw_sha256_hex(in->item[at].hash, hash);
        (void)json_object_set_new(entry, "line", http_line(tw_sync_batch_line(in, at)));
        if (in->item[at].hashed)
            (void)json_object_set_new(entry, "hash", json_string(hash));
        (void)json_array_append_new(entries, entry);
    }
    json_t *message = json_pack("{s:o}", "entries", entries);
    if (writer.n > 0) {
        (void)json_object_set_new(message, "writer", json_stringn(writer.at, writer.n));
        (void)json_object_set_new(message, "now_ms", json_integer(now_ms));
    }
    char *body = json_dumps(message, JSON_COMPACT);
    long status = http_ask(to, "POST", "/api/entries", body, &answer);
    if (json_array_size(json_object_get(answer, "results")) != in->count)
        status = 0;
    json_array_foreach(json_object_get(answer, "results"), i, one)
    {
        char taken[16];
        if (status != 200)
            break;
        http_text(one, "taken", taken, sizeof taken);
        result[i].taken = strcmp(taken, "stored") == 0 ? TW_SYNC_STORED : strcmp(taken, "had") == 0 ? TW_SYNC_HAD : TW_SYNC_REFUSED;
        http_hash(one, "hash", result[i].hash);
        http_text(one, "writer", result[i].writer, sizeof result[i].writer);
        http_text(one, "reason", result[i].reason, sizeof result[i].reason);
        http_text(one, "sentence", result[i].sentence, sizeof result[i].sentence);
        result[i].n = (uint32_t)json_integer_value(json_object_get(one, "n"));
    }
    free(body);
    json_decref(message);
    json_decref(answer);
    return status == 200 ? TW_OK : TW_ERR_IO;
}

static void http_peer(void *to, int from, tw_sync_peer *out)
{
    (void)from;
    out->name = "server";
    out->to = to;
    out->have = http_have;
    out->since = http_since;
    out->take = http_take;
}

static const transport OVER_HTTP = {"http", http_up, http_down, http_peer, 0};
static const transport OVER_TLS = {"tls", https_up, http_down, http_peer, 0};

#endif
