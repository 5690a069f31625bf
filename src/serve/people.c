/* serve/people.c: signing in and out, who may sign in, and lid links: at a desk of its own, since a passphrase
 * takes its time, and nobody else shall wait for it. */
#include <jansson.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "serve/guard.h"
#include "serve/inside.h"

#define SESSION_S ((int64_t)14 * 86400)
#define LID_MOST_H 8760
#define MOST_LISTED 1000
#define PASSPHRASE_LEAST 10
#define PASSPHRASE_MOST 200

/* 19 MiB and two passes: some 30 ms here, and as much for whoever tries out a stolen file. */
#define PASSES 2u
#define MEMORY ((size_t)19456 * 1024)

/* ---- passphrases ----------------------------------------------------------------------------------------------- */

int tw_serve_passphrase_hash(const char *passphrase, size_t n, char out[TW_ACCESS_SECRET_BYTES])
{
    _Static_assert(TW_ACCESS_SECRET_BYTES > crypto_pwhash_STRBYTES, "the text of a hash fits");
    return n >= PASSPHRASE_LEAST && n <= PASSPHRASE_MOST && sodium_init() >= 0 &&
           crypto_pwhash_str(out, passphrase, n, PASSES, MEMORY) == 0;
}

/* How often one may try: each name from each address, each address, and each name from anywhere. 0: now; else seconds. */
static unsigned wait_for_try(tw_serve_request *request, const char *name)
{
    static const struct {
        int by_name, by_address;
        double per_s, most;
    } LIMITS[] = {{1, 1, 1.0 / 30.0, 5.0}, {0, 1, 0.1, 20.0}, {1, 0, 1.0 / 60.0, 60.0}};
    tw_serve *serve = request->serve;
    unsigned wait = 0;
    for (size_t i = 0; i < sizeof LIMITS / sizeof LIMITS[0]; i++) {
        uint8_t digest[TW_SHA256_BYTES];
        tw_sha256_state state;
        tw_sha256_init(&state);
        tw_sha256_update(&state, &"abc"[i], 1);
        if (LIMITS[i].by_name)
            tw_sha256_update(&state, name, strlen(name) + 1);
        if (LIMITS[i].by_address)
            tw_sha256_update(&state, request->from, TW_SERVE_FROM);
        tw_sha256_final(&state, digest);
        const unsigned one = tw_serve_rate_take(&serve->tries, digest, tw_serve_ms(), LIMITS[i].per_s, LIMITS[i].most);
        wait = one > wait ? one : wait;
    }
    return wait;
}

/* ---- what a body says ------------------------------------------------------------------------------------------ */

/* A text of an object with at most so many bytes and no controls; NULL: not so. */
static const char *text_of(json_t *object, const char *name, size_t most)
{
    json_t *value = json_object_get(object, name);
    const char *text = json_is_string(value) ? json_string_value(value) : NULL;
    const size_t n = text != NULL ? json_string_length(value) : 0;
    if (n == 0 || n > most)
        return NULL;
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7f)
            return NULL;
    return text;
}

static json_t *body_of(tw_serve_request *request)
{
    json_error_t error;
    json_t *object = json_loadb(request->body != NULL ? request->body : "", request->used, JSON_REJECT_DUPLICATES, &error);
    if (json_is_object(object))
        return object;
    tw_serve_reply_problem(request, TW_PROBLEM_BODY, object == NULL ? error.text : "It is an object.", NULL, NULL);
    json_decref(object);
    return NULL;
}

static void bad_body(tw_serve_request *request, const char *detail)
{
    tw_serve_reply_problem(request, TW_PROBLEM_BODY, detail, NULL, NULL);
}

static void reply_nothing(tw_serve_request *request)
{
    tw_serve_reply_bytes(request, MHD_HTTP_NO_CONTENT, NULL, calloc(1, 1), 0);
}

static int64_t now_s(const tw_serve *serve)
{
    return serve->config.clock(serve->config.clock_of).utc_s;
}

/* ---- sessions ---------------------------------------------------------------------------------------------------- */

