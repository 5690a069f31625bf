/* answer/sink_json.c: an answer as JSON. Numbers have the decimals of their key, so that the same
 * answer has the same bytes everywhere; what is not known is null. */
#include <string.h>

#include "answer/say.h"
#include "answer/sink.h"
#include "units/decimal.h"

static void put_escaped(tw_sink *sink, tw_text text)
{
    static const char HEX[] = "0123456789abcdef";
    tw_answer_put(sink, "\"", 1);
    size_t from = 0;
    for (size_t i = 0; i < text.n; i++) {
        const unsigned char c = (unsigned char)text.at[i];
        if (c >= 0x20 && c != '"' && c != '\\')
            continue;
        tw_answer_put(sink, text.at + from, i - from);
        from = i + 1;
        if (c == '"' || c == '\\') {
            const char pair[2] = {'\\', (char)c};
            tw_answer_put(sink, pair, 2);
        } else if (c == '\n') {
            tw_answer_put(sink, "\\n", 2);
        } else {
            const char six[6] = {'\\', 'u', '0', '0', HEX[c >> 4], HEX[c & 15u]};
            tw_answer_put(sink, six, 6);
        }
    }
    if (text.n > from)
        tw_answer_put(sink, text.at + from, text.n - from);
    tw_answer_put(sink, "\"", 1);
}

/* Comma, new line, indent and the key; items of a list have none. */
static void begin(tw_sink *sink, tw_key key)
{
    if (sink->depth == 0)
        return;
    const int top = sink->depth - 1;
    if (sink->filled[top])
        tw_answer_put(sink, ",", 1);
    sink->filled[top] = 1;
    tw_answer_put(sink, "\n", 1);
    for (int i = 0; i < sink->depth; i++)
        tw_answer_put(sink, "  ", 2);
    if (!sink->is_list[top] && (unsigned)key < TW_KEYS) {
        put_escaped(sink, tw_units_text(tw_key_rows[key].name));
        tw_answer_put(sink, ": ", 2);
    }
}

static void json_open(tw_sink *sink, tw_key key)
{
    begin(sink, key);
    tw_answer_put(sink, "{", 1);
}

static void json_open_list(tw_sink *sink, tw_key key)
{
    begin(sink, key);
    tw_answer_put(sink, "[", 1);
}

static void json_close(tw_sink *sink)
{
    const int top = sink->depth - 1;
    if (sink->filled[top]) {
        tw_answer_put(sink, "\n", 1);
        for (int i = 0; i < top; i++)
            tw_answer_put(sink, "  ", 2);
    }
    tw_answer_put(sink, sink->is_list[top] ? "]" : "}", 1);
    if (top == 0)
        tw_answer_put(sink, "\n", 1);
}

static void put_value(tw_sink *sink, tw_key key, double value)
{
    char digits[TW_DECIMAL_BYTES];
    const size_t n = tw_units_decimal_write(value, tw_key_rows[key].decimals, digits, sizeof digits);
    if (n == 0)
        tw_answer_put(sink, "null", 4);
    else
        tw_answer_put(sink, digits, n);
}

static void json_number(tw_sink *sink, tw_key key, double value)
{
    begin(sink, key);
    put_value(sink, key, value);
}

static void json_spread(tw_sink *sink, tw_key key, double low, double median, double high)
{
    begin(sink, key);
    tw_answer_puts(sink, "{\"median\": ");
    put_value(sink, key, median);
    tw_answer_puts(sink, ", \"low\": ");
    put_value(sink, key, low);
    tw_answer_puts(sink, ", \"high\": ");
    put_value(sink, key, high);
    tw_answer_put(sink, "}", 1);
}

static void json_text(tw_sink *sink, tw_key key, tw_text text)
{
    if (tw_key_rows[key].type == TW_HOLDS_DRAWING)
        return; /* its numbers stand beside it */
    begin(sink, key);
    put_escaped(sink, text);
}

static void json_words(tw_sink *sink, tw_key key, const tw_said *said)
{
    char sentence[TW_SENTENCE_BYTES];
    size_t n = 0;
    const tw_status status = tw_answer_say(said, sink->language, sink->shown, sink->now, sentence, sizeof sentence, &n);
    if (status != TW_OK) {
        sink->status = status;
        return;
    }
    begin(sink, key);
    tw_answer_puts(sink, "{\"id\": ");
    put_escaped(sink, tw_units_text(tw_units_message_id(said->message)));
    tw_answer_puts(sink, ", \"text\": ");
    put_escaped(sink, (tw_text){sentence, n});
    tw_answer_put(sink, "}", 1);
}

static void json_time(tw_sink *sink, tw_key key, tw_time time)
{
    char text[TW_TIME_BYTES];
    const tw_status status = tw_units_time_write(time, text, sizeof text);
    if (status != TW_OK) {
        sink->status = status;
        return;
    }
    json_text(sink, key, tw_units_text(text));
}

static void json_flag(tw_sink *sink, tw_key key, int value)
{
    begin(sink, key);
    tw_answer_puts(sink, value ? "true" : "false");
}

static const tw_sink_ways JSON = {json_open, json_open_list, json_close, json_number, json_spread,
                                  json_text, json_words,     json_time,  json_flag};

void tw_answer_sink_json(tw_sink *sink, char *buf, size_t cap, tw_time now)
{
    memset(sink, 0, sizeof *sink);
    sink->ways = &JSON;
    sink->buf = buf;
    sink->cap = cap;
    sink->now = now;
}
