/* logbook/use.c: what of a book counts at a time: voids, tubs, settings, open intents, digests. */
#include "logbook/book.h"

#include <string.h>

#include "logbook/shelf.h"
#include "num/require.h"

const tw_shelf_line *tw_logbook_shelf_void_of(const tw_book *book, const tw_shelf_line *line, tw_time now)
{
    if (!line->aimed_at || line->entry.kind == TW_KIND_VOID)
        return NULL; /* a void cannot be voided */
    const tw_shelf_line *other;
    for (size_t at = tw_logbook_shelf_named(book, line->entry.id);
         (other = tw_logbook_shelf_naming(book, at, line->entry.id)) != NULL; at++)
        if (other->entry.kind == TW_KIND_VOID && !other->beaten && tw_units_time_compare(other->entry.at, now) <= 0
            && tw_units_text_equal(other->entry.tub, line->entry.tub))
            return other;
    return NULL;
}

int tw_logbook_shelf_used(const tw_book *book, const tw_shelf_line *line, tw_time now)
{
    return !line->beaten && line->entry.kind != TW_KIND_VOID && tw_units_time_compare(line->entry.at, now) <= 0
           && tw_logbook_shelf_void_of(book, line, now) == NULL;
}

size_t tw_logbook_book_find(const tw_book *book, tw_text id)
{
    const tw_shelf_line *line = tw_logbook_shelf_find(book, id);
    return line ? tw_logbook_shelf_place(book, line) : SIZE_MAX;
}

int tw_logbook_book_used(const tw_book *book, size_t index, tw_time now)
{
    TW_REQUIRE(index < book->count);
    return tw_logbook_shelf_used(book, &book->line[book->by_time[index]], now);
}

size_t tw_logbook_book_voided_by(const tw_book *book, size_t index, tw_time now)
{
    TW_REQUIRE(index < book->count);
    const tw_shelf_line *by = tw_logbook_shelf_void_of(book, &book->line[book->by_time[index]], now);
    return by ? tw_logbook_shelf_place(book, by) : SIZE_MAX;
}

const tw_entry *tw_logbook_book_next(const tw_book *book, tw_text tub, tw_time now, size_t *cursor)
{
    while (*cursor < book->count) {
        const tw_shelf_line *line = &book->line[book->by_time[(*cursor)++]];
        if (tw_units_time_compare(line->entry.at, now) > 0) {
            *cursor = book->count; /* later ones stand behind */
            return NULL;
        }
        if ((tub.n == 0 || tw_units_text_equal(line->entry.tub, tub)) && tw_logbook_shelf_used(book, line, now))
            return &line->entry;
    }
    return NULL;
}

/* The latest used entry of a kind, of a setting when what >= 0. */
static const tw_entry *latest(const tw_book *book, tw_text tub, tw_time now, tw_kind kind, int what)
{
    for (size_t i = book->count; i > 0; i--) {
        const tw_shelf_line *line = &book->line[book->by_time[i - 1]];
        if (line->entry.kind == kind && (tub.n == 0 || tw_units_text_equal(line->entry.tub, tub))
            && (what < 0 || tw_logbook_word(&line->entry, TW_FIELD_WHAT) == what)
            && tw_logbook_shelf_used(book, line, now))
            return &line->entry;
    }
    return NULL;
}

const tw_entry *tw_logbook_book_latest(const tw_book *book, tw_text tub, tw_time now, tw_kind kind)
{
    return latest(book, tub, now, kind, -1);
}

const tw_entry *tw_logbook_book_setting(const tw_book *book, tw_text tub, tw_time now, int what)
{
    TW_REQUIRE(what >= 0 && what < TW_SETTING_WORDS);
    return latest(book, tub, now, TW_KIND_SETTING, what);
}

/* A number with a unit of mass or volume. */
static tw_status portion(const tw_entry *entry, tw_field field, double *amount, tw_quantity *quantity)
{
    tw_unit unit;
    tw_status status = tw_logbook_si(entry, field, amount);
    if (status == TW_OK)
        status = tw_logbook_unit(entry, field, &unit);
    if (status == TW_OK)
        *quantity = tw_units_row(unit)->quantity;
    return status;
}

tw_status tw_logbook_book_amount(const tw_book *book, const tw_entry *addition, tw_time now, double *amount,
                                 tw_quantity *quantity)
{
    double full = 0.0;
    const tw_status status = portion(addition, TW_FIELD_AMOUNT, amount, quantity);
    if (status != TW_OK || *quantity != TW_QUANTITY_NUMBER)
        return status;
    const tw_shelf_line *scoop = tw_logbook_shelf_find(book, tw_logbook_text(addition, TW_FIELD_SCOOP));
    if (!scoop || scoop->entry.kind != TW_KIND_DEFINITION || !tw_logbook_shelf_used(book, scoop, now)
        || tw_logbook_word(&scoop->entry, TW_FIELD_DEFINES) != TW_DEFINES_SCOOP
        || portion(&scoop->entry, TW_FIELD_FULL, &full, quantity) != TW_OK)
        return TW_ERR_UNKNOWN;
    *amount *= full;
    return TW_OK;
}

