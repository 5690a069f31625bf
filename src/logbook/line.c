/* logbook/line.c: the canonical line (RFC 8785), read strictly and written. */
#include "logbook/line.h"

#include <string.h>

#include "logbook/internal.h"
#include "num/require.h"

typedef struct {
    tw_text line;
    size_t at;
    tw_pair *pair; /* TW_ENTRY_FIELDS of them                                     */
    char *text;    /* as many bytes as the line: values without their escapes     */
    size_t used;   /* of text                                                     */
    tw_fault *fault;
} reader;

size_t tw_logbook_utf8(tw_text text, size_t at, uint32_t *code_point)
{
    if (at >= text.n)
        return 0;
    const unsigned char *byte = (const unsigned char *)text.at + at;
    const size_t left = text.n - at;
    size_t n;
    uint32_t c, least;
    if (byte[0] < 0x80) {
        *code_point = byte[0];
        return 1;
    }
    if ((byte[0] & 0xE0) == 0xC0) {
        n = 2, c = byte[0] & 0x1Fu, least = 0x80;
    } else if ((byte[0] & 0xF0) == 0xE0) {
        n = 3, c = byte[0] & 0x0Fu, least = 0x800;
    } else if ((byte[0] & 0xF8) == 0xF0) {
        n = 4, c = byte[0] & 0x07u, least = 0x10000;
    } else {
        return 0;
    }
    if (n > left)
        return 0;
    for (size_t i = 1; i < n; i++) {
        if ((byte[i] & 0xC0) != 0x80)
            return 0;
        c = (c << 6) | (byte[i] & 0x3Fu);
    }
    if (c < least || c > 0x10FFFF || (c >= 0xD800 && c <= 0xDFFF))
        return 0;
    *code_point = c;
    return n;
}

int tw_logbook_name_compare(tw_text a, tw_text b)
{
    size_t i = 0, j = 0;
    while (i < a.n && j < b.n) {
        uint32_t x = 0, y = 0;
        const size_t m = tw_logbook_utf8(a, i, &x), n = tw_logbook_utf8(b, j, &y);
        if (m == 0 || n == 0) /* not UTF-8: no name of a line; bytes give some order */
            return tw_units_text_compare(a, b);
        if (x != y) {
            /* Beyond U+FFFF the first unit is a surrogate, D800..DBFF, below E000..FFFF. */
            const uint32_t u = x > 0xFFFF ? 0xD800 + ((x - 0x10000) >> 10) : x;
            const uint32_t v = y > 0xFFFF ? 0xD800 + ((y - 0x10000) >> 10) : y;
            return u != v ? (u < v ? -1 : 1) : (x < y ? -1 : 1);
        }
        i += m;
        j += n;
    }
    return (i < a.n) - (j < b.n);
}

static tw_status bad_form(reader *r, const char *needed)
{
    const tw_text none = {"", 0};
    uint32_t code_point;
    tw_text here = tw_units_text_part(r->line, r->at, 1);
    const size_t length = tw_logbook_utf8(r->line, r->at, &code_point);
    if (length > 0)
        here.n = length;
    if (r->at >= r->line.n)
        here = tw_units_text("the end");
    else if (here.at[0] == ' ')
        here = tw_units_text("a blank");
    const int first = r->fault && r->fault->id == TW_FAULT_NONE;
    const tw_status status = tw_logbook_fault_set(r->fault, TW_FAULT_FORM, none, here, tw_units_text(needed));
    if (first)
        r->fault->at = r->at + 1;
    return status;
}

static tw_status bad_utf8(reader *r, tw_text field)
{
    static const char DIGIT[] = "0123456789ABCDEF";
    char hex[12];
    size_t n = 0;
    for (size_t i = r->at; i < r->line.n && i < r->at + 3; i++) {
        const unsigned char byte = (unsigned char)r->line.at[i];
        if (i > r->at && byte < 0x80)
            break;
        if (n > 0)
            hex[n++] = ' ';
        hex[n++] = DIGIT[byte >> 4];
        hex[n++] = DIGIT[byte & 15];
    }
    const tw_text none = {"", 0}, bytes = {hex, n};
    const tw_text where = field.n > 0 ? field : tw_units_text("a name");
    const int first = r->fault && r->fault->id == TW_FAULT_NONE;
    const tw_status status = tw_logbook_fault_set(r->fault, TW_FAULT_UTF8, where, bytes, none);
    if (first)
        r->fault->at = r->at + 1;
    return status;
}

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* The character of a canonical escape at the backslash, and its length; 0: not canonical. */
static size_t escape(tw_text line, size_t at, char *out)
{
    static const char SHORT[] = "\"\\bfnrt", MEANT[] = "\"\\\b\f\n\r\t";
    if (at + 1 >= line.n)
        return 0;
    for (size_t i = 0; i < sizeof SHORT - 1; i++)
        if (line.at[at + 1] == SHORT[i]) {
            *out = MEANT[i];
            return 2;
        }
    if (line.at[at + 1] != 'u' || at + 5 >= line.n || line.at[at + 2] != '0' || line.at[at + 3] != '0')
        return 0;
    const int high = hex_digit(line.at[at + 4]), low = hex_digit(line.at[at + 5]);
    if (high < 0 || high > 1 || low < 0)
        return 0; /* only controls are escaped, and in small letters */
    *out = (char)(high * 16 + low);
    if (*out == '\b' || *out == '\f' || *out == '\n' || *out == '\r' || *out == '\t')
        return 0; /* these have a shorter escape */
    return 6;
}

