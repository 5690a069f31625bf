/* answer/say.c: sentences. The text of a row is copied; what stands between braces is looked up by
 * name among the arguments and written by its type (data/text/README.md). How a language writes decimals, days and
 * months are rows too. */
#include "answer/say.h"

#include <math.h>
#include <string.h>

#include "units/decimal.h"

/* A text that grows in a buffer of fixed size; it remembers that it did not fit. */
typedef struct {
    const tw_language *language;
    tw_shown shown;
    char *buf;
    size_t cap, n;
    tw_status status;
} out_text;

static void put(out_text *out, const char *bytes, size_t n)
{
    if (out->status != TW_OK)
        return;
    if (n >= out->cap - out->n) {
        out->status = TW_ERR_CAPACITY;
        return;
    }
    memcpy(out->buf + out->n, bytes, n);
    out->n += n;
}

static void puts_text(out_text *out, const char *zero_ended)
{
    put(out, zero_ended, strlen(zero_ended));
}

static void put_words(out_text *out, tw_message message)
{
    puts_text(out, tw_units_language_message(out->language, message));
}

/* The word number n, from 0, of a row of words. */
static void put_word(out_text *out, tw_message words, int n)
{
    const char *at = tw_units_language_message(out->language, words);
    for (; n > 0 && *at != '\0'; at++)
        n -= *at == ' ';
    put(out, at, tw_units_text_until(at, ' '));
}

static void put_term(out_text *out, tw_text english)
{
    const tw_text term = tw_units_language_term(out->language, english);
    put(out, term.at, term.n);
}

/* Digits with the sign that the language has before decimals. */
static void put_digits(out_text *out, const char *digits, size_t n)
{
    size_t whole = 0;
    while (whole < n && digits[whole] != '.')
        whole++;
    put(out, digits, whole);
    if (whole < n) {
        put_words(out, TW_SAY_FORM_DECIMAL);
        put(out, digits + whole + 1, n - whole - 1);
    }
}

/* What is not known is a question mark; a number too large to be one is refused. */
static void put_number(out_text *out, double x, int decimals)
{
    char digits[TW_DECIMAL_BYTES];
    const size_t n = tw_units_decimal_write(x, decimals, digits, sizeof digits);
    if (x != x)
        put(out, "?", 1);
    else if (n == 0 && out->status == TW_OK)
        out->status = TW_ERR_RANGE;
    put_digits(out, digits, n);
}

/* A number without the zeros that end it after the point: 2.10 is 2.1, 3.00 is 3. */
static void put_trimmed(out_text *out, double x, int decimals)
{
    char digits[TW_DECIMAL_BYTES];
    size_t n = tw_units_decimal_write(x, decimals, digits, sizeof digits);
    if (n == 0) {
        put_number(out, x, decimals);
        return;
    }
    if (decimals > 0 && n > 0) {
        while (digits[n - 1] == '0')
            n--;
        if (digits[n - 1] == '.')
            n--;
    }
    put_digits(out, digits, n);
}

#define CELSIUS "\302\260C"

/* An amount in the unit that people want to see: 1 when that is another one than it has. */
static int put_shown(out_text *out, tw_text unit, double x, int decimals)
{
    tw_shown_amount amount;
    if (!tw_units_shown(out->shown, unit, x, decimals, &amount))
        return 0;
    if (tw_units_text_is(unit, CELSIUS))
        put_number(out, amount.value, amount.decimals);
    else
        put_trimmed(out, amount.value, amount.decimals);
    put(out, " ", 1);
    puts_text(out, amount.label);
    return 1;
}

static void put_mass(out_text *out, double g)
{
    if (put_shown(out, tw_units_text("g"), g, 0))
        return;
    if (fabs(g) >= 999.5) {
        put_trimmed(out, g / 1000.0, 2);
        puts_text(out, " kg");
    } else {
        put_trimmed(out, g, fabs(g) < 9.95 ? 1 : 0);
        puts_text(out, " g");
    }
}

static void put_millilitres(out_text *out, double ml)
{
    if (put_shown(out, tw_units_text("mL"), ml, 0))
        return;
    if (fabs(ml) >= 999.5) {
        put_trimmed(out, ml / 1000.0, 2);
        puts_text(out, " L");
    } else {
        put_trimmed(out, ml, fabs(ml) < 9.95 ? 1 : 0);
        puts_text(out, " mL");
    }
}

