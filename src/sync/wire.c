/* sync/wire.c: a request to a server by libcurl: sent again when it got lost, later when it is told to wait; signing in and out. */
#define _POSIX_C_SOURCE 200809L

#include "sync/wire.h"

#include <curl/curl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/grow.h"

#define ANSWER_BYTES ((size_t)64 << 20) /* longest answer that is taken                            */
#define CONNECT_S 15L                   /* until a line stands                                      */
#define SILENT_S 60L                    /* without a byte until it is given up                      */
#define TRIES 3                         /* of a message that got lost                               */
#define WAITS 6                         /* how often a server may say "later", and longest of them  */
#define WAIT_MOST_S 30

/* ---- a request ------------------------------------------------------------------------------------------------ */

static size_t take_bytes(char *bytes, size_t size, size_t n, void *to)
{
    tw_sync_http *http = to;
    const size_t more = size * n;
    if (more >= ANSWER_BYTES || http->used + more >= ANSWER_BYTES || !tw_store_grow(&http->bytes, &http->room, http->used + more + 1, 1))
        return 0; /* that is an error to the library */
    memcpy(http->bytes + http->used, bytes, more);
    http->used += more;
    return more;
}

/* In plain words; what the library says stands behind them. */
static void told(tw_sync_http *http, CURLcode code, const char *said)
{
    static const struct {
        CURLcode code;
        const char *name, *why;
    } WHY[] = {
        {CURLE_COULDNT_RESOLVE_HOST, "unreached", "No machine of this name is known here. Is there a connection?"},
        {CURLE_COULDNT_RESOLVE_PROXY, "unreached", "The proxy of this machine's settings is not known."},
        {CURLE_COULDNT_CONNECT, "unreached", "Nobody answers there. Is the server running, is there a connection, is the port right?"},
        {CURLE_OPERATION_TIMEDOUT, "unreached", "It took too long. Is there a connection?"},
        {CURLE_PEER_FAILED_VERIFICATION, "certificate", "Its certificate is not by an authority that is believed here, is over, or is of another name. "
                                                        "If it is your own, name its file with --ca."},
        {CURLE_SSL_CACERT_BADFILE, "certificate", "The file of --ca cannot be read, or holds no certificate."},
        {CURLE_SSL_CONNECT_ERROR, "certificate", "TLS was not agreed on. Does it speak https at this port?"},
    };
    char sentence[600];
    const char *why = "The line broke.", *name = "unreached";
    for (size_t i = 0; i < sizeof WHY / sizeof WHY[0]; i++)
        if (WHY[i].code == code) {
            why = WHY[i].why;
            name = WHY[i].name;
        }
    (void)snprintf(sentence, sizeof sentence, "%s: %s Nothing is lost: do it again when it is there.%s%s%s", http->address, why,
                   said[0] != '\0' ? "\n(" : "", said, said[0] != '\0' ? ")" : "");
    (void)tw_sync_wire_trouble(&http->trouble, name, sentence);
}

static struct curl_slist *headers_of(const tw_sync_http *http, int body)
{
    char token[120];
    struct curl_slist *list = curl_slist_append(NULL, "Accept: application/json");
    (void)snprintf(token, sizeof token, "Tubwright-Token: %s", http->token);
    if (http->token[0] != '\0')
        list = curl_slist_append(list, token);
    list = curl_slist_append(list, "Expect:");
    return curl_slist_append(list, body ? "Content-Type: application/json" : "Content-Type:");
}

static CURLcode send_once(tw_sync_http *http, const char *method, const char *url, const char *body, char *said)
{
    CURL *curl = http->curl;
    struct curl_slist *headers = headers_of(http, body != NULL);
    http->used = 0;
    said[0] = '\0';
    (void)curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, said);
    (void)curl_easy_setopt(curl, CURLOPT_URL, url);
    (void)curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers);
    (void)curl_easy_setopt(curl, CURLOPT_HTTPGET, 1L); /* takes back what an earlier one had set */
    if (body != NULL) {
        (void)curl_easy_setopt(curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)strlen(body));
        (void)curl_easy_setopt(curl, CURLOPT_POSTFIELDS, body);
    }
    (void)curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, strcmp(method, "DELETE") == 0 ? method : NULL);
    const CURLcode code = curl_easy_perform(curl);
    (void)curl_easy_setopt(curl, CURLOPT_HTTPHEADER, NULL);
    (void)curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, NULL);
    curl_slist_free_all(headers);
    return code;
}

