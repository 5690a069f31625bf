/* answer/sink.c: what all sinks share: keys are checked against data/answer.csv, what is open is
 * kept, and the first trouble stops the answer. */
#include "answer/sink.h"

#include <string.h>

#include "num/require.h"
#include "num/sha256.h"

void tw_answer_put(tw_sink *sink, const char *bytes, size_t n)
{
    if (sink->status != TW_OK)
        return;
    if (n > sink->cap - sink->length) {
        sink->status = TW_ERR_CAPACITY;
        return;
    }
    memcpy(sink->buf + sink->length, bytes, n);
    sink->length += n;
}

void tw_answer_puts(tw_sink *sink, const char *zero_ended)
{
    tw_answer_put(sink, zero_ended, strlen(zero_ended));
}

/* 1 when the key may be used with this type here. In a list of words the list's own key is used. */
static int admits(tw_sink *sink, tw_key key, tw_key_type type)
{
    if (sink->status != TW_OK)
        return 0;
    if ((unsigned)key >= TW_KEYS || (tw_key_rows[key].type != type)) {
        sink->status = TW_ERR_UNKNOWN;
        return 0;
    }
    return 1;
}

static void push(tw_sink *sink, tw_key key, int is_list)
{
    TW_REQUIRE(sink->depth < TW_SINK_DEPTH);
    sink->open[sink->depth] = key;
    sink->is_list[sink->depth] = (uint8_t)is_list;
    sink->filled[sink->depth] = 0;
    sink->depth++;
}

static int in_list(const tw_sink *sink)
{
    return sink->depth > 0 && sink->is_list[sink->depth - 1];
}

void tw_answer_open(tw_sink *sink, tw_key key)
{
    TW_REQUIRE(sink->status != TW_OK || !in_list(sink));
    if (!admits(sink, key, TW_HOLDS_OBJECT))
        return;
    sink->ways->open(sink, key);
    push(sink, key, 0);
}

void tw_answer_open_list(tw_sink *sink, tw_key key)
{
    if (sink->status != TW_OK)
        return;
    if ((unsigned)key >= TW_KEYS || (tw_key_rows[key].type != TW_HOLDS_LIST && tw_key_rows[key].type != TW_HOLDS_WORDS_LIST)) {
        sink->status = TW_ERR_UNKNOWN;
        return;
    }
    sink->ways->open_list(sink, key);
    push(sink, key, 1);
}

void tw_answer_item(tw_sink *sink)
{
    if (sink->status != TW_OK)
        return;
    TW_REQUIRE(in_list(sink) && tw_key_rows[sink->open[sink->depth - 1]].type == TW_HOLDS_LIST);
    sink->ways->open(sink, TW_KEYS);
    push(sink, TW_KEYS, 0);
}

void tw_answer_close(tw_sink *sink)
{
    if (sink->status != TW_OK)
        return;
    TW_REQUIRE(sink->depth > 0);
    sink->ways->close(sink);
    sink->depth--;
}

void tw_answer_number(tw_sink *sink, tw_key key, double value)
{
    if (admits(sink, key, TW_HOLDS_NUMBER))
        sink->ways->number(sink, key, value);
}

void tw_answer_spread(tw_sink *sink, tw_key key, double low, double median, double high)
{
    if (admits(sink, key, TW_HOLDS_SPREAD))
        sink->ways->spread(sink, key, low, median, high);
}

void tw_answer_text(tw_sink *sink, tw_key key, tw_text text)
{
    if (admits(sink, key, TW_HOLDS_TEXT))
        sink->ways->text(sink, key, text);
}

void tw_answer_string(tw_sink *sink, tw_key key, const char *zero_ended)
{
    tw_answer_text(sink, key, tw_units_text(zero_ended));
}

void tw_answer_words(tw_sink *sink, tw_key key, const tw_said *said)
{
    if (sink->status != TW_OK)
        return;
    const tw_key_type type = in_list(sink) ? TW_HOLDS_WORDS_LIST : TW_HOLDS_WORDS;
    if (in_list(sink))
        TW_REQUIRE(key == sink->open[sink->depth - 1]);
    if (admits(sink, key, type))
        sink->ways->words(sink, key, said);
}

void tw_answer_message(tw_sink *sink, tw_key key, tw_message message)
{
    const tw_said said = tw_units_say(message);
    tw_answer_words(sink, key, &said);
}

void tw_answer_time(tw_sink *sink, tw_key key, tw_time time)
{
    if (admits(sink, key, TW_HOLDS_TIME))
        sink->ways->time(sink, key, time);
}

void tw_answer_flag(tw_sink *sink, tw_key key, int value)
{
    if (admits(sink, key, TW_HOLDS_FLAG))
        sink->ways->flag(sink, key, value);
}

void tw_answer_digest(tw_sink *sink, tw_key key, const uint8_t digest[32])
{
    char hex[TW_SHA256_HEX];
    if (!admits(sink, key, TW_HOLDS_DIGEST))
        return;
    tw_sha256_hex(digest, hex);
    sink->ways->text(sink, key, tw_units_text(hex));
}

void tw_answer_drawing(tw_sink *sink, tw_key key, tw_text line)
{
    if (admits(sink, key, TW_HOLDS_DRAWING))
        sink->ways->text(sink, key, line);
}

tw_status tw_answer_sink_end(tw_sink *sink)
{
    if (sink->status == TW_OK && sink->depth != 0)
        sink->status = TW_ERR_FORMAT;
    return sink->status;
}