/* Take over what a tub entry says. */
static void correct(tw_tub *tub, const tw_entry *entry)
{
    double volume_l;
    tub->name = tw_logbook_text(entry, TW_FIELD_NAME);
    if (tw_logbook_has(entry, TW_FIELD_PLACE))
        tub->place = tw_logbook_text(entry, TW_FIELD_PLACE);
    if (tw_logbook_has(entry, TW_FIELD_PROFILE))
        tub->profile = tw_logbook_text(entry, TW_FIELD_PROFILE);
    if (tw_logbook_has(entry, TW_FIELD_USE))
        tub->use = tw_logbook_word(entry, TW_FIELD_USE);
    if (tw_logbook_has(entry, TW_FIELD_START))
        tub->start = tw_logbook_word(entry, TW_FIELD_START);
    if (tw_logbook_si(entry, TW_FIELD_VOLUME, &volume_l) == TW_OK) {
        tub->has_volume = 1;
        tub->volume_l = volume_l;
        tub->volume_entry = entry;
    }
}

tw_status tw_logbook_book_tub(const tw_book *book, tw_text id, tw_time now, tw_tub *out)
{
    const tw_text none = {"", 0};
    const tw_entry *entry;
    size_t cursor = 0;
    memset(out, 0, sizeof *out);
    out->id = id;
    out->name = out->place = out->profile = none;
    out->use = out->start = -1;
    while (id.n > 0 && (entry = tw_logbook_book_next(book, id, now, &cursor)) != NULL) {
        out->entries++;
        out->newer |= entry->newer;
        if (entry->kind != TW_KIND_TUB)
            continue;
        if (!out->first) {
            out->first = entry;
            out->id = entry->tub;
        }
        correct(out, entry);
    }
    return out->first ? TW_OK : TW_ERR_UNKNOWN;
}

/* 1 when an earlier used tub entry already made this tub. */
static int made_before(const tw_book *book, const tw_entry *entry, size_t index, tw_time now)
{
    for (size_t i = 0; i < index; i++) {
        const tw_shelf_line *line = &book->line[book->by_time[i]];
        if (line->entry.kind == TW_KIND_TUB && tw_units_text_equal(line->entry.tub, entry->tub)
            && tw_logbook_shelf_used(book, line, now))
            return 1;
    }
    return 0;
}

tw_status tw_logbook_book_tubs(const tw_book *book, tw_time now, tw_tub *out, size_t cap, size_t *count)
{
    const tw_text every = {"", 0};
    const tw_entry *entry;
    size_t cursor = 0;
    *count = 0;
    while ((entry = tw_logbook_book_next(book, every, now, &cursor)) != NULL) {
        if (entry->kind != TW_KIND_TUB || made_before(book, entry, cursor - 1, now))
            continue;
        if (*count < cap)
            (void)tw_logbook_book_tub(book, entry->tub, now, &out[*count]);
        (*count)++;
    }
    return *count > cap ? TW_ERR_CAPACITY : TW_OK;
}

int tw_logbook_book_intent_open(const tw_book *book, const tw_entry *intent, tw_time now)
{
    const tw_shelf_line *line;
    for (size_t at = tw_logbook_shelf_named(book, intent->id);
         (line = tw_logbook_shelf_naming(book, at, intent->id)) != NULL; at++) {
        const int answers = line->entry.kind == TW_KIND_ADDITION
                            || (line->entry.kind == TW_KIND_RESPONSE
                                && tw_logbook_word(&line->entry, TW_FIELD_OUTCOME) != TW_OUTCOME_WILL);
        if (answers && tw_units_text_equal(line->entry.tub, intent->tub) && tw_logbook_shelf_used(book, line, now))
            return 0;
    }
    return 1;
}

tw_status tw_logbook_book_open_intents(const tw_book *book, tw_text tub, tw_time now, const tw_entry **out,
                                       size_t cap, size_t *count)
{
    const tw_entry *entry;
    size_t cursor = 0;
    *count = 0;
    while ((entry = tw_logbook_book_next(book, tub, now, &cursor)) != NULL) {
        if (entry->kind != TW_KIND_INTENT || !tw_logbook_book_intent_open(book, entry, now))
            continue;
        if (*count < cap)
            out[*count] = entry;
        (*count)++;
    }
    return *count > cap ? TW_ERR_CAPACITY : TW_OK;
}

static void digest_line(tw_sha256_state *state, const tw_shelf_line *line)
{
    tw_sha256_update(state, line->hash, sizeof line->hash);
}

void tw_logbook_book_digest_prefix(const tw_book *book, size_t n, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    TW_REQUIRE(n <= book->count);
    tw_sha256_init(&state);
    for (size_t i = 0; i < n; i++)
        digest_line(&state, &book->line[book->by_time[i]]);
    tw_sha256_final(&state, out);
}

void tw_logbook_book_digest(const tw_book *book, uint8_t out[TW_SHA256_BYTES])
{
    tw_logbook_book_digest_prefix(book, book->count, out);
}

void tw_logbook_book_digest_tub(const tw_book *book, tw_text tub, tw_time now, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    tw_sha256_init(&state);
    for (size_t i = 0; i < book->count; i++) {
        const tw_shelf_line *line = &book->line[book->by_time[i]];
        if (tw_units_time_compare(line->entry.at, now) <= 0 && tw_units_text_equal(line->entry.tub, tub))
            digest_line(&state, line);
    }
    tw_sha256_final(&state, out);
}