static int got_lost(CURLcode code)
{
    return code == CURLE_GOT_NOTHING || code == CURLE_RECV_ERROR || code == CURLE_SEND_ERROR || code == CURLE_PARTIAL_FILE ||
           code == CURLE_OPERATION_TIMEDOUT;
}

static void pause_for(long ms)
{
    const struct timespec time = {ms / 1000, ms % 1000 * 1000000L};
    (void)nanosleep(&time, NULL);
}

long tw_sync_wire_ask(tw_sync_http *http, const char *method, const char *path, const char *body, json_t **out)
{
    char url[TW_SYNC_ADDRESS_BYTES + 200], said[CURL_ERROR_SIZE];
    int tries = 0, waits = 0;
    *out = NULL;
    (void)snprintf(url, sizeof url, "%s%s", http->address, path);
    for (;;) {
        long status = 0;
        curl_off_t later = 0;
        CURLcode code = send_once(http, method, url, body, said);
        (void)curl_easy_getinfo(http->curl, CURLINFO_RESPONSE_CODE, &status);
        if (code == CURLE_OK && status == 200 && http->used == 0)
            code = CURLE_GOT_NOTHING; /* the line broke in the head of the answer: none is empty */
        if (code != CURLE_OK && got_lost(code) && ++tries < TRIES) {
            pause_for(500L * tries);
            continue;
        }
        if (code != CURLE_OK) {
            told(http, code, said);
            return 0;
        }
        (void)curl_easy_getinfo(http->curl, CURLINFO_RETRY_AFTER, &later);
        if ((status == 429 || status == 503) && later > 0 && later <= WAIT_MOST_S && ++waits < WAITS) {
            pause_for((long)later * 1000L);
            continue;
        }
        *out = http->used > 0 ? json_loadb(http->bytes, http->used, JSON_REJECT_DUPLICATES, NULL) : NULL;
        return status;
    }
}

/* ---- the address ---------------------------------------------------------------------------------------------- */

static int is_own(const char *host)
{
    return strcmp(host, "localhost") == 0 || strncmp(host, "127.", 4) == 0 || strcmp(host, "[::1]") == 0;
}

static int has_part(CURLU *url, CURLUPart part, const char *plain)
{
    char *text = NULL;
    const int has = curl_url_get(url, part, &text, 0) == CURLUE_OK && text != NULL && strcmp(text, plain) != 0;
    curl_free(text);
    return has;
}

/* What is wrong with an address, NULL: nothing; then http->address is filled. Nothing of it is repeated: it may hold a secret. */
static const char *wrong_address(tw_sync_http *http, const tw_sync_http_config *config, CURLU *url)
{
    char *scheme = NULL, *host = NULL, *port = NULL;
    const char *wrong = NULL;
    if (curl_url_set(url, CURLUPART_URL, config->url, 0) != CURLUE_OK)
        wrong = "An address is https://NAME:PORT, or http://127.0.0.1:8433 for one on this machine.";
    else if (has_part(url, CURLUPART_USER, "") || has_part(url, CURLUPART_PASSWORD, "") || has_part(url, CURLUPART_FRAGMENT, "") ||
             has_part(url, CURLUPART_QUERY, ""))
        wrong = "There is something secret in it, which others can read on the command line. Revoke it, or change it; then name the server alone "
                "and give the secret on standard input (--as NAME, or --lid).";
    else if (has_part(url, CURLUPART_PATH, "/"))
        wrong = "It ends with the name or the port; nothing stands behind them.";
    else if (curl_url_get(url, CURLUPART_SCHEME, &scheme, 0) != CURLUE_OK || curl_url_get(url, CURLUPART_HOST, &host, 0) != CURLUE_OK ||
             curl_url_get(url, CURLUPART_PORT, &port, CURLU_DEFAULT_PORT) != CURLUE_OK || strlen(host) > 260 ||
             (strcmp(scheme, "https") != 0 && strcmp(scheme, "http") != 0))
        wrong = "An address begins with https:// or http://.";
    else if (strcmp(scheme, "http") == 0 && !is_own(host) && !config->without_tls)
        wrong = "Without TLS others can read on the way what is sent. Use https://, or say --without-tls if that may be.";
    else
        (void)snprintf(http->address, sizeof http->address, "%s://%s:%s", scheme, host, port);
    /* A proxy of the settings is not for this machine. */
    if (wrong == NULL && is_own(host))
        (void)curl_easy_setopt(http->curl, CURLOPT_PROXY, "");
    curl_free(scheme);
    curl_free(host);
    curl_free(port);
    return wrong;
}

/* ---- begin and end ------------------------------------------------------------------------------------------------ */

