/* serve/exchange.c: the questions of the exchange between logbooks (sync/sync.h) as messages: what is here, what arrived
 * since, take these. And the whole logbook in one piece. All of it is done at the desk that writes. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "num/sha256.h"
#include "serve/bodies.h"
#include "serve/guard.h"
#include "serve/inside.h"
#include "store/grow.h"
#include "sync/sync.h"

/* ---- JSON ------------------------------------------------------------------------------------------------- */

static json_t *hex(const uint8_t hash[TW_SHA256_BYTES])
{
    char text[TW_SHA256_HEX];
    tw_sha256_hex(hash, text);
    return json_string(text);
}

static int64_t now_ms(const tw_serve *serve)
{
    return serve->config.clock(serve->config.clock_of).utc_s * 1000;
}

/* ---- have --------------------------------------------------------------------------------------------------- */

static void have(tw_serve_request *request)
{
    tw_sync_have here;
    tw_store_fault fault;
    memset(&here, 0, sizeof here);
    const tw_status status = tw_sync_have_of(request->serve->writer, now_ms(request->serve), &here, &fault);
    if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
    } else {
        json_t *object = json_pack("{s:s, s:I, s:I, s:s}", "writer", here.writer, "now_ms", (json_int_t)here.now_ms, "lines",
                                   (json_int_t)here.lines, "cursor", here.cursor);
        json_t *runs = json_array();
        for (size_t i = 0; i < here.runs; i++) {
            json_t *run = json_pack("{s:s, s:I, s:I}", "writer", here.run[i].writer, "from", (json_int_t)here.run[i].from, "n",
                                    (json_int_t)here.run[i].n);
            tw_serve_json_set(run, "hash", hex(here.run[i].hash));
            if (runs != NULL && run != NULL)
                (void)json_array_append_new(runs, run);
        }
        tw_serve_json_set(object, "seal", hex(here.seal));
        tw_serve_json_set(object, "runs", runs);
        tw_serve_reply_json(request, MHD_HTTP_OK, object);
    }
    tw_sync_have_free(&here);
}

/* ---- since ---------------------------------------------------------------------------------------------------- */

static char *as_lines(const tw_sync_batch *batch, size_t *n)
{
    char *bytes = malloc(batch->used + batch->count + 1);
    *n = 0;
    for (size_t i = 0; bytes != NULL && i < batch->count; i++) {
        const tw_text line = tw_sync_batch_line(batch, i);
        memcpy(bytes + *n, line.at, line.n);
        *n += line.n;
        bytes[(*n)++] = '\n';
    }
    return bytes;
}

static json_t *as_entries(const tw_sync_batch *batch)
{
    json_t *entries = json_array();
    for (size_t i = 0; entries != NULL && i < batch->count; i++) {
        const tw_text line = tw_sync_batch_line(batch, i);
        json_t *one = json_object();
        tw_serve_json_set(one, "hash", hex(batch->item[i].hash));
        tw_serve_json_set(one, "line", json_stringn(line.at, line.n));
        if (one != NULL)
            (void)json_array_append_new(entries, one);
    }
    return entries;
}

/* 1..TW_SERVE_MOST_ENTRIES of the parameter; 0: it is outside. Without it what a message holds. */
static size_t limit_of(const tw_serve_request *request)
{
    const tw_text given = request->target.value[TW_PARAMETER_LIMIT];
    size_t limit = 0;
    for (size_t i = 0; i < given.n; i++)
        limit = limit * 10 + (size_t)(given.at[i] - '0');
    return given.at == NULL ? TW_SYNC_LINES : limit <= TW_SERVE_MOST_ENTRIES ? limit : 0;
}

