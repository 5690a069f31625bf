/* sync/http.h: a server as the other side of an exchange: the three questions of sync.h as messages over HTTP or TLS.
 *
 * Secrets go into the body of one request and nowhere else: not into an address, a log or a sentence. No redirect is followed, so
 * nobody else is given them. A message that got no answer is sent again (each may be, sync.h), a server that asks to
 * wait is waited for. What comes from the other side is read strictly, and its sentences are cleaned before they are kept. */
#ifndef TW_SYNC_HTTP_H
#define TW_SYNC_HTTP_H

#include "sync/sync.h"

typedef struct tw_sync_http tw_sync_http;

/* Where it is and who asks. The texts are copied or forgotten when _open returns. */
typedef struct {
    const char *url;         /* "https://tub.example:8433"; nothing may stand behind the port              */
    const char *authorities; /* file (PEM) of those whose certificates are believed; NULL: the system's   */
    const char *name;        /* sign in under this name; NULL: none                                       */
    const char *secret;      /* with a name its passphrase, without one a lid link's secret; NULL: none   */
    int without_tls;         /* 1: http to another machine may be                                         */
} tw_sync_http_config;

/* What went wrong, for people. */
typedef struct {
    const char *name;        /* of data/problems.csv: "unreached", "certificate", "sign-in"; NULL: nothing */
    const char *title;       /* one sentence, the same for every trouble of the name                      */
    char sentence[700];      /* what is so here, and what to do                                           */
} tw_sync_trouble;

/* Reach it and sign in. On anything but TW_OK *out is NULL and the trouble says why; TW_ERR_CAPACITY: no memory. */
tw_status tw_sync_http_open(const tw_sync_http_config *config, tw_sync_http **out, tw_sync_trouble *trouble);

/* Sign out and hang up. NULL is allowed. */
void tw_sync_http_close(tw_sync_http *http);

/* The other side for tw_sync_exchange; it lives as long as http. A lid link's is of one tub (peer->tub). */
void tw_sync_http_peer(tw_sync_http *http, tw_sync_peer *out);

/* Why the last question got no answer. */
const tw_sync_trouble *tw_sync_http_trouble(const tw_sync_http *http);

/* Its address without anything secret. */
const char *tw_sync_http_address(const tw_sync_http *http);

#endif