static void set_cookie(tw_serve_request *request, const char *value, int64_t for_s)
{
    (void)snprintf(request->reply.cookie, sizeof request->reply.cookie, "%s=%s; Path=/; HttpOnly; SameSite=Strict%s; Max-Age=%lld",
                   tw_serve_cookie_name(request->serve), value, request->serve->tls ? "; Secure" : "", (long long)for_s);
}

void tw_serve_session_tell(tw_serve_request *request)
{
    const tw_serve_who *who = &request->who;
    json_t *object = json_pack("{s:b, s:b}", "needed", request->serve->guarded, "signed_in", who->cookie);
    if (object != NULL && who->known) {
        (void)json_object_set_new(object, "role", json_string(tw_serve_roles[who->role].name));
        if (who->name[0] != '\0')
            (void)json_object_set_new(object, "name", json_string(who->name));
        if (who->tub[0] != '\0')
            (void)json_object_set_new(object, "tub", json_string(who->tub));
        if (who->cookie)
            (void)json_object_set_new(object, "token", json_string(request->token));
    }
    tw_serve_reply_json(request, MHD_HTTP_OK, object);
}

/* A session begins under a secret of its own, whatever cookie came with the request. */
static void begin_session(tw_serve_request *request, const char *person, const tw_access_lid *lid, const char *role)
{
    tw_serve *serve = request->serve;
    uint8_t secret[TW_SHA256_BYTES], hash[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_store_fault fault;
    const int64_t now = now_s(serve);
    int64_t until = now + SESSION_S;
    if (lid != NULL && lid->until_s < until)
        until = lid->until_s;
    randombytes_buf(secret, sizeof secret);
    tw_sha256(secret, sizeof secret, hash);
    const tw_status status = tw_store_session_add(serve->people, hash, person, lid != NULL ? lid->id : NULL, now, until, &fault);
    if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
        return;
    }
    tw_serve_who *who = &request->who;
    memset(who, 0, sizeof *who);
    who->known = who->cookie = 1;
    for (int i = 0; i < TW_SERVE_ROLES; i++)
        if (strcmp(tw_serve_roles[i].name, role) == 0)
            who->role = (tw_serve_role)i;
    (void)snprintf(who->name, sizeof who->name, "%s", person != NULL ? person : lid != NULL ? lid->id : "");
    (void)snprintf(who->tub, sizeof who->tub, "%s", lid != NULL ? lid->tub : "");
    tw_serve_token(secret, request->token);
    tw_serve_session_tell(request);
    tw_sha256_hex(secret, hex);
    set_cookie(request, hex, until - now);
    sodium_memzero(secret, sizeof secret);
    sodium_memzero(hex, sizeof hex);
}

static void by_passphrase(tw_serve_request *request, const char *name, const char *passphrase)
{
    tw_access_person person;
    tw_store_fault fault;
    memset(&person, 0, sizeof person);
    const tw_status status = tw_store_person_get(request->serve->people, name, &person, &fault);
    if (status != TW_OK && status != TW_ERR_MISSING) {
        tw_serve_reply_fault(request, &fault, status);
        return;
    }
    /* A name that is not there takes as long as one that is. */
    const char *secret = status == TW_OK ? person.secret : request->serve->nobody;
    if (crypto_pwhash_str_verify(secret, passphrase, strlen(passphrase)) == 0 && status == TW_OK)
        begin_session(request, person.name, NULL, person.role);
    else
        tw_serve_reply_problem(request, TW_PROBLEM_PASSPHRASE, NULL, NULL, NULL);
}

static void by_lid(tw_serve_request *request, const char *text)
{
    uint8_t secret[TW_SHA256_BYTES], hash[TW_SHA256_BYTES];
    tw_access_lid lid;
    tw_store_fault fault;
    tw_status status = TW_ERR_MISSING;
    if (tw_serve_secret_read(tw_units_text(text), secret)) {
        tw_sha256(secret, sizeof secret, hash);
        status = tw_store_lid_find(request->serve->people, hash, now_s(request->serve), &lid, &fault);
    }
    if (status == TW_OK)
        begin_session(request, NULL, &lid, lid.role);
    else if (status == TW_ERR_MISSING)
        tw_serve_reply_problem(request, TW_PROBLEM_LID, NULL, NULL, NULL);
    else
        tw_serve_reply_fault(request, &fault, status);
}

