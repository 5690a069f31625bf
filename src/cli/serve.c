/* cli/serve.c: the server as a command: it runs until it is told to end. */
#define _POSIX_C_SOURCE 200809L

#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "cli/book_io.h"
#include "cli/clock.h"
#include "cli/serve_people.h"
#include "serve/serve.h"

#define PEM_BYTES ((size_t)1 << 18)

/* The clock of every question: the machine's, or the one that was given. */
static tw_time clock_of(const void *of)
{
    const tw_cli *cli = of;
    return cli->at_given ? cli->now : tw_cli_clock();
}

/* A whole number of an option within bounds; 0: told as a problem. */
static int number(tw_cli *cli, tw_option option, const char *name, unsigned low, unsigned high, unsigned usual, unsigned *out)
{
    const char *text = cli->option[option];
    char detail[128];
    char *end = NULL;
    *out = usual;
    if (text == NULL)
        return 1;
    const unsigned long value = strtoul(text, &end, 10);
    *out = (unsigned)value;
    if (text[0] >= '0' && text[0] <= '9' && *end == '\0' && value >= low && value <= high)
        return 1;
    (void)snprintf(detail, sizeof detail, "--%s is a number from %u to %u.", name, low, high);
    (void)tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "option", "an option is outside its range", detail);
    return 0;
}

/* A file of PEM text, freed by the caller; NULL: told as a problem. */
static char *read_pem(tw_cli *cli, const char *path)
{
    FILE *file = fopen(path, "rb");
    char *text = calloc(1, PEM_BYTES);
    const size_t n = file != NULL && text != NULL ? fread(text, 1, PEM_BYTES - 1, file) : 0;
    if (file != NULL)
        (void)fclose(file);
    if (n > 0)
        return text;
    free(text);
    (void)tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "input", "the file cannot be read", path);
    return NULL;
}

/* Certificate and key into the configuration; 0: told. */
static int read_tls(tw_cli *cli, tw_serve_config *config)
{
    const char *certificate = cli->option[TW_OPTION_CERT], *key = cli->option[TW_OPTION_KEY];
    if (certificate != NULL && (config->certificate = read_pem(cli, certificate)) == NULL)
        return 0;
    return key == NULL || (config->key = read_pem(cli, key)) != NULL;
}

/* What stands against listening where it was asked for; NULL: nothing. */
static const char *against(const tw_cli *cli, const tw_serve_config *config)
{
    const int network = cli->option[TW_OPTION_NETWORK] != NULL, bare = cli->option[TW_OPTION_WITHOUT_TLS] != NULL;
    if (!tw_serve_is_own(config->address) && !network)
        return "Others can connect to this address. Say --network if they shall.";
    if (!tw_serve_is_own(config->address) && config->certificate == NULL && !config->proxy && !bare)
        return "Without TLS passphrases can be read on the way. Give --cert and --key, or say --without-tls if that may be.";
    return tw_serve_lacks(config);
}

/* 0, or the exit code after the problem was told. */
static int configure(tw_cli *cli, tw_serve_config *config)
{
    unsigned port = 0;
    if (!number(cli, TW_OPTION_PORT, "port", 0, 65535, 8433, &port) ||
        !number(cli, TW_OPTION_RATE, "rate", 0, 1000000, 100, &config->rate) ||
        !number(cli, TW_OPTION_CONNECTIONS, "connections", 4, 20000, 1500, &config->connections) ||
        !number(cli, TW_OPTION_PATIENCE, "patience", 1, 600, 10, &config->patience_s))
        return TW_EXIT_BAD_INPUT;
    config->port = (uint16_t)port;
    config->logbook = cli->logbook;
    config->program = tw_cli_core_digest;
    config->clock = clock_of;
    config->clock_of = cli;
    config->address = cli->option[TW_OPTION_LISTEN] != NULL ? cli->option[TW_OPTION_LISTEN] : "127.0.0.1";
    config->proxy = cli->option[TW_OPTION_PROXY] != NULL;
    config->sign_in = config->proxy || cli->option[TW_OPTION_NETWORK] != NULL || cli->option[TW_OPTION_SIGN_IN] != NULL;
    if (!read_tls(cli, config))
        return TW_EXIT_BAD_INPUT;
    const char *no = against(cli, config);
    if (no != NULL)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "the command line is not understood", no);
    config->hosts = cli->option[TW_OPTION_HOSTS];
    config->log = cli->option[TW_OPTION_LOG] != NULL ? cli->err : NULL;
    return 0;
}

static void forget(const char *text)
{
    free((void *)(uintptr_t)text);
}

static void tell(const tw_cli *cli, const tw_serve *serve)
{
    char address[300];
    tw_serve_address(serve, address, sizeof address);
    if (cli->json) {
        (void)fprintf(cli->out, "{\"address\": ");
        tw_cli_json_string(cli->out, address, strlen(address));
        (void)fprintf(cli->out, ", \"logbook\": ");
        tw_cli_json_string(cli->out, cli->logbook, strlen(cli->logbook));
        (void)fprintf(cli->out, "}\n");
    } else {
        (void)fprintf(cli->out, "The logbook is at %s\nCtrl-C ends it.\n", address);
    }
    (void)fflush(cli->out);
}

int tw_cli_serve(tw_cli *cli, int argc, char **argv)
{
    char state[4096], why[400];
    tw_serve_config config = {0};
    tw_store_fault fault;
    tw_store *store = NULL;
    tw_serve *serve = NULL;
    sigset_t ends;
    int caught = 0;
    /* Opened once the way every command does, so that the default logbook and its folder are made. */
    const int trouble = tw_cli_store_open(cli, TW_CLI_BOOK_WRITE, &store);
    tw_store_close(store);
    if (trouble != 0)
        return trouble;
    if (argc > 1)
        return tw_cli_serve_people(cli, argc, argv);
    const int refused = configure(cli, &config);
    if (refused != 0)
        return refused;
    tw_cli_state_folder(state, sizeof state);
    config.state = state;
    /* Threads inherit what is blocked; the signals come to sigwait alone. */
    (void)sigemptyset(&ends);
    (void)sigaddset(&ends, SIGTERM);
    (void)sigaddset(&ends, SIGINT);
    (void)sigaddset(&ends, SIGHUP);
    (void)sigprocmask(SIG_BLOCK, &ends, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
    tw_status status = tw_serve_open(&config, &serve, &fault, why, sizeof why);
    if (status != TW_OK && fault.id == TW_STORE_FINE && cli->option[TW_OPTION_PORT] == NULL) {
        config.port = 0; /* the usual one is taken: any that is free */
        status = tw_serve_open(&config, &serve, &fault, why, sizeof why);
    }
    if (status != TW_OK && fault.id != TW_STORE_FINE)
        return tw_cli_store_problem(cli, &fault, cli->logbook);
    if (status != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "address", "there the server cannot listen", why);
    tell(cli, serve);
    (void)sigwait(&ends, &caught);
    tw_serve_close(serve);
    forget(config.certificate);
    forget(config.key);
    return TW_EXIT_OK;
}
