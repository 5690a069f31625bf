/* serve/guard.c: values of headers, read strictly: what is odd does not fit. */
#include "serve/guard.h"

#include <string.h>

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static int same(tw_text a, const char *b, size_t n)
{
    if (a.n != n)
        return 0;
    for (size_t i = 0; i < n; i++)
        if (lower(a.at[i]) != lower(b[i]))
            return 0;
    return 1;
}

/* Blanks and tabs at both ends taken away. */
static tw_text trimmed(tw_text text)
{
    while (text.n > 0 && (text.at[0] == ' ' || text.at[0] == '\t')) {
        text.at++;
        text.n--;
    }
    while (text.n > 0 && (text.at[text.n - 1] == ' ' || text.at[text.n - 1] == '\t'))
        text.n--;
    return text;
}

/* The next part up to `stop`, trimmed; *rest goes behind it. */
static tw_text next(tw_text *rest, char stop)
{
    const char *end = rest->n > 0 ? memchr(rest->at, stop, rest->n) : NULL;
    const size_t n = end != NULL ? (size_t)(end - rest->at) : rest->n;
    const tw_text part = {rest->at, n};
    rest->at += end != NULL ? n + 1 : n;
    rest->n -= end != NULL ? n + 1 : n;
    return trimmed(part);
}

/* Where the port of "name:port" or "[v6]:port" begins, n when there is none. */
static size_t port_of(tw_text host)
{
    size_t at = host.n;
    while (at > 0 && host.at[at - 1] != ':' && host.at[at - 1] != ']')
        at--;
    return at > 0 && host.at[at - 1] == ':' ? at - 1 : host.n;
}

static int port_is(tw_text digits, uint16_t port)
{
    uint32_t value = 0;
    if (digits.n == 0 || digits.n > 5)
        return 0;
    for (size_t i = 0; i < digits.n; i++) {
        if (digits.at[i] < '0' || digits.at[i] > '9')
            return 0;
        value = value * 10 + (uint32_t)(digits.at[i] - '0');
    }
    return port == 0 ? value > 0 && value < 65536 : value == port;
}

int tw_serve_host_fits(tw_text host, const char *hosts, uint16_t port, int any_port)
{
    const size_t colon = port_of(host);
    const tw_text name = {host.at, colon};
    if (name.n == 0)
        return 0;
    if (colon < host.n && !port_is((tw_text){host.at + colon + 1, host.n - colon - 1}, any_port ? 0 : port))
        return 0;
    if (colon == host.n && !any_port && port != 80 && port != 443)
        return 0;
    for (const char *at = hosts; *at != '\0';) {
        const size_t n = strcspn(at, ",");
        if (same(name, at, n))
            return 1;
        at += n + (at[n] == ',');
    }
    return 0;
}

int tw_serve_origin_fits(tw_text origin, int tls, tw_text host)
{
    const char *scheme = tls ? "https://" : "http://";
    const size_t n = strlen(scheme);
    return origin.n > n && memcmp(origin.at, scheme, n) == 0 && same((tw_text){origin.at + n, origin.n - n}, host.at, host.n);
}

int tw_serve_tag_named(tw_text values, const char *tag)
{
    while (values.n > 0) {
        tw_text one = next(&values, ',');
        if (tw_units_text_is(one, "*"))
            return 1;
        if (one.n > 2 && one.at[0] == 'W' && one.at[1] == '/') {
            one.at += 2;
            one.n -= 2;
        }
        if (tw_units_text_is(one, tag))
            return 1;
    }
    return 0;
}

/* 1 when the weight among the parameters of a media range is zero. */
static int refused(tw_text parameters)
{
    while (parameters.n > 0) {
        const tw_text one = next(&parameters, ';');
        if (one.n < 3 || lower(one.at[0]) != 'q' || one.at[1] != '=')
            continue;
        size_t i = 2;
        while (i < one.n && (one.at[i] == '0' || one.at[i] == '.'))
            i++;
        return i == one.n;
    }
    return 0;
}

int tw_serve_accepts(tw_text accept, const char *type)
{
    const size_t kind = strcspn(type, "/");
    if (trimmed(accept).n == 0)
        return 1;
    while (accept.n > 0) {
        tw_text range = next(&accept, ',');
        const tw_text media = next(&range, ';');
        const int fits = tw_units_text_is(media, "*/*") || same(media, type, strlen(type)) ||
                         (media.n == kind + 2 && same((tw_text){media.at, kind}, type, kind) && media.at[kind] == '/' &&
                          media.at[kind + 1] == '*');
        if (fits && !refused(range))
            return 1;
    }
    return 0;
}

int tw_serve_content_is(tw_text value, const char *type)
{
    const tw_text media = next(&value, ';');
    if (!same(media, type, strlen(type)))
        return 0;
    while (value.n > 0) {
        const tw_text parameter = next(&value, ';');
        if (parameter.n > 0 && !same(parameter, "charset=utf-8", 13) && !same(parameter, "charset=\"utf-8\"", 15))
            return 0;
    }
    return 1;
}

tw_text tw_serve_cookie(tw_text cookies, const char *name)
{
    tw_text found = {NULL, 0};
    const size_t n = strlen(name);
    while (cookies.n > 0) {
        const tw_text one = next(&cookies, ';');
        if (one.n <= n || memcmp(one.at, name, n) != 0 || one.at[n] != '=')
            continue;
        if (found.at != NULL)
            return (tw_text){NULL, 0};
        found = (tw_text){one.at + n + 1, one.n - n - 1};
    }
    return found;
}