static void put_hours(out_text *out, double hours)
{
    if (hours != hours) {
        put(out, "?", 1);
    } else if (hours < 0.0 || !(hours < 1e9)) {
        out->status = TW_ERR_RANGE;
    } else if (hours < 99.5 / 60.0) {
        put_number(out, ceil(hours * 60.0 - 1e-6), 0);
        puts_text(out, " min");
    } else if (hours < 72.0) {
        put_trimmed(out, hours, hours < 9.95 ? 1 : 0);
        puts_text(out, " h");
    } else {
        put_trimmed(out, hours / 24.0, hours < 239.0 ? 1 : 0);
        put(out, " ", 1);
        put_words(out, TW_SAY_FORM_DAYS);
    }
}

/* Ends are said as ends: nothing here is ever certain. */
static void put_chance(out_text *out, double p)
{
    if (p != p) {
        put(out, "?", 1);
    } else if (!(p >= 0.0 && p <= 1.0)) {
        out->status = TW_ERR_RANGE;
    } else if (p < 0.005) {
        put_words(out, TW_SAY_FORM_UNDER);
    } else if (p > 0.995) {
        put_words(out, TW_SAY_FORM_OVER);
    } else {
        put_number(out, p * 100.0, 0);
        puts_text(out, " %");
    }
}

static void put_two(out_text *out, int32_t value)
{
    const char digits[2] = {(char)('0' + value / 10), (char)('0' + value % 10)};
    put(out, digits, 2);
}

typedef enum { WITH_DATE = 1, WITH_DAY = 2, WITH_HOUR = 4 } time_parts;

static void put_time(out_text *out, tw_time time, int parts)
{
    tw_civil at;
    if (tw_units_time_civil(time, &at) != TW_OK) {
        out->status = TW_ERR_RANGE;
        return;
    }
    if (parts & WITH_DAY)
        put_word(out, TW_SAY_FORM_WEEKDAYS, at.weekday - 1);
    if (parts & WITH_DATE) {
        put(out, " ", 1);
        put_word(out, TW_SAY_FORM_DATES, at.day - 1);
        put(out, " ", 1);
        put_word(out, TW_SAY_FORM_MONTHS, at.month - 1);
    }
    if (parts & WITH_HOUR) {
        if (parts & WITH_DAY)
            put(out, " ", 1);
        put_two(out, at.hour);
        put(out, ":", 1);
        put_two(out, at.minute);
    }
}

/* Near times leave out what the reader knows: the day when it is today, the date within six days. */
static void put_time_near(out_text *out, tw_time time, tw_time now)
{
    tw_civil a;
    tw_civil b;
    if (tw_units_time_civil(time, &a) != TW_OK || tw_units_time_civil(now, &b) != TW_OK) {
        out->status = TW_ERR_RANGE;
        return;
    }
    const int32_t days = tw_units_days_from_date(a.year, a.month, a.day) - tw_units_days_from_date(b.year, b.month, b.day);
    if (days == 0)
        put_time(out, time, WITH_HOUR);
    else if (days > -6 && days < 6)
        put_time(out, time, WITH_DAY | WITH_HOUR);
    else
        put_time(out, time, WITH_DAY | WITH_DATE | WITH_HOUR);
}

static int is(tw_text kind, const char *name)
{
    return tw_units_text_is(kind, name);
}

static void put_number_kind(out_text *out, tw_text kind, double x)
{
    if (kind.n == 1 && kind.at[0] >= '0' && kind.at[0] <= '4') {
        put_number(out, x, kind.at[0] - '0');
    } else if (tw_units_text_starts(kind, "mgl")) {
        put_number(out, x, kind.at[3] - '0');
        puts_text(out, " mg/L");
    } else if (is(kind, "g")) {
        put_mass(out, x);
    } else if (is(kind, "ml")) {
        put_millilitres(out, x);
    } else if (is(kind, "l")) {
        if (put_shown(out, tw_units_text("L"), x, 0))
            return;
        put_number(out, x, 0);
        puts_text(out, " L");
    } else if (is(kind, "pct")) {
        put_chance(out, x);
    } else if (is(kind, "share")) {
        put_number(out, x * 100.0, 0);
        puts_text(out, " %");
    } else if (is(kind, "c0") || is(kind, "c1")) {
        if (put_shown(out, tw_units_text(CELSIUS), x, kind.at[1] - '0'))
            return;
        put_number(out, x, kind.at[1] - '0');
        puts_text(out, " " CELSIUS);
    } else if (is(kind, "h")) {
        put_hours(out, x);
    } else {
        out->status = TW_ERR_MISSING;
    }
}

/* A typed amount: its unit may be any word, also of the person's own. */
static void put_amount(out_text *out, const tw_arg *arg)
{
    if (put_shown(out, arg->text, arg->number, arg->decimals))
        return;
    put_number(out, arg->number, arg->decimals);
    if (arg->text.n > 0) {
        put(out, " ", 1);
        put_term(out, arg->text);
    }
}

