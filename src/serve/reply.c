/* serve/reply.c: answers and problems, with the headers that keep a browser from misusing them. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "num/sha256.h"
#include "serve/guard.h"
#include "serve/inside.h"

#define POLICY "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

/* What every answer says about itself. Nothing here may be put into another site's page, be taken for another type, or tell another
 * site where somebody came from. */
static const char *const HEADERS[][2] = {
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "DENY"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Embedder-Policy", "require-corp"}, /* with the one before: the page may share memory among its threads */
    {"Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()"},
};

void tw_serve_reply_bytes(tw_serve_request *request, unsigned status, const char *type, char *bytes, size_t n)
{
    if (bytes == NULL) {
        tw_serve_reply_problem(request, TW_PROBLEM_MEMORY, NULL, NULL, NULL);
        return;
    }
    free(request->reply.bytes);
    request->reply.status = status;
    request->reply.type = type;
    request->reply.bytes = bytes;
    request->reply.n = n;
    request->ready = 1;
}

void tw_serve_json_set(json_t *object, const char *name, json_t *value)
{
    if (object != NULL && value != NULL)
        (void)json_object_set_new(object, name, value);
    else
        json_decref(value);
}

void tw_serve_reply_json(tw_serve_request *request, unsigned status, json_t *object)
{
    char *bytes = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;
    json_decref(object);
    tw_serve_reply_bytes(request, status, "application/json", bytes, bytes != NULL ? strlen(bytes) : 0);
}

void tw_serve_reply_problem(tw_serve_request *request, tw_serve_problem problem, const char *detail, const char *name,
                            const char *value)
{
    const tw_serve_problem_row *row = &tw_serve_problems[problem];
    char type[80];
    (void)snprintf(type, sizeof type, "urn:tubwright:problem:%s", row->name);
    json_t *object = json_pack("{s:s, s:s, s:i, s:s*}", "type", type, "title", row->title, "status", (int)row->status, "detail", detail);
    if (object != NULL && name != NULL && value != NULL)
        (void)json_object_set_new(object, name, json_string(value));
    char *bytes = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;
    json_decref(object);
    if (bytes == NULL)
        bytes = calloc(1, 1);
    free(request->reply.bytes);
    request->reply.status = row->status;
    request->reply.type = "application/problem+json";
    request->reply.bytes = bytes;
    request->reply.n = bytes != NULL ? strlen(bytes) : 0;
    request->reply.tag[0] = '\0';
    request->ready = 1;
}

void tw_serve_reply_fault(tw_serve_request *request, const tw_store_fault *fault, tw_status status)
{
    char detail[TW_STORE_DETAIL_BYTES + 256];
    const char *name = tw_store_trouble_name(fault->id);
    if (fault->id == TW_STORE_FINE) {
        tw_serve_reply_problem(request, TW_PROBLEM_INTERNAL, tw_status_text(status), NULL, NULL);
        return;
    }
    /* Where the file lies is nobody's business; what to do about it is its owner's. */
    (void)snprintf(detail, sizeof detail, "%s", tw_store_trouble_remedy(fault->id));
    for (int i = 0; i < TW_PROBLEMS; i++)
        if (strcmp(tw_serve_problems[i].name, name) == 0) {
            tw_serve_reply_problem(request, (tw_serve_problem)i, detail, NULL, NULL);
            return;
        }
    tw_serve_reply_problem(request, TW_PROBLEM_INTERNAL, detail, NULL, NULL);
}

void tw_serve_reply_tag(tw_serve_reply *reply)
{
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256(reply->bytes, reply->n, digest);
    tw_sha256_hex(digest, hex);
    (void)snprintf(reply->tag, sizeof reply->tag, "\"%.32s\"", hex);
}

static void header(struct MHD_Response *response, const char *name, const char *value)
{
    (void)MHD_add_response_header(response, name, value);
}

void tw_serve_reply_headers(const tw_serve_request *request, struct MHD_Response *response)
{
    const tw_serve_reply *reply = &request->reply;
    char wait[16];
    for (size_t i = 0; i < sizeof HEADERS / sizeof HEADERS[0]; i++)
        header(response, HEADERS[i][0], HEADERS[i][1]);
    header(response, "Content-Security-Policy", reply->policy != NULL ? reply->policy : POLICY);
    /* An answer may be kept, but not used before the server has said that it still holds. */
    header(response, "Cache-Control", reply->tag[0] != '\0' ? "private, no-cache" : "no-store");
    if (reply->tag[0] != '\0') {
        header(response, "ETag", reply->tag);
        header(response, "Vary", reply->lasting != NULL ? "Accept, Accept-Encoding" : "Accept, Cookie");
    }
    if (reply->coding != NULL)
        header(response, "Content-Encoding", reply->coding);
    if (reply->cursor[0] != '\0')
        header(response, "Tubwright-Cursor", reply->cursor);
    if (reply->outcome != NULL)
        header(response, "Tubwright-Outcome", reply->outcome);
    if (reply->allow[0] != '\0')
        header(response, "Allow", reply->allow);
    if (reply->cookie[0] != '\0')
        header(response, "Set-Cookie", reply->cookie);
    if (reply->close)
        header(response, "Connection", "close");
    if (reply->wait_s > 0) {
        (void)snprintf(wait, sizeof wait, "%u", reply->wait_s);
        header(response, "Retry-After", wait);
    }
}

static struct MHD_Response *body_of(const tw_serve_reply *reply)
{
    if (reply->lasting == NULL)
        return MHD_create_response_from_buffer(reply->n, reply->bytes, MHD_RESPMEM_MUST_FREE);
    union {
        const void *given;
        void *taken; /* the library's type; it does not write into what is persistent */
    } bytes = {reply->lasting};
    return MHD_create_response_from_buffer(reply->n, bytes.taken, MHD_RESPMEM_PERSISTENT);
}

enum MHD_Result tw_serve_reply_send(tw_serve_request *request)
{
    tw_serve_reply *reply = &request->reply;
    const tw_text named = tw_serve_header(request, "If-None-Match");
    const int same = reply->tag[0] != '\0' && named.n > 0 && tw_serve_tag_named(named, reply->tag);
    if (same)
        reply->status = MHD_HTTP_NOT_MODIFIED;
    struct MHD_Response *response = same ? MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT) : body_of(reply);
    if (response == NULL)
        return MHD_NO;
    if (!same)
        reply->bytes = NULL; /* it belongs to the response now */
    if (!same && reply->type != NULL)
        header(response, "Content-Type", reply->type);
    tw_serve_reply_headers(request, response);
    const enum MHD_Result sent = MHD_queue_response(request->connection, reply->status, response);
    MHD_destroy_response(response);
    return sent;
}
