/* estimate/fold.c: from a book to a belief. */
#include "estimate/fold.h"

#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/checkpoint.h"
#include "estimate/conductivity.h"
#include "estimate/digest.h"
#include "estimate/from_book.h"
#include "estimate/later.h"
#include "estimate/model.h"
#include "estimate/stretches.h"
#include "num/bytes.h"
#include "num/elementary.h"
#include "num/sha256.h"

size_t tw_estimate_bytes(const tw_estimate_options *options)
{
    const tw_estimate_options o = options != NULL ? *options : tw_estimate_options_default();
    return sizeof(tw_problem) + 2 * tw_estimate_belief_bytes((size_t)o.chains * o.keep) + tw_estimate_sample_bytes(options) +
           8 * TW_ARENA_ALIGN;
}

/* The tub's streams: the first eight bytes of the SHA-256 of its id. */
static uint64_t seed_of(tw_text tub)
{
    uint8_t digest[TW_SHA256_BYTES];
    tw_sha256(tub.at, tub.n, digest);
    return tw_get_u64(digest);
}

tw_status tw_estimate_from_book(tw_from_book *f)
{
    const tw_status status = tw_estimate_book_start(f);
    if (status != TW_OK)
        return status;
    f->problem->by_entry = 1;
    tw_estimate_book_doses(f);
    tw_estimate_book_exchanges(f);
    tw_estimate_book_settings(f);
    tw_estimate_book_readings(f);
    tw_estimate_book_clock(f);
    return TW_OK;
}

#define MOST_ENTRIES 400  /* of one stretch that are used        */
#define LEAST_READINGS 4 /* of its own water: fewer teach nothing of the tub */
#define PURGE_DAYS 14    /* before a fill: a purge then was for it */

/* Since shortly before the end of the water that taught. */
static int was_purged(const tw_from_book *f, int64_t until_utc_s)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL)
        if (e->kind == TW_KIND_CARE && tw_logbook_word(e, TW_FIELD_JOB) == TW_CARE_JOB_PURGE &&
            e->at.utc_s >= until_utc_s - (int64_t)PURGE_DAYS * 86400 &&
            tw_units_time_compare(e->at, f->began) <= 0)
            return 1;
    return 0;
}

/* What the water before taught becomes the prior; a month of wear counts from the start of that water. */
static void carry_over(tw_from_book *f)
{
    if (f->taught == NULL || f->taught->n == 0)
        return;
    const double hours = (double)(f->start.utc_s - f->taught->from_utc_s) / 3600.0;
    tw_estimate_carry_make(f->taught, hours > 0.0 ? hours / 730.5 : 0.0,
                           !f->problem->goes_on && was_purged(f, f->taught->until_utc_s), f->problem);
    for (size_t i = 0; i < f->problem->carry.n; i++)
        if (f->problem->carry.what[i] == TW_X_WATER) {
            const tw_prior *prior = &f->problem->prior[TW_X_WATER];
            f->volume_l = tw_exp(prior->middle + prior->sd * f->problem->carry.mean[i]);
        }
}

/* The problem of one water, with at most so many of its latest entries. */
static tw_status make_problem(tw_from_book *f, size_t most_entries)
{
    f->most_entries = most_entries;
    const tw_status status = tw_estimate_from_book(f);
    if (status != TW_OK)
        return status;
    carry_over(f);
    tw_estimate_fit_conductivity(&f->problem->conductivity);
    return TW_OK;
}

/* Each stretch of a water has streams of its own. */
static uint32_t streams_of(const tw_from_book *f, const tw_stretch *s)
{
    return f->segment | s->part << 16;
}

/* One stretch, folded. A crowded log may not fit even so (air, doses and pH in turn): then fewer of the latest. */
typedef struct {
    const tw_estimate_options *options;
    tw_arena rest;
    tw_belief *belief;
} folder;

static tw_status fold_stretch(tw_from_book *f, const tw_stretch *s, const folder *to, tw_taught *taught)
{
    const tw_from_book empty = *f;
    tw_status status = TW_ERR_CAPACITY;
    for (size_t most = MOST_ENTRIES; most >= 50 && status == TW_ERR_CAPACITY; most /= 2) {
        *f = empty;
        status = make_problem(f, most);
        if (status == TW_OK)
            status = tw_estimate_sample_teach(f->problem, seed_of(f->tub), streams_of(f, s), to->options, to->rest.at,
                                              to->rest.left, to->belief, taught);
    }
    return status;
}

