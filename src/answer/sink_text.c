/* answer/sink_text.c: an answer as text of at most 60 columns, in the look of a field book.
 *
 * How a key is shown stands in data/answer.csv: tub and clock, stage and state share lines; a rule
 * closes the head (double when the tub is stopped or closed); the act stands alone; paragraphs hang
 * on a word in capitals in a margin of six columns; hours stand in that margin by themselves. */
#include <string.h>

#include "answer/say.h"
#include "answer/sink.h"
#include "units/decimal.h"

#define MARGIN 6
#define ROW_LABEL 19

static void put_blank(tw_sink *sink, size_t n)
{
    for (size_t i = 0; i < n; i++)
        tw_answer_put(sink, " ", 1);
}

/* The label of a key in the language of the answer; both it and the English one end with a zero. */
static const char *label_of(const tw_sink *sink, tw_key key)
{
    return tw_units_language_term(sink->language, tw_units_text(tw_key_rows[key].label)).at;
}

/* End of the word that begins at i. */
static size_t word_end(tw_text text, size_t i)
{
    while (i < text.n && text.at[i] != ' ')
        i++;
    return i;
}

/* What stands at i, when it is a unit, belongs to the number before it: no line begins with it. */
static int is_unit(const tw_sink *sink, tw_text text, size_t i)
{
    static const char *const UNIT[] = {"%", "mg/L", "g/h", "g", "kg", "mL", "L", "h", "min", "uS/cm", "kW", "C", "oz", "lb"};
    size_t n = word_end(text, i) - i;
    while (n > 0 && (text.at[i + n - 1] == '.' || text.at[i + n - 1] == ',' || text.at[i + n - 1] == ')'))
        n--;
    for (size_t k = 0; k < sizeof UNIT / sizeof *UNIT; k++)
        if (n == strlen(UNIT[k]) && memcmp(text.at + i, UNIT[k], n) == 0)
            return 1;
    return tw_units_text_is((tw_text){text.at + i, n}, tw_units_language_message(sink->language, TW_SAY_FORM_DAYS));
}

/* Write words from column `column` on, breaking before the width; lines go on at `indent`. */
static void put_wrapped(tw_sink *sink, tw_text text, size_t column, size_t indent)
{
    int fresh = 1; /* nothing on this line yet but the margin */
    size_t i = 0;
    while (i < text.n) {
        while (i < text.n && text.at[i] == ' ')
            i++;
        size_t end = word_end(text, i);
        if (end == i)
            break;
        if (text.at[end - 1] >= '0' && text.at[end - 1] <= '9' && end + 1 < text.n && is_unit(sink, text, end + 1))
            end = word_end(text, end + 1);
        const tw_text word = {text.at + i, end - i};
        const size_t columns = tw_answer_columns(word);
        if (!fresh && column + 1 + columns > sink->width) {
            tw_answer_put(sink, "\n", 1);
            put_blank(sink, indent);
            column = indent;
            fresh = 1;
        }
        if (!fresh) {
            tw_answer_put(sink, " ", 1);
            column++;
        }
        /* A word wider than the line is cut where the line ends. */
        size_t from = 0;
        for (size_t k = 0; k < word.n; k++) {
            if (((unsigned char)word.at[k] & 0xC0u) == 0x80u)
                continue;
            if (column >= sink->width) {
                tw_answer_put(sink, word.at + from, k - from);
                tw_answer_put(sink, "\n", 1);
                put_blank(sink, indent);
                column = indent;
                from = k;
            }
            column++;
        }
        tw_answer_put(sink, word.at + from, word.n - from);
        fresh = 0;
        i = end;
    }
    tw_answer_put(sink, "\n", 1);
}

/* A paragraph with its word in the margin; a longer word has the line to itself or is run in. */
static void put_paragraph(tw_sink *sink, const char *label, tw_text text)
{
    const size_t n = strlen(label);
    if (n > 0)
        tw_answer_put(sink, label, n);
    if (n < MARGIN) {
        put_blank(sink, MARGIN - n);
        put_wrapped(sink, text, MARGIN, MARGIN);
    } else {
        tw_answer_put(sink, " ", 1);
        put_wrapped(sink, text, n + 1, MARGIN);
    }
}

/* Small letters of ASCII and of Latin-1 in UTF-8 (U+00E0 to U+00FE are C3 A0 to C3 BE; B7 is a sign). */
static void upper(char *text, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)text[i];
        const int accented = i > 0 && (unsigned char)text[i - 1] == 0xC3u && c >= 0xA0u && c <= 0xBEu && c != 0xB7u;
        if ((c >= 'a' && c <= 'z') || accented)
            text[i] = (char)(c - ('a' - 'A'));
    }
}