static int has_arguments(const char *sentence)
{
    return sentence[tw_units_text_until(sentence, '{')] != '\0';
}

static void put_argument(out_text *out, const tw_arg *arg, tw_text kind, tw_time now)
{
    const int want_time = is(kind, "time") || is(kind, "clock") || is(kind, "day");
    const tw_arg_type wanted = want_time ? TW_ARG_TIME
                               : is(kind, "text") || is(kind, "term") ? TW_ARG_TEXT
                               : is(kind, "words") ? TW_ARG_MESSAGE
                               : is(kind, "amount") ? TW_ARG_AMOUNT : TW_ARG_NUMBER;
    if (arg->type != wanted) {
        out->status = TW_ERR_MISSING;
        return;
    }
    switch (arg->type) {
    case TW_ARG_NUMBER:
        put_number_kind(out, kind, arg->number);
        break;
    case TW_ARG_AMOUNT:
        put_amount(out, arg);
        break;
    case TW_ARG_TIME:
        if (is(kind, "time"))
            put_time_near(out, arg->time, now);
        else
            put_time(out, arg->time, is(kind, "day") ? WITH_DAY | WITH_DATE : WITH_DAY | WITH_DATE | WITH_HOUR);
        break;
    case TW_ARG_TEXT:
        if (is(kind, "term"))
            put_term(out, arg->text);
        else
            put(out, arg->text.at, arg->text.n);
        break;
    case TW_ARG_MESSAGE:
        if ((unsigned)arg->message >= TW_MESSAGES || has_arguments(tw_units_message_text(arg->message)))
            out->status = TW_ERR_UNKNOWN;
        else
            put_words(out, arg->message);
        break;
    }
}

static const tw_arg *find_argument(const tw_said *said, tw_text name)
{
    for (uint32_t i = 0; i < said->args; i++)
        if (tw_units_text_is(name, said->arg[i].name))
            return &said->arg[i];
    return NULL;
}

tw_status tw_answer_say(const tw_said *said, const tw_language *language, tw_shown shown, tw_time now, char *buf, size_t cap, size_t *length)
{
    *length = 0;
    if (cap == 0)
        return TW_ERR_CAPACITY;
    buf[0] = '\0';
    if ((unsigned)said->message >= TW_MESSAGES)
        return TW_ERR_UNKNOWN;
    out_text out = {.language = language, .shown = shown, .buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    const char *at = tw_units_language_message(language, said->message);
    while (*at != '\0' && out.status == TW_OK) {
        const size_t plain = tw_units_text_until(at, '{');
        put(&out, at, plain);
        at += plain;
        if (*at == '\0')
            break;
        /* The generator, or who read the pack, has checked that this is {name:kind}. */
        const size_t name = tw_units_text_until(at, ':');
        const size_t whole = tw_units_text_until(at, '}');
        const tw_arg *arg = find_argument(said, (tw_text){at + 1, name - 1});
        if (arg == NULL)
            out.status = TW_ERR_MISSING;
        else
            put_argument(&out, arg, (tw_text){at + name + 1, whole - name - 1}, now);
        at += whole + 1;
    }
    buf[out.status == TW_OK ? out.n : 0] = '\0';
    *length = out.status == TW_OK ? out.n : 0;
    return out.status;
}

static size_t finish(out_text *out)
{
    const size_t n = out->status == TW_OK ? out->n : 0;
    out->buf[n] = '\0';
    return n;
}

size_t tw_answer_mass_text(double g, char *buf, size_t cap)
{
    out_text out = {.buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    put_mass(&out, g);
    return finish(&out);
}

size_t tw_answer_hours_text(double hours, char *buf, size_t cap)
{
    out_text out = {.buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    put_hours(&out, hours);
    return finish(&out);
}

size_t tw_answer_chance_text(double p, char *buf, size_t cap)
{
    out_text out = {.buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    put_chance(&out, p);
    return finish(&out);
}

size_t tw_answer_time_text(tw_time time, const tw_language *language, tw_time now, char *buf, size_t cap)
{
    out_text out = {.language = language, .buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    put_time_near(&out, time, now);
    return finish(&out);
}

size_t tw_answer_digits_text(const char *digits, size_t n, const tw_language *language, char *buf, size_t cap)
{
    out_text out = {.language = language, .buf = buf, .cap = cap, .n = 0, .status = TW_OK};
    put_digits(&out, digits, n);
    return finish(&out);
}

size_t tw_answer_columns(tw_text text)
{
    size_t columns = 0;
    for (size_t i = 0; i < text.n; i++)
        columns += ((unsigned char)text.at[i] & 0xC0u) != 0x80u;
    return columns;
}
