/* What a client sends in a body, from any bytes: lines, a message of entries, hours of a monitor; and the text of a cursor. What is let through has the
 * form that the rest of the server relies on. The first byte says which. */
#include <jansson.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/line.h"
#include "serve/bodies.h"
#include "serve/hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static void look_at(const tw_sync_batch *batch, int hashes)
{
    size_t bytes = 0;
    must(batch->count <= TW_SERVE_MOST_ENTRIES);
    for (size_t i = 0; i < batch->count; i++) {
        const tw_text line = tw_sync_batch_line(batch, i);
        must(line.at >= batch->bytes && line.at + line.n <= batch->bytes + batch->used && (hashes || !batch->item[i].hashed));
        bytes += line.n;
    }
    must(bytes == batch->used);
}

static void lines(tw_text body)
{
    tw_sync_batch batch;
    memset(&batch, 0, sizeof batch);
    const int read = tw_serve_body_lines(body, &batch);
    look_at(&batch, 0);
    for (size_t i = 0; read && i < batch.count; i++) {
        const tw_text line = tw_sync_batch_line(&batch, i);
        must(line.n > 0 && memchr(line.at, '\n', line.n) == NULL);
    }
    tw_sync_batch_free(&batch);
}

static void message(const json_t *body)
{
    tw_sync_batch batch;
    tw_sync_way way;
    memset(&batch, 0, sizeof batch);
    memset(&way, 0, sizeof way);
    const char *wrong = tw_serve_body_message(body, &batch, &way);
    must(wrong != NULL || (batch.count == json_array_size(json_object_get(body, "entries")) && way.from_writer.at != NULL));
    look_at(&batch, 1);
    tw_sync_batch_free(&batch);
}

/* An hour that is not refused is a draft that is in order, and named by what is sent. */
static void hours(const json_t *body)
{
    static const tw_time NOW = {INT64_C(1774425600), 60};
    static tw_serve_hour one; /* large */
    static tw_entry_room room;
    tw_text device;
    const json_t *all = NULL;
    if (tw_serve_hours_read(body, &device, &all) != NULL)
        return;
    must(device.n > 0 && device.n < TW_SERVE_DEVICE_BYTES && json_array_size(all) <= TW_SERVE_MOST_HOURS);
    for (size_t i = 0; i < json_array_size(all); i++) {
        tw_entry entry;
        int version = 0;
        memset(&one, 0, sizeof one);
        tw_serve_hour_compose(json_array_get(all, i), device, "01890000-0000-7000-8000-00000000000a", NOW, &one);
        if (one.taken == TW_HOUR_REFUSED) {
            must(one.reason != NULL && one.sentence[0] != '\0');
            continue;
        }
        must(tw_logbook_line_read((tw_text){one.line, one.n}, TW_CHECK_DRAFT, &room, &entry, NULL) == TW_OK && entry.kind == TW_KIND_MONITOR_HOUR);
        must(tw_logbook_id_is(entry.id, &version) && version == 8 && entry.at.utc_s <= NOW.utc_s + 120);
        must(tw_serve_hour_same(&one, (tw_text){one.line, one.n}) == TW_ERR_CAPACITY && one.taken == TW_HOUR_HAD);
    }
}

static void cursor(tw_text text)
{
    uint64_t arrival = 0;
    tw_text digits;
    if (!tw_store_mark_split(text, &arrival, &digits))
        return;
    must(arrival > 0 && arrival < UINT64_C(1) << 60 && digits.n == TW_STORE_MARK_DIGITS && digits.at + digits.n == text.at + text.n);
    must(text.n < TW_STORE_MARK_BYTES);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0)
        return 0;
    /* Without a zero behind it: whoever reads one byte too far is found out. */
    const size_t n = size - 1;
    char *exact = malloc(n > 0 ? n : 1);
    if (exact == NULL)
        return 0;
    memcpy(exact, data + 1, n);
    const tw_text text = {exact, n};
    json_t *body = json_loadb(exact, n, JSON_REJECT_DUPLICATES, NULL);
    if (data[0] % 4 == 0)
        lines(text);
    else if (data[0] % 4 == 1)
        cursor(text);
    else if (body != NULL && data[0] % 4 == 2)
        message(body);
    else if (body != NULL)
        hours(body);
    json_decref(body);
    free(exact);
    return 0;
}