/* A stretch of a tub's life as its book is read for it. */
static tw_from_book book_of(const tw_from_book *first, const tw_stretch *s)
{
    tw_from_book f = *first;
    f.end = f.until = s->end;
    f.cut = s->cut;
    f.goes_on = s->goes_on;
    f.cut_at = s->from;
    return f;
}

/* Enough was read of this water to teach something; where it goes on it always does. */
static int teaches(const tw_problem *p, const tw_stretch *s)
{
    size_t n = 0;
    for (size_t i = 0; i < p->readings; i++)
        n += !p->reading[i].source && !p->reading[i].standard && p->reading[i].observed != TW_OBSERVED_WATER;
    return s->is_cut || p->goes_on || n >= LEAST_READINGS;
}

/* The name of what a stretch teaches: of all that it is made of and of the name of what it was taught. */
static void next_key(const tw_from_book *f, const tw_stretch *s, const tw_estimate_options *options, int purged,
                     uint8_t key[TW_SHA256_BYTES])
{
    const tw_estimate_options o = options != NULL ? *options : tw_estimate_options_default();
    const uint64_t name[] = {seed_of(f->tub), f->segment, o.chains, o.keep, o.drop, o.leapfrogs, (uint64_t)f->began.utc_s,
                             (uint64_t)f->start.utc_s, (uint64_t)f->until.utc_s, s->part, (uint64_t)s->goes_on, (uint64_t)s->is_cut,
                             (uint64_t)purged};
    uint8_t problem[TW_SHA256_BYTES], bytes[8];
    tw_sha256_state state;
    tw_estimate_problem_digest(f->problem, problem);
    tw_sha256_init(&state);
    tw_sha256_update(&state, key, TW_SHA256_BYTES);
    tw_sha256_update(&state, problem, sizeof problem);
    for (size_t i = 0; i < sizeof name / sizeof *name; i++) {
        (void)tw_put_u64(bytes, name[i]);
        tw_sha256_update(&state, bytes, sizeof bytes);
    }
    tw_sha256_final(&state, key);
}

/* Of every entry that the stretches may be made of: the tub's by now, and what is defined for any tub. */
static void name_entries(const tw_from_book *f, const tw_stretches *s, const tw_estimate_options *options, uint8_t out[TW_SHA256_BYTES])
{
    const tw_estimate_options o = options != NULL ? *options : tw_estimate_options_default();
    const uint64_t made_of[] = {o.chains, o.keep, o.drop, o.leapfrogs, s->n};
    tw_sha256_state state;
    uint8_t bytes[8];
    tw_sha256_init(&state);
    tw_sha256_update(&state, f->tub.at, f->tub.n);
    for (size_t i = 0; i < sizeof made_of / sizeof *made_of; i++) {
        (void)tw_put_u64(bytes, made_of[i]);
        tw_sha256_update(&state, bytes, sizeof bytes);
    }
    for (size_t i = 0; i < tw_logbook_book_count(f->book); i++) {
        const tw_entry *e = tw_logbook_book_at(f->book, i);
        if (tw_units_time_compare(e->at, f->now) <= 0 && (e->kind == TW_KIND_DEFINITION || tw_units_text_equal(e->tub, f->tub)))
            tw_sha256_update(&state, tw_logbook_book_hash(f->book, i), TW_SHA256_BYTES);
    }
    tw_sha256_final(&state, out);
}

/* The names of all stretches but the last. What a stretch was taught is named by the one before it, so nothing need be
 * folded to know them. */
