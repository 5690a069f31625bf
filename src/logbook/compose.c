/* logbook/compose.c: typed fields to the canonical line. Only the form is made canonical here; what
 * is allowed is checked by reading the line that was made, so typing and import say the same. */
#include "logbook/compose.h"

#include <stdint.h>
#include <string.h>

#include "logbook/internal.h"
#include "logbook/line.h"
#include "num/require.h"
#include "num/sha256.h"
#include "units/decimal.h"

#define FORM_BYTES 72 /* the longest value that changes its form: a hash */

static tw_text trimmed(tw_text text)
{
    while (text.n > 0 && (text.at[0] == ' ' || text.at[0] == '\t'))
        text = tw_units_text_part(text, 1, text.n - 1);
    while (text.n > 0 && (text.at[text.n - 1] == ' ' || text.at[text.n - 1] == '\t'))
        text.n--;
    return text;
}

/* Small letters in room; the text itself when it is too long to be a word. */
static tw_text lowered(tw_text text, char room[FORM_BYTES])
{
    if (text.n > FORM_BYTES)
        return text;
    for (size_t i = 0; i < text.n; i++)
        room[i] = text.at[i] >= 'A' && text.at[i] <= 'Z' ? (char)(text.at[i] - 'A' + 'a') : text.at[i];
    const tw_text out = {room, text.n};
    return out;
}

/* The canonical form of a value; the value as typed where it has none, for the check to refuse. */
static tw_text canonical(const tw_field_row *row, tw_text value, char room[FORM_BYTES])
{
    size_t length;
    tw_unit unit;
    tw_text low;
    switch (row->type) {
    case TW_TYPE_DECIMAL:
    case TW_TYPE_COUNT:
        if (tw_logbook_two_meanings(value, room))
            return value;
        if (tw_units_decimal_canonical(value, room, FORM_BYTES, &length) != TW_OK)
            return value;
        low.at = room, low.n = length;
        return low;
    case TW_TYPE_UNIT:
        return tw_units_find_typed(value, &unit) == TW_OK ? tw_units_text(tw_units_row(unit)->word) : value;
    case TW_TYPE_WORD:
        low = lowered(value, room);
        if (row->set != TW_SETS) {
            const int word = tw_logbook_find_word(row->set, low);
            if (word >= 0)
                return tw_units_text(tw_logbook_word_name(row->set, word));
        }
        return low;
    case TW_TYPE_UUID:
    case TW_TYPE_HASH:
        return lowered(value, room);
    case TW_TYPE_TIME:
    case TW_TYPE_DATE:
    case TW_TYPE_TEXT:
    case TW_TYPES:
    default:
        return value;
    }
}

static tw_kind kind_of(const tw_typed *typed, size_t n)
{
    char room[FORM_BYTES];
    for (size_t i = 0; i < n; i++)
        if (tw_units_text_is(trimmed(typed[i].field), "kind"))
            return tw_logbook_find_kind(lowered(trimmed(typed[i].value), room));
    return TW_KINDS;
}

/* Write the pairs and read the line back with all checks. */
static tw_status write_checked(const tw_entry *entry, tw_check_mode mode, char *buf, size_t cap, size_t *length,
                               tw_fault *fault)
{
    const tw_text none = {"", 0};
    tw_entry_room room;
    tw_entry read;
    tw_status status = tw_logbook_line_write(entry, buf, cap, length);
    if (status == TW_ERR_FORMAT) /* a name stands twice */
        for (uint32_t i = 0; i < entry->pairs; i++)
            for (uint32_t j = 0; j < i; j++)
                if (tw_units_text_equal(entry->pair[i].name, entry->pair[j].name))
                    return tw_logbook_fault_set(fault, TW_FAULT_TWICE, entry->pair[i].name, none, none);
    if (status == TW_ERR_CAPACITY && cap >= TW_LINE_BYTES)
        return tw_logbook_fault_set(fault, TW_FAULT_LINE_LONG, none, none, tw_units_text("8192 bytes"));
    if (status != TW_OK)
        return status;
    const tw_text line = {buf, *length};
    status = tw_logbook_line_read(line, mode, &room, &read, fault);
    if (status != TW_OK)
        *length = 0;
    return status;
}

