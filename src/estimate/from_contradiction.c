/* estimate/from_contradiction.c: a doubtful reading with what the book says beside it. */
#include "estimate/explain.h"
#include "estimate/from_book.h"
#include "estimate/from_entry.h"

#define OLDEST_H 24.0
#define BESIDE_H 1.0

/* Written so; 0 when the estimate does not use it. */
static int written(const tw_book *book, const tw_entry *e, tw_time now, const tw_belief *b,
                   double block[TW_MAX_BLOCKS], tw_written_reading *out)
{
    return e->kind == TW_KIND_READING && tw_logbook_word(e, TW_FIELD_POINT) != TW_POINT_SOURCE &&
           tw_logbook_word(e, TW_FIELD_POINT) != TW_POINT_JAR && !tw_logbook_has(e, TW_FIELD_SOURCE) &&
           tw_estimate_written(book, e, now, b->density_kg_per_l, block, out) == TW_OK;
}

static int is_doubted(const tw_belief *b, size_t index)
{
    for (uint32_t i = 0; i < b->contradictions; i++)
        if (b->contradiction[i].entry == index)
            return 1;
    return 0;
}

tw_status tw_estimate_explain_entry(const tw_belief *b, const tw_book *book, tw_text tub, tw_time now,
                                    const tw_contradiction *contradiction, tw_explained *out)
{
    static const double UNREAD_H = 336.0;
    double block[TW_BESIDE + 1][TW_MAX_BLOCKS];
    tw_written_reading odd, beside[TW_BESIDE];
    size_t n = 0, cursor = 0;
    const tw_entry *what = tw_logbook_book_at(book, contradiction->entry), *e;
    if (!written(book, what, now, b, block[TW_BESIDE], &odd))
        return TW_ERR_UNKNOWN;
    if (tw_units_hours_between(what->at, now) > OLDEST_H)
        return TW_ERR_RANGE;
    double open_h = UNREAD_H;
    int after = 0;
    while ((e = tw_logbook_book_next(book, tub, now, &cursor)) != NULL) {
        const double before_h = tw_units_hours_between(e->at, what->at);
        tw_written_reading w;
        if (e == what) {
            after = 1;
            continue;
        }
        if (!after && tw_estimate_is_fill(e)) /* nor before this water was let in */
            open_h = before_h + TW_FILL_COUNTS_H;
        if (after && (e->kind == TW_KIND_ADDITION || e->kind == TW_KIND_EXCHANGE))
            return TW_ERR_RANGE;
        const int near = before_h <= BESIDE_H && before_h >= -BESIDE_H;
        if (!(near && n < TW_BESIDE ? written(book, e, now, b, block[n], &w) : written(book, e, now, b, block[TW_BESIDE], &w)))
            continue;
        if (near && n < TW_BESIDE)
            beside[n++] = w;
        /* Nothing had happened when the same was last read and believed. */
        if (w.observed == odd.observed && before_h > 0.0 && before_h < open_h && !is_doubted(b, cursor - 1))
            open_h = before_h;
    }
    return tw_estimate_explain(b, &odd, beside, n, open_h, out);
}
