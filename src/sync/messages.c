/* sync/messages.c: the questions of an exchange as messages of docs/api.md, and their answers. What is not exactly as it must be is no answer. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/line.h"
#include "store/grow.h"
#include "sync/wire.h"

#define BODY_BYTES ((size_t)1000000) /* a server takes 1 MiB; a line of 8 kB with all its escapes fits many times */
#define NUMBER_MOST 4294967295LL

/* ---- values ----------------------------------------------------------------------------------------------- */

static int digit_of(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

static int read_hash(const json_t *object, const char *name, uint8_t out[TW_SHA256_BYTES])
{
    const json_t *value = json_object_get(object, name);
    const char *text = json_string_value(value);
    if (text == NULL || json_string_length(value) != 2 * TW_SHA256_BYTES)
        return 0;
    for (size_t i = 0; i < TW_SHA256_BYTES; i++) {
        const int high = digit_of(text[2 * i]), low = digit_of(text[2 * i + 1]);
        if (high < 0 || low < 0)
            return 0;
        out[i] = (uint8_t)(high * 16 + low);
    }
    return 1;
}

/* An id, or "" where that may be. */
static int read_id(const json_t *object, const char *name, int may_be_empty, char out[TW_ID_BYTES])
{
    const char *text = json_string_value(json_object_get(object, name));
    if (text == NULL || !((may_be_empty && text[0] == '\0') || tw_logbook_id_is(tw_units_text(text), NULL)))
        return 0;
    (void)snprintf(out, TW_ID_BYTES, "%s", text);
    return 1;
}

static int read_number(const json_t *object, const char *name, int64_t least, int64_t most, int64_t *out)
{
    const json_t *value = json_object_get(object, name);
    *out = (int64_t)json_integer_value(value);
    return json_is_integer(value) && *out >= least && *out <= most;
}

/* A cursor goes into an address: it has the digits of one, and nothing else. */
static int read_cursor(const json_t *object, const char *name, char out[TW_STORE_MARK_BYTES])
{
    const char *text = json_string_value(json_object_get(object, name));
    if (text == NULL || strlen(text) >= TW_STORE_MARK_BYTES || text[strspn(text, "0123456789abcdef.")] != '\0')
        return 0;
    (void)snprintf(out, TW_STORE_MARK_BYTES, "%s", text);
    return 1;
}

/* An answer that came and is none. */
static tw_status odd(tw_sync_http *http, const char *what)
{
    char sentence[500];
    (void)snprintf(sentence, sizeof sentence, "%s: its answer to \"%s\" is not as docs/api.md has it.", http->address, what);
    return tw_sync_wire_trouble(&http->trouble, "no-server", sentence);
}

/* ---- have ---------------------------------------------------------------------------------------------------- */

static int read_run(const json_t *one, tw_sync_run *run)
{
    int64_t from = 0, n = 0;
    memset(run, 0, sizeof *run);
    if (!read_id(one, "writer", 0, run->writer) || !read_hash(one, "hash", run->hash) || !read_number(one, "from", 1, NUMBER_MOST, &from) ||
        !read_number(one, "n", from, NUMBER_MOST, &n))
        return 0;
    run->from = (uint32_t)from;
    run->n = (uint32_t)n;
    return 1;
}

/* 1; 0: it is not as it must be; -1: no memory. */
static int read_have(const json_t *answer, tw_sync_have *out)
{
    const json_t *runs = json_object_get(answer, "runs");
    int64_t lines = 0;
    if (!read_id(answer, "writer", 1, out->writer) || !read_cursor(answer, "cursor", out->cursor) || !read_hash(answer, "seal", out->seal) ||
        !read_number(answer, "now_ms", 0, INT64_MAX / 2, &out->now_ms) || !read_number(answer, "lines", 0, INT64_MAX, &lines) ||
        !json_is_array(runs))
        return 0;
    out->lines = (uint64_t)lines;
    for (size_t i = 0; i < json_array_size(runs); i++) {
        tw_sync_run run;
        if (!read_run(json_array_get(runs, i), &run))
            return 0;
        if (tw_sync_have_add(out, &run) != TW_OK)
            return -1;
    }
    return 1;
}

static tw_status since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more);

