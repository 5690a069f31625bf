/* cli/serve.c: the server as a command: it runs until it is told to end. */
#define _POSIX_C_SOURCE 200809L

#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "cli/book_io.h"
#include "cli/clock.h"
#include "serve/serve.h"

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

static int configure(tw_cli *cli, tw_serve_config *config)
{
    unsigned port = 0;
    if (!number(cli, TW_OPTION_PORT, "port", 0, 65535, 8433, &port) ||
        !number(cli, TW_OPTION_RATE, "rate", 0, 1000000, 100, &config->rate) ||
        !number(cli, TW_OPTION_CONNECTIONS, "connections", 4, 20000, 1500, &config->connections) ||
        !number(cli, TW_OPTION_PATIENCE, "patience", 1, 600, 10, &config->patience_s))
        return 0;
    config->port = (uint16_t)port;
    config->logbook = cli->logbook;
    config->program = tw_cli_core_digest;
    config->clock = clock_of;
    config->clock_of = cli;
    config->hosts = cli->option[TW_OPTION_HOSTS];
    config->log = cli->option[TW_OPTION_LOG] != NULL ? cli->err : NULL;
    return 1;
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
    if (argc > 1)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "words", "this command takes no words", argv[1]);
    if (!configure(cli, &config))
        return TW_EXIT_BAD_INPUT;
    tw_cli_state_folder(state, sizeof state);
    config.state = state;
    /* Opened once the way every command does, so that the default logbook and its folder are made. */
    const int trouble = tw_cli_store_open(cli, TW_CLI_BOOK_WRITE, &store);
    tw_store_close(store);
    if (trouble != 0)
        return trouble;
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
    return TW_EXIT_OK;
}
