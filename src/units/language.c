/* units/language.c: reading a pack, finding in it. */
#include "units/language.h"

#include <string.h>

#define FORM "tubwright language "
#define VERSION "1"

/* What is left of a pack; every text in it ends with a zero. */
typedef struct {
    const char *at, *end;
} unread;

/* The next text; NULL when no whole one is left. */
static const char *next_text(unread *pack)
{
    const char *const text = pack->at;
    const char *zero = text;
    while (zero < pack->end && *zero != '\0')
        zero++;
    pack->at = zero + (zero < pack->end);
    return zero < pack->end ? text : NULL;
}

static void append(char *out, size_t *n, const char *text)
{
    for (; *text != '\0' && *n + 1 < TW_LANGUAGE_FAULT; text++)
        out[(*n)++] = *text;
    out[*n] = '\0';
}

static tw_status refuse(tw_status status, const char *why, const char *name, char *fault)
{
    size_t n = 0;
    append(fault, &n, "the language pack is refused: ");
    append(fault, &n, name);
    append(fault, &n, why);
    return status;
}

/* The next {name:type} of a sentence with its braces; n is 0 when there is none. */
static tw_text next_argument(const char **at)
{
    const char *const open = *at + tw_units_text_until(*at, '{');
    const size_t n = tw_units_text_until(open, '}');
    if (open[n] == '\0')
        return (tw_text){open, 0};
    *at = open + n + 1;
    return (tw_text){open, n + 1};
}

static int has_argument(const char *sentence, tw_text wanted)
{
    for (tw_text one = next_argument(&sentence); one.n > 0; one = next_argument(&sentence))
        if (tw_units_text_equal(one, wanted))
            return 1;
    return 0;
}

/* 1: every argument of one sentence stands in the other, with its type, and no brace stands alone. */
static int takes_from(const char *sentence, const char *other)
{
    const char *at = sentence;
    for (tw_text one = next_argument(&at); one.n > 0; one = next_argument(&at))
        if (!has_argument(other, one))
            return 0;
    return at[tw_units_text_until(at, '{')] == '\0';
}

static tw_status take_message(tw_language *out, const char *name, const char *text, char *fault)
{
    const tw_message message = tw_units_message_find(tw_units_text(name));
    if (message == TW_MESSAGES)
        return refuse(TW_ERR_UNKNOWN, " is no sentence of this program", name, fault);
    const char *const english = tw_units_message_text(message);
    if (!takes_from(text, english) || !takes_from(english, text))
        return refuse(TW_ERR_CONFLICT, " has other arguments than in English", name, fault);
    out->message[message] = text;
    return TW_OK;
}

tw_status tw_units_language_read(const char *bytes, size_t n, tw_language *out, char fault[TW_LANGUAGE_FAULT])
{
    unread pack = {bytes, bytes + n};
    const char *const form = next_text(&pack);
    const char *before = "";
    memset(out, 0, sizeof *out);
    fault[0] = '\0';
    if (form == NULL || !tw_units_text_starts(tw_units_text(form), FORM))
        return refuse(TW_ERR_FORMAT, "it does not begin with \"" FORM VERSION "\"", "", fault);
    if (!tw_units_text_is(tw_units_text(form), FORM VERSION))
        return refuse(TW_ERR_NEWER, " where \"" FORM VERSION "\" is needed", form, fault);
    out->tag = next_text(&pack);
    while (pack.at < pack.end) {
        const char *const name = next_text(&pack);
        const char *const text = next_text(&pack);
        if (name == NULL || text == NULL)
            return refuse(TW_ERR_FORMAT, "; then it is cut off", before, fault);
        if (tw_units_text_compare(tw_units_text(before), tw_units_text(name)) >= 0)
            return refuse(TW_ERR_FORMAT, " stands out of order or twice", name, fault);
        before = name;
        if (name[0] == '=') {
            if (out->terms == TW_LANGUAGE_TERMS)
                return refuse(TW_ERR_CAPACITY, " is a term too many", name, fault);
            out->term[out->terms++] = name;
        } else if (name[0] != '/') {
            const tw_status status = take_message(out, name, text, fault);
            if (status != TW_OK)
                return status;
        }
    }
    for (int i = 0; i < TW_MESSAGES; i++)
        if (out->message[i] == NULL)
            return refuse(TW_ERR_MISSING, " is not in it", tw_units_message_id((tw_message)i), fault);
    return TW_OK;
}

const char *tw_units_language_message(const tw_language *language, tw_message message)
{
    return language != NULL ? language->message[message] : tw_units_message_text(message);
}

tw_text tw_units_language_term(const tw_language *language, tw_text english)
{
    size_t low = 0;
    size_t high = language != NULL ? language->terms : 0;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const tw_text name = tw_units_text(language->term[middle] + 1);
        const int order = tw_units_text_compare(english, name);
        if (order == 0)
            return tw_units_text(name.at + name.n + 1);
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return english;
}
