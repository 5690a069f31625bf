/* serve/hours.c: hours of a monitor as a body brings them, made into drafts of entries. */
#include "serve/hours.h"

#include <stdio.h>
#include <string.h>

#include "logbook/compose.h"
#include "logbook/identity.h"

#define AHEAD_S 120 /* a clock that is ahead by more is told so */

/* A text of an object; empty when it is not there, at NULL when it is no text. */
static tw_text text_of(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    if (value == NULL)
        return tw_units_text("");
    return (tw_text){json_string_value(value), json_string_length(value)};
}

const tw_serve_sensor_row *tw_serve_sensor_of(tw_text quantity)
{
    for (int i = 0; i < TW_SERVE_SENSORS; i++)
        if (tw_units_text_is(quantity, tw_serve_sensors[i].quantity))
            return &tw_serve_sensors[i];
    return NULL;
}

tw_time tw_serve_hour_later(tw_time time, int minutes)
{
    time.utc_s += (int64_t)minutes * 60;
    return time;
}

static void refuse(tw_serve_hour *one, const char *reason, const char *sentence)
{
    one->taken = TW_HOUR_REFUSED;
    one->reason = reason;
    (void)snprintf(one->sentence, sizeof one->sentence, "%s", sentence);
}

/* Members that are known, each a text. */
static int has_form(const json_t *object)
{
    static const char *const KNOWN[] = {"quantity", "at", "median", "low", "high", "count", "unit"};
    size_t found = 0;
    for (size_t i = 0; i < sizeof KNOWN / sizeof KNOWN[0]; i++) {
        const json_t *value = json_object_get(object, KNOWN[i]);
        found += json_is_string(value);
    }
    return json_is_object(object) && found == json_object_size(object);
}

/* Time and quantity of an hour; 0: refused. */
static int read_place(const json_t *object, tw_time now, const tw_serve_sensor_row **sensor, tw_time *at, tw_serve_hour *one)
{
    char sentence[160];
    *sensor = tw_serve_sensor_of(text_of(object, "quantity"));
    if (!has_form(object))
        refuse(one, "form", "An hour has quantity, at and median, and may have low, high, count and unit; all are texts.");
    else if (*sensor == NULL)
        refuse(one, "unknown-quantity", "No monitor of this kind is known; the quantities stand in data/sensors.csv.");
    else if (tw_units_time_read(text_of(object, "at"), at) != TW_OK)
        refuse(one, "time", "at is a time with its offset: 2026-03-24T10:00:00+01:00.");
    else if ((at->utc_s + (int64_t)at->offset_min * 60) % 3600 != 0)
        refuse(one, "not-an-hour", "at is the full hour: one entry an hour, with the median of its values.");
    else if (at->utc_s > now.utc_s + AHEAD_S) {
        (void)snprintf(sentence, sizeof sentence, "It is dated %lld s ahead of this clock.", (long long)(at->utc_s - now.utc_s));
        refuse(one, "ahead", sentence);
    }
    return one->taken != TW_HOUR_REFUSED;
}

void tw_serve_hour_compose(const json_t *object, tw_text device, const char *tub, tw_time now, tw_serve_hour *one)
{
    const tw_serve_sensor_row *sensor = NULL;
    tw_time at;
    tw_fault fault;
    char entered[TW_TIME_BYTES] = "";
    if (!read_place(object, now, &sensor, &at, one))
        return;
    tw_logbook_id_v8(device, tw_units_text(sensor->quantity), at, one->id);
    (void)tw_units_time_write(now, entered, sizeof entered);
    one->expires = tw_serve_hour_later(at, sensor->expires_min);
    one->stale = one->expires.utc_s <= now.utc_s;
    const tw_text unit = text_of(object, "unit");
    tw_typed typed[13] = {
        {tw_units_text("id"), tw_units_text(one->id)},
        {tw_units_text("kind"), tw_units_text("monitor-hour")},
        {tw_units_text("tub"), tw_units_text(tub)},
        {tw_units_text("at"), text_of(object, "at")},
        {tw_units_text("entered"), tw_units_text(entered)},
        {tw_units_text("role"), tw_units_text("device")},
        {tw_units_text("serial"), device},
        {tw_units_text("analyte"), tw_units_text(sensor->quantity)},
        {tw_units_text("median"), text_of(object, "median")},
        {tw_units_text("unit"), unit.n > 0 ? unit : tw_units_text(sensor->unit)},
    };
    size_t n = 10;
    for (int i = 0; i < 3; i++) {
        static const char *const MAYBE[] = {"low", "high", "count"};
        const tw_text value = text_of(object, MAYBE[i]);
        if (value.n > 0)
            typed[n++] = (tw_typed){tw_units_text(MAYBE[i]), value};
    }
    memset(&fault, 0, sizeof fault);
    if (tw_logbook_compose(typed, n, TW_CHECK_DRAFT, one->line, sizeof one->line, &one->n, &fault) == TW_OK)
        return;
    one->taken = TW_HOUR_REFUSED;
    one->reason = tw_logbook_fault_name(fault.id);
    (void)tw_logbook_fault_text(&fault, NULL, one->sentence, sizeof one->sentence);
}

tw_status tw_serve_hour_same(void *to, tw_text line)
{
    static const char *const COMPARED[] = {"median", "low", "high", "count", "unit", "tub"};
    tw_serve_hour *one = to;
    json_t *there = json_loadb(line.at, line.n, 0, NULL), *sent = json_loadb(one->line, one->n, 0, NULL);
    int same = there != NULL && sent != NULL;
    for (size_t i = 0; i < sizeof COMPARED / sizeof COMPARED[0]; i++) {
        const tw_text a = text_of(there, COMPARED[i]), b = text_of(sent, COMPARED[i]);
        same = same && tw_units_text_equal(a, b);
    }
    json_decref(there);
    json_decref(sent);
    one->taken = TW_HOUR_HAD;
    if (!same)
        refuse(one, "other-value", "This device has said something else of this hour already; a person takes it back with a void.");
    return same ? TW_ERR_CAPACITY : TW_OK; /* one that is the same is enough */
}

const char *tw_serve_hours_read(const json_t *body, tw_text *device, const json_t **hours)
{
    *device = text_of(body, "device");
    *hours = json_object_get(body, "hours");
    if (!json_is_object(body) || json_object_size(body) != 2 || device->at == NULL || !json_is_array(*hours))
        return "It has device, a text, and hours, a list.";
    if (device->n == 0 || device->n >= TW_SERVE_DEVICE_BYTES || memchr(device->at, '\n', device->n) != NULL)
        return "device is its serial number, 1 to 40 bytes.";
    return json_array_size(*hours) > TW_SERVE_MOST_HOURS ? "At most 200 hours at once." : NULL;
}
