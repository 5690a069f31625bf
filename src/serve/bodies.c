/* serve/bodies.c: what bodies of requests say, of bytes alone. */
#include "serve/bodies.h"

#include <string.h>

int tw_serve_body_lines(tw_text body, tw_sync_batch *batch)
{
    for (size_t at = 0; at < body.n;) {
        const char *end = memchr(body.at + at, '\n', body.n - at);
        const size_t next = end != NULL ? (size_t)(end - body.at) + 1 : body.n;
        size_t n = (end != NULL ? next - 1 : next) - at;
        if (n > 0 && body.at[at + n - 1] == '\r')
            n--;
        if (n > 0 && (batch->count == TW_SERVE_MOST_ENTRIES || tw_sync_batch_add(batch, (tw_text){body.at + at, n}, NULL) != TW_OK))
            return 0;
        at = next;
    }
    return 1;
}

static int hex_digit(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

static int read_hash(const char *text, uint8_t out[TW_SHA256_BYTES])
{
    if (strlen(text) != 2 * TW_SHA256_BYTES)
        return 0;
    for (size_t i = 0; i < TW_SHA256_BYTES; i++) {
        const int high = hex_digit(text[2 * i]), low = hex_digit(text[2 * i + 1]);
        if (high < 0 || low < 0)
            return 0;
        out[i] = (uint8_t)(high * 16 + low);
    }
    return 1;
}

const char *tw_serve_body_message(const json_t *message, tw_sync_batch *batch, tw_sync_way *way)
{
    const json_t *entries = json_object_get(message, "entries"), *writer = json_object_get(message, "writer"),
           *now = json_object_get(message, "now_ms");
    size_t i = 0;
    if (!json_is_array(entries) || json_array_size(entries) > TW_SERVE_MOST_ENTRIES)
        return "entries is a list of at most 5000.";
    if ((writer != NULL && !json_is_string(writer)) || (now != NULL && !json_is_integer(now)))
        return "writer is a text, now_ms a whole number.";
    for (; i < json_array_size(entries); i++) {
        uint8_t hash[TW_SHA256_BYTES];
        const json_t *one = json_array_get(entries, i), *line = json_object_get(one, "line"), *said = json_object_get(one, "hash");
        if (!json_is_string(line) || (said != NULL && (!json_is_string(said) || !read_hash(json_string_value(said), hash))))
            return "An entry has its line and the hash of it.";
        if (tw_sync_batch_add(batch, (tw_text){json_string_value(line), json_string_length(line)}, said != NULL ? hash : NULL) != TW_OK)
            return "There is not enough memory for it.";
    }
    way->from_writer = writer != NULL ? tw_units_text(json_string_value(writer)) : tw_units_text("");
    way->from_now_ms = now != NULL ? (int64_t)json_integer_value(now) : 0;
    return NULL;
}