/* A string at the opening quote; field is the name when it is a value. */
static tw_status read_string(reader *r, tw_text field, tw_text *out)
{
    if (r->at >= r->line.n || r->line.at[r->at] != '"')
        return bad_form(r, "a quotation mark");
    const size_t first = ++r->at, room_first = r->used;
    int escaped = 0;
    while (r->at < r->line.n && r->line.at[r->at] != '"') {
        const char c = r->line.at[r->at];
        uint32_t code_point;
        char meant = c;
        size_t length = 1;
        if (c >= 0x20 && c < 0x7F && c != '\\' && !escaped) {
            /* most of every line: plain ASCII that stays where it is */
        } else if (c == '\\') {
            length = escape(r->line, r->at, &meant);
            if (length == 0)
                return bad_form(r, "the shortest escape");
            if (!escaped) { /* from here on the value is kept without escapes */
                memcpy(r->text + r->used, r->line.at + first, r->at - first);
                r->used += r->at - first;
                escaped = 1;
            }
            r->text[r->used++] = meant;
        } else {
            if ((unsigned char)c < 0x20)
                return bad_form(r, "an escape");
            length = tw_logbook_utf8(r->line, r->at, &code_point);
            if (length == 0)
                return bad_utf8(r, field);
            if (escaped) {
                memcpy(r->text + r->used, r->line.at + r->at, length);
                r->used += length;
            }
        }
        r->at += length;
    }
    if (r->at >= r->line.n)
        return bad_form(r, "a quotation mark");
    *out = tw_units_text_part(r->line, first, r->at - first);
    if (escaped) {
        out->at = r->text + room_first;
        out->n = r->used - room_first;
    }
    r->at++;
    return TW_OK;
}