static void sign_in(tw_serve_request *request)
{
    json_t *body = body_of(request);
    if (body == NULL)
        return;
    const char *name = text_of(body, "name", TW_ACCESS_NAME_BYTES - 1), *passphrase = text_of(body, "passphrase", PASSPHRASE_MOST),
               *lid = text_of(body, "lid", 2 * TW_SHA256_BYTES);
    const int one = (name != NULL && passphrase != NULL && json_object_size(body) == 2) || (lid != NULL && json_object_size(body) == 1);
    const unsigned wait = one ? wait_for_try(request, lid != NULL ? "" : name) : 0;
    if (!one) {
        bad_body(request, "Either name and passphrase, or lid.");
    } else if (wait > 0) {
        tw_serve_reply_problem(request, TW_PROBLEM_WAIT, NULL, NULL, NULL);
        request->reply.wait_s = wait;
    } else if (lid != NULL) {
        by_lid(request, lid);
    } else {
        by_passphrase(request, name, passphrase);
    }
    json_decref(body);
    sodium_memzero(request->body, request->used);
}

static void sign_out(tw_serve_request *request)
{
    tw_store_fault fault;
    const tw_status status = request->who.cookie ? tw_store_session_remove(request->serve->people, request->who.session, &fault) : TW_OK;
    if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
        return;
    }
    reply_nothing(request);
    set_cookie(request, "", 0);
}

/* ---- people ----------------------------------------------------------------------------------------------------------- */

static void list_people(tw_serve_request *request)
{
    tw_store_fault fault;
    size_t count = 0;
    tw_access_person *person = calloc(MOST_LISTED, sizeof *person);
    const tw_status status = person != NULL ? tw_store_person_list(request->serve->people, person, MOST_LISTED, &count, &fault)
                                            : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
    } else {
        json_t *list = json_array();
        for (size_t i = 0; list != NULL && i < count && i < MOST_LISTED; i++)
            (void)json_array_append_new(list, json_pack("{s:s, s:s}", "name", person[i].name, "role", person[i].role));
        tw_serve_reply_json(request, MHD_HTTP_OK, json_pack("{s:o}", "people", list));
    }
    free(person);
}

int tw_serve_role_for(const char *name, int lid)
{
    for (int i = 0; name != NULL && i < TW_SERVE_ROLES; i++)
        if (strcmp(tw_serve_roles[i].name, name) == 0)
            return lid ? tw_serve_roles[i].lid : tw_serve_roles[i].person;
    return 0;
}

static void add_person(tw_serve_request *request)
{
    json_t *body = body_of(request);
    tw_access_person person;
    tw_store_fault fault;
    if (body == NULL)
        return;
    const char *name = text_of(body, "name", TW_ACCESS_NAME_BYTES - 1), *role = text_of(body, "role", 16),
               *passphrase = text_of(body, "passphrase", PASSPHRASE_MOST);
    memset(&person, 0, sizeof person);
    if (name == NULL || strchr(name, '/') != NULL || !tw_serve_role_for(role, 0) || passphrase == NULL) {
        bad_body(request, "name (at most 48 bytes, no /), role and passphrase.");
    } else if (!tw_serve_passphrase_hash(passphrase, strlen(passphrase), person.secret)) {
        bad_body(request, "A passphrase has 10 to 200 bytes.");
    } else {
        (void)snprintf(person.name, sizeof person.name, "%s", name);
        (void)snprintf(person.role, sizeof person.role, "%s", role);
        const tw_status status = tw_store_person_add(request->serve->people, &person, now_s(request->serve), &fault);
        if (status == TW_OK)
            list_people(request);
        else if (status == TW_ERR_CONFLICT)
            tw_serve_reply_problem(request, TW_PROBLEM_KNOWN, NULL, NULL, NULL);
        else
            tw_serve_reply_fault(request, &fault, status);
    }
    json_decref(body);
    sodium_memzero(request->body, request->used);
}

