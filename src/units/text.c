/* units/text.c: pieces of text. */
#include "units/text.h"

#include <string.h>

tw_text tw_units_text(const char *zero_ended)
{
    const tw_text out = {zero_ended, strlen(zero_ended)};
    return out;
}

tw_text tw_units_text_part(tw_text text, size_t from, size_t n)
{
    if (from > text.n)
        from = text.n;
    if (n > text.n - from)
        n = text.n - from;
    const tw_text out = {text.at ? text.at + from : NULL, n};
    return out;
}

int tw_units_text_equal(tw_text a, tw_text b)
{
    return a.n == b.n && (a.n == 0 || memcmp(a.at, b.at, a.n) == 0);
}

int tw_units_text_is(tw_text text, const char *zero_ended)
{
    return tw_units_text_equal(text, tw_units_text(zero_ended));
}

int tw_units_text_starts(tw_text text, const char *zero_ended)
{
    const size_t n = strlen(zero_ended);
    return text.n >= n && (n == 0 || memcmp(text.at, zero_ended, n) == 0);
}

size_t tw_units_text_until(const char *zero_ended, char stop)
{
    size_t n = 0;
    while (zero_ended[n] != '\0' && zero_ended[n] != stop)
        n++;
    return n;
}

int tw_units_text_compare(tw_text a, tw_text b)
{
    const size_t n = a.n < b.n ? a.n : b.n;
    const int order = n == 0 ? 0 : memcmp(a.at, b.at, n);
    if (order != 0)
        return order < 0 ? -1 : 1; /* memcmp's size is the library's own choice */
    return (a.n > b.n) - (a.n < b.n);
}
