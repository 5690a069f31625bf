/* answer/ask.c: reading a question. "word name=value name=value", single blanks between; drafts of
 * entries follow on lines of their own. A blank inside a value is written %20. */
#include <string.h>

#include "answer/core.h"
#include "units/decimal.h"

static tw_status read_count(tw_text value, double low, double high, uint32_t *out)
{
    double number = 0.0;
    int decimals = 0;
    const tw_status status = tw_units_decimal_read(value, &number, &decimals);
    if (status != TW_OK || decimals != 0 || number < low || number > high)
        return TW_ERR_RANGE;
    *out = (uint32_t)number;
    return TW_OK;
}

static tw_status read_form(tw_text value, int *out)
{
    if (tw_units_text_is(value, "json"))
        *out = TW_AS_JSON;
    else if (tw_units_text_is(value, "text"))
        *out = TW_AS_TEXT;
    else
        return TW_ERR_UNKNOWN;
    return TW_OK;
}

/* "8x30": eight a day, half an hour each. */
static tw_status read_bathers(tw_text value, tw_ask *out)
{
    size_t x = 0;
    while (x < value.n && value.at[x] != 'x')
        x++;
    if (x == value.n || tw_units_decimal_read((tw_text){value.at, x}, &out->bathers_a_day, NULL) != TW_OK ||
        tw_units_decimal_read((tw_text){value.at + x + 1, value.n - x - 1}, &out->bather_minutes, NULL) != TW_OK)
        return TW_ERR_FORMAT;
    return out->bathers_a_day > 0.0 && out->bathers_a_day <= 200.0 && out->bather_minutes >= 1.0 && out->bather_minutes <= 600.0
               ? TW_OK : TW_ERR_RANGE;
}

static tw_status read_option(tw_text name, tw_text value, tw_ask *out, int *has_now)
{
    double number = 0.0;
    uint32_t count = 0;
    tw_status status = TW_OK;
    if (tw_units_text_is(name, "at")) {
        *has_now = 1;
        return tw_units_time_typed(value, &out->now);
    }
    if (tw_units_text_is(name, "tub")) {
        out->tub = value;
        return TW_OK;
    }
    if (tw_units_text_is(name, "profile")) {
        out->profile = value;
        return TW_OK;
    }
    if (tw_units_text_is(name, "plan")) {
        out->plan = value;
        return TW_OK;
    }
    if (tw_units_text_is(name, "bathers"))
        return read_bathers(value, out);
    if (tw_units_text_is(name, "as"))
        return read_form(value, &out->form);
    if (tw_units_text_is(name, "units"))
        return tw_units_shown_read(value, &out->shown);
    if (tw_units_text_is(name, "width")) {
        status = read_count(value, 40.0, 60.0, &count);
        out->width = count;
        return status;
    }
    if (tw_units_text_is(name, "hours"))
        return read_count(value, 1.0, 336.0, &out->hours);
    if (tw_units_text_is(name, "step"))
        return read_count(value, 1.0, 48.0, &out->step);
    if (tw_units_text_is(name, "last"))
        return read_count(value, 1.0, 1e9, &out->last);
    if (tw_units_text_is(name, "duty")) {
        status = tw_units_decimal_read(value, &number, NULL);
        out->duty = number / 100.0;
        return status == TW_OK && (number < 0.0 || number > 100.0) ? TW_ERR_RANGE : status;
    }
    if (tw_units_text_is(name, "temperature")) {
        status = tw_units_decimal_read(value, &number, NULL);
        out->temp_c = number;
        out->has_temp = 1;
        return status == TW_OK && (number < 0.0 || number > 45.0) ? TW_ERR_RANGE : status;
    }
    return TW_ERR_UNKNOWN;
}

/* The next piece up to a stop character, which is passed over. */
static tw_text next_piece(tw_text *rest, char stop)
{
    size_t n = 0;
    while (n < rest->n && rest->at[n] != stop)
        n++;
    const tw_text piece = {rest->at, n};
    const size_t past = n < rest->n ? n + 1 : n;
    rest->at += past;
    rest->n -= past;
    return piece;
}

tw_status tw_answer_ask_read(tw_text question, tw_ask *out)
{
    int has_now = 0;
    memset(out, 0, sizeof *out);
    out->width = 60;
    out->duty = -1.0;
    tw_text rest = question;
    tw_text first = next_piece(&rest, '\n');
    out->word = next_piece(&first, ' ');
    while (first.n > 0) {
        tw_text value = next_piece(&first, ' ');
        const tw_text name = next_piece(&value, '=');
        const tw_status status = read_option(name, value, out, &has_now);
        if (status != TW_OK)
            return status;
    }
    while (rest.n > 0) {
        const tw_text line = next_piece(&rest, '\n');
        if (line.n == 0)
            continue;
        if (out->lines == TW_ASK_LINES)
            return TW_ERR_CAPACITY;
        out->line[out->lines++] = line;
    }
    return has_now ? TW_OK : TW_ERR_MISSING;
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* 1 when a name is meant: same bytes but for case, "%20" for a blank. */
static int same_name(tw_text typed, tw_text name)
{
    size_t i = 0;
    size_t k = 0;
    while (i < typed.n && k < name.n) {
        char c = typed.at[i];
        size_t step = 1;
        if (c == '%' && i + 2 < typed.n && typed.at[i + 1] == '2' && typed.at[i + 2] == '0') {
            c = ' ';
            step = 3;
        }
        if (lower(c) != lower(name.at[k]))
            return 0;
        i += step;
        k++;
    }
    return i == typed.n && k == name.n;
}

#define MOST_TUBS 64

tw_status tw_answer_tub(const tw_core *core, const tw_ask *ask, tw_tub *out)
{
    tw_tub tub[MOST_TUBS];
    size_t count = 0;
    size_t hits = 0;
    if (ask->tub.n == TW_ID_LENGTH && tw_logbook_book_tub(core->book, ask->tub, ask->now, out) == TW_OK)
        return TW_OK;
    (void)tw_logbook_book_tubs(core->book, ask->now, tub, MOST_TUBS, &count);
    if (count > MOST_TUBS)
        count = MOST_TUBS;
    for (size_t i = 0; i < count; i++)
        if (ask->tub.n == 0 || same_name(ask->tub, tub[i].name)) {
            *out = tub[i];
            hits++;
        }
    if (hits == 1)
        return TW_OK;
    if (count == 0)
        return TW_ERR_MISSING;
    return hits == 0 ? TW_ERR_UNKNOWN : TW_ERR_AMBIGUOUS;
}
