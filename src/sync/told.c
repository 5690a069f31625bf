/* sync/told.c: what a server's answers that are not the one wanted mean, for people; and texts of others, cleaned. Of memory alone, so that fuzzers
 * have it as well. */
#include <stdio.h>
#include <string.h>

#include "sync/wire.h"

/* Names and titles, as in data/problems.csv. */
static const char *const TROUBLES[][2] = {
    {"url", "this is no address of a server"},
    {"unreached", "the server was not reached"},
    {"certificate", "the server could not show that it is the one"},
    {"no-server", "what answers there is no server of this kind"},
    {"sign-in", "sign in first"},
    {"passphrase", "name or passphrase is wrong"},
    {"lid", "this lid link opens nothing"},
    {"right", "your role may not do this"},
    {"later", "the server asks to come later"},
    {"server", "the server could not do it"},
};

tw_status tw_sync_wire_trouble(tw_sync_trouble *trouble, const char *name, const char *sentence)
{
    memset(trouble, 0, sizeof *trouble);
    for (size_t i = 0; i < sizeof TROUBLES / sizeof TROUBLES[0]; i++)
        if (strcmp(TROUBLES[i][0], name) == 0) {
            trouble->name = TROUBLES[i][0];
            trouble->title = TROUBLES[i][1];
        }
    (void)snprintf(trouble->sentence, sizeof trouble->sentence, "%s", sentence != NULL ? sentence : "");
    return TW_ERR_IO;
}

void tw_sync_wire_text(const json_t *object, const char *name, char *out, size_t cap)
{
    const char *text = json_string_value(json_object_get(object, name));
    (void)snprintf(out, cap, "%s", text != NULL ? text : "");
    for (unsigned char *at = (unsigned char *)out; *at != '\0'; at++) {
        /* Controls, and those of the second set (U+0080..U+009F), which some terminals obey. */
        if (*at < 0x20 || *at == 0x7f)
            *at = '?';
        else if (*at == 0xc2 && at[1] >= 0x80 && at[1] < 0xa0)
            at[0] = at[1] = '?';
    }
}

void tw_sync_wire_problem(const json_t *answer, char *out, size_t cap)
{
    static const char BEFORE[] = "urn:tubwright:problem:";
    const char *type = json_string_value(json_object_get(answer, "type"));
    const char *name = type != NULL && strncmp(type, BEFORE, sizeof BEFORE - 1) == 0 ? type + sizeof BEFORE - 1 : "";
    const size_t n = strspn(name, "abcdefghijklmnopqrstuvwxyz-");
    (void)snprintf(out, cap, "%.*s", name[n] == '\0' && n < cap ? (int)n : 0, name);
}

tw_status tw_sync_wire_refused(tw_sync_http *http, long status, const json_t *answer)
{
    char name[48], title[200], detail[200], sentence[600];
    if (status == 0)
        return TW_ERR_IO; /* the trouble is told already */
    tw_sync_wire_problem(answer, name, sizeof name);
    if (strcmp(name, "sign-in") == 0)
        return tw_sync_wire_trouble(&http->trouble, "sign-in", http->signed_in ? "The session ended meanwhile. Do it again." :
                                    "Say --as NAME and give the passphrase on standard input, or --lid and the link.");
    if (strcmp(name, "passphrase") == 0 || strcmp(name, "lid") == 0 || strcmp(name, "right") == 0)
        return tw_sync_wire_trouble(&http->trouble, name, strcmp(name, "lid") == 0 ? "It was revoked, or its hours are over." : NULL);
    if (strcmp(name, "wait") == 0 || strcmp(name, "busy") == 0)
        return tw_sync_wire_trouble(&http->trouble, "later", "What was exchanged until now stays; do it again in some minutes.");
    if (name[0] == '\0') {
        (void)snprintf(sentence, sizeof sentence, "%s answers with %ld, and not as `tubwright serve` does.", http->address, status);
        return tw_sync_wire_trouble(&http->trouble, "no-server", sentence);
    }
    tw_sync_wire_text(answer, "title", title, sizeof title);
    tw_sync_wire_text(answer, "detail", detail, sizeof detail);
    (void)snprintf(sentence, sizeof sentence, "It says (%s): %s. %s", name, title, detail);
    return tw_sync_wire_trouble(&http->trouble, "server", sentence);
}
