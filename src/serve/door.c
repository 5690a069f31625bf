/* serve/door.c: who asks, and whether they may. A cookie holds 32 random bytes and nothing else; what it is worth is looked up
 * for every request, so that what was revoked opens nothing any more. */
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "serve/guard.h"
#include "serve/inside.h"

const char *tw_serve_cookie_name(const tw_serve *serve)
{
    /* With this beginning a browser takes the cookie from this very host alone, over TLS alone. */
    return serve->tls ? "__Host-tubwright" : "tubwright";
}

int tw_serve_secret_read(tw_text text, uint8_t out[TW_SHA256_BYTES])
{
    size_t n = 0;
    const char *end = NULL;
    return text.n == 2 * TW_SHA256_BYTES && sodium_hex2bin((unsigned char *)out, TW_SHA256_BYTES, text.at, text.n, NULL, &n, &end) == 0 &&
           n == TW_SHA256_BYTES && end == text.at + text.n;
}

/* What shows that a request comes from a page that could read an answer: made of the cookie, and telling nothing of it. */
void tw_serve_token(const uint8_t secret[TW_SHA256_BYTES], char out[TW_SERVE_TOKEN_BYTES])
{
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_state state;
    tw_sha256_init(&state);
    tw_sha256_update(&state, "tubwright token\n", 16);
    tw_sha256_update(&state, secret, TW_SHA256_BYTES);
    tw_sha256_final(&state, digest);
    tw_sha256_hex(digest, hex);
    (void)snprintf(out, TW_SERVE_TOKEN_BYTES, "%.32s", hex);
}

static int role_named(const char *name, tw_serve_role *out)
{
    for (int i = 0; i < TW_SERVE_ROLES; i++)
        if (strcmp(tw_serve_roles[i].name, name) == 0) {
            *out = (tw_serve_role)i;
            return 1;
        }
    return 0;
}

/* Whose session it is; TW_ERR_MISSING: nobody's. */
static tw_status look_up(tw_serve *serve, const uint8_t hash[TW_SHA256_BYTES], tw_serve_who *who, tw_store_fault *fault)
{
    tw_access_session session;
    const tw_status status = tw_store_session_find(serve->door, hash, serve->config.clock(serve->config.clock_of).utc_s, &session, fault);
    if (status != TW_OK)
        return status;
    if (!role_named(session.role, &who->role))
        return TW_ERR_MISSING;
    who->known = who->cookie = 1;
    memcpy(who->session, hash, TW_SHA256_BYTES);
    (void)snprintf(who->name, sizeof who->name, "%s", session.name);
    (void)snprintf(who->tub, sizeof who->tub, "%s", session.tub);
    return TW_OK;
}

int tw_serve_still(tw_serve *serve, const tw_serve_who *who)
{
    tw_serve_who now;
    tw_store_fault fault;
    memset(&now, 0, sizeof now);
    return !serve->guarded || (who->cookie && look_up(serve, who->session, &now, &fault) == TW_OK && now.role == who->role);
}

int tw_serve_door(tw_serve_request *request)
{
    tw_serve *serve = request->serve;
    tw_serve_who *who = &request->who;
    const tw_serve_route_row *route = &tw_serve_routes[request->route];
    uint8_t secret[TW_SHA256_BYTES];
    char token[TW_SERVE_TOKEN_BYTES] = "";
    tw_store_fault fault;
    memset(who, 0, sizeof *who);
    if (!serve->guarded) {
        who->known = 1;
        who->role = TW_SERVE_OWNER;
    } else if (tw_serve_secret_read(tw_serve_cookie(tw_serve_header(request, "Cookie"), tw_serve_cookie_name(serve)), secret)) {
        uint8_t hash[TW_SHA256_BYTES];
        tw_sha256(secret, sizeof secret, hash);
        const tw_status status = look_up(serve, hash, who, &fault);
        if (status != TW_OK && status != TW_ERR_MISSING) {
            tw_serve_reply_fault(request, &fault, status);
            return 0;
        }
        tw_serve_token(secret, token);
        memcpy(request->token, token, sizeof token);
    }
    if (route->right == TW_RIGHT_NONE && !(who->cookie && request->route == TW_ROUTE_SIGN_OUT))
        return 1;
    const tw_serve_role_row *role = &tw_serve_roles[who->role];
    const int may = route->right == TW_RIGHT_WRITE ? role->writes[0] != '\0'
        : route->right == TW_RIGHT_MANAGE ? role->manages : route->right == TW_RIGHT_READ ? role->reads : 1;
    if (!who->known) {
        tw_serve_reply_problem(request, TW_PROBLEM_SIGN_IN, NULL, NULL, NULL);
        return 0;
    }
    if (!may) {
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, NULL, "role", role->name);
        return 0;
    }
    const tw_text given = tw_serve_header(request, "Tubwright-Token");
    if (who->cookie && strcmp(route->method, "GET") != 0 &&
        (given.n != strlen(token) || sodium_memcmp(given.at, token, given.n) != 0)) {
        tw_serve_reply_problem(request, TW_PROBLEM_TOKEN, "GET /api/session tells it; send it as Tubwright-Token.", NULL, NULL);
        return 0;
    }
    return 1;
}
