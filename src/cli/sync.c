/* cli/sync.c: this logbook and a server's become one: what is exchanged, what was refused and what is odd in the chains. */
#define _POSIX_C_SOURCE 200809L

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli/book_io.h"
#include "cli/clock.h"
#include "cli/secret.h"
#include "sync/http.h"

#define SECRET_BYTES 1024
#define LID_CHARS 64
#define MOST_TOLD 200  /* of what is odd; more of it is counted          */
#define CLOCK_MS 30000 /* a clock that is off by less is not worth a word */

static int64_t clock_ms(void *of)
{
    const tw_cli *cli = of;
    struct timespec now;
    (void)clock_gettime(CLOCK_REALTIME, &now);
    return cli->at_given ? cli->now.utc_s * 1000 : (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* ---- what is told ------------------------------------------------------------------------------------------ */

static void tell_hash(FILE *out, const char *what, const uint8_t hash[TW_SHA256_BYTES])
{
    char text[TW_SHA256_HEX];
    tw_sha256_hex(hash, text);
    (void)fprintf(out, "  %s %s\n", what, text);
}

static void tell_odd(FILE *out, const tw_sync_odd *odd)
{
    const unsigned long n = odd->n, last = odd->last;
    const char *mended = odd->mended ? " (mended)" : "";
    switch (odd->kind) {
    case TW_SYNC_ODD_REFUSED_HERE:
        (void)fprintf(out, "refused here%s: entry %lu of writer %s: %s\n", mended, n, odd->writer, odd->sentence);
        tell_hash(out, "hash ", odd->hash);
        break;
    case TW_SYNC_ODD_REFUSED_THERE:
        (void)fprintf(out, "refused there%s: entry %lu of writer %s: %s\n", mended, n, odd->writer, odd->sentence);
        tell_hash(out, "hash ", odd->hash);
        break;
    case TW_SYNC_ODD_NOT_GIVEN:
        (void)fprintf(out, "said to be there, and not given%s: entry %lu of writer %s\n", mended, n, odd->writer);
        break;
    case TW_SYNC_ODD_NOT_KEPT:
        (void)fprintf(out, "said to be kept there, and is not%s: entry %lu of writer %s\n", mended, n, odd->writer);
        break;
    case TW_SYNC_ODD_FORKED:
        (void)fprintf(out, "forked: two entries have number %lu of writer %s; both are kept\n", n, odd->writer);
        tell_hash(out, "hash ", odd->hash);
        tell_hash(out, "other", odd->other);
        break;
    case TW_SYNC_ODD_GAP:
        if (n == last)
            (void)fprintf(out, "missing: entry %lu of writer %s\n", n, odd->writer);
        else
            (void)fprintf(out, "missing: entries %lu to %lu of writer %s\n", n, last, odd->writer);
        break;
    case TW_SYNC_ODD_ALTERED:
    default:
        (void)fprintf(out, "altered: entry %lu of writer %s is not the one that entry %lu follows\n", n, odd->writer, n + 1);
        tell_hash(out, "hash ", odd->hash);
        tell_hash(out, "named", odd->other);
        break;
    }
}

static void tell_text(tw_cli *cli, const tw_sync_http *http, const tw_sync_peer *peer, const tw_sync_report *report)
{
    FILE *out = cli->out;
    char seal[TW_SHA256_HEX];
    const long long off = (long long)(report->skew_ms < 0 ? -report->skew_ms : report->skew_ms);
    (void)fprintf(out, "%s: %llu taken, %llu given\n", tw_sync_http_address(http), (unsigned long long)report->got,
                  (unsigned long long)report->given);
    if (peer->tub[0] != '\0')
        (void)fprintf(out, "of one tub: %s\n", peer->tub);
    for (size_t i = 0; i < report->odds && i < MOST_TOLD; i++)
        tell_odd(out, &report->odd[i]);
    if (report->odds > MOST_TOLD)
        (void)fprintf(out, "and %zu more\n", report->odds - MOST_TOLD);
    if (report->skew_known && off >= CLOCK_MS)
        (void)fprintf(out, "clock: the server's is %lld min %lld s %s this one, give or take %lld s\n", off / 60000, off / 1000 % 60,
                      report->skew_ms > 0 ? "ahead of" : "behind", (long long)(report->skew_doubt_ms + 999) / 1000);
    tw_sha256_hex(report->seal, seal);
    (void)fprintf(out, "%s\nseal %s\n", report->same ? "both sides hold the same entries" : "the two sides do not hold the same entries yet", seal);
}

static void json_odd(FILE *out, const tw_sync_odd *odd)
{
    char hash[TW_SHA256_HEX], other[TW_SHA256_HEX];
    tw_sha256_hex(odd->hash, hash);
    tw_sha256_hex(odd->other, other);
    (void)fprintf(out, "{\"kind\": \"%s\", \"writer\": \"%s\", \"n\": %lu, \"last\": %lu, \"hash\": \"%s\", \"other\": \"%s\", \"mended\": %s, \"reason\": ",
                  tw_sync_odd_name(odd->kind), odd->writer, (unsigned long)odd->n, (unsigned long)(odd->last > 0 ? odd->last : odd->n), hash, other,
                  odd->mended ? "true" : "false");
    tw_cli_json_string(out, odd->reason, strlen(odd->reason));
    (void)fprintf(out, ", \"sentence\": ");
    tw_cli_json_string(out, odd->sentence, strlen(odd->sentence));
    (void)fprintf(out, "}");
}

static void tell_json(tw_cli *cli, const tw_sync_http *http, const tw_sync_peer *peer, const tw_sync_report *report)
{
    FILE *out = cli->out;
    char seal[TW_SHA256_HEX];
    tw_sha256_hex(report->seal, seal);
    (void)fprintf(out, "{\"server\": ");
    tw_cli_json_string(out, tw_sync_http_address(http), strlen(tw_sync_http_address(http)));
    (void)fprintf(out, ", \"tub\": \"%s\", \"taken\": %llu, \"given\": %llu, \"same\": %s, \"seal\": \"%s\"", peer->tub,
                  (unsigned long long)report->got, (unsigned long long)report->given, report->same ? "true" : "false", seal);
    if (report->skew_known)
        (void)fprintf(out, ", \"ahead_ms\": %lld, \"doubt_ms\": %lld", (long long)report->skew_ms, (long long)report->skew_doubt_ms);
    (void)fprintf(out, ", \"odds\": %zu, \"odd\": [", report->odds);
    for (size_t i = 0; i < report->odds && i < MOST_TOLD; i++) {
        (void)fprintf(out, "%s", i > 0 ? ", " : "");
        json_odd(out, &report->odd[i]);
    }
    (void)fprintf(out, "]}\n");
}

static int told(tw_cli *cli, const tw_sync_trouble *trouble)
{
    const int typed = strcmp(trouble->name, "url") == 0;
    return tw_cli_problem(cli, typed ? TW_EXIT_USAGE : TW_EXIT_UNREACHED, trouble->name, trouble->title, trouble->sentence);
}

/* ---- the exchange ------------------------------------------------------------------------------------------- */

static int exchange(tw_cli *cli, tw_store *store, tw_sync_http *http)
{
    tw_sync_peer peer;
    tw_sync_report report;
    tw_store_fault fault;
    int code = 0;
    tw_sync_http_peer(http, &peer);
    const tw_status status = tw_sync_exchange(store, &peer, clock_ms, cli, &report, &fault);
    if (status == TW_OK && cli->json)
        tell_json(cli, http, &peer, &report);
    else if (status == TW_OK)
        tell_text(cli, http, &peer, &report);
    else if (fault.id != TW_STORE_FINE)
        code = tw_cli_store_problem(cli, &fault, cli->logbook);
    else if (tw_sync_http_trouble(http)->name != NULL)
        code = told(cli, tw_sync_http_trouble(http));
    else
        code = tw_cli_trouble(cli, (int)status, tw_sync_http_address(http));
    if (code == 0 && !report.same)
        code = TW_EXIT_ASKED_BACK;
    tw_sync_report_free(&report);
    return code;
}

/* The secret of a lid link: the link, or what stands behind its #. NULL: it is none. */
static char *lid_of(char *typed)
{
    char *mark = strrchr(typed, '#');
    char *secret = mark != NULL ? mark + 1 : typed;
    return strlen(secret) == LID_CHARS && strspn(secret, "0123456789abcdef") == LID_CHARS ? secret : NULL;
}

/* Sign in where that was said, and exchange. */
static int reach(tw_cli *cli, tw_store *store, const char *url)
{
    char typed[SECRET_BYTES] = "";
    tw_sync_trouble trouble;
    tw_sync_http *http = NULL;
    tw_sync_http_config config = {.url = url, .authorities = cli->option[TW_OPTION_CA], .name = cli->option[TW_OPTION_AS],
                                  .without_tls = cli->option[TW_OPTION_WITHOUT_TLS] != NULL};
    if (config.authorities != NULL && access(config.authorities, R_OK) != 0)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "input", "the file cannot be read", config.authorities);
    if (config.name != NULL && tw_cli_secret_read(cli, "Passphrase", typed, sizeof typed) > 0)
        config.secret = typed;
    if (cli->option[TW_OPTION_LID] != NULL && tw_cli_secret_read(cli, "Lid link", typed, sizeof typed) > 0)
        config.secret = lid_of(typed);
    if (config.secret == NULL && (config.name != NULL || cli->option[TW_OPTION_LID] != NULL))
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be",
                              config.name != NULL ? "The passphrase is the first line of standard input; there is none."
                                                  : "The lid link is the first line of standard input; behind its # stand 64 digits 0 to 9 and a to f.");
    const tw_status status = tw_sync_http_open(&config, &http, &trouble);
    tw_cli_secret_forget(typed, sizeof typed);
    const int code = status == TW_OK ? exchange(cli, store, http) : told(cli, &trouble);
    tw_sync_http_close(http);
    return code;
}

int tw_cli_sync(tw_cli *cli, int argc, char **argv)
{
    tw_store *store = NULL;
    if (argc != 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "which server?", "tubwright sync https://NAME:PORT, see tubwright sync --help");
    if (cli->option[TW_OPTION_AS] != NULL && cli->option[TW_OPTION_LID] != NULL)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "either a person or a lid link", "Say --as NAME or --lid.");
    int code = tw_cli_store_open(cli, TW_CLI_BOOK_WRITE, &store);
    if (code == 0)
        code = reach(cli, store, argv[1]);
    tw_store_close(store);
    return code;
}
