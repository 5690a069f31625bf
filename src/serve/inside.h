/* serve/inside.h: what the files of this room share. Nobody else includes it. */
#ifndef TW_SERVE_INSIDE_H
#define TW_SERVE_INSIDE_H

#include <jansson.h>
#include <microhttpd.h>
#include <pthread.h>
#include <stdint.h>
#include <sys/socket.h>

#include "gen/serve_tables.h"
#include "logbook/identity.h"
#include "serve/address.h"
#include "serve/book.h"
#include "serve/desk.h"
#include "serve/rate.h"
#include "serve/serve.h"
#include "store/access.h"

#define TW_SERVE_BODY_BYTES ((size_t)1 << 20)   /* most of a body                                         */
#define TW_SERVE_DRAIN_BYTES ((size_t)8 << 20)  /* what is passed over of one that is too large           */
#define TW_SERVE_ANSWER_BYTES ((size_t)8 << 20) /* longest answer                                         */
#define TW_SERVE_HOSTS_BYTES 1024
#define TW_SERVE_TOKEN_BYTES 33                 /* of Tubwright-Token, with its zero                      */

/* Who asks. */
typedef struct {
    int known;             /* 1: signed in, or signing in is not needed */
    int cookie;            /* 1: by a cookie                            */
    tw_serve_role role;
    char tub[TW_ID_BYTES]; /* the one tub that it is about, "": every   */
    char name[TW_ACCESS_NAME_BYTES];
    uint8_t session[TW_SHA256_BYTES]; /* hash of the session, with a cookie */
} tw_serve_who;

/* What goes back. */
typedef struct {
    unsigned status;
    const char *type;     /* media type                                       */
    char *bytes;          /* of malloc                                        */
    size_t n;
    char tag[40];         /* ETag with its quotes, "": none                   */
    char cursor[64];      /* Tubwright-Cursor, "": none                       */
    const char *outcome;  /* Tubwright-Outcome, NULL: none                    */
    unsigned wait_s;      /* Retry-After, 0: none                             */
    char allow[64];       /* Allow, "": none                                  */
    char cookie[256];     /* Set-Cookie, "": none                             */
    int close;            /* 1: the connection ends with it                   */
    const char *policy;   /* Content-Security-Policy, NULL: that of all       */
    const void *lasting;  /* bytes that last as long as the program, instead of bytes; NULL: none */
    const char *coding;   /* Content-Encoding of these, NULL: none            */
} tw_serve_reply;

typedef struct tw_serve_request {
    tw_serve_job job;     /* first: a desk hands it back                       */
    tw_serve *serve;
    struct MHD_Connection *connection;
    tw_serve_target target;
    tw_serve_problem target_problem;
    tw_serve_route route; /* TW_ROUTES: none                                   */
    tw_text of;           /* the piece for {tub} and the like                  */
    tw_serve_who who;
    char token[TW_SERVE_TOKEN_BYTES];
    uint8_t from[TW_SERVE_FROM];
    char *body;
    size_t used, room, seen;
    int begun;            /* 1: looked at                                      */
    int ready;            /* 1: the reply is there                             */
    int held;             /* 1: a desk has it; of the thread that speaks HTTP  */
    int head;             /* 1: HEAD                                           */
    char question[1400];  /* to the core                                       */
    struct tw_serve_seat *seat; /* the desk that asks it                       */
    struct tw_serve_request *asked_next; /* the next question that is being asked     */
    struct tw_serve_request *same;       /* others that wait for the same answer      */
    uint64_t since_ms;    /* when it began                                     */
    tw_serve_reply reply;
} tw_serve_request;

/* A connection, so that one that only drips can be ended. */
typedef struct tw_serve_line {
    struct tw_serve_line *next, *before;
    int socket;
    uint64_t since_ms;    /* of its beginning, or of the end of its last request */
    enum tw_serve_phase { TW_PHASE_HEAD, TW_PHASE_BODY, TW_PHASE_WORK, TW_PHASE_STREAM } phase;
    int first;            /* 1: nothing was asked on it yet */
    int over;             /* 1: one more than there may be: it is told so, and ends */
} tw_serve_line;

struct tw_serve {
    tw_serve_config config;
    struct MHD_Daemon *daemon;
    uint16_t port;
    int tls;                       /* 1: TLS here or at the proxy in front           */
    int guarded;                   /* 1: nobody may do anything before signing in    */
    char hosts[TW_SERVE_HOSTS_BYTES];
    tw_store *reader;              /* of the thread that speaks HTTP                 */
    tw_store *writer;              /* of the desk that writes                        */
    tw_serve_desk writing;
    pthread_mutex_t lock;          /* of the following                               */
    uint64_t place;                /* cursor behind the last line known to be there  */
    uint64_t changed_s;            /* when that was found out                        */
    tw_serve_line *lines;
    size_t lined;                  /* how many of them                               */
    struct tw_serve_stream *streams;
    size_t streaming;
    int ends;
    tw_serve_rate rate;
    tw_access *door;               /* of the thread that speaks HTTP                 */
    tw_access *people;             /* of the desk that signs in                      */
    tw_store *shelf;               /* of that desk: which tubs there are             */
    tw_serve_desk signing;
    tw_serve_rate tries;           /* of that desk: passphrases                      */
    char nobody[TW_ACCESS_SECRET_BYTES]; /* what a passphrase without a person is held against */
    struct tw_serve_answers *answers;
};