static void find_names(const tw_from_book *first, const tw_stretches *s, const tw_estimate_options *options, tw_stretch_names *names)
{
    uint8_t key[TW_SHA256_BYTES] = {0}, entries[TW_SHA256_BYTES];
    int64_t until_utc_s = 0;
    name_entries(first, s, options, entries);
    if (names->n == s->n && memcmp(names->entries, entries, sizeof entries) == 0)
        return;
    for (size_t i = 0; i + 1 < s->n; i++) {
        tw_from_book f = book_of(first, &s->list[i]);
        f.taught = NULL;
        names->teaches[i] = make_problem(&f, MOST_ENTRIES) == TW_OK && f.started && teaches(f.problem, &s->list[i]);
        if (names->teaches[i]) {
            next_key(&f, &s->list[i], options, was_purged(&f, until_utc_s), key);
            until_utc_s = f.end.utc_s;
        }
        memcpy(names->key[i], key, sizeof key);
    }
    names->n = (uint32_t)s->n;
    memcpy(names->entries, entries, sizeof entries);
}

static const tw_taught *on_shelf(const tw_taught_shelf *shelf, const uint8_t key[TW_SHA256_BYTES])
{
    for (size_t i = 0; shelf != NULL && i < TW_SHELF_SLOTS; i++)
        if (shelf->used[i] && memcmp(shelf->key[i], key, TW_SHA256_BYTES) == 0)
            return &shelf->taught[i];
    return NULL;
}

static void shelve(tw_taught_shelf *shelf, const uint8_t key[TW_SHA256_BYTES], const tw_taught *taught)
{
    if (shelf == NULL)
        return;
    const uint32_t at = shelf->next % TW_SHELF_SLOTS;
    shelf->used[at] = 1;
    memcpy(shelf->key[at], key, TW_SHA256_BYTES);
    shelf->taught[at] = *taught;
    shelf->next = (at + 1) % TW_SHELF_SLOTS;
    shelf->folded++;
}

/* What the belief says of the water before. */
static void tell_before(const tw_problem *p, const tw_taught *taught, tw_before *out)
{
    if (p->goes_on) {
        *out = taught->before;
        return;
    }
    for (size_t i = 0; i < p->carry.n; i++)
        for (int q = 0; q < 3; q++) {
            const int what = p->carry.what[i];
            const double x = p->carry.mean[i] + (double)(q - 1) * 1.644854 * p->carry.sd[i];
            if (what == TW_X_WATER)
                out->water_kg[q] = tw_exp(p->prior[what].middle + p->prior[what].sd * x);
            else if (what == TW_X_LOSS)
                out->loss_per_h[q] = tw_exp(p->prior[what].middle + p->prior[what].sd * x);
            else if (what == TW_CARRIED_CELL) {
                const tw_lanes at = tw_lanes_of(x);
                tw_lanes factor, slope;
                tw_estimate_cell_factor(&at, p->output_sd, &factor, &slope);
                out->cell[q] = factor.v[0];
            }
        }
    out->waters = p->carry.n > 0 ? taught->waters : 0;
}

/* Readings of this water that were hard to believe before it was cut: after the stretch's own. */
static void tell_contradictions(const tw_problem *p, const tw_taught *taught, tw_belief *b)
{
    for (uint32_t i = 0; p->goes_on && i < taught->contradictions && b->contradictions < TW_CONTRADICTIONS; i++)
        b->contradiction[b->contradictions++] = taught->contradiction[i];
}

/* An earlier stretch is folded; *taught becomes what it taught. */
static tw_status pass_stretch(tw_from_book *f, const tw_stretch *s, const folder *to, tw_taught *taught)
{
    tw_taught next;
    memset(&next, 0, sizeof next);
    next.goes_on = (uint32_t)s->is_cut;
    const tw_status status = fold_stretch(f, s, to, &next);
    if (status != TW_OK)
        return status;
    const tw_problem *p = f->problem;
    next.waters = taught->waters + (p->goes_on ? 0u : 1u);
    next.from_utc_s = f->start.utc_s;
    next.until_utc_s = f->end.utc_s;
    if (s->is_cut) {
        tell_before(p, taught, &next.before);
        tell_contradictions(p, taught, to->belief);
        next.contradictions = to->belief->contradictions;
        memcpy(next.contradiction, to->belief->contradiction, next.contradictions * sizeof *next.contradiction);
    }
    *taught = next;
    return TW_OK;
}