static void forget(char *text)
{
    volatile char *at = text;
    while (at != NULL && *at != '\0')
        *at++ = '\0';
    free(text);
}

static tw_status sign_in(tw_sync_http *http, const tw_sync_http_config *config)
{
    json_t *answer = NULL;
    json_t *message = config->name != NULL ? json_pack("{s:s, s:s}", "name", config->name, "passphrase", config->secret)
                                           : json_pack("{s:s}", "lid", config->secret);
    char *body = message != NULL ? json_dumps(message, JSON_COMPACT) : NULL;
    json_decref(message);
    if (body == NULL)
        return tw_sync_wire_trouble(&http->trouble, "passphrase", "It has signs that are no UTF-8.");
    const long status = tw_sync_wire_ask(http, "POST", "/api/session", body, &answer);
    forget(body);
    const int good = status == 200 && json_is_string(json_object_get(answer, "token"));
    const tw_status result = good ? TW_OK : tw_sync_wire_refused(http, status, answer);
    if (good) {
        http->signed_in = 1;
        tw_sync_wire_text(answer, "token", http->token, sizeof http->token);
        tw_sync_wire_text(answer, "tub", http->tub, sizeof http->tub);
    }
    json_decref(answer);
    return result;
}

static tw_status begin(tw_sync_http *http, const tw_sync_http_config *config)
{
    CURLU *url = curl_url();
    const char *wrong = url != NULL ? wrong_address(http, config, url) : "There is no memory for it.";
    curl_url_cleanup(url);
    if (wrong != NULL)
        return tw_sync_wire_trouble(&http->trouble, "url", wrong);
    (void)curl_easy_setopt(http->curl, CURLOPT_NOSIGNAL, 1L);
    (void)curl_easy_setopt(http->curl, CURLOPT_PROTOCOLS_STR, "http,https");
    (void)curl_easy_setopt(http->curl, CURLOPT_FOLLOWLOCATION, 0L);
    (void)curl_easy_setopt(http->curl, CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_2);
    (void)curl_easy_setopt(http->curl, CURLOPT_CONNECTTIMEOUT, CONNECT_S);
    (void)curl_easy_setopt(http->curl, CURLOPT_LOW_SPEED_LIMIT, 1L);
    (void)curl_easy_setopt(http->curl, CURLOPT_LOW_SPEED_TIME, SILENT_S);
    (void)curl_easy_setopt(http->curl, CURLOPT_USERAGENT, "tubwright");
    (void)curl_easy_setopt(http->curl, CURLOPT_COOKIEFILE, ""); /* kept in memory alone */
    (void)curl_easy_setopt(http->curl, CURLOPT_WRITEFUNCTION, take_bytes);
    (void)curl_easy_setopt(http->curl, CURLOPT_WRITEDATA, (void *)http);
    if (config->authorities != NULL)
        (void)curl_easy_setopt(http->curl, CURLOPT_CAINFO, config->authorities);
    return config->secret != NULL ? sign_in(http, config) : TW_OK;
}

tw_status tw_sync_http_open(const tw_sync_http_config *config, tw_sync_http **out, tw_sync_trouble *trouble)
{
    tw_sync_http *http = calloc(1, sizeof *http);
    *out = NULL;
    memset(trouble, 0, sizeof *trouble);
    if (http == NULL || curl_global_init(CURL_GLOBAL_DEFAULT) != CURLE_OK || (http->curl = curl_easy_init()) == NULL) {
        free(http);
        (void)tw_sync_wire_trouble(trouble, "unreached", "There is no memory for it.");
        return TW_ERR_CAPACITY;
    }
    const tw_status status = begin(http, config);
    (void)snprintf(http->name, sizeof http->name, "%s%s%s", http->address, http->tub[0] != '\0' ? " tub " : "", http->tub);
    *trouble = http->trouble;
    if (status == TW_OK)
        *out = http;
    else
        tw_sync_http_close(http);
    return status;
}

void tw_sync_http_close(tw_sync_http *http)
{
    json_t *answer = NULL;
    if (http == NULL)
        return;
    if (http->signed_in && (http->trouble.name == NULL || strcmp(http->trouble.name, "unreached") != 0))
        (void)tw_sync_wire_ask(http, "DELETE", "/api/session", NULL, &answer);
    json_decref(answer);
    curl_easy_cleanup(http->curl);
    curl_global_cleanup();
    free(http->bytes);
    free(http);
}

const tw_sync_trouble *tw_sync_http_trouble(const tw_sync_http *http)
{
    return &http->trouble;
}

const char *tw_sync_http_address(const tw_sync_http *http)
{
    return http->address;
}
