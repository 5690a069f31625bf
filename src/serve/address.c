/* serve/address.c: percent signs, pieces and parameters of an address, and the row of the table it means. */
#include "serve/address.h"

#include <stdio.h>
#include <string.h>

#include "units/decimal.h"
#include "units/time.h"

static int hex(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* n bytes without %XX behind what is there already; 0: bad escapes or controls. */
static int decode(tw_serve_target *out, const char *at, size_t n, tw_text *piece)
{
    char *to = out->text + out->used;
    size_t used = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)at[i];
        if (c == '%') {
            const int high = i + 2 < n ? hex(at[i + 1]) : -1, low = i + 2 < n ? hex(at[i + 2]) : -1;
            if (high < 0 || low < 0)
                return 0;
            c = (unsigned char)(high * 16 + low);
            i += 2;
        } else if (c == ' ') {
            return 0;
        }
        if (c < 0x20 || c == 0x7f)
            return 0;
        to[used++] = (char)c;
    }
    to[used] = '\0';
    *piece = (tw_text){to, used};
    out->used += used + 1;
    return 1;
}

static tw_serve_problem read_path(const char *path, size_t n, tw_serve_target *out)
{
    if (n == 0 || path[0] != '/')
        return TW_PROBLEM_REQUEST;
    for (size_t at = 1; at < n;) {
        size_t end = at;
        while (end < n && path[end] != '/')
            end++;
        tw_text piece;
        if (out->pieces == TW_SERVE_PIECES || end == at || end + 1 == n)
            return TW_PROBLEM_PATH;
        if (!decode(out, path + at, end - at, &piece))
            return TW_PROBLEM_REQUEST;
        if (tw_units_text_is(piece, ".") || tw_units_text_is(piece, "..") || memchr(piece.at, '/', piece.n) != NULL)
            return TW_PROBLEM_PATH;
        out->piece[out->pieces++] = piece;
        at = end + 1;
    }
    return TW_PROBLEMS;
}

static int digits(tw_text value, size_t most)
{
    size_t n = 0;
    while (n < value.n && value.at[n] >= '0' && value.at[n] <= '9')
        n++;
    return n == value.n && n > 0 && n <= most;
}

/* Is the value written as its type is? Its range is looked at by whoever uses it. */
static int of_type(tw_text value, tw_serve_type type)
{
    tw_time time;
    double number = 0.0;
    switch (type) {
    case TW_WRITTEN_TIME:
        return tw_units_time_typed(value, &time) == TW_OK;
    case TW_WRITTEN_COUNT:
        return digits(value, 9);
    case TW_WRITTEN_DECIMAL:
        return tw_units_decimal_read(value, &number, NULL) == TW_OK;
    case TW_WRITTEN_PLAIN: /* goes into a question, where blanks part the words */
        return value.n > 0 && value.n < 1024 && memchr(value.at, ' ', value.n) == NULL;
    case TW_WRITTEN_CURSOR:
        return value.n > 0 && value.n < 128;
    case TW_WRITTEN_END:
    default:
        return 0;
    }
}

static tw_serve_problem read_parameter(const char *at, size_t n, tw_serve_target *out)
{
    const char *equals = memchr(at, '=', n);
    const size_t named = equals != NULL ? (size_t)(equals - at) : n;
    (void)snprintf(out->culprit, sizeof out->culprit, "%.*s", (int)(named < 40 ? named : 40), at);
    for (int i = 0; i < TW_PARAMETERS; i++) {
        if (!tw_units_text_is((tw_text){at, named}, tw_serve_parameters[i].name))
            continue;
        if (equals == NULL || out->value[i].at != NULL || !decode(out, equals + 1, n - named - 1, &out->value[i]) ||
            !of_type(out->value[i], tw_serve_parameters[i].type))
            return TW_PROBLEM_PARAMETER;
        return TW_PROBLEMS;
    }
    return TW_PROBLEM_PARAMETER;
}

tw_serve_problem tw_serve_target_read(const char *target, tw_serve_target *out)
{
    memset(out, 0, sizeof *out);
    const size_t n = strlen(target);
    /* Every piece takes its bytes and a zero in the place of a separator, so the text has room. */
    if (n + 2 > sizeof out->text)
        return TW_PROBLEM_ADDRESS_LONG;
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)target[i] <= 0x20 || target[i] == 0x7f || target[i] == '#' || target[i] == '\\')
            return TW_PROBLEM_REQUEST;
    const char *query = strchr(target, '?');
    const size_t path = query != NULL ? (size_t)(query - target) : n;
    tw_serve_problem problem = read_path(target, path, out);
    while (problem == TW_PROBLEMS && query != NULL && *query != '\0') {
        const char *at = query + 1;
        const size_t length = strcspn(at, "&");
        if (length > 0 || *at == '&')
            problem = read_parameter(at, length, out);
        query = at + length;
    }
    return problem;
}

/* Does a path of the table fit? What stands for {...} goes to *of. */
static int fits(const char *path, const tw_serve_target *target, tw_text *of)
{
    size_t piece = 0;
    *of = (tw_text){NULL, 0};
    for (const char *at = path + 1; *at != '\0'; piece++) {
        const size_t n = strcspn(at, "/");
        if (piece >= target->pieces)
            return 0;
        if (at[0] == '{')
            *of = target->piece[piece];
        else if (target->piece[piece].n != n || memcmp(target->piece[piece].at, at, n) != 0)
            return 0;
        at += n + (at[n] == '/');
    }
    return piece == target->pieces;
}

tw_serve_route tw_serve_route_find(const tw_serve_target *target, const char *method, tw_text *of, char *allowed, size_t cap)
{
    size_t used = 0;
    const char *wanted = strcmp(method, "HEAD") == 0 ? "GET" : method;
    allowed[0] = '\0';
    for (int i = 0; i < TW_ROUTES; i++) {
        const tw_serve_route_row *row = &tw_serve_routes[i];
        tw_text piece;
        if (!fits(row->path, target, &piece))
            continue;
        if (strcmp(row->method, wanted) == 0) {
            *of = piece;
            return (tw_serve_route)i;
        }
        const int wrote = snprintf(allowed + used, cap - used, "%s%s%s", used > 0 ? ", " : "", row->method,
                                   strcmp(row->method, "GET") == 0 ? ", HEAD" : "");
        used += wrote > 0 && used + (size_t)wrote < cap ? (size_t)wrote : 0;
    }
    return TW_ROUTES;
}