/* What the stretches before the last one taught: from the last of them that stands on the shelf on. */
static tw_status pass_all(const tw_from_book *first, const tw_stretches *s, const folder *to, tw_taught_shelf *shelf,
                          tw_taught *taught, uint8_t key[TW_SHA256_BYTES])
{
    tw_stretch_names mine, *names = shelf != NULL ? &shelf->names : &mine;
    size_t i = s->n - 1;
    mine.n = 0;
    find_names(first, s, to->options, names);
    if (i > 0)
        memcpy(key, names->key[i - 1], TW_SHA256_BYTES);
    for (; i > 0; i--) {
        const tw_taught *kept = names->teaches[i - 1] ? on_shelf(shelf, names->key[i - 1]) : NULL;
        if (kept != NULL) {
            *taught = *kept;
            break;
        }
    }
    for (; i + 1 < s->n; i++) {
        tw_from_book f = book_of(first, &s->list[i]);
        if (!names->teaches[i]) /* nothing is known of it, or too little: what was taught before stays */
            continue;
        const tw_status status = pass_stretch(&f, &s->list[i], to, taught);
        if (status != TW_OK)
            return status;
        shelve(shelf, names->key[i], taught);
    }
    return TW_OK;
}

/* The hour of the last entry that moves the clock of the present stretch; of the first entry where none does. */
static tw_time last_hour(const tw_from_book *f)
{
    tw_time first = f->end, last = f->end;
    size_t cursor = 0, moved = 0, any = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        if (!any++)
            first = e->at;
        if (tw_estimate_moves_clock(e)) {
            last = e->at;
            moved++;
        }
    }
    return moved > 0 ? last : first;
}

/* Where the parts of a fold lie in its memory. */
typedef struct {
    tw_problem *problem;
    tw_belief settled, now; /* laid out, empty */
    tw_arena rest;
} places;

static int lay_out(void *mem, size_t bytes, const tw_estimate_options *options, places *out)
{
    const tw_estimate_options o = options != NULL ? *options : tw_estimate_options_default();
    const size_t members = (size_t)o.chains * o.keep;
    out->rest.at = mem;
    out->rest.left = bytes;
    out->problem = tw_arena_take(&out->rest, sizeof *out->problem);
    tw_estimate_belief_lay(&out->settled, members, &out->rest);
    tw_estimate_belief_lay(&out->now, members, &out->rest);
    return out->problem != NULL && out->settled.block != NULL && out->now.scratch != NULL;
}

/* The last stretch up to its last entry: as it was settled before, or by the sampler. */
static tw_status settle(tw_from_book *f, const tw_stretch *s, const places *at, const tw_estimate_options *options, uint8_t key[TW_SHA256_BYTES],
                        tw_settled *settled)
{
    const tw_from_book empty = *f;
    const size_t most = settled->there ? settled->belief.most_entries : MOST_ENTRIES;
    tw_belief belief;
    tw_status status = make_problem(f, MOST_ENTRIES);
    if (status != TW_OK)
        return status;
    next_key(f, s, options, 0, key); /* a purge is in what was carried, and so in the problem */
    if (settled->there && memcmp(settled->key, key, TW_SHA256_BYTES) == 0) {
        if (most == MOST_ENTRIES)
            return TW_OK;
        *f = empty;
        return make_problem(f, most);
    }
    settled->there = 0;
    *f = empty;
    const folder to = {options, at->rest, &belief};
    status = fold_stretch(f, s, &to, NULL);
    if (status != TW_OK)
        return status;
    settled->belief = at->settled;
    tw_estimate_belief_copy(&belief, &settled->belief);
    settled->belief.at_utc_s = f->until.utc_s;
    settled->belief.most_entries = (uint32_t)f->most_entries;
    settled->there = 1;
    settled->folded++;
    memcpy(settled->key, key, TW_SHA256_BYTES);
    return TW_OK;
}

/* From there to now, with the settings that those entries go on to make: jets that stop, water that cools. */
static tw_status carry_on(tw_from_book *f, const places *at, const tw_settled *settled, tw_belief *out)
{
    tw_problem *p = f->problem;
    const double from_h = p->now_h, to_h = tw_estimate_book_hours(f, f->end);
    *out = at->now;
    p->settings = 0;
    p->now_h = f->started && to_h > from_h ? to_h : from_h;
    tw_estimate_book_settings(f);
    return tw_estimate_later(&settled->belief, p->setting, p->settings, from_h, p->now_h, at->rest, out);
}

