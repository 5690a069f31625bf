/* serve/sensors.c: hours of an in-line monitor, pushed by the device itself. An hour is an entry like any other, its id made of device, quantity and
 * time, so that whatever is sent again is there already. It stays what it is; but it stands for now only until its quantity expires
 * (data/sensors.csv). All of it is done at the desk that writes, so of two pushes at once one is the second. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/compose.h"
#include "logbook/line.h"
#include "serve/inside.h"
#include "store/grow.h"

#define MOST_HOURS 200     /* of one push                                            */
#define DEVICE_BYTES 41    /* as the field `serial` of an entry                      */
#define AHEAD_S 120        /* a clock that is ahead by more is told so               */
#define MOST_SHOWN 64      /* monitors times quantities of one tub                   */

/* ---- JSON ------------------------------------------------------------------------------------------------ */

static void set(json_t *object, const char *name, json_t *value)
{
    if (object != NULL && value != NULL)
        (void)json_object_set_new(object, name, value);
    else
        json_decref(value);
}

static void reply_json(tw_serve_request *request, json_t *object)
{
    char *bytes = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;
    json_decref(object);
    tw_serve_reply_bytes(request, MHD_HTTP_OK, "application/json", bytes, bytes != NULL ? strlen(bytes) : 0);
}

static json_t *time_text(tw_time time)
{
    char text[TW_TIME_BYTES] = "";
    (void)tw_units_time_write(time, text, sizeof text);
    return json_string(text);
}

/* A text of an object; empty when it is not there, at NULL when it is no text. */
static tw_text text_of(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    if (value == NULL)
        return tw_units_text("");
    return (tw_text){json_string_value(value), json_string_length(value)};
}

static const tw_serve_sensor_row *sensor_of(tw_text quantity)
{
    for (int i = 0; i < TW_SERVE_SENSORS; i++)
        if (tw_units_text_is(quantity, tw_serve_sensors[i].quantity))
            return &tw_serve_sensors[i];
    return NULL;
}

static tw_time later(tw_time time, int minutes)
{
    time.utc_s += (int64_t)minutes * 60;
    return time;
}

/* ---- push ------------------------------------------------------------------------------------------------- */

/* One hour on its way. */
typedef struct {
    enum { HOUR_STORED, HOUR_HAD, HOUR_REFUSED } taken;
    char id[TW_ID_BYTES];
    tw_time expires;
    int stale;
    const char *reason;
    char sentence[TW_FAULT_TEXT_BYTES];
    char line[TW_LINE_BYTES];
    size_t n;
    tw_text median;      /* as it was sent */
} hour;