tw_status tw_logbook_compose(const tw_typed *typed, size_t n, tw_check_mode mode, char *buf, size_t cap,
                             size_t *length, tw_fault *fault)
{
    char room[TW_ENTRY_FIELDS][FORM_BYTES];
    tw_pair pair[TW_ENTRY_FIELDS];
    tw_entry entry = {0};
    const tw_text none = {"", 0};
    *length = 0;
    if (fault)
        fault->id = TW_FAULT_NONE;
    if (n > TW_ENTRY_FIELDS)
        return tw_logbook_fault_set(fault, TW_FAULT_MANY, typed[TW_ENTRY_FIELDS].field, none,
                                    tw_units_text("48 fields"));
    const tw_kind kind = mode == TW_CHECK_IMPORTED ? TW_KINDS : kind_of(typed, n);
    for (size_t i = 0; i < n; i++) {
        pair[i].name = typed[i].field;
        pair[i].value = typed[i].value;
        pair[i].field = TW_FIELDS;
        if (mode == TW_CHECK_IMPORTED)
            continue;
        pair[i].name = trimmed(typed[i].field);
        pair[i].value = trimmed(typed[i].value);
        pair[i].field = tw_logbook_find_field(pair[i].name);
        const tw_field_row *row =
            pair[i].field == TW_FIELDS ? NULL : tw_logbook_field_row(kind, pair[i].field);
        if (row)
            pair[i].value = canonical(row, pair[i].value, room[i]);
    }
    entry.pair = pair;
    entry.pairs = (uint32_t)n;
    return write_checked(&entry, mode, buf, cap, length, fault);
}

/* Set a field of a list of pairs, or add it. */
static tw_status set_pair(tw_pair *pair, uint32_t *pairs, const char *name, tw_text value, tw_fault *fault)
{
    const tw_text none = {"", 0}, field = tw_units_text(name);
    uint32_t i = 0;
    while (i < *pairs && !tw_units_text_equal(pair[i].name, field))
        i++;
    if (i == TW_ENTRY_FIELDS)
        return tw_logbook_fault_set(fault, TW_FAULT_MANY, field, none, tw_units_text("48 fields"));
    pair[i].name = field;
    pair[i].value = value;
    pair[i].field = tw_logbook_find_field(field);
    if (i == *pairs)
        (*pairs)++;
    return TW_OK;
}

static void drop_pair(tw_pair *pair, uint32_t *pairs, const char *name)
{
    for (uint32_t i = 0; i < *pairs; i++)
        if (tw_units_text_is(pair[i].name, name)) {
            memmove(pair + i, pair + i + 1, (*pairs - i - 1) * sizeof *pair);
            (*pairs)--;
            return;
        }
}

tw_status tw_logbook_compose_chained(tw_text draft, tw_text writer, uint32_t number, const uint8_t *prev,
                                     char *buf, size_t cap, size_t *length, tw_fault *fault)
{
    tw_entry_room room;
    tw_entry entry;
    char count[TW_DECIMAL_BYTES], hash[TW_SHA256_HEX];
    *length = 0;
    TW_REQUIRE(number >= 1 && (number == 1) == (prev == NULL));
    tw_status status = tw_logbook_line_split(draft, &room, &entry, fault);
    if (status != TW_OK)
        return status;
    (void)tw_units_decimal_write(number, 0, count, sizeof count);
    status = set_pair(room.pair, &entry.pairs, "n", tw_units_text(count), fault);
    if (status == TW_OK)
        status = set_pair(room.pair, &entry.pairs, "writer", writer, fault);
    if (status == TW_OK && prev) {
        tw_sha256_hex(prev, hash);
        status = set_pair(room.pair, &entry.pairs, "prev", tw_units_text(hash), fault);
    } else {
        drop_pair(room.pair, &entry.pairs, "prev");
    }
    return status == TW_OK ? write_checked(&entry, TW_CHECK_IMPORTED, buf, cap, length, fault) : status;
}
