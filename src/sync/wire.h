/* sync/wire.h: one request to a server and its answer. Between http.c and messages.c. */
#ifndef TW_SYNC_WIRE_H
#define TW_SYNC_WIRE_H

#include <jansson.h>

#include "sync/http.h"

/* Room for an address, with its zero. */
#define TW_SYNC_ADDRESS_BYTES 320

struct tw_sync_http {
    void *curl;                           /* CURL                                                       */
    char address[TW_SYNC_ADDRESS_BYTES];  /* "https://tub.example:8433"                                 */
    char name[TW_SYNC_ADDRESS_BYTES + 48];
    char tub[TW_ID_BYTES];                /* the one tub of a lid link, "": every one                   */
    char token[80];                       /* of the session, "": none                                   */
    int signed_in;
    char *bytes;                          /* of the answer                                              */
    size_t used, room;
    tw_sync_trouble trouble;
};

/* Ask; the status of HTTP, 0 when no answer came (the trouble says why). *out: the answer as JSON, NULL when it is none; the
 * caller's. What asks to wait is waited for, what got lost is asked again. body NULL: none. */
long tw_sync_wire_ask(tw_sync_http *http, const char *method, const char *path, const char *body, json_t **out);

/* The name of a problem object ("cursor") of at most cap - 1 characters; "" when it is none. */
void tw_sync_wire_problem(const json_t *answer, char *out, size_t cap);

/* Fill the trouble with what an answer means that is not the one wanted; returns TW_ERR_IO. */
tw_status tw_sync_wire_refused(tw_sync_http *http, long status, const json_t *answer);

/* A trouble by its name; the sentence may be NULL. Returns TW_ERR_IO. */
tw_status tw_sync_wire_trouble(tw_sync_trouble *trouble, const char *name, const char *sentence);

/* A text of an object into a buffer without what a terminal would obey, cut to cap - 1 bytes; "" when there is none. */
void tw_sync_wire_text(const json_t *object, const char *name, char *out, size_t cap);

#endif
