/* cli/serve_people.c: who may sign in at a server, from the terminal: people and lid links. */
#include "cli/serve_people.h"

#include <stdlib.h>
#include <string.h>

#include "cli/answers.h"
#include "cli/secret.h"
#include "serve/serve.h"

#define MOST_LISTED 1000
#define MOST_TUBS 64 /* whose names are looked up; a lid link of a further one is told by its id */
#define PASSPHRASE_BYTES 256

/* What the file of who may come in says is wrong. */
static int told(tw_cli *cli, tw_status status, const tw_store_fault *fault)
{
    return fault->id != TW_STORE_FINE ? tw_cli_store_problem(cli, fault, cli->logbook) : tw_cli_trouble(cli, (int)status, cli->logbook);
}

static void name_and_role(tw_cli *cli, const char *name, const char *role)
{
    (void)fprintf(cli->out, "{\"name\": ");
    tw_cli_json_string(cli->out, name, strlen(name));
    (void)fprintf(cli->out, ", \"role\": \"%s\"}", role);
}

static int list_people(tw_cli *cli, tw_access *access)
{
    tw_store_fault fault;
    size_t count = 0;
    tw_access_person *person = calloc(MOST_LISTED, sizeof *person);
    if (person == NULL)
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    const tw_status status = tw_store_person_list(access, person, MOST_LISTED, &count, &fault);
    if (cli->json && status == TW_OK)
        (void)fprintf(cli->out, "{\"people\": [");
    for (size_t i = 0; i < count && i < MOST_LISTED && status == TW_OK; i++) {
        if (cli->json) {
            (void)fprintf(cli->out, "%s", i > 0 ? ", " : "");
            name_and_role(cli, person[i].name, person[i].role);
        } else {
            (void)fprintf(cli->out, "%-12s %s\n", person[i].role, person[i].name);
        }
    }
    if (cli->json && status == TW_OK)
        (void)fprintf(cli->out, "]}\n");
    if (!cli->json && count == 0)
        (void)fprintf(cli->out, "Nobody can sign in yet.\n");
    free(person);
    return status == TW_OK ? 0 : told(cli, status, &fault);
}

static int add_person(tw_cli *cli, tw_access *access, const char *name, const char *role)
{
    char passphrase[PASSPHRASE_BYTES];
    tw_access_person person;
    tw_store_fault fault;
    memset(&person, 0, sizeof person);
    if (!tw_serve_role_for(role, 0) || strlen(name) >= sizeof person.name || name[0] == '\0' || strchr(name, '/') != NULL)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be",
                              "A name has at most 48 bytes and no /; roles are owner, technician, tester and reader.");
    const size_t n = tw_cli_secret_read(cli, "Passphrase of 10 characters or more", passphrase, sizeof passphrase);
    const int hashed = tw_serve_passphrase_hash(passphrase, n, person.secret);
    tw_cli_secret_forget(passphrase, sizeof passphrase);
    if (!hashed)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be", "A passphrase has 10 to 200 bytes.");
    (void)snprintf(person.name, sizeof person.name, "%s", name);
    (void)snprintf(person.role, sizeof person.role, "%s", role);
    const tw_status status = tw_store_person_add(access, &person, cli->now.utc_s, &fault);
    if (status == TW_ERR_CONFLICT)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "known", "that name is taken", "Remove it first, or choose another one.");
    if (status != TW_OK)
        return told(cli, status, &fault);
    if (cli->json) {
        name_and_role(cli, name, role);
        (void)fputc('\n', cli->out);
    } else {
        (void)fprintf(cli->out, "%s may sign in as %s.\n", name, role);
    }
    return 0;
}

static int removed(tw_cli *cli, tw_status status, const tw_store_fault *fault, const char *what)
{
    if (status == TW_ERR_MISSING)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "path", "that is not there", what);
    if (status == TW_ERR_CONFLICT)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "last-owner", "the last owner stays", "Let another owner sign in first.");
    if (status != TW_OK)
        return told(cli, status, fault);
    if (!cli->json)
        (void)fprintf(cli->out, "%s opens nothing any more.\n", what);
    return 0;
}

/* The name of a tub, for people; its id where the logbook does not have it, or has the name twice. */
static tw_text name_of(const tw_cli *cli, const tw_cli_book *book, const char *id)
{
    tw_tub tub[MOST_TUBS];
    size_t count = 0, same = 0;
    tw_text name = tw_units_text(id);
    (void)tw_logbook_book_tubs(book->core->book, cli->now, tub, MOST_TUBS, &count);
    count = count < MOST_TUBS ? count : MOST_TUBS;
    for (size_t i = 0; i < count; i++)
        if (tw_units_text_is(tub[i].id, id))
            name = tub[i].name;
    for (size_t i = 0; i < count; i++)
        same += (size_t)tw_units_text_equal(tub[i].name, name);
    return same > 1 ? tw_units_text(id) : name;
}

