/* logbook/book.c: lines come in, in any order, and stand in the order of the fold. */
#include "logbook/book.h"

#include <string.h>

#include "logbook/internal.h"
#include "logbook/shelf.h"
#include "num/require.h"
#include "units/decimal.h"

/* A part of the caller's memory, for double and pointers alike. */
static size_t rounded(size_t bytes)
{
    return (bytes + 15) / 16 * 16;
}

/* Required fields take well over 200 bytes, so even with the tiniest others a field has 8 bytes. */
static size_t pairs_for(size_t max_text)
{
    return max_text / 8 + TW_ENTRY_FIELDS;
}

size_t tw_logbook_book_bytes(size_t max_entries, size_t max_text)
{
    return rounded(sizeof(tw_book)) + rounded(max_entries * sizeof(tw_shelf_line))
           + 4 * rounded(max_entries * sizeof(uint32_t)) + rounded(pairs_for(max_text) * sizeof(tw_pair))
           + rounded(2 * max_text + 2 * TW_LINE_BYTES); /* values with escapes stand twice */
}

static void *part(char **at, size_t bytes)
{
    void *out = *at;
    *at += rounded(bytes);
    return out;
}

tw_status tw_logbook_book_init(void *mem, size_t bytes, size_t max_entries, size_t max_text, tw_book **out)
{
    TW_REQUIRE(max_entries < UINT32_MAX);
    if (bytes < tw_logbook_book_bytes(max_entries, max_text))
        return TW_ERR_CAPACITY;
    char *at = mem;
    tw_book *book = part(&at, sizeof(tw_book));
    memset(book, 0, sizeof *book);
    book->max_entries = max_entries;
    book->max_text = max_text;
    book->max_pairs = pairs_for(max_text);
    book->line = part(&at, max_entries * sizeof(tw_shelf_line));
    book->by_time = part(&at, max_entries * sizeof(uint32_t));
    book->by_id = part(&at, max_entries * sizeof(uint32_t));
    book->by_chain = part(&at, max_entries * sizeof(uint32_t));
    book->by_named = part(&at, max_entries * sizeof(uint32_t));
    book->pair = part(&at, book->max_pairs * sizeof(tw_pair));
    book->text = part(&at, 2 * max_text + 2 * TW_LINE_BYTES);
    *out = book;
    return TW_OK;
}

/* Orders. Each ends with the bytes of the line, so two different lines are never equal. */
typedef int order(const tw_shelf_line *a, const tw_shelf_line *b);

static int order_time(const tw_shelf_line *a, const tw_shelf_line *b)
{
    int side = tw_units_time_compare(a->entry.at, b->entry.at);
    if (side == 0)
        side = tw_units_text_compare(a->entry.id, b->entry.id);
    return side != 0 ? side : tw_units_text_compare(a->entry.line, b->entry.line);
}

static int order_id(const tw_shelf_line *a, const tw_shelf_line *b)
{
    const int side = tw_units_text_compare(a->entry.id, b->entry.id);
    return side != 0 ? side : tw_units_text_compare(a->entry.line, b->entry.line);
}

static int order_chain(const tw_shelf_line *a, const tw_shelf_line *b)
{
    const int side = tw_units_text_compare(a->entry.writer, b->entry.writer);
    if (side != 0)
        return side;
    if (a->n != b->n)
        return a->n < b->n ? -1 : 1;
    return tw_units_text_compare(a->entry.line, b->entry.line);
}

static int order_named(const tw_shelf_line *a, const tw_shelf_line *b)
{
    const int side = tw_units_text_compare(a->named, b->named);
    return side != 0 ? side : order_time(a, b);
}

/* The first place whose line does not come before `line`. Lines mostly arrive in order, so the end
 * is looked at first. */
