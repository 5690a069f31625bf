/* serve/site.c: the page, its core and its fonts, as they were embedded. */
#include "serve/site.h"

#include <stdio.h>
#include <string.h>

#include "serve/inside.h"

/* The page runs its own scripts, its own core, and speaks to this server alone. */
#define PAGE_POLICY                                                                                                                  \
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; " \
    "worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

#define FILES "/app/"

static const tw_site_file *find(const tw_serve_request *request)
{
    const size_t folder = sizeof FILES - 1;
    for (size_t i = 0; i < tw_site_count; i++) {
        const char *path = tw_site_files[i].path;
        if (request->route == TW_ROUTE_PAGE_FILE ? strncmp(path, FILES, folder) == 0 && tw_units_text_is(request->of, path + folder)
                                                 : strcmp(path, tw_serve_routes[request->route].path) == 0)
            return &tw_site_files[i];
    }
    return NULL;
}

/* 1 when a word stands in a header of words. */
static int says(const tw_serve_request *request, const char *name, const char *word)
{
    const tw_text header = tw_serve_header(request, name);
    const size_t n = strlen(word);
    for (size_t i = 0; i + n <= header.n; i++)
        if (memcmp(header.at + i, word, n) == 0)
            return 1;
    return 0;
}

int tw_serve_site(tw_serve_request *request)
{
    const tw_site_file *file = find(request);
    if (request->route == TW_ROUTE_START && (file == NULL || !says(request, "Accept", "text/html")))
        return 0;
    if (file == NULL) {
        tw_serve_reply_problem(request, TW_PROBLEM_PATH, NULL, NULL, NULL);
        return 1;
    }
    const int packed = says(request, "Accept-Encoding", "gzip");
    tw_serve_reply *reply = &request->reply;
    reply->status = MHD_HTTP_OK;
    reply->type = file->type;
    reply->lasting = packed ? file->packed : file->plain;
    reply->n = (size_t)(packed ? file->packed_end - file->packed : file->plain_end - file->plain);
    reply->coding = packed ? "gzip" : NULL;
    reply->policy = PAGE_POLICY;
    (void)snprintf(reply->tag, sizeof reply->tag, "%s", file->tag);
    request->ready = 1;
    return 1;
}