static void refuse(hour *one, const char *reason, const char *sentence)
{
    one->taken = HOUR_REFUSED;
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
static int read_place(const json_t *object, tw_time now, const tw_serve_sensor_row **sensor, tw_time *at, hour *one)
{
    char sentence[160];
    *sensor = sensor_of(text_of(object, "quantity"));
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
    return one->taken != HOUR_REFUSED;
}

/* The draft of an hour, checked as every entry is. */
static void compose(const json_t *object, tw_text device, const char *tub, tw_time now, hour *one)
{
    const tw_serve_sensor_row *sensor = NULL;
    tw_time at;
    tw_fault fault;
    char entered[TW_TIME_BYTES] = "";
    if (!read_place(object, now, &sensor, &at, one))
        return;
    tw_logbook_id_v8(device, tw_units_text(sensor->quantity), at, one->id);
    (void)tw_units_time_write(now, entered, sizeof entered);
    one->expires = later(at, sensor->expires_min);
    one->stale = one->expires.utc_s <= now.utc_s;
    one->median = text_of(object, "median");
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
        {tw_units_text("median"), one->median},
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
    one->taken = HOUR_REFUSED;
    one->reason = tw_logbook_fault_name(fault.id);
    (void)tw_logbook_fault_text(&fault, one->sentence, sizeof one->sentence);
}

/* What is there of this id: the same hour again, or another value for it. */
static tw_status look_same(void *to, tw_text line)
{
    static const char *const COMPARED[] = {"median", "low", "high", "count", "unit", "tub"};
    hour *one = to;
    json_t *there = json_loadb(line.at, line.n, 0, NULL), *sent = json_loadb(one->line, one->n, 0, NULL);
    int same = there != NULL && sent != NULL;
    for (size_t i = 0; i < sizeof COMPARED / sizeof COMPARED[0]; i++) {
        const tw_text a = text_of(there, COMPARED[i]), b = text_of(sent, COMPARED[i]);
        same = same && tw_units_text_equal(a, b);
    }
    json_decref(there);
    json_decref(sent);
    one->taken = HOUR_HAD;
    if (!same)
        refuse(one, "other-value", "This device has said something else of this hour already; a person takes it back with a void.");
    return same ? TW_ERR_CAPACITY : TW_OK; /* one that is the same is enough */
}

/* What is in the logbook or earlier in this push is not written again. */
static tw_status settle(tw_store *store, hour *all, size_t index, tw_store_fault *fault)
{
    hour *one = &all[index];
    if (one->taken == HOUR_REFUSED)
        return TW_OK;
    for (size_t i = 0; i < index; i++)
        if (all[i].taken == HOUR_STORED && strcmp(all[i].id, one->id) == 0) {
            (void)look_same(one, (tw_text){all[i].line, all[i].n});
            return TW_OK;
        }
    const tw_status status = tw_store_of_id(store, tw_units_text(one->id), look_same, one, fault);
    return status == TW_ERR_CAPACITY && one->taken == HOUR_HAD ? TW_OK : status;
}

static tw_status write_all(tw_store *store, const hour *all, size_t n, tw_store_fault *fault)
{
    tw_text draft[MOST_HOURS];
    size_t drafts = 0;
    for (size_t i = 0; i < n; i++)
        if (all[i].taken == HOUR_STORED)
            draft[drafts++] = (tw_text){all[i].line, all[i].n};
    return drafts > 0 ? tw_store_append_own(store, draft, drafts, NULL, NULL, fault) : TW_OK;
}

static json_t *as_pushed(const hour *one)
{
    static const char *const TAKEN[] = {"stored", "had", "refused"};
    json_t *object = json_pack("{s:s}", "taken", TAKEN[one->taken]);
    if (one->id[0] != '\0') {
        set(object, "id", json_string(one->id));
        set(object, "expires", time_text(one->expires));
        set(object, "stale", json_boolean(one->stale));
    }
    if (one->taken == HOUR_REFUSED) {
        set(object, "reason", json_string(one->reason));
        set(object, "sentence", json_string(one->sentence));
    }
    return object;
}

static void reply_pushed(tw_serve_request *request, const hour *all, size_t n)
{
    size_t times[3] = {0};
    json_t *results = json_array();
    for (size_t i = 0; i < n; i++) {
        times[all[i].taken]++;
        (void)json_array_append_new(results, as_pushed(&all[i]));
    }
    json_t *object = json_pack("{s:I, s:I, s:I}", "stored", (json_int_t)times[HOUR_STORED], "had", (json_int_t)times[HOUR_HAD], "refused",
                               (json_int_t)times[HOUR_REFUSED]);
    set(object, "results", results);
    reply_json(request, object);
}

/* {"device", "hours": [...]}. NULL, or what is wrong with it. */
static const char *wrong_body(const json_t *body, tw_text *device, const json_t **hours)
{
    *device = text_of(body, "device");
    *hours = json_object_get(body, "hours");
    if (!json_is_object(body) || json_object_size(body) != 2 || device->at == NULL || !json_is_array(*hours))
        return "It has device, a text, and hours, a list.";
    if (device->n == 0 || device->n >= DEVICE_BYTES || memchr(device->at, '\n', device->n) != NULL)
        return "device is its serial number, 1 to 40 bytes.";
    return json_array_size(*hours) > MOST_HOURS ? "At most 200 hours at once." : NULL;
}

static void push(tw_serve_request *request, const char *tub)
{
    json_error_t error;
    tw_store_fault fault;
    tw_text device;
    const json_t *hours = NULL;
    const tw_time now = request->serve->config.clock(request->serve->config.clock_of);
    json_t *body = json_loadb(request->body != NULL ? request->body : "", request->used, JSON_REJECT_DUPLICATES, &error);
    const char *wrong = body != NULL ? wrong_body(body, &device, &hours) : error.text;
    if (wrong != NULL) {
        tw_serve_reply_problem(request, TW_PROBLEM_BODY, wrong, NULL, NULL);
        json_decref(body);
        return;
    }
    const size_t n = json_array_size(hours);
    hour *all = calloc(n + 1, sizeof *all);
    tw_status status = all != NULL ? TW_OK : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        compose(json_array_get(hours, i), device, tub, now, &all[i]);
        status = settle(request->serve->writer, all, i, &fault);
    }
    if (status == TW_OK)
        status = write_all(request->serve->writer, all, n, &fault);
    if (status == TW_OK)
        reply_pushed(request, all, n);
    else
        tw_serve_reply_fault(request, &fault, status);
    free(all);
    json_decref(body);
    if (status == TW_OK)
        tw_serve_arrived(request->serve);
}

