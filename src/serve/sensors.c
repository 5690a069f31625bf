/* serve/sensors.c: hours of an in-line monitor, pushed by the device itself. An hour is an entry like any other, its id made of device, quantity and
 * time, so that whatever is sent again is there already. It stays what it is; but it stands for now only until its quantity expires
 * (data/sensors.csv). All of it is done at the desk that writes, so of two pushes at once one is the second. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/line.h"
#include "serve/hours.h"
#include "serve/inside.h"
#include "store/grow.h"

#define MOST_SHOWN 64      /* monitors times quantities of one tub                   */

/* ---- JSON ------------------------------------------------------------------------------------------------ */

static json_t *time_text(tw_time time)
{
    char text[TW_TIME_BYTES] = "";
    (void)tw_units_time_write(time, text, sizeof text);
    return json_string(text);
}

/* ---- push ------------------------------------------------------------------------------------------------- */

/* What is in the logbook or earlier in this push is not written again. */
static tw_status settle(tw_store *store, tw_serve_hour *all, size_t index, tw_store_fault *fault)
{
    tw_serve_hour *one = &all[index];
    if (one->taken == TW_HOUR_REFUSED)
        return TW_OK;
    for (size_t i = 0; i < index; i++)
        if (all[i].taken == TW_HOUR_STORED && strcmp(all[i].id, one->id) == 0) {
            (void)tw_serve_hour_same(one, (tw_text){all[i].line, all[i].n});
            return TW_OK;
        }
    const tw_status status = tw_store_of_id(store, tw_units_text(one->id), tw_serve_hour_same, one, fault);
    return status == TW_ERR_CAPACITY && one->taken == TW_HOUR_HAD ? TW_OK : status;
}

static tw_status write_all(tw_store *store, const tw_serve_hour *all, size_t n, tw_store_fault *fault)
{
    tw_text draft[TW_SERVE_MOST_HOURS];
    size_t drafts = 0;
    for (size_t i = 0; i < n; i++)
        if (all[i].taken == TW_HOUR_STORED)
            draft[drafts++] = (tw_text){all[i].line, all[i].n};
    return drafts > 0 ? tw_store_append_own(store, draft, drafts, NULL, NULL, fault) : TW_OK;
}

static json_t *as_pushed(const tw_serve_hour *one)
{
    static const char *const TAKEN[] = {"stored", "had", "refused"};
    json_t *object = json_pack("{s:s}", "taken", TAKEN[one->taken]);
    if (one->id[0] != '\0') {
        tw_serve_json_set(object, "id", json_string(one->id));
        tw_serve_json_set(object, "expires", time_text(one->expires));
        tw_serve_json_set(object, "stale", json_boolean(one->stale));
    }
    if (one->taken == TW_HOUR_REFUSED) {
        tw_serve_json_set(object, "reason", json_string(one->reason));
        tw_serve_json_set(object, "sentence", json_string(one->sentence));
    }
    return object;
}

static void reply_pushed(tw_serve_request *request, const tw_serve_hour *all, size_t n)
{
    size_t times[3] = {0};
    json_t *results = json_array();
    for (size_t i = 0; i < n; i++) {
        times[all[i].taken]++;
        (void)json_array_append_new(results, as_pushed(&all[i]));
    }
    json_t *object = json_pack("{s:I, s:I, s:I}", "stored", (json_int_t)times[TW_HOUR_STORED], "had", (json_int_t)times[TW_HOUR_HAD], "refused",
                               (json_int_t)times[TW_HOUR_REFUSED]);
    tw_serve_json_set(object, "results", results);
    tw_serve_reply_json(request, MHD_HTTP_OK, object);
}

static void push(tw_serve_request *request, const char *tub)
{
    json_error_t error;
    tw_store_fault fault;
    tw_text device;
    const json_t *hours = NULL;
    const tw_time now = request->serve->config.clock(request->serve->config.clock_of);
    json_t *body = json_loadb(request->body != NULL ? request->body : "", request->used, JSON_REJECT_DUPLICATES, &error);
    const char *wrong = body != NULL ? tw_serve_hours_read(body, &device, &hours) : error.text;
    if (wrong != NULL) {
        tw_serve_reply_problem(request, TW_PROBLEM_BODY, wrong, NULL, NULL);
        json_decref(body);
        return;
    }
    const size_t n = json_array_size(hours);
    tw_serve_hour *all = calloc(n + 1, sizeof *all);
    tw_status status = all != NULL ? TW_OK : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
        tw_serve_hour_compose(json_array_get(hours, i), device, tub, now, &all[i]);
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
        char device[TW_SERVE_DEVICE_BYTES], quantity[32], median[32], low[32], high[32], count[16], unit[16];
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
    const tw_serve_sensor_row *sensor = tw_serve_sensor_of(quantity);
    size_t i = 0;
    while (i < all->shown && !(tw_units_text_is(device, all->last[i].device) && tw_units_text_is(quantity, all->last[i].quantity)))
        i++;
    if (sensor == NULL || device.n >= TW_SERVE_DEVICE_BYTES || i == MOST_SHOWN || taken_back(all, entry.id) ||
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
        tw_serve_json_set(object, name, json_string(value));
}

static json_t *as_sensor(const struct last *one, tw_time now)
{
    const tw_time expires = tw_serve_hour_later(one->at, one->expires_min);
    const int64_t age_s = now.utc_s > one->at.utc_s ? now.utc_s - one->at.utc_s : 0;
    const int stale = expires.utc_s <= now.utc_s;
    json_t *object = json_pack("{s:s, s:s, s:s, s:I, s:b}", "device", one->device, "quantity", one->quantity, "median", one->median, "age_s",
                               (json_int_t)age_s, "stale", stale);
    tw_serve_json_set(object, "at", time_text(one->at));
    tw_serve_json_set(object, "expires", time_text(expires));
    set_where_said(object, "low", one->low);
    set_where_said(object, "high", one->high);
    set_where_said(object, "count", one->count);
    set_where_said(object, "unit", one->unit);
    if (!stale)
        tw_serve_json_set(object, "now", json_string(one->median));
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
        tw_serve_json_set(object, "at", time_text(now));
        tw_serve_json_set(object, "sensors", list);
        tw_serve_reply_json(request, MHD_HTTP_OK, object);
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
