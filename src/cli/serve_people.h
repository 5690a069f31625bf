/* cli/serve_people.h: who may sign in at a server. */
#ifndef TW_CLI_SERVE_PEOPLE_H
#define TW_CLI_SERVE_PEOPLE_H

#include "cli/cli.h"

/* people; person add NAME ROLE; person remove NAME; lids; lid add ROLE; lid revoke ID. The logbook must be there. Returns the
 * exit code. */
int tw_cli_serve_people(tw_cli *cli, int argc, char **argv);

#endif
