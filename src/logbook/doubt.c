/* logbook/doubt.c: what is odd in a book. A doubt is data: asked about, shown, never a refusal. */
#include "logbook/book.h"

#include "logbook/shelf.h"
#include "num/require.h"

#define AHEAD_S 120          /* clocks of two devices and a minute rounded up         */
#define SAME_DOSE_S 900      /* two people write down one pour within a quarter hour  */
#define SAME_DOSE_SHARE 0.05 /* and one weighs 79 g where the other remembers 80      */

/* Where doubts go: the caller's list, and the count of all. */
typedef struct {
    const tw_book *book;
    tw_time now;
    tw_doubt *out;
    size_t cap, count;
} list;

static void add(list *l, tw_doubt_kind kind, const tw_shelf_line *line, const tw_shelf_line *other)
{
    if (l->count < l->cap) {
        l->out[l->count].kind = kind;
        l->out[l->count].entry = &line->entry;
        l->out[l->count].other = other ? &other->entry : NULL;
    }
    l->count++;
}

static int tub_is_known(const list *l, tw_text tub)
{
    for (size_t i = 0; i < l->book->count; i++) {
        const tw_shelf_line *line = &l->book->line[i];
        if (line->entry.kind == TW_KIND_TUB && tw_units_text_equal(line->entry.tub, tub)
            && tw_logbook_shelf_used(l->book, line, l->now))
            return 1;
    }
    return 0;
}

static void doubt_void(list *l, const tw_shelf_line *line)
{
    const tw_shelf_line *target = tw_logbook_shelf_find(l->book, line->named);
    if (!target)
        add(l, TW_DOUBT_VOID_MISSING, line, NULL);
    else if (target->entry.kind == TW_KIND_VOID)
        add(l, TW_DOUBT_VOID_OF_VOID, line, target);
    else if (!tw_units_text_equal(target->entry.tub, line->entry.tub))
        add(l, TW_DOUBT_VOID_ELSEWHERE, line, target);
}

/* The amounts of two additions are one amount, as well as two people can tell. */
static int same_amount(const tw_entry *a, const tw_entry *b)
{
    double x, y;
    tw_unit u, v;
    if (tw_logbook_unit(a, TW_FIELD_AMOUNT, &u) != TW_OK || tw_logbook_unit(b, TW_FIELD_AMOUNT, &v) != TW_OK
        || tw_units_row(u)->quantity != tw_units_row(v)->quantity || tw_logbook_si(a, TW_FIELD_AMOUNT, &x) != TW_OK
        || tw_logbook_si(b, TW_FIELD_AMOUNT, &y) != TW_OK)
        return 0;
    const double gap = x > y ? x - y : y - x, larger = x > y ? x : y;
    return gap <= SAME_DOSE_SHARE * larger;
}

/* A reply says that the two were two doses. */
static int told_apart(const list *l, const tw_entry *entry)
{
    const tw_shelf_line *reply;
    for (size_t at = tw_logbook_shelf_named(l->book, entry->id);
         (reply = tw_logbook_shelf_naming(l->book, at, entry->id)) != NULL; at++)
        if (reply->entry.kind == TW_KIND_REPLY
            && tw_units_text_is(tw_logbook_text(&reply->entry, TW_FIELD_QUESTION), "same-dose")
            && tw_logbook_word(&reply->entry, TW_FIELD_REPLY) == TW_YES_NO_UNKNOWN_NO
            && tw_logbook_shelf_used(l->book, reply, l->now))
            return 1;
    return 0;
}

static void doubt_dose(list *l, size_t index)
{
    const tw_shelf_line *line = &l->book->line[l->book->by_time[index]];
    const tw_entry *entry = &line->entry;
    for (size_t i = index; i > 0; i--) {
        const tw_shelf_line *before = &l->book->line[l->book->by_time[i - 1]];
        if (entry->at.utc_s - before->entry.at.utc_s > SAME_DOSE_S)
            return;
        if (before->entry.kind == TW_KIND_ADDITION && tw_units_text_equal(before->entry.tub, entry->tub)
            && !tw_units_text_equal(before->entry.writer, entry->writer)
            && tw_units_text_equal(tw_logbook_text(&before->entry, TW_FIELD_SUBSTANCE),
                                   tw_logbook_text(entry, TW_FIELD_SUBSTANCE))
            && same_amount(&before->entry, entry) && tw_logbook_shelf_used(l->book, before, l->now)
            && !told_apart(l, entry) && !told_apart(l, &before->entry))
            add(l, TW_DOUBT_SAME_DOSE, line, before);
    }
}

static void doubt_line(list *l, size_t index)
{
    const tw_shelf_line *line = &l->book->line[l->book->by_time[index]];
    const tw_entry *entry = &line->entry;
    if (line->beaten) {
        add(l, TW_DOUBT_SAME_ID, tw_logbook_shelf_find(l->book, entry->id), line);
        return;
    }
    if (tw_units_time_compare(entry->at, l->now) > 0)
        add(l, TW_DOUBT_AHEAD_OF_NOW, line, NULL);
    if (tw_logbook_shelf_void_of(l->book, line, l->now))
        return; /* taken back: nothing to ask about */
    if (entry->at.utc_s - entry->entered.utc_s > AHEAD_S)
        add(l, TW_DOUBT_AHEAD_OF_ENTRY, line, NULL);
    if (entry->newer)
        add(l, TW_DOUBT_NEWER, line, NULL);
    if (!tub_is_known(l, entry->tub))
        add(l, TW_DOUBT_UNKNOWN_TUB, line, NULL);
    if (entry->kind == TW_KIND_VOID)
        doubt_void(l, line);
    if (entry->kind == TW_KIND_ADDITION && tw_logbook_shelf_used(l->book, line, l->now))
        doubt_dose(l, index);
}

tw_status tw_logbook_book_doubts(const tw_book *book, tw_text tub, tw_time now, tw_doubt *out, size_t cap,
                                 size_t *count)
{
    list l = {book, now, out, cap, 0};
    for (size_t i = 0; i < book->count; i++)
        if (tub.n == 0 || tw_units_text_equal(book->line[book->by_time[i]].entry.tub, tub))
            doubt_line(&l, i);
    *count = l.count;
    return l.count > cap ? TW_ERR_CAPACITY : TW_OK;
}

const char *tw_logbook_doubt_name(tw_doubt_kind kind)
{
    static const char *const NAME[TW_DOUBTS] = {"unknown-tub",   "ahead-of-now",   "ahead-of-entry",
                                                "void-missing",  "void-of-void",   "void-elsewhere",
                                                "same-id",       "same-dose",      "newer"};
    TW_REQUIRE((unsigned)kind < (unsigned)TW_DOUBTS);
    return NAME[kind];
}
