/* cli/progress.h: says on a terminal that something is being worked out, when it takes over a second. */
#ifndef TW_CLI_PROGRESS_H
#define TW_CLI_PROGRESS_H

#include "cli/cli.h"

/* From now on: after a second a line "WHAT ..." stands on standard error, if that is a terminal. One
 * at a time; what must outlive the end. Nothing is shown with --json. */
void tw_cli_progress_begin(const tw_cli *cli, const char *what);

/* Done: the line is wiped away. Harmless when none was begun. */
void tw_cli_progress_end(void);

#endif