/* A value that is no string: shown up to the next comma or brace. */
static tw_status not_text(reader *r, tw_text field)
{
    const char c = r->at < r->line.n ? r->line.at[r->at] : ' ';
    if (!(c == '-' || c == '{' || c == '[' || (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z')))
        return bad_form(r, "a quotation mark");
    size_t end = r->at + 1;
    while (end < r->line.n && r->line.at[end] != ',' && r->line.at[end] != '}')
        end++;
    const tw_text none = {"", 0};
    const int first = r->fault && r->fault->id == TW_FAULT_NONE;
    const tw_status status = tw_logbook_fault_set(r->fault, TW_FAULT_NOT_TEXT, field,
                                                  tw_units_text_part(r->line, r->at, end - r->at), none);
    if (first)
        r->fault->at = r->at + 1;
    return status;
}

static tw_status take(reader *r, char c, const char *name)
{
    if (r->at >= r->line.n || r->line.at[r->at] != c)
        return bad_form(r, name);
    r->at++;
    return TW_OK;
}

/* The name must come after the names before it. */
static tw_status check_order(reader *r, const tw_entry *entry, tw_text name)
{
    const tw_text none = {"", 0};
    if (entry->pairs == 0 || tw_logbook_name_compare(entry->pair[entry->pairs - 1].name, name) < 0)
        return TW_OK;
    for (uint32_t i = 0; i < entry->pairs; i++)
        if (tw_units_text_equal(entry->pair[i].name, name))
            return tw_logbook_fault_set(r->fault, TW_FAULT_TWICE, name, none, none);
    return tw_logbook_fault_set(r->fault, TW_FAULT_ORDER, name, none, none);
}

static tw_status read_pair(reader *r, tw_entry *out)
{
    const tw_text none = {"", 0};
    tw_pair pair;
    tw_status status = read_string(r, none, &pair.name);
    if (status == TW_OK)
        status = take(r, ':', "a colon");
    if (status != TW_OK)
        return status;
    if (r->at >= r->line.n || r->line.at[r->at] != '"')
        return not_text(r, pair.name);
    status = read_string(r, pair.name, &pair.value);
    if (status == TW_OK)
        status = check_order(r, out, pair.name);
    if (status != TW_OK)
        return status;
    if (out->pairs == TW_ENTRY_FIELDS)
        return tw_logbook_fault_set(r->fault, TW_FAULT_MANY, pair.name, none, tw_units_text("48 fields"));
    pair.field = tw_logbook_find_field(pair.name);
    r->pair[out->pairs++] = pair;
    return TW_OK;
}

_Static_assert(TW_ENTRY_FIELDS == 48 && TW_LINE_BYTES == 8192, "the messages name these numbers");

tw_status tw_logbook_line_split_into(tw_text line, tw_pair *pair, char *text, tw_entry *out, tw_fault *fault)
{
    const tw_text none = {"", 0};
    if (fault)
        fault->id = TW_FAULT_NONE;
    memset(out, 0, sizeof *out);
    out->line = line;
    out->pair = pair;
    out->kind = TW_KINDS;
    if (line.n > TW_LINE_BYTES)
        return tw_logbook_fault_set(fault, TW_FAULT_LINE_LONG, none, none, tw_units_text("8192 bytes"));
    reader r = {line, 0, pair, text, 0, fault};
    tw_status status = take(&r, '{', "an opening brace");
    if (status == TW_OK && r.at < line.n && line.at[r.at] == '}')
        r.at++; /* the empty object is canonical, though no entry */
    else
        while (status == TW_OK) {
            status = read_pair(&r, out);
            if (status == TW_OK && r.at < line.n && line.at[r.at] == '}') {
                r.at++;
                break;
            }
            if (status == TW_OK)
                status = take(&r, ',', "a comma or a closing brace");
        }
    if (status == TW_OK && r.at != line.n)
        return bad_form(&r, "the end of the line");
    return status;
}

tw_status tw_logbook_line_split(tw_text line, tw_entry_room *room, tw_entry *out, tw_fault *fault)
{
    return tw_logbook_line_split_into(line, room->pair, room->text, out, fault);
}

tw_status tw_logbook_line_read(tw_text line, tw_check_mode mode, tw_entry_room *room, tw_entry *out, tw_fault *fault)
{
    const tw_status status = tw_logbook_line_split(line, room, out, fault);
    return status == TW_OK ? tw_logbook_check(out, mode, fault) : status;
}

typedef struct {
    char *buf;
    size_t cap, n;
} writer;

static void put(writer *w, const char *bytes, size_t n)
{
    if (w->n <= w->cap && n <= w->cap - w->n)
        memcpy(w->buf + w->n, bytes, n);
    w->n += n; /* counted on, so that the caller sees that it did not fit */
}

static void put_string(writer *w, tw_text text)
{
    static const char SHORT[] = "\"\\bfnrt", MEANT[] = "\"\\\b\f\n\r\t", DIGIT[] = "0123456789abcdef";
    put(w, "\"", 1);
    for (size_t i = 0; i < text.n; i++) {
        const char c = text.at[i];
        size_t e = 0;
        while (e < sizeof MEANT - 1 && MEANT[e] != c)
            e++;
        if (e < sizeof MEANT - 1) {
            const char pair[2] = {'\\', SHORT[e]};
            put(w, pair, 2);
        } else if ((unsigned char)c < 0x20) {
            const char code[6] = {'\\', 'u', '0', '0', DIGIT[(unsigned char)c >> 4], DIGIT[(unsigned char)c & 15]};
            put(w, code, 6);
        } else {
            put(w, &c, 1);
        }
    }
    put(w, "\"", 1);
}

tw_status tw_logbook_line_write(const tw_entry *entry, char *buf, size_t cap, size_t *length)
{
    uint8_t order[TW_ENTRY_FIELDS];
    *length = 0;
    TW_REQUIRE(entry->pairs <= TW_ENTRY_FIELDS);
    for (uint32_t i = 0; i < entry->pairs; i++) { /* insertion: few, and mostly in order */
        uint32_t j = i;
        for (; j > 0; j--) {
            const int side = tw_logbook_name_compare(entry->pair[order[j - 1]].name, entry->pair[i].name);
            if (side == 0)
                return TW_ERR_FORMAT;
            if (side < 0)
                break;
            order[j] = order[j - 1];
        }
        order[j] = (uint8_t)i;
    }
    writer w = {buf, cap, 0};
    put(&w, "{", 1);
    for (uint32_t i = 0; i < entry->pairs; i++) {
        if (i > 0)
            put(&w, ",", 1);
        put_string(&w, entry->pair[order[i]].name);
        put(&w, ":", 1);
        put_string(&w, entry->pair[order[i]].value);
    }
    put(&w, "}", 1);
    if (w.n > cap)
        return TW_ERR_CAPACITY;
    *length = w.n;
    return TW_OK;
}