static size_t place_of(const tw_book *book, const uint32_t *list, size_t count, order *compare,
                       const tw_shelf_line *line)
{
    if (count == 0 || compare(&book->line[list[count - 1]], line) < 0)
        return count;
    size_t low = 0, high = count - 1;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (compare(&book->line[list[middle]], line) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void insert(const tw_book *book, uint32_t *list, size_t count, order *compare, uint32_t number)
{
    const size_t at = place_of(book, list, count, compare, &book->line[number]);
    memmove(list + at + 1, list + at, (count - at) * sizeof *list);
    list[at] = number;
}

/* The first place in by_id whose id is not before this one. */
static size_t first_of_id(const tw_book *book, tw_text id)
{
    size_t low = 0, high = book->count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (tw_units_text_compare(book->line[book->by_id[middle]].entry.id, id) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The entry that another one names, if its kind names one. */
static tw_text named_by(const tw_entry *entry)
{
    const tw_text none = {"", 0};
    switch (entry->kind) {
    case TW_KIND_VOID:
        return tw_logbook_text(entry, TW_FIELD_TARGET);
    case TW_KIND_RESPONSE:
    case TW_KIND_ADDITION:
        return tw_logbook_text(entry, TW_FIELD_INTENT);
    case TW_KIND_REPLY:
        return tw_logbook_text(entry, TW_FIELD_ABOUT);
    case TW_KIND_TUB:
    case TW_KIND_PLATE:
    case TW_KIND_VOLUME:
    case TW_KIND_SOURCE:
    case TW_KIND_READING:
    case TW_KIND_STANDARD:
    case TW_KIND_INTENT:
    case TW_KIND_EXCHANGE:
    case TW_KIND_SETTING:
    case TW_KIND_BATHERS:
    case TW_KIND_PART:
    case TW_KIND_CARE:
    case TW_KIND_POWER_CUT:
    case TW_KIND_MONITOR_HOUR:
    case TW_KIND_VISIT:
    case TW_KIND_SYMPTOM:
    case TW_KIND_NOTE:
    case TW_KIND_WAIVER:
    case TW_KIND_DEFINITION:
    case TW_KIND_READY_BY:
    case TW_KIND_STOCK:
    case TW_KINDS:
    default:
        return none;
    }
}

static uint32_t number_of(const tw_entry *entry)
{
    double n = 0.0;
    (void)tw_logbook_number(entry, TW_FIELD_N, &n); /* checked: 1..999999999 */
    return (uint32_t)n;
}

/* Of lines with one id the first in order of bytes is used; the others are beaten. */
static tw_added settle_id(tw_book *book, uint32_t number)
{
    tw_shelf_line *line = &book->line[number];
    const size_t at = place_of(book, book->by_id, book->count, order_id, line);
    tw_added added = TW_ADDED_NEW;
    if (at > 0 && tw_units_text_equal(book->line[book->by_id[at - 1]].entry.id, line->entry.id)) {
        line->beaten = 1;
        added = TW_ADDED_CONFLICT;
    }
    if (at < book->count && tw_units_text_equal(book->line[book->by_id[at]].entry.id, line->entry.id)) {
        book->line[book->by_id[at]].beaten = 1;
        added = TW_ADDED_CONFLICT;
    }
    return added;
}

/* A void marks every line with the id that it names; a line that comes after its void is marked as it comes. */
static void aim(tw_book *book, uint32_t number)
{
    tw_shelf_line *line = &book->line[number];
    const tw_shelf_line *other;
    for (size_t at = tw_logbook_shelf_named(book, line->entry.id);
         (other = tw_logbook_shelf_naming(book, at, line->entry.id)) != NULL; at++)
        line->aimed_at |= other->entry.kind == TW_KIND_VOID;
    if (line->entry.kind != TW_KIND_VOID)
        return;
    for (size_t at = first_of_id(book, line->named); at < book->count; at++) {
        tw_shelf_line *aimed = &book->line[book->by_id[at]];
        if (!tw_units_text_equal(aimed->entry.id, line->named))
            return;
        aimed->aimed_at = 1;
    }
}

/* Is this line there already? */
static int is_there(const tw_book *book, const tw_shelf_line *line)
{
    const size_t at = place_of(book, book->by_id, book->count, order_id, line);
    return at < book->count && tw_units_text_equal(book->line[book->by_id[at]].entry.line, line->entry.line);
}

/* Read a line into the end of the book's memory, without taking it in yet. *text_end is where the
 * bytes of the line and its values without escapes end. */
static tw_status read_line(tw_book *book, tw_text line, tw_shelf_line *out, size_t *text_end, tw_fault *fault)
{
    const tw_text none = {"", 0};
    if (line.n > TW_LINE_BYTES)
        return tw_logbook_fault_set(fault, TW_FAULT_LINE_LONG, none, none, tw_units_text("8192 bytes"));
    char *copy = book->text + book->text_used;
    if (line.n > 0)
        memcpy(copy, line.at, line.n);
    const tw_text kept = {copy, line.n};
    tw_status status = tw_logbook_line_split_into(kept, book->pair + book->pairs_used, copy + line.n, &out->entry, fault);
    if (status == TW_OK)
        status = tw_logbook_check(&out->entry, TW_CHECK_IMPORTED, fault);
    if (status != TW_OK)
        return status;
    *text_end = book->text_used + line.n;
    for (uint32_t i = 0; i < out->entry.pairs; i++) { /* names and values with escapes lie behind the line */
        const tw_text both[2] = {out->entry.pair[i].name, out->entry.pair[i].value};
        for (int k = 0; k < 2; k++)
            if (both[k].n > 0 && (size_t)(both[k].at - book->text) >= *text_end)
                *text_end = (size_t)(both[k].at - book->text) + both[k].n;
    }
    return TW_OK;
}

tw_status tw_logbook_book_add_line(tw_book *book, tw_text line, tw_added *added, tw_fault *fault)
{
    size_t text_end = 0;
    tw_shelf_line made;
    if (fault)
        fault->id = TW_FAULT_NONE;
    /* The reader needs room for one line of any length; that much is always kept behind max_text. */
    if (book->text_used > 2 * book->max_text || book->pairs_used + TW_ENTRY_FIELDS > book->max_pairs)
        return TW_ERR_CAPACITY;
    memset(&made, 0, sizeof made);
    tw_status status = read_line(book, line, &made, &text_end, fault);
    if (status != TW_OK)
        return status;
    if (is_there(book, &made)) {
        if (added)
            *added = TW_ADDED_SAME;
        return TW_OK;
    }
    if (book->count == book->max_entries || text_end > 2 * book->max_text)
        return TW_ERR_CAPACITY;
    made.named = named_by(&made.entry);
    made.n = number_of(&made.entry);
    tw_sha256(made.entry.line.at, made.entry.line.n, made.hash);

    const uint32_t number = (uint32_t)book->count;
    book->line[number] = made;
    const tw_added what = settle_id(book, number);
    insert(book, book->by_time, book->count, order_time, number);
    insert(book, book->by_id, book->count, order_id, number);
    insert(book, book->by_chain, book->count, order_chain, number);
    if (made.named.n > 0)
        insert(book, book->by_named, book->named_count++, order_named, number);
    book->count++;
    aim(book, number);
    book->text_used = text_end;
    book->pairs_used += made.entry.pairs;
    if (added)
        *added = what;
    return TW_OK;
}

size_t tw_logbook_book_count(const tw_book *book)
{
    return book->count;
}

const tw_entry *tw_logbook_book_at(const tw_book *book, size_t index)
{
    TW_REQUIRE(index < book->count);
    return &book->line[book->by_time[index]].entry;
}

const uint8_t *tw_logbook_book_hash(const tw_book *book, size_t index)
{
    TW_REQUIRE(index < book->count);
    return book->line[book->by_time[index]].hash;
}

size_t tw_logbook_shelf_place(const tw_book *book, const tw_shelf_line *line)
{
    return place_of(book, book->by_time, book->count, order_time, line);
}

const tw_shelf_line *tw_logbook_shelf_find(const tw_book *book, tw_text id)
{
    const size_t low = first_of_id(book, id);
    if (low == book->count || !tw_units_text_equal(book->line[book->by_id[low]].entry.id, id))
        return NULL;
    return &book->line[book->by_id[low]];
}

size_t tw_logbook_shelf_named(const tw_book *book, tw_text id)
{
    size_t low = 0, high = book->named_count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (tw_units_text_compare(book->line[book->by_named[middle]].named, id) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

const tw_shelf_line *tw_logbook_shelf_naming(const tw_book *book, size_t at, tw_text id)
{
    if (at >= book->named_count)
        return NULL;
    const tw_shelf_line *line = &book->line[book->by_named[at]];
    return tw_units_text_equal(line->named, id) ? line : NULL;
}
