/* cli/secret.h: what nobody else may read: typed without being shown, or from a pipe; never on the command line. */
#ifndef TW_CLI_SECRET_H
#define TW_CLI_SECRET_H

#include <stddef.h>

#include "cli/cli.h"

/* One line of standard input without its end; on a terminal it is asked for and not shown. Returns its length, 0 when there is none. */
size_t tw_cli_secret_read(tw_cli *cli, const char *what, char *out, size_t cap);

/* Overwrite it. */
void tw_cli_secret_forget(char *secret, size_t cap);

#endif
