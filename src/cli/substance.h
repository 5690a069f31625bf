/* cli/substance.h: what people call a substance, and its id. */
#ifndef TW_CLI_SUBSTANCE_H
#define TW_CLI_SUBSTANCE_H

#include <stddef.h>

#include "units/text.h"

/* The id of a substance as typed ("dry acid", "Sodium-bisulfate-93"); its length, 0 when the name is
 * not known (then the name itself is checked, and refused with what is allowed). */
size_t tw_cli_substance(tw_text typed, char *id, size_t cap);

/* What stands on boxes of several products ("shock"): their ids, blanks between; NULL when it is no such word. */
const char *tw_cli_substance_choice(tw_text typed);

#endif
