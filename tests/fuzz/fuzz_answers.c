/* What a server answers to the client of an exchange, from any bytes: each answer of a sitting is a line of the input, the status before it. Nothing that
 * is let through has another form than the exchange relies on, and what is told to people holds nothing that a terminal obeys. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/identity.h"
#include "sync/wire.h"

#define MOST 16 /* lines that are asked for at once */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static const char *rest;
static size_t left;

/* In place of the wire: the next line. */
long tw_sync_wire_ask(tw_sync_http *http, const char *method, const char *path, const char *body, json_t **out)
{
    static const long STATUSES[] = {200, 200, 200, 403, 410, 400, 401, 500, 503, 0};
    (void)http;
    (void)method;
    must(path[strspn(path, "abcdefghijklmnopqrstuvwxyz0123456789/?=&.")] == '\0');
    must(body == NULL || strlen(body) < (size_t)1 << 20);
    *out = NULL;
    if (left == 0)
        return 0;
    const char *end = memchr(rest, '\n', left);
    const size_t n = end != NULL ? (size_t)(end - rest) : left;
    const long status = n > 0 ? STATUSES[(unsigned char)rest[0] % 10u] : 0;
    *out = n > 1 ? json_loadb(rest + 1, n - 1, JSON_REJECT_DUPLICATES, NULL) : NULL;
    rest += end != NULL ? n + 1 : n;
    left -= end != NULL ? n + 1 : n;
    return status;
}

static void clean(const char *text)
{
    for (; *text != '\0'; text++)
        must((unsigned char)*text >= 0x20 || *text == '\n');
}

static void look_at_have(const tw_sync_peer *peer)
{
    tw_sync_have have;
    memset(&have, 0, sizeof have);
    if (peer->have(peer->to, &have) == TW_OK)
        for (size_t i = 0; i < have.runs; i++)
            must(tw_logbook_id_is(tw_units_text(have.run[i].writer), NULL) && have.run[i].from >= 1 && have.run[i].n >= have.run[i].from);
    tw_sync_have_free(&have);
}

static void look_at_since(const tw_sync_peer *peer)
{
    tw_sync_batch batch;
    char next[TW_STORE_MARK_BYTES] = "";
    int more = 0;
    memset(&batch, 0, sizeof batch);
    if (peer->since(peer->to, "2f.b1946ac92492d234", MOST, &batch, next, &more) == TW_OK)
        must(batch.count <= MOST && next[strspn(next, "0123456789abcdef.")] == '\0' && !(more && strcmp(next, "2f.b1946ac92492d234") == 0));
    tw_sync_batch_free(&batch);
}

static void look_at_take(const tw_sync_peer *peer)
{
    tw_sync_batch batch;
    tw_sync_result said[2];
    uint8_t hash[TW_SHA256_BYTES] = {7};
    memset(&batch, 0, sizeof batch);
    memset(said, 0, sizeof said);
    must(tw_sync_batch_add(&batch, tw_units_text("{\"a\":\"\\\"\"}"), hash) == TW_OK && tw_sync_batch_add(&batch, tw_units_text("\xff"), hash) == TW_OK);
    if (peer->take(peer->to, &batch, tw_units_text(""), 0, said) == TW_OK)
        for (int i = 0; i < 2; i++) {
            must(said[i].taken <= TW_SYNC_REFUSED && (said[i].taken != TW_SYNC_REFUSED || said[i].reason[0] != '\0'));
            clean(said[i].reason);
            clean(said[i].sentence);
        }
    tw_sync_batch_free(&batch);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    tw_sync_http http;
    tw_sync_peer peer;
    memset(&http, 0, sizeof http);
    char *exact = malloc(size > 0 ? size : 1);
    if (exact == NULL || size == 0) {
        free(exact);
        return 0;
    }
    memcpy(exact, data, size);
    rest = exact + 1;
    left = size - 1;
    tw_sync_http_peer(&http, &peer);
    if (data[0] % 4 == 3)
        memcpy(http.tub, "01890000-0000-7000-8000-00000000000a", TW_ID_BYTES);
    if (data[0] % 4 == 0 || data[0] % 4 == 3)
        look_at_have(&peer);
    else if (data[0] % 4 == 1)
        look_at_since(&peer);
    else
        look_at_take(&peer);
    clean(http.trouble.sentence);
    free(exact);
    return 0;
}
