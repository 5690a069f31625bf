/* store/access.h: who may come in from outside: people with passphrases, lid links, sessions.
 *
 * It stands in a file of its own beside the logbook (LOGBOOK-access), so that no copy, backup or export of a logbook carries a
 * secret or a name, and so that all of it can be erased by deleting that file. Secrets are kept as what
 * cannot be turned back: an argon2id text, or the SHA-256 of 32 random bytes. A handle is for one thread at a time. */
#ifndef TW_STORE_ACCESS_H
#define TW_STORE_ACCESS_H

#include <stddef.h>
#include <stdint.h>

#include "logbook/identity.h"
#include "num/sha256.h"
#include "num/status.h"
#include "store/fault.h"

#define TW_ACCESS_NAME_BYTES 49    /* name of a person, with its zero                    */
#define TW_ACCESS_ROLE_BYTES 17
#define TW_ACCESS_SECRET_BYTES 129 /* of an argon2id text                                */
#define TW_ACCESS_LID_BYTES 17     /* id of a lid link: 16 hexadecimal digits, its zero  */

typedef struct tw_access tw_access;

/* Open the file beside a logbook; it is made, for its owner's eyes alone, when it is not there. */
tw_status tw_store_access_open(const char *logbook, tw_access **out, tw_store_fault *fault);
void tw_store_access_close(tw_access *access);

/* Somebody who may sign in. */
typedef struct {
    char name[TW_ACCESS_NAME_BYTES];
    char role[TW_ACCESS_ROLE_BYTES];
    char secret[TW_ACCESS_SECRET_BYTES];
} tw_access_person;

/* A link that opens one tub in one role until some time (seconds since 1970). */
typedef struct {
    char id[TW_ACCESS_LID_BYTES];
    char tub[TW_ID_BYTES];
    char role[TW_ACCESS_ROLE_BYTES];
    int64_t made_s, until_s;
} tw_access_lid;

/* Who a session is. */
typedef struct {
    char name[TW_ACCESS_NAME_BYTES]; /* of the person, or the id of the lid link */
    char role[TW_ACCESS_ROLE_BYTES];
    char tub[TW_ID_BYTES];           /* "" for a person                          */
} tw_access_session;

/* People. add: TW_ERR_CONFLICT when the name is there. get: TW_ERR_MISSING. remove ends the sessions as well: TW_ERR_MISSING, and
 * TW_ERR_CONFLICT for the last one with the role `keep`. list: *count is the number that there are, also when cap is smaller. */
tw_status tw_store_person_add(tw_access *access, const tw_access_person *person, int64_t now_s, tw_store_fault *fault);
tw_status tw_store_person_get(tw_access *access, const char *name, tw_access_person *out, tw_store_fault *fault);
tw_status tw_store_person_remove(tw_access *access, const char *name, const char *keep, tw_store_fault *fault);
tw_status tw_store_person_list(tw_access *access, tw_access_person *out, size_t cap, size_t *count, tw_store_fault *fault);

/* Lid links, found by the SHA-256 of their secret. list leaves out those that are over at now_s. */
tw_status tw_store_lid_add(tw_access *access, const tw_access_lid *lid, const uint8_t hash[TW_SHA256_BYTES], tw_store_fault *fault);
tw_status tw_store_lid_find(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], int64_t now_s, tw_access_lid *out, tw_store_fault *fault);
tw_status tw_store_lid_remove(tw_access *access, const char *id, tw_store_fault *fault);
tw_status tw_store_lid_list(tw_access *access, int64_t now_s, tw_access_lid *out, size_t cap, size_t *count, tw_store_fault *fault);

/* Sessions, found by the SHA-256 of what the cookie holds. add: of a person or of a lid link, the other is NULL; those that are over go.
 * find: TW_ERR_MISSING when there is none, or it, its person or its link is over. */
tw_status tw_store_session_add(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], const char *person, const char *lid, int64_t now_s,
                               int64_t until_s, tw_store_fault *fault);
tw_status tw_store_session_find(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], int64_t now_s, tw_access_session *out,
                                tw_store_fault *fault);
tw_status tw_store_session_remove(tw_access *access, const uint8_t hash[TW_SHA256_BYTES], tw_store_fault *fault);

#endif