/* ---- reply.c ---- */

/* Answer with a problem. detail and the name and value of one more member may be NULL. */
void tw_serve_reply_problem(tw_serve_request *request, tw_serve_problem problem, const char *detail, const char *name,
                            const char *value);

/* Answer with what the store says is wrong. */
void tw_serve_reply_fault(tw_serve_request *request, const tw_store_fault *fault, tw_status status);

/* Answer with bytes of malloc, which are given away. NULL: a problem. */
void tw_serve_reply_bytes(tw_serve_request *request, unsigned status, const char *type, char *bytes, size_t n);

/* Answer with an object, which is given away. NULL: a problem. */
void tw_serve_reply_json(tw_serve_request *request, unsigned status, json_t *object);

/* Set a member; nothing happens to an object that is not there, or to one without a value. */
void tw_serve_json_set(json_t *object, const char *name, json_t *value);

/* The tag of what is in the reply. */
void tw_serve_reply_tag(tw_serve_reply *reply);

/* Send it. */
enum MHD_Result tw_serve_reply_send(tw_serve_request *request);

/* Headers of every answer. */
void tw_serve_reply_headers(const tw_serve_request *request, struct MHD_Response *response);

/* ---- site.c ---- */

/* Answer with a file of the page. 0: the address is "/" and no page is wanted. */
int tw_serve_site(tw_serve_request *request);

/* ---- answers.c ---- */

/* Open and close the desks that answer. */
tw_status tw_serve_answers_open(tw_serve *serve, tw_store_fault *fault);
void tw_serve_answers_end(tw_serve *serve);   /* do what waits, take nothing more */
void tw_serve_answers_close(tw_serve *serve); /* when nobody asks any more        */

/* Answer a question of data/routes.csv: at once from what was answered before (the reply is ready), or at the desk (then
 * the connection is held). */
void tw_serve_answers_ask(tw_serve_request *request);

/* ---- exchange.c ---- */

/* 1 when a role may write a kind of entry; kind NULL: one that a newer version knows. */
int tw_serve_role_writes(const tw_serve_role_row *role, const char *kind);

/* What is here, what arrived since, take these, all of it: at the desk that writes. */
void tw_serve_exchange(tw_serve_request *request);

/* ---- sensors.c ---- */

/* What a monitor pushes, and what of it still stands for now: at the desk that writes. */
void tw_serve_sensors_act(tw_serve_request *request);

/* ---- events.c ---- */

/* Begin a stream. */
enum MHD_Result tw_serve_events_begin(tw_serve_request *request);

/* Wake streams, with the lock held: all of them, or those that were quiet for long. */
void tw_serve_events_wake(tw_serve *serve, int all);

/* ---- door.c ---- */

/* Who asks, and may they? 0: the reply says why not. */
int tw_serve_door(tw_serve_request *request);

/* 1 while who asks may still do so. */
int tw_serve_still(tw_serve *serve, const tw_serve_who *who);

/* The name of the cookie; 32 bytes from 64 hexadecimal digits (0: they are none); the token that goes with a session's secret. */
const char *tw_serve_cookie_name(const tw_serve *serve);
int tw_serve_secret_read(tw_text text, uint8_t out[TW_SHA256_BYTES]);
void tw_serve_token(const uint8_t secret[TW_SHA256_BYTES], char out[TW_SERVE_TOKEN_BYTES]);

/* ---- people.c ---- */

/* Open the file of who may come in. TW_ERR_MISSING with TW_STORE_FINE: signing in is needed, and nobody can manage. */
tw_status tw_serve_people_open(tw_serve *serve, tw_store_fault *fault);

/* Signing in and out, people, lid links. */
void tw_serve_people_act(tw_serve_request *request);

/* Tell who is signed in. */
void tw_serve_session_tell(tw_serve_request *request);

/* ---- lines.c ---- */

/* Beyond the connections that there may be, so many more are let in to be told that there are too many; the rest is closed at once. */
#define TW_SERVE_SPARE 64u

/* As many open files as connections need. */
void tw_serve_raise_files(unsigned connections);

/* The library asks whether a connection may begin. */
enum MHD_Result tw_serve_line_may(void *of, const struct sockaddr *address, socklen_t n);

/* A socket that listens at the address of the configuration, and its port. -1: `why` says what stands against it. */
int tw_serve_listen(tw_serve *serve, char *why, size_t cap);

/* The library tells that a connection begins or ends. */
void tw_serve_line_changed(void *of, struct MHD_Connection *connection, void **context, enum MHD_ConnectionNotificationCode code);

/* Shut down what takes longer than patience allows. */
void tw_serve_end_drips(tw_serve *serve);

/* ---- server.c ---- */


/* Milliseconds of a clock that only goes forward. */
uint64_t tw_serve_ms(void);

/* A header of a request; empty: not there. */
tw_text tw_serve_header(const tw_serve_request *request, const char *name);

/* Hand a request to a desk and hold its connection. 0: too many wait; the reply says so. */
int tw_serve_hold(tw_serve_request *request, tw_serve_desk *desk, void (*run)(tw_serve_job *job));

/* Hold a connection for something else than a job of its own. */
void tw_serve_wait(tw_serve_request *request);

/* At the desk: the reply is there, the connection goes on. */
void tw_serve_release(tw_serve_request *request);

/* Look whether lines have arrived, also from other programs, and tell everybody who waits for them. */
void tw_serve_arrived(tw_serve *serve);

#endif