static void keep_left(tw_sink *sink, tw_text text, int caps)
{
    const size_t n = text.n < sizeof sink->left ? text.n : sizeof sink->left;
    memcpy(sink->left, text.at, n);
    if (caps)
        upper(sink->left, n);
    sink->left_n = n;
}

/* The left cell and this one on one line, or on two when they do not fit. */
static void put_pair(tw_sink *sink, tw_text right)
{
    const size_t a = tw_answer_columns((tw_text){sink->left, sink->left_n});
    const size_t b = tw_answer_columns(right);
    if (a + 1 + b > sink->width) {
        put_wrapped(sink, (tw_text){sink->left, sink->left_n}, 0, 0);
        put_blank(sink, sink->width > b ? sink->width - b : 0);
    } else {
        tw_answer_put(sink, sink->left, sink->left_n);
        put_blank(sink, sink->width - a - b);
    }
    put_wrapped(sink, right, sink->width - (b < sink->width ? b : sink->width), 0);
    sink->left_n = 0;
}

static void put_rule(tw_sink *sink, tw_text weight)
{
    const int heavy = tw_units_text_is(weight, "stop") || tw_units_text_is(weight, "closed");
    for (size_t i = 0; i < sink->width; i++)
        tw_answer_put(sink, heavy ? "=" : "-", 1);
    tw_answer_put(sink, "\n", 1);
}

/* Add to the paragraph or row being gathered, with a blank before it. */
static void gather(tw_sink *sink, tw_text text)
{
    if (text.n + 3 > sizeof sink->para - sink->para_n) {
        sink->status = TW_ERR_CAPACITY;
        return;
    }
    if (sink->para_n > 0)
        sink->para[sink->para_n++] = ' ';
    if (sink->strike)
        sink->para[sink->para_n++] = '[';
    memcpy(sink->para + sink->para_n, text.at, text.n);
    sink->para_n += text.n;
    if (sink->strike)
        sink->para[sink->para_n++] = ']';
    sink->strike = 0;
}

/* Label in its column, then the text; a row without a value is its label. */
static void put_row(tw_sink *sink, const char *label, tw_text text)
{
    const size_t n = tw_answer_columns(tw_units_text(label));
    tw_answer_puts(sink, label);
    if (text.n == 0) {
        tw_answer_put(sink, "\n", 1);
        return;
    }
    put_blank(sink, n < ROW_LABEL ? ROW_LABEL - n : 1);
    put_wrapped(sink, text, n < ROW_LABEL ? ROW_LABEL : n + 1, ROW_LABEL);
}

static int ends_sentence(char c)
{
    return c == '.' || c == ':' || c == ';' || c == '?' || c == '!';
}

/* Show one text by the way of its key. */
static void show(tw_sink *sink, tw_key key, tw_text text)
{
    const tw_key_row *row = &tw_key_rows[key];
    char number[8];
    switch (row->show) {
    case TW_SHOW_LEFT: case TW_SHOW_LEFT_CAPS: keep_left(sink, text, row->show == TW_SHOW_LEFT_CAPS); break;
    case TW_SHOW_RIGHT: put_pair(sink, text); break;
    case TW_SHOW_RULE: put_rule(sink, text); break;
    case TW_SHOW_ACT: put_wrapped(sink, text, 0, MARGIN); break;
    case TW_SHOW_PARA:
        if (sink->depth > 0 && sink->is_list[sink->depth - 1]) {
            /* Sentences follow each other; words that are none are listed. */
            if (sink->para_n > 0 && sink->para_n < sizeof sink->para && !ends_sentence(sink->para[sink->para_n - 1]))
                sink->para[sink->para_n++] = ';';
            gather(sink, text);
        }
        else
            put_paragraph(sink, label_of(sink, key), text);
        break;
    case TW_SHOW_POINTS: {
        if (sink->items++ == 0 && row->label[0] != '\0') {
            tw_answer_puts(sink, label_of(sink, key));
            tw_answer_put(sink, "\n", 1);
        }
        const size_t n = tw_units_decimal_write((double)sink->items, 0, number, sizeof number);
        put_blank(sink, n < 3 ? 3 - n : 0);
        tw_answer_put(sink, number, n);
        put_blank(sink, 3);
        put_wrapped(sink, text, MARGIN, MARGIN);
        break;
    }
    case TW_SHOW_ROW: put_row(sink, label_of(sink, key), text); break;
    case TW_SHOW_TICK: gather(sink, text); break;
    case TW_SHOW_LINE: put_wrapped(sink, text, 0, 0); break;
    case TW_SHOW_HEADING:
        tw_answer_put(sink, "\n", 1);
        keep_left(sink, tw_units_language_term(sink->language, text), 1);
        put_wrapped(sink, (tw_text){sink->left, sink->left_n}, 0, 0);
        sink->left_n = 0;
        break;
    case TW_SHOW_MARGIN:
        if (sink->run_on)
            break;
        put_blank(sink, text.n + 1 < MARGIN ? MARGIN - 1 - text.n : 0);
        tw_answer_put(sink, text.at, text.n);
        tw_answer_put(sink, " ", 1);
        sink->margin = 1;
        break;
    case TW_SHOW_STRIKE: sink->strike = 1; break;
    case TW_SHOW_DRAWING: /* stands beside the margin, blanks and all */
        if (!sink->margin)
            put_blank(sink, MARGIN);
        tw_answer_put(sink, text.at, text.n);
        tw_answer_put(sink, "\n", 1);
        sink->margin = 0;
        break;
    case TW_SHOW_NO: case TW_SHOW_ROWS: case TW_SHOW_PRODUCTS: case TW_SHOW_LOGGED: case TW_SHOWS: break;
    }
}

