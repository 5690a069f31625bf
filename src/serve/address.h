/* serve/address.h: the target of a request line, taken apart: pieces of the path and parameters.
 *
 * Pure. Nothing of an address ever becomes the name of a file. */
#ifndef TW_SERVE_ADDRESS_H
#define TW_SERVE_ADDRESS_H

#include <stddef.h>

#include "gen/serve_tables.h"
#include "units/text.h"

#define TW_SERVE_TARGET_BYTES 2048 /* longest target, with its zero */
#define TW_SERVE_PIECES 6          /* most pieces of a path         */

typedef struct {
    char text[TW_SERVE_TARGET_BYTES]; /* pieces and values without %XX               */
    size_t used;
    tw_text piece[TW_SERVE_PIECES];
    size_t pieces;
    tw_text value[TW_PARAMETERS];     /* at NULL: not given                          */
    char culprit[64];                 /* name of the parameter that is not in order  */
} tw_serve_target;

/* Take a target apart. TW_PROBLEMS when it is in order, else what is wrong:
 *   TW_PROBLEM_ADDRESS_LONG, TW_PROBLEM_REQUEST (not an address: bad %XX, controls, #),
 *   TW_PROBLEM_PATH (empty pieces, . and .., too many), TW_PROBLEM_PARAMETER (unknown, twice, not of its type) */
tw_serve_problem tw_serve_target_read(const char *target, tw_serve_target *out);

/* The route of a method and path. TW_ROUTES: none; then `allowed` (cap bytes, "" when the path is not known at all)
 * has the methods that the path takes. HEAD is taken for GET. A piece that stands for {...} goes to *of. */
tw_serve_route tw_serve_route_find(const tw_serve_target *target, const char *method, tw_text *of, char *allowed, size_t cap);

#endif