static void remove_person(tw_serve_request *request)
{
    tw_store_fault fault;
    const tw_status status = tw_store_person_remove(request->serve->people, request->of.at, "owner", &fault);
    if (status == TW_OK)
        reply_nothing(request);
    else if (status == TW_ERR_MISSING || status == TW_ERR_CONFLICT)
        tw_serve_reply_problem(request, status == TW_ERR_MISSING ? TW_PROBLEM_PATH : TW_PROBLEM_LAST_OWNER, NULL, NULL, NULL);
    else
        tw_serve_reply_fault(request, &fault, status);
}

/* ---- lid links ------------------------------------------------------------------------------------------------------------ */

static json_t *lid_of(const tw_access_lid *lid)
{
    char until[TW_TIME_BYTES] = "";
    (void)tw_units_time_write((tw_time){lid->until_s, 0}, until, sizeof until);
    return json_pack("{s:s, s:s, s:s, s:s}", "id", lid->id, "tub", lid->tub, "role", lid->role, "until", until);
}

static void list_lids(tw_serve_request *request)
{
    tw_store_fault fault;
    size_t count = 0;
    tw_access_lid *lid = calloc(MOST_LISTED, sizeof *lid);
    const tw_status status = lid != NULL ? tw_store_lid_list(request->serve->people, now_s(request->serve), lid, MOST_LISTED, &count, &fault)
                                         : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    if (status != TW_OK) {
        tw_serve_reply_fault(request, &fault, status);
    } else {
        json_t *list = json_array();
        for (size_t i = 0; list != NULL && i < count && i < MOST_LISTED; i++)
            (void)json_array_append_new(list, lid_of(&lid[i]));
        tw_serve_reply_json(request, MHD_HTTP_OK, json_pack("{s:o}", "lids", list));
    }
    free(lid);
}

tw_status tw_serve_lid_make(tw_access *access, const char *tub, const char *role, int64_t now, int64_t hours, tw_access_lid *lid,
                            char secret[TW_SHA256_HEX], tw_store_fault *fault)
{
    uint8_t bytes[TW_SHA256_BYTES], hash[TW_SHA256_BYTES], id[8];
    if (sodium_init() < 0)
        return tw_store_fault_set(fault, TW_STORE_IO, "no random bytes");
    memset(lid, 0, sizeof *lid);
    randombytes_buf(bytes, sizeof bytes);
    randombytes_buf(id, sizeof id);
    (void)sodium_bin2hex(lid->id, sizeof lid->id, id, sizeof id);
    (void)snprintf(lid->tub, sizeof lid->tub, "%s", tub);
    (void)snprintf(lid->role, sizeof lid->role, "%s", role);
    lid->made_s = now;
    lid->until_s = now + hours * 3600;
    tw_sha256(bytes, sizeof bytes, hash);
    tw_sha256_hex(bytes, secret);
    sodium_memzero(bytes, sizeof bytes);
    return tw_store_lid_add(access, lid, hash, fault);
}

static tw_status seen(void *to, tw_text line)
{
    (void)line;
    *(int *)to = 1;
    return TW_ERR_CAPACITY; /* one is enough */
}

static void add_lid(tw_serve_request *request)
{
    tw_serve *serve = request->serve;
    json_t *body = body_of(request);
    tw_access_lid lid;
    tw_store_fault fault;
    char secret[TW_SHA256_HEX], link[400];
    int known = 0;
    if (body == NULL)
        return;
    const char *tub = text_of(body, "tub", TW_ID_CHARS), *role = text_of(body, "role", 16);
    json_t *hours = json_object_get(body, "hours");
    const json_int_t h = hours == NULL ? 72 : json_is_integer(hours) ? json_integer_value(hours) : 0;
    if (tub != NULL)
        (void)tw_store_of_tub(serve->shelf, tw_units_text(tub), seen, &known, &fault);
    if (tub == NULL || !tw_serve_role_for(role, 1) || h < 1 || h > LID_MOST_H) {
        bad_body(request, "tub (its id), role (device, reader, tester or technician) and hours (1 to 8760).");
    } else if (!known) {
        tw_serve_reply_problem(request, TW_PROBLEM_WHICH_TUB, NULL, NULL, NULL);
    } else if (tw_serve_lid_make(serve->people, tub, role, now_s(serve), h, &lid, secret, &fault) != TW_OK) {
        tw_serve_reply_fault(request, &fault, fault.status);
    } else {
        const tw_text host = tw_serve_header(request, "Host");
        (void)snprintf(link, sizeof link, "%s://%.*s/lid#%s", serve->tls ? "https" : "http", (int)(host.n < 256 ? host.n : 256), host.at, secret);
        json_t *object = lid_of(&lid);
        if (object != NULL)
            (void)json_object_set_new(object, "link", json_string(link));
        tw_serve_reply_json(request, MHD_HTTP_CREATED, object);
    }
    json_decref(body);
}