/* A line as a run of its own. What cannot be read has no place in a chain; it will be refused when it is taken. */
static tw_status add_line(tw_sync_have *out, tw_text line, const uint8_t hash[TW_SHA256_BYTES])
{
    static tw_entry_room room; /* large */
    tw_entry entry;
    tw_sync_run run;
    double n = 0;
    if (tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) != TW_OK || tw_logbook_number(&entry, TW_FIELD_N, &n) != TW_OK)
        return TW_OK;
    memset(&run, 0, sizeof run);
    (void)snprintf(run.writer, sizeof run.writer, "%.*s", (int)entry.writer.n, entry.writer.at);
    run.from = run.n = (uint32_t)n;
    memcpy(run.hash, hash, TW_SHA256_BYTES);
    out->lines++;
    return tw_sync_have_add(out, &run);
}

/* Whoever may see one tub is not told the chains of all: what is there of it is read. */
static tw_status have_of_tub(tw_sync_http *http, tw_sync_have *out)
{
    tw_sync_batch batch;
    char next[TW_STORE_MARK_BYTES] = "";
    int more = 1;
    tw_status status = TW_OK;
    memset(&batch, 0, sizeof batch);
    while (status == TW_OK && more) {
        char from[TW_STORE_MARK_BYTES];
        memcpy(from, next, sizeof from);
        tw_sync_batch_clear(&batch);
        status = since(http, from, TW_SYNC_LINES, &batch, next, &more);
        for (size_t i = 0; status == TW_OK && i < batch.count; i++)
            status = add_line(out, tw_sync_batch_line(&batch, i), batch.item[i].hash);
    }
    tw_sync_batch_free(&batch);
    return status;
}

static tw_status have(void *to, tw_sync_have *out)
{
    tw_sync_http *http = to;
    json_t *answer = NULL;
    if (http->tub[0] != '\0')
        return have_of_tub(http, out);
    const long status = tw_sync_wire_ask(http, "GET", "/api/have", NULL, &answer);
    const int read = status == 200 ? read_have(answer, out) : 0;
    const tw_status result = read > 0 ? TW_OK : read < 0 ? TW_ERR_CAPACITY : status == 200 ? odd(http, "have")
                                                                                          : tw_sync_wire_refused(http, status, answer);
    json_decref(answer);
    return result;
}

/* ---- since ----------------------------------------------------------------------------------------------------- */

static int read_entries(const json_t *answer, size_t most, tw_sync_batch *out)
{
    const json_t *entries = json_object_get(answer, "entries");
    if (!json_is_array(entries) || json_array_size(entries) > most)
        return 0;
    for (size_t i = 0; i < json_array_size(entries); i++) {
        uint8_t hash[TW_SHA256_BYTES];
        const json_t *one = json_array_get(entries, i), *line = json_object_get(one, "line");
        if (!json_is_string(line) || !read_hash(one, "hash", hash))
            return 0;
        if (tw_sync_batch_add(out, (tw_text){json_string_value(line), json_string_length(line)}, hash) != TW_OK)
            return -1;
    }
    return 1;
}

static tw_status since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more)
{
    tw_sync_http *http = to;
    char path[160], name[48];
    json_t *answer = NULL;
    (void)snprintf(path, sizeof path, "/api/entries?limit=%zu%s%s", most, cursor[0] != '\0' ? "&since=" : "", cursor);
    const long status = tw_sync_wire_ask(http, "GET", path, NULL, &answer);
    tw_status result = TW_OK;
    tw_sync_wire_problem(answer, name, sizeof name);
    if (status == 200) {
        int read = read_cursor(answer, "next", next) ? read_entries(answer, most, out) : 0;
        *more = json_is_true(json_object_get(answer, "more"));
        if (read > 0 && *more && strcmp(next, cursor) == 0)
            read = 0; /* it would never end */
        result = read > 0 ? TW_OK : read < 0 ? TW_ERR_CAPACITY : odd(http, "entries");
    } else if (strcmp(name, "cursor") == 0 || (strcmp(name, "parameter") == 0 && cursor[0] != '\0')) {
        result = TW_ERR_UNKNOWN;
    } else {
        result = tw_sync_wire_refused(http, status, answer);
    }
    json_decref(answer);
    return result;
}

/* ---- take ------------------------------------------------------------------------------------------------------ */

/* A body as it grows. */
typedef struct {
    char *bytes;
    size_t used, room;
} text_body;

static int add_text(text_body *body, const char *text)
{
    const size_t n = strlen(text);
    if (!tw_store_grow(&body->bytes, &body->room, body->used + n + 1, 1))
        return 0;
    memcpy(body->bytes + body->used, text, n + 1);
    body->used += n;
    return 1;
}