/* ---- what stands for now ------------------------------------------------------------------------------------ */

/* The last hour of each monitor and quantity; and what was taken back, which does not count. */
typedef struct {
    struct last {
        char device[DEVICE_BYTES], quantity[32], median[32], low[32], high[32], count[16], unit[16];
        tw_time at;
        int expires_min;
    } last[MOST_SHOWN];
    size_t shown;
    char (*void_id)[TW_ID_BYTES];
    size_t voids, room;
} shelf;

static tw_entry_room entry_room; /* large; of the desk that writes */

static tw_status note_void(void *to, tw_text line)
{
    shelf *all = to;
    tw_entry entry;
    if (tw_logbook_line_read(line, TW_CHECK_IMPORTED, &entry_room, &entry, NULL) != TW_OK || entry.kind != TW_KIND_VOID)
        return TW_OK;
    if (!tw_store_grow(&all->void_id, &all->room, all->voids + 1, sizeof *all->void_id))
        return TW_ERR_CAPACITY;
    const tw_text id = tw_logbook_text(&entry, TW_FIELD_TARGET);
    (void)snprintf(all->void_id[all->voids++], TW_ID_BYTES, "%.*s", (int)id.n, id.at);
    return TW_OK;
}

static int taken_back(const shelf *all, tw_text id)
{
    for (size_t i = 0; i < all->voids; i++)
        if (tw_units_text_is(id, all->void_id[i]))
            return 1;
    return 0;
}

static void keep_text(const tw_entry *entry, tw_field field, char *out, size_t cap)
{
    const tw_text text = tw_logbook_text(entry, field);
    (void)snprintf(out, cap, "%.*s", (int)text.n, text.n > 0 ? text.at : "");
}

static tw_status note_hour(void *to, tw_text line)
{
    shelf *all = to;
    tw_entry entry;
    if (tw_logbook_line_read(line, TW_CHECK_IMPORTED, &entry_room, &entry, NULL) != TW_OK || entry.kind != TW_KIND_MONITOR_HOUR)
        return TW_OK;
    const tw_text device = tw_logbook_text(&entry, TW_FIELD_SERIAL), quantity = tw_logbook_text(&entry, TW_FIELD_ANALYTE);
    const tw_serve_sensor_row *sensor = sensor_of(quantity);
    size_t i = 0;
    while (i < all->shown && !(tw_units_text_is(device, all->last[i].device) && tw_units_text_is(quantity, all->last[i].quantity)))
        i++;
    if (sensor == NULL || device.n >= DEVICE_BYTES || i == MOST_SHOWN || taken_back(all, entry.id) ||
        (i < all->shown && tw_units_time_compare(entry.at, all->last[i].at) <= 0))
        return TW_OK;
    struct last *one = &all->last[i];
    all->shown = i == all->shown ? i + 1 : all->shown;
    one->at = entry.at;
    one->expires_min = sensor->expires_min;
    keep_text(&entry, TW_FIELD_SERIAL, one->device, sizeof one->device);
    keep_text(&entry, TW_FIELD_ANALYTE, one->quantity, sizeof one->quantity);
    keep_text(&entry, TW_FIELD_MEDIAN, one->median, sizeof one->median);
    keep_text(&entry, TW_FIELD_LOW, one->low, sizeof one->low);
    keep_text(&entry, TW_FIELD_HIGH, one->high, sizeof one->high);
    keep_text(&entry, TW_FIELD_COUNT, one->count, sizeof one->count);
    keep_text(&entry, TW_FIELD_UNIT, one->unit, sizeof one->unit);
    return TW_OK;
}

