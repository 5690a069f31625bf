/* serve/serve.h: the meeting point of phones, office and monitors: HTTP over one logbook.
 *
 * One thread speaks HTTP and never waits: what takes time (answers, writing, passphrases) is done at
 * desks, each a thread with a queue. Addresses, parameters, problems and roles are tables
 * (data/routes.csv and its company); docs/api.md describes them, docs/threats.md what is kept out and how.
 *
 * By default a server listens on this machine alone, and whoever can connect may do everything. On
 * any other address nobody may do anything before signing in. */
#ifndef TW_SERVE_SERVE_H
#define TW_SERVE_SERVE_H

#include <stdint.h>
#include <stdio.h>

#include "num/sha256.h"
#include "store/access.h"
#include "store/store.h"
#include "units/time.h"

typedef struct tw_serve tw_serve;

typedef struct {
    const char *logbook;        /* path; made when it is not there                                       */
    const char *state;          /* of tw_store_open                                                      */
    const uint8_t *program;     /* 32 bytes that name the core, for caches                               */
    tw_time (*clock)(const void *of); /* the clock, asked for every question                             */
    const void *clock_of;
    const char *address;        /* "127.0.0.1", "::1", another one; NULL: 127.0.0.1                      */
    uint16_t port;              /* 0: any that is free                                                   */
    const char *hosts;          /* names under which it answers beside its address, commas between; NULL */
    const char *certificate;    /* PEM text and not a path, with the key: TLS; NULL: none                */
    const char *key;
    int proxy;                  /* 1: a proxy in front speaks TLS and names the client in X-Forwarded-For */
    int sign_in;                /* 1: signing in is needed on this machine, too                          */
    unsigned rate;              /* requests a second from one address, 0: as many as come                */
    unsigned connections;       /* most at once                                                          */
    unsigned patience_s;        /* for the head of a request; bodies have three times as long            */
    FILE *log;                  /* a line for each request, without query, header or body; NULL: none    */
} tw_serve_config;

/* 1 when an address is this machine's own, so that nobody else can connect to it. */
int tw_serve_is_own(const char *address);

/* What a configuration lacks, as a sentence; NULL: it may be used. Texts of a config must outlive the server. */
const char *tw_serve_lacks(const tw_serve_config *config);

/* Open the logbook and begin to listen. On an error *out is NULL and the fault names what is wrong
 * with the logbook; TW_STORE_FINE: the address cannot be listened at, and `why` (cap bytes) says it. */
tw_status tw_serve_open(const tw_serve_config *config, tw_serve **out, tw_store_fault *fault, char *why, size_t cap);

/* 1 when a role of data/roles.csv may be a person's, or (lid) a lid link's. */
int tw_serve_role_for(const char *name, int lid);

/* For the terminal: the argon2id text of a passphrase (0: not 10 to 200 bytes, or no memory), and a new lid link, whose secret
 * (hexadecimal digits behind the # of the link) is shown this once. */
int tw_serve_passphrase_hash(const char *passphrase, size_t n, char out[TW_ACCESS_SECRET_BYTES]);
tw_status tw_serve_lid_make(tw_access *access, const char *tub, const char *role, int64_t now_s, int64_t hours, tw_access_lid *lid,
                            char secret[TW_SHA256_HEX], tw_store_fault *fault);

/* The port that it listens at. */
uint16_t tw_serve_port(const tw_serve *serve);

/* The address for people, "http://127.0.0.1:8433". */
void tw_serve_address(const tw_serve *serve, char *buf, size_t cap);

/* End: requests that are being worked out are answered, streams end, the logbook is closed. NULL is allowed. */
void tw_serve_close(tw_serve *serve);

#endif
