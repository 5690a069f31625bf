/* What a client writes into a request line and its headers, from any bytes: the target, Host, Origin, tags, Accept, Content-Type,
 * cookies. What is let through has the form that the rest of the server relies on. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "serve/address.h"
#include "serve/guard.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static int clean(tw_text text)
{
    for (size_t i = 0; i < text.n; i++)
        if ((unsigned char)text.at[i] < 0x20 || text.at[i] == 0x7f)
            return 0;
    return 1;
}

static void target(const char *text)
{
    static const char *const METHODS[] = {"GET", "HEAD", "POST", "DELETE", "PUT", ""};
    tw_serve_target read;
    char allowed[64];
    tw_text of;
    if (tw_serve_target_read(text, &read) != TW_PROBLEMS)
        return;
    must(read.used <= sizeof read.text && read.pieces <= TW_SERVE_PIECES);
    for (size_t i = 0; i < read.pieces; i++) {
        must(read.piece[i].n > 0 && clean(read.piece[i]) && memchr(read.piece[i].at, '/', read.piece[i].n) == NULL);
        must(!tw_units_text_is(read.piece[i], ".") && !tw_units_text_is(read.piece[i], ".."));
        must(read.piece[i].at >= read.text && read.piece[i].at + read.piece[i].n < read.text + sizeof read.text);
    }
    for (int i = 0; i < TW_PARAMETERS; i++)
        must(read.value[i].at == NULL || (clean(read.value[i]) && memchr(read.value[i].at, ' ', read.value[i].n) == NULL) ||
             tw_serve_parameters[i].type == TW_WRITTEN_CURSOR);
    for (size_t i = 0; i < sizeof METHODS / sizeof METHODS[0]; i++) {
        const tw_serve_route route = tw_serve_route_find(&read, METHODS[i], &of, allowed, sizeof allowed);
        must(route <= TW_ROUTES && strlen(allowed) < sizeof allowed);
    }
}

static void headers(tw_text text)
{
    static const char HOSTS[] = "localhost,127.0.0.1,[::1],tub.example";
    if (tw_serve_host_fits(text, HOSTS, 8433, 0)) {
        /* The name is one of the list, and behind it stands the port. */
        must(text.n > 5 && memcmp(text.at + text.n - 5, ":8433", 5) == 0);
        must(text.n - 5 == 9 || text.n - 5 == 5 || text.n - 5 == 11);
    }
    must(!tw_serve_origin_fits(text, 0, (tw_text){"tub.example", 11}) || text.n == 18);
    must(!tw_serve_origin_fits(text, 1, (tw_text){"tub.example", 11}) || text.n == 19);
    (void)tw_serve_tag_named(text, "\"abc\"");
    (void)tw_serve_accepts(text, "application/json");
    (void)tw_serve_content_is(text, "application/json");
    const tw_text cookie = tw_serve_cookie(text, "tubwright");
    must(cookie.at == NULL || (cookie.at > text.at && cookie.at + cookie.n <= text.at + text.n));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char *text = malloc(size + 1);
    if (text == NULL)
        return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    target(text);
    /* Without its zero: whoever reads one byte too far is found out. */
    char *exact = malloc(size > 0 ? size : 1);
    if (exact != NULL) {
        memcpy(exact, data, size);
        headers((tw_text){exact, size});
    }
    free(exact);
    free(text);
    return 0;
}