static void since(tw_serve_request *request)
{
    tw_sync_batch batch;
    tw_store_fault fault;
    char next[TW_STORE_MARK_BYTES] = "";
    int more = 0;
    const tw_text accept = tw_serve_header(request, "Accept");
    const int json = tw_serve_accepts(accept, "application/json"), lines = tw_serve_accepts(accept, "application/jsonl");
    const size_t limit = limit_of(request);
    if (!json && !lines) {
        tw_serve_reply_problem(request, TW_PROBLEM_ACCEPT, "There are application/json and application/jsonl.", NULL, NULL);
        return;
    }
    if (limit == 0) {
        tw_serve_reply_problem(request, TW_PROBLEM_PARAMETER, "It is 1 to 5000.", "parameter", "limit");
        return;
    }
    memset(&batch, 0, sizeof batch);
    const tw_text cursor = request->target.value[TW_PARAMETER_SINCE];
    const tw_status status = tw_sync_since(request->serve->writer, cursor.at != NULL ? cursor : tw_units_text(""),
                                           tw_units_text(request->who.tub), limit, &batch, next, &more, &fault);
    if (status == TW_ERR_FORMAT && fault.id == TW_STORE_FINE) {
        tw_serve_reply_problem(request, TW_PROBLEM_PARAMETER, "This is no cursor.", "parameter", "since");
    } else if (status == TW_ERR_UNKNOWN && fault.id == TW_STORE_FINE) {
        tw_serve_reply_problem(request, TW_PROBLEM_CURSOR, NULL, NULL, NULL);
    } else if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
    } else if (json) {
        json_t *object = json_pack("{s:s, s:b}", "next", next, "more", more);
        tw_serve_json_set(object, "entries", as_entries(&batch));
        tw_serve_reply_json(request, MHD_HTTP_OK, object);
    } else {
        size_t n = 0;
        char *bytes = as_lines(&batch, &n);
        tw_serve_reply_bytes(request, MHD_HTTP_OK, "application/jsonl", bytes, n);
    }
    if (request->reply.status == MHD_HTTP_OK)
        memcpy(request->reply.cursor, next, sizeof next);
    tw_sync_batch_free(&batch);
}

/* ---- take ------------------------------------------------------------------------------------------------------- */

int tw_serve_role_writes(const tw_serve_role_row *role, const char *kind)
{
    char wanted[48];
    (void)snprintf(wanted, sizeof wanted, " %s ", kind != NULL ? kind : "?");
    return role->writes[0] == '*' || strstr(role->writes, wanted) != NULL;
}

/* What a role may write, and where. */
static int judge(void *to, const tw_entry *entry, tw_sync_result *result)
{
    const tw_serve_who *who = to;
    const tw_serve_role_row *role = &tw_serve_roles[who->role];
    const char *kind = tw_logbook_kind_name(entry->kind);
    if (who->tub[0] != '\0' && !tw_units_text_is(entry->tub, who->tub)) {
        (void)snprintf(result->reason, sizeof result->reason, "other-tub");
        (void)snprintf(result->sentence, sizeof result->sentence, "You may write about one tub; this is another one.");
        return 0;
    }
    if (!tw_serve_role_writes(role, kind)) {
        (void)snprintf(result->reason, sizeof result->reason, "not-of-role");
        (void)snprintf(result->sentence, sizeof result->sentence, "A %s does not write an entry of the kind %s.", role->name,
                       kind != NULL ? kind : "that a newer version knows");
        return 0;
    }
    /* Who may not bring what others wrote may not speak in another role either. */
    const tw_text as = tw_logbook_text(entry, TW_FIELD_ROLE);
    if (!role->relays && as.n > 0 && !tw_units_text_is(as, role->name)) {
        (void)snprintf(result->reason, sizeof result->reason, "other-role");
        (void)snprintf(result->sentence, sizeof result->sentence, "You are signed in as %s; the entry says otherwise.", role->name);
        return 0;
    }
    return 1;
}

static json_t *as_result(const tw_sync_result *said)
{
    json_t *one = json_pack("{s:s}", "taken", tw_sync_taken_name(said->taken));
    tw_serve_json_set(one, "hash", hex(said->hash));
    if (said->writer[0] != '\0')
        tw_serve_json_set(one, "writer", json_string(said->writer));
    if (said->n > 0)
        tw_serve_json_set(one, "n", json_integer((json_int_t)said->n));
    if (said->newer)
        tw_serve_json_set(one, "newer", json_true());
    if (said->ahead_ms > 0)
        tw_serve_json_set(one, "ahead_ms", json_integer((json_int_t)said->ahead_ms));
    if (said->gap)
        tw_serve_json_set(one, "gap", json_true());
    if (said->forks) {
        tw_serve_json_set(one, "forks", json_true());
        tw_serve_json_set(one, "other", hex(said->other));
    }
    if (said->taken == TW_SYNC_REFUSED) {
        tw_serve_json_set(one, "reason", json_string(said->reason));
        tw_serve_json_set(one, "sentence", json_string(said->sentence));
    }
    return one;
}

