/* serve/bodies.h: what bodies of requests say. Pure but for memory, so that fuzzers can look at any bytes. */
#ifndef TW_SERVE_BODIES_H
#define TW_SERVE_BODIES_H

#include <jansson.h>

#include "sync/sync.h"

#define TW_SERVE_MOST_ENTRIES 5000 /* in one message */

/* Lines as an export has them, empty ones left out. 0: too many, or no memory. */
int tw_serve_body_lines(tw_text body, tw_sync_batch *batch);

/* {"entries": [{"line", "hash"}...], "writer", "now_ms"}. NULL, or what is wrong with it. Texts of the way belong to the message. */
const char *tw_serve_body_message(const json_t *message, tw_sync_batch *batch, tw_sync_way *way);

#endif