static void set_where_said(json_t *object, const char *name, const char *value)
{
    if (value[0] != '\0')
        set(object, name, json_string(value));
}

static json_t *as_sensor(const struct last *one, tw_time now)
{
    const tw_time expires = later(one->at, one->expires_min);
    const int64_t age_s = now.utc_s > one->at.utc_s ? now.utc_s - one->at.utc_s : 0;
    const int stale = expires.utc_s <= now.utc_s;
    json_t *object = json_pack("{s:s, s:s, s:s, s:I, s:b}", "device", one->device, "quantity", one->quantity, "median", one->median, "age_s",
                               (json_int_t)age_s, "stale", stale);
    set(object, "at", time_text(one->at));
    set(object, "expires", time_text(expires));
    set_where_said(object, "low", one->low);
    set_where_said(object, "high", one->high);
    set_where_said(object, "count", one->count);
    set_where_said(object, "unit", one->unit);
    if (!stale)
        set(object, "now", json_string(one->median));
    return object;
}

static void tell(tw_serve_request *request, const char *tub)
{
    tw_store_fault fault;
    tw_store *store = request->serve->writer;
    const tw_time now = request->serve->config.clock(request->serve->config.clock_of);
    shelf *all = calloc(1, sizeof *all);
    tw_status status = all != NULL ? tw_store_of_tub(store, tw_units_text(tub), note_void, all, &fault)
                                   : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    if (status == TW_OK)
        status = tw_store_of_tub(store, tw_units_text(tub), note_hour, all, &fault);
    if (status == TW_OK) {
        json_t *list = json_array(), *object = json_object();
        for (size_t i = 0; i < all->shown; i++)
            (void)json_array_append_new(list, as_sensor(&all->last[i], now));
        set(object, "at", time_text(now));
        set(object, "sensors", list);
        reply_json(request, object);
    } else {
        tw_serve_reply_fault(request, &fault, status);
    }
    if (all != NULL)
        free(all->void_id);
    free(all);
}

/* ---- the desk ------------------------------------------------------------------------------------------------- */

static tw_status seen(void *to, tw_text line)
{
    (void)line;
    *(int *)to = 1;
    return TW_ERR_CAPACITY; /* one is enough */
}

static void at_desk(tw_serve_job *job)
{
    tw_serve_request *request = (tw_serve_request *)job;
    const tw_serve_who *who = &request->who;
    const int pushes = tw_serve_routes[request->route].gives == TW_GIVES_PUSHED;
    char tub[TW_ID_BYTES] = "";
    tw_store_fault fault;
    int known = 0;
    (void)snprintf(tub, sizeof tub, "%.*s", (int)(request->of.n < TW_ID_BYTES ? request->of.n : 0), request->of.at);
    (void)tw_store_of_tub(request->serve->writer, tw_units_text(tub), seen, &known, &fault);
    if (who->tub[0] != '\0' && strcmp(who->tub, tub) != 0)
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, "You are of one tub; this is another one.", NULL, NULL);
    else if (pushes && !tw_serve_role_writes(&tw_serve_roles[who->role], "monitor-hour"))
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, NULL, "role", tw_serve_roles[who->role].name);
    else if (!known)
        tw_serve_reply_problem(request, TW_PROBLEM_WHICH_TUB, "Here a tub is named by its id; GET /api/tubs tells it.", NULL, NULL);
    else if (pushes)
        push(request, tub);
    else
        tell(request, tub);
    tw_serve_release(request);
}

void tw_serve_sensors_act(tw_serve_request *request)
{
    (void)tw_serve_hold(request, &request->serve->writing, at_desk);
}
