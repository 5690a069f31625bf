/* serve/rate.c: a bucket for each address. Rows are found by a hash within a short run, so that a flood of
 * addresses costs others no time; in a full run the row that was not seen for longest is given away. */
#include "serve/rate.h"

#include <string.h>

#define RUN 8 /* rows that one address may stand in */

static uint32_t hash_of(const uint8_t from[TW_SERVE_FROM])
{
    uint32_t hash = 2166136261u;
    for (int i = 0; i < TW_SERVE_FROM; i++)
        hash = (hash ^ from[i]) * 16777619u;
    return hash ^ hash >> 15;
}

unsigned tw_serve_rate_take(tw_serve_rate *rate, const uint8_t from[TW_SERVE_FROM], uint64_t now_ms, double per_s, double most)
{
    const uint32_t first = hash_of(from) % TW_SERVE_RATE_ROWS;
    uint32_t at = first;
    int known = 0;
    for (uint32_t i = 0; i < RUN && !known; i++) {
        const uint32_t row = (first + i) % TW_SERVE_RATE_ROWS;
        known = rate->row[row].at_ms != 0 && memcmp(rate->row[row].from, from, TW_SERVE_FROM) == 0;
        if (known || rate->row[row].at_ms < rate->row[at].at_ms)
            at = row;
    }
    if (!known) {
        memcpy(rate->row[at].from, from, TW_SERVE_FROM);
        rate->row[at].left = most;
    } else if (now_ms > rate->row[at].at_ms) {
        const double more = rate->row[at].left + (double)(now_ms - rate->row[at].at_ms) * 1e-3 * per_s;
        rate->row[at].left = more < most ? more : most;
    }
    rate->row[at].at_ms = now_ms > 0 ? now_ms : 1;
    if (rate->row[at].left >= 1.0) {
        rate->row[at].left -= 1.0;
        return 0;
    }
    const double wait = (1.0 - rate->row[at].left) / per_s;
    return wait < 1.0 ? 1u : wait > 3600.0 ? 3600u : (unsigned)wait + 1u;
}