static void remove_lid(tw_serve_request *request)
{
    tw_store_fault fault;
    const tw_status status = tw_store_lid_remove(request->serve->people, request->of.at, &fault);
    if (status == TW_OK)
        reply_nothing(request);
    else if (status == TW_ERR_MISSING)
        tw_serve_reply_problem(request, TW_PROBLEM_PATH, NULL, NULL, NULL);
    else
        tw_serve_reply_fault(request, &fault, status);
}

/* ---- the desk ---------------------------------------------------------------------------------------------------------------- */

static void at_desk(tw_serve_job *job)
{
    static const struct {
        tw_serve_route route;
        void (*act)(tw_serve_request *request);
    } ACTS[] = {{TW_ROUTE_SIGN_IN, sign_in},         {TW_ROUTE_SIGN_OUT, sign_out}, {TW_ROUTE_PEOPLE, list_people}, {TW_ROUTE_ADD_PERSON, add_person},
                {TW_ROUTE_REMOVE_PERSON, remove_person}, {TW_ROUTE_LIDS, list_lids}, {TW_ROUTE_ADD_LID, add_lid},   {TW_ROUTE_REMOVE_LID, remove_lid}};
    tw_serve_request *request = (tw_serve_request *)job;
    for (size_t i = 0; i < sizeof ACTS / sizeof ACTS[0]; i++)
        if (ACTS[i].route == request->route)
            ACTS[i].act(request);
    tw_serve_release(request);
}

void tw_serve_people_act(tw_serve_request *request)
{
    if (request->route == TW_ROUTE_SESSION)
        tw_serve_session_tell(request);
    else
        (void)tw_serve_hold(request, &request->serve->signing, at_desk);
}

tw_status tw_serve_people_open(tw_serve *serve, tw_store_fault *fault)
{
    uint8_t random[32];
    char hex[65];
    size_t owners = 0, count = 0;
    tw_access_person *person = calloc(MOST_LISTED, sizeof *person);
    if (person == NULL || sodium_init() < 0) {
        free(person);
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    }
    tw_status status = tw_store_access_open(serve->config.logbook, &serve->people, fault);
    if (status == TW_OK)
        status = tw_store_access_open(serve->config.logbook, &serve->door, fault);
    if (status == TW_OK)
        status = tw_store_open(serve->config.logbook, TW_STORE_READ, NULL, &serve->shelf, fault);
    if (status == TW_OK)
        status = tw_store_person_list(serve->people, person, MOST_LISTED, &count, fault);
    for (size_t i = 0; i < count && i < MOST_LISTED; i++)
        owners += strcmp(person[i].role, "owner") == 0;
    free(person);
    if (status == TW_OK && serve->guarded && owners == 0)
        return TW_ERR_MISSING;
    randombytes_buf(random, sizeof random);
    (void)sodium_bin2hex(hex, sizeof hex, random, sizeof random);
    if (status == TW_OK && !tw_serve_passphrase_hash(hex, 64, serve->nobody))
        status = tw_store_fault_set(fault, TW_STORE_NO_MEMORY, "a passphrase needs 19 MiB");
    if (status == TW_OK && !tw_serve_desk_open(&serve->signing, 16, NULL, NULL))
        status = tw_store_fault_set(fault, TW_STORE_NO_MEMORY, "no thread");
    return status;
}
