/* logbook/chain.c: writers' chains, checked link by link, and the seal over their heads. */
#include "logbook/chain.h"

#include <string.h>

#include "logbook/shelf.h"
#include "num/require.h"
#include "units/decimal.h"

static const tw_shelf_line *line_at(const tw_book *book, size_t at)
{
    return at < book->count ? &book->line[book->by_chain[at]] : NULL;
}

static int same_writer(const tw_shelf_line *a, const tw_shelf_line *b)
{
    return tw_units_text_equal(a->entry.writer, b->entry.writer);
}

/* Does `after` name this line as the one before it? */
static int names(const tw_shelf_line *after, const tw_shelf_line *line)
{
    char hash[TW_SHA256_HEX];
    tw_sha256_hex(line->hash, hash);
    return tw_units_text_is(tw_logbook_text(&after->entry, TW_FIELD_PREV), hash);
}

/* End of the lines that share the writer and the number of the one at `from`. */
static size_t number_end(const tw_book *book, size_t from)
{
    const tw_shelf_line *first = line_at(book, from), *line;
    size_t at = from;
    while ((line = line_at(book, at)) != NULL && same_writer(first, line) && line->n == first->n)
        at++;
    return at;
}

/* End of the lines of the writer of the one at `from`. */
static size_t writer_end(const tw_book *book, size_t from)
{
    const tw_shelf_line *first = line_at(book, from), *line;
    size_t at = from;
    while ((line = line_at(book, at)) != NULL && same_writer(first, line))
        at++;
    return at;
}

/* Heads are told one by one to `tell`, in order of writer, number and hash. */
typedef void teller(void *to, const tw_shelf_line *head);

static int is_named(const tw_book *book, const tw_shelf_line *line, size_t next, size_t end)
{
    for (size_t at = next; at < end; at++)
        if (line_at(book, at)->n == line->n + 1 && names(line_at(book, at), line))
            return 1;
    return 0;
}

static void tell_heads(const tw_book *book, teller *tell, void *to)
{
    for (size_t from = 0; from < book->count;) {
        const size_t next = number_end(book, from);
        size_t end = next;
        if (next < book->count && same_writer(line_at(book, from), line_at(book, next)))
            end = number_end(book, next);
        /* Of several with one number, mostly one, in order of hash: the least that is above the last. */
        const tw_shelf_line *last = NULL;
        for (size_t told = from; told < next; told++) {
            const tw_shelf_line *least = NULL;
            for (size_t at = from; at < next; at++) {
                const tw_shelf_line *line = line_at(book, at);
                if ((!last || memcmp(line->hash, last->hash, TW_SHA256_BYTES) > 0)
                    && (!least || memcmp(line->hash, least->hash, TW_SHA256_BYTES) < 0))
                    least = line;
            }
            if (least && !is_named(book, least, next, end))
                tell(to, least);
            last = least;
        }
        from = next;
    }
}

typedef struct {
    tw_chain_head *out;
    size_t cap, count;
} head_list;

static void list_head(void *to, const tw_shelf_line *head)
{
    head_list *list = to;
    if (list->count < list->cap) {
        tw_chain_head *out = &list->out[list->count];
        out->writer = head->entry.writer;
        out->n = head->n;
        out->entry = &head->entry;
        out->hash = head->hash;
    }
    list->count++;
}

tw_status tw_logbook_chain_heads(const tw_book *book, tw_chain_head *out, size_t cap, size_t *count)
{
    head_list list = {out, cap, 0};
    tell_heads(book, list_head, &list);
    *count = list.count;
    return list.count > cap ? TW_ERR_CAPACITY : TW_OK;
}

static void seal_head(void *to, const tw_shelf_line *head)
{
    tw_sha256_state *state = to;
    char count[TW_DECIMAL_BYTES], hash[TW_SHA256_HEX];
    const size_t n = tw_units_decimal_write(head->n, 0, count, sizeof count);
    tw_sha256_hex(head->hash, hash);
    tw_sha256_update(state, head->entry.writer.at, head->entry.writer.n);
    tw_sha256_update(state, " ", 1);
    tw_sha256_update(state, count, n);
    tw_sha256_update(state, " ", 1);
    tw_sha256_update(state, hash, TW_SHA256_HEX - 1);
    tw_sha256_update(state, "\n", 1);
}