tw_status tw_estimate_fold_kept(const tw_book *book, tw_text tub, tw_time now, const tw_estimate_options *options,
                                tw_taught_shelf *shelf, tw_settled *settled, void *mem, size_t bytes, tw_belief *out)
{
    places at;
    tw_from_book f, first;
    tw_taught taught;
    tw_settled mine;
    tw_stretches s;
    uint8_t key[TW_SHA256_BYTES] = {0};
    memset(out, 0, sizeof *out);
    if (!lay_out(mem, bytes, options, &at))
        return TW_ERR_CAPACITY;
    memset(&first, 0, sizeof first);
    memset(&taught, 0, sizeof taught);
    memset(&mine, 0, sizeof mine);
    settled = settled != NULL ? settled : &mine;
    if (settled->there && settled->belief.block != at.settled.block)
        settled->there = 0; /* it lay in other memory */
    first.book = book;
    first.tub = tub;
    first.now = now;
    first.problem = at.problem;
    first.taught = &taught;
    tw_belief past;
    const folder to = {options, at.rest, &past};
    tw_estimate_stretches(book, tub, now, &s);
    tw_status status = pass_all(&first, &s, &to, shelf, &taught, key);
    if (status != TW_OK)
        return status;
    const tw_stretch *last = &s.list[s.n - 1];
    f = book_of(&first, last);
    f.until = last_hour(&f);
    if (last->cut && tw_units_time_compare(f.until, last->from) < 0)
        f.until = last->from;
    status = settle(&f, last, &at, options, key, settled);
    if (status == TW_OK)
        status = carry_on(&f, &at, settled, out);
    if (status != TW_OK)
        return status;
    out->at_utc_s = now.utc_s;
    out->flags |= f.flags;
    out->density_kg_per_l = tw_estimate_water_density(out->temp_set_c);
    tell_before(at.problem, &taught, &out->before);
    tell_contradictions(at.problem, &taught, out);
    tw_estimate_seal(out);
    return TW_OK;
}

tw_status tw_estimate_settled_read(const uint8_t *in, size_t length, const tw_checkpoint_key *key, const tw_estimate_options *options,
                                   void *mem, size_t bytes, tw_settled *out)
{
    places at;
    out->there = 0;
    if (!lay_out(mem, bytes, options, &at))
        return TW_ERR_CAPACITY;
    const size_t room = (size_t)(TW_COLUMNS + TW_TOTALS + 2) * at.settled.n * sizeof(double);
    const tw_status status = tw_estimate_checkpoint_read(in, length, key, at.settled.block, room, &out->belief);
    if (status != TW_OK)
        return status;
    memcpy(out->key, key->entries, TW_SHA256_BYTES);
    out->there = 1;
    return TW_OK;
}

#define ALONE_H (42.0 * 24.0) /* of a stretch by itself */

tw_status tw_estimate_fold_alone(const tw_book *book, tw_text tub, tw_time now, tw_time end, const tw_estimate_options *options,
                                 void *mem, size_t bytes, tw_belief *out)
{
    tw_arena arena = {mem, bytes};
    tw_from_book f;
    memset(&f, 0, sizeof f);
    memset(out, 0, sizeof *out);
    f.book = book;
    f.tub = tub;
    f.now = now;
    f.end = f.until = end;
    f.problem = tw_arena_take(&arena, sizeof *f.problem);
    if (f.problem == NULL)
        return TW_ERR_CAPACITY;
    f.longest_h = ALONE_H;
    const folder to = {options, arena, out};
    tw_stretch all;
    memset(&all, 0, sizeof all);
    const tw_status status = fold_stretch(&f, &all, &to, NULL);
    out->flags |= f.flags;
    return status;
}

tw_status tw_estimate_fold_with(const tw_book *book, tw_text tub, tw_time now,
                                const tw_estimate_options *options, void *mem, size_t bytes,
                                tw_belief *out)
{
    return tw_estimate_fold_kept(book, tub, now, options, NULL, NULL, mem, bytes, out);
}

tw_status tw_estimate_fold(const tw_book *book, tw_text tub, tw_time now, void *mem, size_t bytes,
                           tw_belief *out)
{
    return tw_estimate_fold_with(book, tub, now, NULL, mem, bytes, out);
}
