/* logbook/fault.c: faults as data and as sentences. */
#include "logbook/fault.h"

#include <stdint.h>
#include <string.h>

#include "logbook/internal.h"
#include "logbook/line.h"
#include "num/require.h"

/* Characters that a terminal or a sheet of paper does not simply show: controls, line and paragraph
 * separators, and those that turn the direction of writing. */
int tw_logbook_prints(uint32_t code_point)
{
    return !(code_point < 0x20 || (code_point >= 0x7F && code_point < 0xA0) || code_point == 0x2028
             || code_point == 0x2029 || (code_point >= 0x202A && code_point <= 0x202E)
             || (code_point >= 0x2066 && code_point <= 0x2069));
}

/* Copy what prints, '?' for what does not, and end with "..." when it had to be cut. */
static void copy_printing(char *out, size_t cap, tw_text text)
{
    size_t n = 0, at = 0, fits = 0; /* fits: where "..." still fits */
    while (at < text.n) {
        uint32_t code_point = 0;
        size_t length = tw_logbook_utf8(text, at, &code_point);
        const int shown = length > 0 && tw_logbook_prints(code_point);
        const size_t wanted = shown ? length : 1;
        if (n + wanted > cap - 1) {
            memcpy(out + fits, "...", 3);
            n = fits + 3;
            break;
        }
        if (shown)
            memcpy(out + n, text.at + at, length);
        else
            out[n] = '?';
        n += wanted;
        if (n + 3 <= cap - 1)
            fits = n;
        at += length > 0 ? length : 1;
    }
    out[n] = '\0';
}

tw_status tw_logbook_fault_set(tw_fault *fault, tw_fault_id id, tw_text field, tw_text value, tw_text allowed)
{
    if (fault && fault->id == TW_FAULT_NONE) {
        fault->id = id;
        fault->at = 0;
        copy_printing(fault->field, sizeof fault->field, field);
        copy_printing(fault->value, sizeof fault->value, value);
        copy_printing(fault->allowed, sizeof fault->allowed, allowed);
    }
    return tw_logbook_fault_status(id);
}

const char *tw_logbook_fault_name(tw_fault_id id)
{
    TW_REQUIRE((unsigned)id < (unsigned)TW_FAULTS);
    return tw_logbook_faults[id].name;
}

tw_status tw_logbook_fault_status(tw_fault_id id)
{
    TW_REQUIRE((unsigned)id < (unsigned)TW_FAULTS);
    return tw_logbook_faults[id].status;
}

typedef struct {
    char *buf;
    size_t cap, n;
} writer;

static void put(writer *w, const char *text, size_t n)
{
    for (size_t i = 0; i < n && w->n + 1 < w->cap; i++)
        w->buf[w->n++] = text[i];
}

static void put_text(writer *w, const char *text)
{
    put(w, text, strlen(text));
}

static void put_argument(writer *w, const tw_fault *fault, const tw_language *language, tw_text name)
{
    if (tw_units_text_is(name, "field")) {
        put_text(w, fault->field);
    } else if (tw_units_text_is(name, "value")) {
        put(w, "\"", 1);
        put_text(w, fault->value);
        put(w, "\"", 1);
    } else if (tw_units_text_is(name, "token")) {
        put_text(w, fault->value);
    } else if (tw_units_text_is(name, "allowed")) {
        put_text(w, tw_units_language_term(language, tw_units_text(fault->allowed)).at);
    } else {
        char digits[20];
        size_t n = 0, at = fault->at;
        do
            digits[n++] = (char)('0' + at % 10);
        while ((at /= 10) > 0);
        while (n > 0)
            put(w, &digits[--n], 1);
    }
}

size_t tw_logbook_fault_text(const tw_fault *fault, const tw_language *language, char *buf, size_t cap)
{
    if (cap == 0)
        return 0;
    TW_REQUIRE((unsigned)fault->id < (unsigned)TW_FAULTS);
    writer w = {buf, cap, 0};
    for (const char *at = tw_units_language_term(language, tw_units_text(tw_logbook_faults[fault->id].text)).at; *at != '\0'; at++) {
        if (*at != '{') {
            put(&w, at, 1);
            continue;
        }
        const char *end = at;
        while (*end != '}' && end[1] != '\0')
            end++;
        const tw_text name = {at + 1, (size_t)(end - at - 1)};
        put_argument(&w, fault, language, name);
        at = end;
    }
    w.buf[w.n] = '\0';
    return w.n;
}