void tw_logbook_chain_seal(const tw_book *book, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    tw_sha256_init(&state);
    tell_heads(book, seal_head, &state);
    tw_sha256_final(&state, out);
}

typedef struct {
    tw_chain_trouble *out;
    size_t cap, count;
} trouble_list;

static void add(trouble_list *list, tw_chain_fault kind, tw_text writer, uint32_t n, uint32_t last,
                const tw_shelf_line *line, const tw_shelf_line *after)
{
    if (list->count < list->cap) {
        tw_chain_trouble *out = &list->out[list->count];
        out->kind = kind;
        out->writer = writer;
        out->n = n;
        out->last = last;
        out->entry = line ? &line->entry : NULL;
        out->after = after ? &after->entry : NULL;
        out->hash = line ? line->hash : NULL;
        out->named = after ? tw_logbook_text(&after->entry, TW_FIELD_PREV) : (tw_text){"", 0};
    }
    list->count++;
}

/* Lines from..next-1 share a number, next..end-1 have the following one: is each of these linked to
 * one of those? The first that is not is returned. */
static const tw_shelf_line *unlinked(const tw_book *book, size_t from, size_t next, size_t end)
{
    for (size_t after = next; after < end; after++) {
        int linked = 0;
        for (size_t at = from; at < next; at++)
            linked |= names(line_at(book, after), line_at(book, at));
        if (!linked)
            return line_at(book, after);
    }
    return NULL;
}

/* One number of a writer and its link to the next. A broken link is told as it is: of the two
 * entries that it joins, either the first was altered or what the second names. */
static void verify_number(const tw_book *book, size_t from, size_t end_of_writer, trouble_list *list)
{
    const size_t next = number_end(book, from);
    const tw_shelf_line *line = line_at(book, from);
    for (size_t at = from; next - from > 1 && at < next; at++)
        add(list, TW_CHAIN_FORKED, line->entry.writer, line->n, line->n, line_at(book, at), NULL);
    if (next == end_of_writer)
        return;
    const tw_shelf_line *after = line_at(book, next);
    if (after->n != line->n + 1) {
        add(list, TW_CHAIN_MISSING, line->entry.writer, line->n + 1, after->n - 1, NULL, after);
        return;
    }
    const tw_shelf_line *odd = unlinked(book, from, next, number_end(book, next));
    if (odd)
        add(list, TW_CHAIN_ALTERED, line->entry.writer, line->n, line->n, line, odd);
}

tw_status tw_logbook_chain_verify(const tw_book *book, tw_chain_trouble *out, size_t cap, size_t *count)
{
    trouble_list list = {out, cap, 0};
    for (size_t from = 0; from < book->count;) {
        const size_t end = writer_end(book, from);
        const tw_shelf_line *first = line_at(book, from);
        if (first->n > 1)
            add(&list, TW_CHAIN_MISSING, first->entry.writer, 1, first->n - 1, NULL, first);
        for (size_t at = from; at < end; at = number_end(book, at))
            verify_number(book, at, end, &list);
        from = end;
    }
    *count = list.count;
    return list.count > cap ? TW_ERR_CAPACITY : TW_OK;
}

void tw_logbook_chain_last(const tw_book *book, tw_text writer, uint32_t *n, uint8_t hash[TW_SHA256_BYTES])
{
    *n = 0;
    for (size_t at = 0; at < book->count; at++) {
        const tw_shelf_line *line = line_at(book, at);
        if (!tw_units_text_equal(line->entry.writer, writer))
            continue;
        if (line->n > *n || (line->n == *n && memcmp(line->hash, hash, TW_SHA256_BYTES) < 0))
            memcpy(hash, line->hash, TW_SHA256_BYTES);
        *n = line->n > *n ? line->n : *n;
    }
}

const char *tw_logbook_chain_fault_name(tw_chain_fault kind)
{
    static const char *const NAME[TW_CHAIN_FAULTS] = {"missing", "altered", "forked"};
    TW_REQUIRE((unsigned)kind < (unsigned)TW_CHAIN_FAULTS);
    return NAME[kind];
}
