/* serve/rate.h: how much one address may ask for in a time. Pure but for the struct: the clock is an argument. */
#ifndef TW_SERVE_RATE_H
#define TW_SERVE_RATE_H

#include <stdint.h>

#define TW_SERVE_RATE_ROWS 1024 /* addresses that are remembered; the one not seen for longest goes */
#define TW_SERVE_FROM 16        /* bytes that name where a request comes from                         */

typedef struct {
    struct {
        uint8_t from[TW_SERVE_FROM];
        uint64_t at_ms; /* when it was seen last; 0: the row is free */
        double left;
    } row[TW_SERVE_RATE_ROWS];
} tw_serve_rate;

/* Take one from what `from` has left: it fills up by `per_s` a second to at most `most`.
 * 0: granted; else seconds to wait, at least 1. */
unsigned tw_serve_rate_take(tw_serve_rate *rate, const uint8_t from[TW_SERVE_FROM], uint64_t now_ms, double per_s, double most);

#endif