/* {"line", "hash"}; NULL: no memory. A line that is no UTF-8 cannot travel as JSON: it goes as an empty one, and is refused. */
static char *entry_text(const tw_sync_batch *in, size_t index)
{
    char hash[TW_SHA256_HEX];
    const tw_text line = tw_sync_batch_line(in, index);
    json_t *text = json_stringn(line.at, line.n);
    tw_sha256_hex(in->item[index].hash, hash);
    json_t *object = json_pack("{s:o, s:s}", "line", text != NULL ? text : json_string(""), "hash", hash);
    char *bytes = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;
    json_decref(object);
    return bytes;
}

/* Lines from `at` on, as many as one message holds; *end behind the last. 0: no memory. */
static int fill_body(text_body *body, const tw_sync_batch *in, size_t at, size_t *end, tw_text writer, int64_t now_ms)
{
    char tail[120];
    int good = 1;
    body->used = 0;
    (void)snprintf(tail, sizeof tail, "],\"writer\":\"%.*s\",\"now_ms\":%lld}", (int)(writer.n < 48 ? writer.n : 48), writer.at, (long long)now_ms);
    if (writer.n == 0)
        (void)snprintf(tail, sizeof tail, "]}");
    good = add_text(body, "{\"entries\":[");
    for (*end = at; good && *end < in->count; (*end)++) {
        char *entry = entry_text(in, *end);
        good = entry != NULL;
        if (good && *end > at && body->used + strlen(entry) > BODY_BYTES) {
            free(entry);
            break;
        }
        good = good && add_text(body, *end > at ? "," : "") && add_text(body, entry);
        free(entry);
    }
    return good && add_text(body, tail);
}

static int read_result(const json_t *one, tw_sync_result *result)
{
    char taken[16];
    int64_t n = 0;
    tw_sync_wire_text(one, "taken", taken, sizeof taken);
    result->taken = strcmp(taken, "stored") == 0 ? TW_SYNC_STORED : strcmp(taken, "had") == 0 ? TW_SYNC_HAD : TW_SYNC_REFUSED;
    if (strcmp(taken, tw_sync_taken_name(result->taken)) != 0 || !read_hash(one, "hash", result->hash))
        return 0;
    (void)read_id(one, "writer", 0, result->writer);
    if (read_number(one, "n", 1, NUMBER_MOST, &n))
        result->n = (uint32_t)n;
    tw_sync_wire_text(one, "reason", result->reason, sizeof result->reason);
    tw_sync_wire_text(one, "sentence", result->sentence, sizeof result->sentence);
    return result->taken != TW_SYNC_REFUSED || result->reason[0] != '\0';
}

/* Whoever may only read is refused as a whole: each line is, and stays here. */
static void none_taken(const tw_sync_batch *in, size_t at, size_t end, tw_sync_result *result)
{
    for (size_t i = at; i < end; i++) {
        result[i].taken = TW_SYNC_REFUSED;
        memcpy(result[i].hash, in->item[i].hash, TW_SHA256_BYTES);
        (void)snprintf(result[i].reason, sizeof result[i].reason, "right");
        (void)snprintf(result[i].sentence, sizeof result[i].sentence, "Your role there reads and writes nothing.");
    }
}

static tw_status take_some(tw_sync_http *http, const char *body, const tw_sync_batch *in, size_t at, size_t end, tw_sync_result *result)
{
    char name[48];
    json_t *answer = NULL;
    const long status = tw_sync_wire_ask(http, "POST", "/api/entries", body, &answer);
    const json_t *results = json_object_get(answer, "results");
    tw_status said = TW_OK;
    tw_sync_wire_problem(answer, name, sizeof name);
    if (status == 403 && strcmp(name, "right") == 0)
        none_taken(in, at, end, result);
    else if (status != 200)
        said = tw_sync_wire_refused(http, status, answer);
    else if (!json_is_array(results) || json_array_size(results) != end - at)
        said = odd(http, "take these");
    for (size_t i = at; status == 200 && said == TW_OK && i < end; i++)
        if (!read_result(json_array_get(results, i - at), &result[i]))
            said = odd(http, "take these");
    json_decref(answer);
    return said;
}

static tw_status take(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    text_body body = {NULL, 0, 0};
    tw_status status = TW_OK;
    for (size_t at = 0, end = 0; status == TW_OK && at < in->count; at = end)
        status = fill_body(&body, in, at, &end, writer, now_ms) ? take_some(to, body.bytes, in, at, end, result) : TW_ERR_CAPACITY;
    free(body.bytes);
    return status;
}

void tw_sync_http_peer(tw_sync_http *http, tw_sync_peer *out)
{
    memset(out, 0, sizeof *out);
    out->name = http->name;
    out->tub = http->tub;
    out->to = http;
    out->have = have;
    out->since = since;
    out->take = take;
}
