/* serve/hours.h: hours of a monitor as a body brings them, made into drafts of entries. Pure but for memory, so that fuzzers can look at any bytes. */
#ifndef TW_SERVE_HOURS_H
#define TW_SERVE_HOURS_H

#include <jansson.h>

#include "gen/serve_tables.h"
#include "logbook/entry.h"
#include "logbook/fault.h"
#include "logbook/identity.h"
#include "units/time.h"

#define TW_SERVE_MOST_HOURS 200    /* of one push                    */
#define TW_SERVE_DEVICE_BYTES 41   /* of its serial number, with a zero */

/* One hour on its way. Zero-filled it is empty. */
typedef struct {
    enum { TW_HOUR_STORED, TW_HOUR_HAD, TW_HOUR_REFUSED } taken;
    char id[TW_ID_BYTES];
    tw_time expires;       /* until then it stands for now            */
    int stale;             /* 1: that is past                         */
    const char *reason;    /* REFUSED: a stable word, and a sentence  */
    char sentence[TW_FAULT_TEXT_BYTES];
    char line[TW_LINE_BYTES]; /* the draft */
    size_t n;
} tw_serve_hour;

/* The row of a quantity, NULL: no monitor is known for it. */
const tw_serve_sensor_row *tw_serve_sensor_of(tw_text quantity);

/* A time so many minutes later. */
tw_time tw_serve_hour_later(tw_time time, int minutes);

/* {"device", "hours": [...]}: NULL, or what is wrong with it. Device and hours belong to the body. */
const char *tw_serve_hours_read(const json_t *body, tw_text *device, const json_t **hours);

/* The draft of an hour, checked as every entry is; refused with reason and sentence where it is not as it must be. */
void tw_serve_hour_compose(const json_t *object, tw_text device, const char *tub, tw_time now, tw_serve_hour *one);

/* A line that is there under the id of an hour, as tw_store_visit: the same (HAD, and TW_ERR_CAPACITY: one is enough), or another value
 * (REFUSED). */
tw_status tw_serve_hour_same(void *to, tw_text line);

#endif