static void reply_results(tw_serve_request *request, const tw_sync_result *result, size_t n)
{
    size_t times[TW_SYNC_REFUSED + 1] = {0};
    json_t *results = json_array();
    for (size_t i = 0; i < n; i++) {
        times[result[i].taken]++;
        json_t *one = as_result(&result[i]);
        if (results != NULL && one != NULL)
            (void)json_array_append_new(results, one);
    }
    json_t *object = json_pack("{s:I, s:I, s:I}", "stored", (json_int_t)times[TW_SYNC_STORED], "had", (json_int_t)times[TW_SYNC_HAD],
                               "refused", (json_int_t)times[TW_SYNC_REFUSED]);
    tw_serve_json_set(object, "results", results);
    tw_serve_reply_json(request, MHD_HTTP_OK, object);
}

/* The batch of a body; 0: the reply says what is wrong. The message holds the texts of the way. */
static int read_body(tw_serve_request *request, tw_sync_batch *batch, tw_sync_way *way, json_t **message)
{
    json_error_t error;
    const char *wrong = NULL;
    *message = NULL;
    if (tw_serve_content_is(tw_serve_header(request, "Content-Type"), "application/jsonl")) {
        wrong = tw_serve_body_lines((tw_text){request->body, request->used}, batch) ? NULL : "At most 5000 lines at once.";
    } else {
        *message = json_loadb(request->body != NULL ? request->body : "", request->used, JSON_REJECT_DUPLICATES, &error);
        wrong = *message != NULL ? tw_serve_body_message(*message, batch, way) : error.text;
    }
    if (wrong != NULL)
        tw_serve_reply_problem(request, TW_PROBLEM_BODY, wrong, NULL, NULL);
    return wrong == NULL;
}

static void take(tw_serve_request *request)
{
    tw_sync_batch batch;
    tw_store_fault fault;
    json_t *message = NULL;
    char via[160];
    tw_sync_way way = {.now_ms = now_ms(request->serve), .via = via, .judge = judge, .judge_to = &request->who};
    (void)snprintf(via, sizeof via, "http%s%s", request->who.name[0] != '\0' ? " " : "", request->who.name);
    memset(&batch, 0, sizeof batch);
    if (read_body(request, &batch, &way, &message)) {
        tw_sync_result *result = calloc(batch.count + 1, sizeof *result);
        const tw_status status = result != NULL ? tw_sync_take(request->serve->writer, &batch, &way, result, &fault)
                                                : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
        if (status == TW_OK)
            reply_results(request, result, batch.count);
        else
            tw_serve_reply_fault(request, &fault, status);
        free(result);
        if (status == TW_OK)
            tw_serve_arrived(request->serve);
    }
    json_decref(message);
    tw_sync_batch_free(&batch);
}

/* ---- export -------------------------------------------------------------------------------------------------------- */

typedef struct {
    char *bytes;
    size_t n, room;
} text_room;

static tw_status add_line(void *to, tw_text line)
{
    text_room *text = to;
    if (!tw_store_grow(&text->bytes, &text->room, text->n + line.n + 1, 1))
        return TW_ERR_CAPACITY;
    memcpy(text->bytes + text->n, line.at, line.n);
    text->n += line.n;
    text->bytes[text->n++] = '\n';
    return TW_OK;
}

static void export(tw_serve_request *request)
{
    text_room text = {calloc(1, 1), 0, 1};
    tw_store_fault fault;
    const tw_status status = tw_store_export(request->serve->writer, tw_units_text(request->who.tub), add_line, &text, &fault);
    if (status == TW_OK) {
        tw_serve_reply_bytes(request, MHD_HTTP_OK, "application/jsonl", text.bytes, text.n);
        return;
    }
    free(text.bytes);
    tw_serve_reply_fault(request, &fault, status);
}

static void at_desk(tw_serve_job *job)
{
    tw_serve_request *request = (tw_serve_request *)job;
    const tw_serve_gives gives = tw_serve_routes[request->route].gives;
    if (gives == TW_GIVES_HAVE)
        have(request);
    else if (gives == TW_GIVES_ENTRIES)
        since(request);
    else if (gives == TW_GIVES_RESULTS)
        take(request);
    else
        export(request);
    tw_serve_release(request);
}

void tw_serve_exchange(tw_serve_request *request)
{
    if (tw_serve_routes[request->route].gives == TW_GIVES_HAVE && request->who.tub[0] != '\0')
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, "You may see one tub, and not the chains of all.", NULL, NULL);
    else
        (void)tw_serve_hold(request, &request->serve->writing, at_desk);
}