static void tell_lid(tw_cli *cli, const tw_cli_book *book, const tw_access_lid *lid, int first)
{
    char until[TW_TIME_BYTES] = "";
    const tw_text name = name_of(cli, book, lid->tub);
    (void)tw_units_time_write((tw_time){lid->until_s, cli->now.offset_min}, until, sizeof until);
    if (!cli->json) {
        (void)fprintf(cli->out, "%s  %-10s  %.*s\n                  until %s\n", lid->id, lid->role, (int)name.n, name.at, until);
        return;
    }
    (void)fprintf(cli->out, "%s{\"id\": \"%s\", \"tub\": \"%s\", \"name\": ", first ? "" : ", ", lid->id, lid->tub);
    tw_cli_json_string(cli->out, name.at, name.n);
    (void)fprintf(cli->out, ", \"role\": \"%s\", \"until\": \"%s\"}", lid->role, until);
}

static int list_lids(tw_cli *cli, tw_access *access)
{
    tw_store_fault fault;
    tw_cli_book book;
    size_t count = 0;
    tw_access_lid *lid = calloc(MOST_LISTED, sizeof *lid);
    if (lid == NULL)
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    const tw_status status = tw_store_lid_list(access, cli->now.utc_s, lid, MOST_LISTED, &count, &fault);
    int code = status == TW_OK ? tw_cli_book_open(cli, TW_CLI_BOOK_READ, &book) : told(cli, status, &fault);
    if (code == 0 && cli->json)
        (void)fprintf(cli->out, "{\"lids\": [");
    for (size_t i = 0; code == 0 && i < count && i < MOST_LISTED; i++)
        tell_lid(cli, &book, &lid[i], i == 0);
    if (code == 0 && cli->json)
        (void)fprintf(cli->out, "]}\n");
    if (code == 0 && !cli->json && count == 0)
        (void)fprintf(cli->out, "There are no lid links.\n");
    if (status == TW_OK)
        tw_cli_book_close(&book);
    free(lid);
    return code;
}

static int add_lid(tw_cli *cli, tw_access *access, const char *role)
{
    tw_cli_book book;
    tw_tub tub;
    tw_access_lid lid;
    tw_store_fault fault;
    char id[TW_ID_BYTES], secret[TW_SHA256_HEX];
    const char *typed = cli->option[TW_OPTION_HOURS];
    const int hours = typed != NULL ? atoi(typed) : 72;
    if (!tw_serve_role_for(role, 1) || hours < 1 || hours > 8760)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be",
                              "Roles are technician, tester, reader and device; hours 1 to 8760.");
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_READ, &book);
    if (code == 0)
        code = tw_cli_the_tub(cli, &book, &tub);
    if (code == 0)
        (void)snprintf(id, sizeof id, "%.*s", (int)tub.id.n, tub.id.at);
    tw_cli_book_close(&book);
    if (code != 0)
        return code;
    const tw_status status = tw_serve_lid_make(access, id, role, cli->now.utc_s, hours, &lid, secret, &fault);
    if (status != TW_OK)
        return told(cli, status, &fault);
    if (cli->json)
        (void)fprintf(cli->out, "{\"id\": \"%s\", \"path\": \"/lid#%s\"}\n", lid.id, secret);
    else
        (void)fprintf(cli->out, "Lid link %s. Behind the address of the server:\n/lid#%s\nThis is shown once. Whoever has it is a %s of this tub.\n",
                      lid.id, secret, role);
    return 0;
}

int tw_cli_serve_people(tw_cli *cli, int argc, char **argv)
{
    tw_access *access = NULL;
    tw_store_fault fault;
    int code = TW_EXIT_USAGE;
    const tw_status status = tw_store_access_open(cli->logbook, &access, &fault);
    if (status != TW_OK)
        return told(cli, status, &fault);
    memset(&fault, 0, sizeof fault);
    const char *what = argv[1], *verb = argc > 2 ? argv[2] : "";
    if (argc == 2 && strcmp(what, "people") == 0)
        code = list_people(cli, access);
    else if (argc == 2 && strcmp(what, "lids") == 0)
        code = list_lids(cli, access);
    else if (argc == 5 && strcmp(what, "person") == 0 && strcmp(verb, "add") == 0)
        code = add_person(cli, access, argv[3], argv[4]);
    else if (argc == 4 && strcmp(what, "person") == 0 && strcmp(verb, "remove") == 0)
        code = removed(cli, tw_store_person_remove(access, argv[3], "owner", &fault), &fault, argv[3]);
    else if (argc == 4 && strcmp(what, "lid") == 0 && strcmp(verb, "add") == 0)
        code = add_lid(cli, access, argv[3]);
    else if (argc == 4 && strcmp(what, "lid") == 0 && strcmp(verb, "revoke") == 0)
        code = removed(cli, tw_store_lid_remove(access, argv[3], &fault), &fault, argv[3]);
    else
        code = tw_cli_problem(cli, TW_EXIT_USAGE, "words", "the words are not understood", "See tubwright serve --help");
    tw_store_access_close(access);
    return code;
}