static void text_open(tw_sink *sink, tw_key key)
{
    if (sink->run_on && sink->para_n > 0 && sink->para_n < sizeof sink->para)
        sink->para[sink->para_n++] = ';';
    if ((unsigned)key < TW_KEYS && tw_key_rows[key].show == TW_SHOW_HEADING)
        show(sink, key, tw_units_text(label_of(sink, key)));
    if ((unsigned)key < TW_KEYS && tw_key_rows[key].show == TW_SHOW_ROW)
        sink->para_n = 0;
}

static void text_open_list(tw_sink *sink, tw_key key)
{
    if (tw_key_rows[key].show == TW_SHOW_PARA && sink->margin && sink->para_n > 0) {
        /* A paragraph inside a row: what was gathered of the row comes first. */
        put_wrapped(sink, (tw_text){sink->para, sink->para_n}, MARGIN, MARGIN);
        sink->margin = 0;
    }
    sink->items = 0;
    sink->para_n = 0;
    sink->run_on = tw_key_rows[key].show == TW_SHOW_LOGGED;
    if (tw_key_rows[key].show == TW_SHOW_HEADING)
        show(sink, key, tw_units_text(label_of(sink, key)));
}

static void text_close(tw_sink *sink)
{
    const tw_key key = sink->open[sink->depth - 1];
    const tw_key parent = sink->depth > 1 ? sink->open[sink->depth - 2] : TW_KEYS;
    /* An item of a list that is shown as rows is a row without a label of its own. */
    if ((unsigned)key >= TW_KEYS) {
        const tw_show way = (unsigned)parent < TW_KEYS ? tw_key_rows[parent].show : TW_SHOW_NO;
        if (way == TW_SHOW_PRODUCTS && sink->para_n > 0) {
            if (sink->items++ == 0) {
                tw_answer_puts(sink, label_of(sink, parent));
                tw_answer_put(sink, "\n", 1);
            }
            put_blank(sink, MARGIN);
            put_wrapped(sink, (tw_text){sink->para, sink->para_n}, MARGIN, MARGIN + 2);
        }
        if (way == TW_SHOW_ROWS && sink->para_n > 0)
            put_wrapped(sink, (tw_text){sink->para, sink->para_n}, sink->margin ? MARGIN : 0, MARGIN);
        sink->margin = 0;
        if (sink->run_on)
            return;
        sink->para_n = 0;
        return;
    }
    const tw_key_row *row = &tw_key_rows[key];
    if ((row->show == TW_SHOW_PARA || row->show == TW_SHOW_LOGGED) && sink->para_n > 0)
        put_paragraph(sink, label_of(sink, key), (tw_text){sink->para, sink->para_n});
    if (row->show == TW_SHOW_ROW && row->type == TW_HOLDS_OBJECT && sink->para_n > 0)
        put_row(sink, label_of(sink, key), (tw_text){sink->para, sink->para_n});
    if (row->type == TW_HOLDS_OBJECT || row->show == TW_SHOW_PARA || row->show == TW_SHOW_LOGGED)
        sink->para_n = 0;
    sink->run_on = 0;
}

/* A key's number in the unit that people want to see. */
static tw_shown_amount amount_of(const tw_sink *sink, tw_key key, double value)
{
    const tw_key_row *row = &tw_key_rows[key];
    tw_shown_amount amount = {value, row->decimals, tw_units_language_term(sink->language, tw_units_text(row->unit)).at};
    (void)tw_units_shown(sink->shown, tw_units_text(row->unit), value, row->decimals, &amount);
    return amount;
}

/* A number as the language writes it; 0 when there is none. */
static size_t number_text(const tw_sink *sink, tw_key key, double value, char *buf, size_t cap)
{
    char digits[TW_DECIMAL_BYTES];
    const tw_shown_amount amount = amount_of(sink, key, value);
    const size_t n = tw_units_decimal_write(amount.value, amount.decimals, digits, sizeof digits);
    return tw_answer_digits_text(digits, n, sink->language, buf, cap);
}

static size_t append(char *buf, size_t at, size_t cap, const char *zero_ended)
{
    const size_t n = strlen(zero_ended);
    if (n > cap - at)
        return at;
    memcpy(buf + at, zero_ended, n);
    return at + n;
}

/* The text of a value and its unit; no text: it is not known. */
static void show_measured(tw_sink *sink, tw_key key, double value, char *buf, size_t n, size_t cap)
{
    if (n > 0 && tw_key_rows[key].unit[0] != '\0') {
        n = append(buf, n, cap, " ");
        n = append(buf, n, cap, amount_of(sink, key, value).label);
    }
    show(sink, key, n > 0 ? (tw_text){buf, n} : tw_units_text(tw_units_language_message(sink->language, TW_SAY_FORM_NOT_KNOWN)));
}

static void text_number(tw_sink *sink, tw_key key, double value)
{
    char buf[96];
    show_measured(sink, key, value, buf, number_text(sink, key, value, buf, sizeof buf), sizeof buf);
}

static void text_spread(tw_sink *sink, tw_key key, double low, double median, double high)
{
    const double value[3] = {median, low, high};
    static const char *const NAME[3] = {"median", "low", "high"};
    char buf[160], number[3][TW_DECIMAL_BYTES + 8];
    size_t n = 0;
    int known = 0;
    tw_said said = tw_units_say(TW_SAY_FORM_SPREAD);
    for (int i = 0; i < 3; i++) {
        const size_t digits = number_text(sink, key, value[i], number[i], sizeof number[i]);
        tw_units_say_text(&said, NAME[i], (tw_text){number[i], digits});
        known += digits > 0;
    }
    if (known == 3)
        (void)tw_answer_say(&said, sink->language, sink->shown, sink->now, buf, sizeof buf, &n);
    show_measured(sink, key, median, buf, n, sizeof buf);
}

static void text_words(tw_sink *sink, tw_key key, const tw_said *said)
{
    char sentence[TW_SENTENCE_BYTES];
    size_t n = 0;
    const tw_status status = tw_answer_say(said, sink->language, sink->shown, sink->now, sentence, sizeof sentence, &n);
    if (status != TW_OK)
        sink->status = status;
    else
        show(sink, key, (tw_text){sentence, n});
}

static void text_time(tw_sink *sink, tw_key key, tw_time time)
{
    tw_said said;
    if (tw_key_rows[key].show == TW_SHOW_RIGHT) {
        said = tw_units_say(TW_SAY_CLOCK);
        tw_units_say_time(&said, "at", time);
        text_words(sink, key, &said);
        return;
    }
    char buf[32];
    /* Hours alone stand in the margin. */
    const size_t n = tw_answer_time_text(time, sink->language, tw_key_rows[key].show == TW_SHOW_MARGIN ? time : sink->now, buf, sizeof buf);
    show(sink, key, (tw_text){buf, n});
}

static void text_flag(tw_sink *sink, tw_key key, int value)
{
    if (value)
        show(sink, key, tw_units_text(label_of(sink, key)));
}

static const tw_sink_ways TEXT = {text_open, text_open_list, text_close, text_number, text_spread,
                                  show,      text_words,     text_time,  text_flag};

void tw_answer_sink_text(tw_sink *sink, char *buf, size_t cap, tw_time now, size_t width)
{
    memset(sink, 0, sizeof *sink);
    sink->ways = &TEXT;
    sink->buf = buf;
    sink->cap = cap;
    sink->now = now;
    sink->width = width < 40 ? 40 : width > 60 ? 60 : width;
}
