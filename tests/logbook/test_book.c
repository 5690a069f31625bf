/* The book: a set of lines in the order of the fold; arrival never shows. */
#include "logbook/lines.h"

#include "logbook/book.h"

#define MAX_LINES 400
#define MAX_TEXT 200000

static tw_book *new_book(void)
{
    tw_book *book = NULL;
    const size_t bytes = tw_logbook_book_bytes(MAX_LINES, MAX_TEXT);
    void *mem = malloc(bytes); /* given back by free_book */
    assert_non_null(mem);
    memset(mem, 0xA5, bytes);
    assert_ok(tw_logbook_book_init(mem, bytes, MAX_LINES, MAX_TEXT, &book));
    return book;
}

static void free_book(tw_book *book)
{
    free(book);
}

static tw_added add(tw_book *book, const test_line *line)
{
    tw_added added = TW_ADDED_SAME;
    tw_fault fault;
    if (tw_logbook_book_add_line(book, test_text(line), &added, &fault) != TW_OK) {
        print_error("# %s\n", test_sentence(&fault));
        fail();
    }
    return added;
}

#define ADD(book, ...)                  \
    do {                                \
        test_line add_line;             \
        LINE(&add_line, __VA_ARGS__);   \
        (void)add((book), &add_line);   \
    } while (0)

/* Ids for short: ID(7) is "id=01890000-0000-7000-8000-000000000007". */
#define UUID(n) "01890000-0000-7000-8000-0000000000" #n
#define ID(n) "id=" UUID(n)
#define AT(clock) "at=2026-03-24T" clock ":00+01:00"
#define NOW(clock) test_time("2026-03-24T" clock ":00+01:00")
#define TUB_LINE(book) ADD(book, "kind=tub", "name=Barn", "volume=1300", "volume_unit=L", ID(01), AT("08:00"))

static const tw_text EVERY = {"", 0};

static size_t doubts_of(const tw_book *book, tw_time now, tw_doubt_kind kind)
{
    tw_doubt doubt[64];
    size_t count, found = 0;
    assert_ok(tw_logbook_book_doubts(book, EVERY, now, doubt, 64, &count));
    for (size_t i = 0; i < count; i++)
        found += doubt[i].kind == kind;
    return found;
}

static size_t used_count(const tw_book *book, const char *tub, tw_time now)
{
    size_t cursor = 0, n = 0;
    while (tw_logbook_book_next(book, tw_units_text(tub), now, &cursor))
        n++;
    return n;
}

static void adding_again_changes_nothing(void **state)
{
    (void)state;
    tw_book *book = new_book();
    test_line line;
    uint8_t before[TW_SHA256_BYTES], after[TW_SHA256_BYTES];
    LINE(&line, "kind=note", "words=a \"b\" \\ c");
    assert_int_equal(add(book, &line), TW_ADDED_NEW);
    tw_logbook_book_digest(book, before);
    assert_int_equal(add(book, &line), TW_ADDED_SAME);
    tw_logbook_book_digest(book, after);
    assert_int_equal(tw_logbook_book_count(book), 1);
    assert_memory_equal(before, after, sizeof before);
    /* The line that was given may go: the book has its own. */
    memset(line.bytes, 'x', sizeof line.bytes);
    assert_true(tw_units_text_is(tw_logbook_text(tw_logbook_book_at(book, 0), TW_FIELD_WORDS), "a \"b\" \\ c"));
    free_book(book);
}

static void a_line_that_is_none_changes_nothing(void **state)
{
    (void)state;
    tw_book *book = new_book();
    tw_fault fault;
    TUB_LINE(book);
    assert_status(tw_logbook_book_add_line(book, tw_units_text("{}"), NULL, &fault), TW_ERR_MISSING);
    assert_string_equal(fault.field, "kind");
    assert_int_equal(tw_logbook_book_count(book), 1);
    free_book(book);
}

static void two_lines_with_one_id_are_both_kept_and_doubted(void **state)
{
    (void)state;
    test_line a, b, c;
    LINE(&a, "kind=note", "words=a", ID(07));
    LINE(&b, "kind=note", "words=b", ID(07));
    LINE(&c, "kind=note", "words=c", ID(07), AT("09:00"));
    const test_line *const line[3] = {&a, &b, &c};
    static const int ORDER[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
    uint8_t first[TW_SHA256_BYTES], digest[TW_SHA256_BYTES];
    for (int o = 0; o < 6; o++) {
        tw_book *book = new_book();
        TUB_LINE(book);
        assert_int_equal(add(book, line[ORDER[o][0]]), TW_ADDED_NEW);
        assert_int_equal(add(book, line[ORDER[o][1]]), TW_ADDED_CONFLICT);
        assert_int_equal(add(book, line[ORDER[o][2]]), TW_ADDED_CONFLICT);
        assert_int_equal(tw_logbook_book_count(book), 4);
        assert_int_equal(used_count(book, TUB_A, NOW("12:00")), 2);
        assert_int_equal(doubts_of(book, NOW("12:00"), TW_DOUBT_SAME_ID), 2);
        const size_t found = tw_logbook_book_find(book, tw_units_text(UUID(07)));
        /* The first in order of bytes is used, whatever came first: "at":"...T09 */
        assert_true(tw_units_text_is(tw_logbook_text(tw_logbook_book_at(book, found), TW_FIELD_WORDS), "c"));
        tw_logbook_book_digest(book, o == 0 ? first : digest);
        if (o > 0)
            assert_memory_equal(first, digest, sizeof first);
        free_book(book);
    }
}

static void a_void_takes_back_and_cannot_be_voided(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    TUB_LINE(book);
    ADD(book, "kind=note", "words=wrong", ID(02), AT("09:00"));
    assert_int_equal(used_count(book, TUB_A, now), 2);
    ADD(book, "kind=void", "target=" UUID(02), ID(03), AT("10:00"));
    assert_int_equal(used_count(book, TUB_A, now), 1);
    /* Before the void was made the entry counted. */
    assert_int_equal(used_count(book, TUB_A, NOW("09:30")), 2);
    const size_t at = tw_logbook_book_find(book, tw_units_text(UUID(02)));
    assert_int_equal(tw_logbook_book_voided_by(book, at, now), tw_logbook_book_find(book, tw_units_text(UUID(03))));
    assert_true(tw_logbook_book_voided_by(book, at, NOW("09:30")) == SIZE_MAX);
    /* A void of the void changes nothing but a doubt. */
    ADD(book, "kind=void", "target=" UUID(03), ID(04), AT("10:30"));
    assert_int_equal(used_count(book, TUB_A, now), 1);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_VOID_OF_VOID), 1);
    assert_true(tw_logbook_book_voided_by(book, tw_logbook_book_find(book, tw_units_text(UUID(03))), now) == SIZE_MAX);
    /* To have it back one writes it again: another entry. */
    ADD(book, "kind=note", "words=wrong", ID(05), AT("11:00"));
    assert_int_equal(used_count(book, TUB_A, now), 2);
    free_book(book);
}

static void a_void_waits_for_its_target_and_keeps_to_its_tub(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    TUB_LINE(book);
    ADD(book, "kind=tub", "name=Yard", "tub=" TUB_B, ID(09), AT("08:00"));
    ADD(book, "kind=void", "target=" UUID(02), ID(03), AT("10:00"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_VOID_MISSING), 1);
    ADD(book, "kind=note", "words=late to arrive", ID(02), AT("09:00"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_VOID_MISSING), 0);
    assert_int_equal(used_count(book, TUB_A, now), 1);
    /* The void of another tub's entry has no effect. */
    ADD(book, "kind=note", "words=of A", ID(04), AT("09:10"));
    ADD(book, "kind=void", "target=" UUID(04), "tub=" TUB_B, ID(05), AT("10:00"));
    assert_int_equal(used_count(book, TUB_A, now), 2);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_VOID_ELSEWHERE), 1);
    free_book(book);
}

static void what_is_ahead_is_kept_and_not_used(void **state)
{
    (void)state;
    tw_book *book = new_book();
    TUB_LINE(book);
    ADD(book, "kind=note", "words=from tomorrow", ID(02), "at=2026-03-25T10:00:00+01:00");
    ADD(book, "kind=void", "target=" UUID(01), ID(03), "at=2026-03-26T10:00:00+01:00",
        "entered=2026-03-26T10:00:00+01:00");
    const tw_time now = NOW("12:00"), later = test_time("2026-03-25T12:00:00+01:00"),
                  last = test_time("2026-03-27T12:00:00+01:00");
    assert_int_equal(tw_logbook_book_count(book), 3);
    assert_int_equal(used_count(book, TUB_A, now), 1);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_AHEAD_OF_NOW), 2);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_AHEAD_OF_ENTRY), 1);
    assert_int_equal(used_count(book, TUB_A, later), 2);
    assert_int_equal(doubts_of(book, later, TW_DOUBT_AHEAD_OF_NOW), 1);
    assert_int_equal(used_count(book, TUB_A, last), 1);
    free_book(book);
}

/* The same instant in two offsets: the id decides, not the local clock. */
static void order_is_instant_then_id(void **state)
{
    (void)state;
    tw_book *book = new_book();
    ADD(book, "kind=note", "words=second", ID(08), "at=2026-03-24T02:00:00-08:00");
    ADD(book, "kind=note", "words=first", ID(07), "at=2026-03-24T11:00:00+01:00");
    ADD(book, "kind=note", "words=before", ID(99), "at=2026-03-24T18:59:59+09:00");
    assert_true(tw_units_text_is(tw_logbook_text(tw_logbook_book_at(book, 0), TW_FIELD_WORDS), "before"));
    assert_true(tw_units_text_is(tw_logbook_text(tw_logbook_book_at(book, 1), TW_FIELD_WORDS), "first"));
    assert_true(tw_units_text_is(tw_logbook_text(tw_logbook_book_at(book, 2), TW_FIELD_WORDS), "second"));
    free_book(book);
}

static void a_tub_is_what_its_latest_entries_say(void **state)
{
    (void)state;
    tw_book *book = new_book();
    tw_tub tub[4];
    size_t count;
    ADD(book, "kind=tub", "name=Yard", "tub=" TUB_B, "use=public", ID(02), AT("08:30"));
    TUB_LINE(book);
    ADD(book, "kind=tub", "name=Old barn", "volume=312", "volume_unit=gal-us", ID(03), AT("10:00"));
    assert_ok(tw_logbook_book_tubs(book, NOW("09:00"), tub, 4, &count));
    assert_int_equal(count, 2);
    assert_true(tw_units_text_is(tub[0].name, "Barn"));
    assert_near(tub[0].volume_l, 1300.0, 0.0);
    assert_int_equal(tub[0].use, -1);
    assert_true(tw_units_text_is(tub[1].name, "Yard"));
    assert_int_equal(tub[1].use, TW_USE_PUBLIC);
    assert_int_equal(tub[1].has_volume, 0);
    assert_ok(tw_logbook_book_tubs(book, NOW("11:00"), tub, 4, &count));
    assert_int_equal(count, 2);
    assert_true(tw_units_text_is(tub[0].name, "Old barn"));
    assert_near(tub[0].volume_l, 312 * 3.785411784, 1e-9);
    assert_int_equal(tub[0].entries, 2);
    assert_status(tw_logbook_book_tubs(book, NOW("11:00"), tub, 1, &count), TW_ERR_CAPACITY);
    assert_int_equal(count, 2);
    assert_status(tw_logbook_book_tub(book, tw_units_text(UUID(77)), NOW("11:00"), &tub[0]), TW_ERR_UNKNOWN);
    /* Taking the correction back brings the old name back. */
    ADD(book, "kind=void", "target=" UUID(03), ID(04), AT("11:30"));
    assert_ok(tw_logbook_book_tub(book, tw_units_text(TUB_A), NOW("12:00"), &tub[0]));
    assert_true(tw_units_text_is(tub[0].name, "Barn"));
    free_book(book);
}

static void an_intent_is_open_until_it_is_answered(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    const tw_entry *open[4];
    size_t count;
    static const char *const ANSWER[][4] = {
        {"kind=response", "intent=" UUID(02), "outcome=done", NULL},
        {"kind=response", "intent=" UUID(02), "outcome=couldnt", NULL},
        {"kind=response", "intent=" UUID(02), "outcome=not-done", NULL},
        {"kind=response", "intent=" UUID(02), "outcome=will", NULL}};
    for (size_t i = 0; i < 4; i++) {
        tw_book *book = new_book();
        TUB_LINE(book);
        ADD(book, "kind=intent", "act=acid-step", ID(02), AT("09:00"));
        assert_ok(tw_logbook_book_open_intents(book, tw_units_text(TUB_A), now, open, 4, &count));
        assert_int_equal(count, 1);
        assert_true(tw_units_text_is(open[0]->id, UUID(02)));
        ADD(book, ANSWER[i][0], ANSWER[i][1], ANSWER[i][2], ID(03), AT("10:00"));
        assert_ok(tw_logbook_book_open_intents(book, tw_units_text(TUB_A), now, open, 4, &count));
        assert_int_equal(count, i == 3 ? 1 : 0); /* "will" is no answer yet */
        /* At half past nine it was open, and it is again when the answer is taken back. */
        assert_ok(tw_logbook_book_open_intents(book, tw_units_text(TUB_A), NOW("09:30"), open, 4, &count));
        assert_int_equal(count, 1);
        ADD(book, "kind=void", "target=" UUID(03), ID(04), AT("11:00"));
        assert_ok(tw_logbook_book_open_intents(book, tw_units_text(TUB_A), now, open, 4, &count));
        assert_int_equal(count, 1);
        free_book(book);
    }
    tw_book *book = new_book();
    TUB_LINE(book);
    ADD(book, "kind=intent", "act=acid-step", ID(02), AT("09:00"));
    ADD(book, "kind=addition", "substance=" UUID(55), "amount=97", "amount_unit=g", "intent=" UUID(02), ID(03), AT("09:05"));
    assert_ok(tw_logbook_book_open_intents(book, tw_units_text(TUB_A), now, open, 4, &count));
    assert_int_equal(count, 0);
    free_book(book);
}

static void the_latest_setting_is_found_at_any_time(void **state)
{
    (void)state;
    tw_book *book = new_book();
    TUB_LINE(book);
    ADD(book, "kind=setting", "what=duty", "value=100", "unit=pct", ID(02), AT("09:00"));
    ADD(book, "kind=setting", "what=jets", "state=on", ID(03), AT("09:30"));
    ADD(book, "kind=setting", "what=duty", "value=42", "unit=pct", ID(04), AT("10:00"));
    const tw_text tub = tw_units_text(TUB_A);
    const tw_entry *entry = tw_logbook_book_setting(book, tub, NOW("09:59"), TW_SETTING_DUTY);
    assert_non_null(entry);
    assert_true(tw_units_text_is(entry->id, UUID(02)));
    assert_true(tw_units_text_is(tw_logbook_book_setting(book, tub, NOW("11:00"), TW_SETTING_DUTY)->id, UUID(04)));
    assert_null(tw_logbook_book_setting(book, tub, NOW("08:30"), TW_SETTING_DUTY));
    assert_null(tw_logbook_book_setting(book, tw_units_text(TUB_B), NOW("11:00"), TW_SETTING_DUTY));
    assert_true(tw_units_text_is(tw_logbook_book_latest(book, tub, NOW("11:00"), TW_KIND_TUB)->id, UUID(01)));
    free_book(book);
}

static void an_amount_by_scoop_is_so_many_full_scoops(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    double amount = 0.0;
    tw_quantity quantity;
    TUB_LINE(book);
    ADD(book, "kind=addition", "substance=" UUID(55), "amount=1.5", "amount_unit=1", "scoop=" UUID(03), ID(02), AT("09:00"));
    ADD(book, "kind=addition", "substance=" UUID(55), "amount=0.25", "amount_unit=kg", ID(04), AT("09:01"));
    const tw_entry *by_scoop = tw_logbook_book_at(book, tw_logbook_book_find(book, tw_units_text(UUID(02))));
    assert_status(tw_logbook_book_amount(book, by_scoop, now, &amount, &quantity), TW_ERR_UNKNOWN);
    ADD(book, "kind=definition", "defines=scoop", "name=red scoop", "full=2", "full_unit=oz", ID(03), AT("11:00"));
    by_scoop = tw_logbook_book_at(book, tw_logbook_book_find(book, tw_units_text(UUID(02))));
    assert_ok(tw_logbook_book_amount(book, by_scoop, now, &amount, &quantity));
    assert_int_equal(quantity, TW_QUANTITY_MASS);
    assert_near(amount, 1.5 * 2 * 28.349523125, 1e-9);
    const tw_entry *weighed = tw_logbook_book_at(book, tw_logbook_book_find(book, tw_units_text(UUID(04))));
    assert_ok(tw_logbook_book_amount(book, weighed, now, &amount, &quantity));
    assert_near(amount, 250.0, 1e-12);
    /* The scoop taken back, or not one: the size is not known. */
    ADD(book, "kind=void", "target=" UUID(03), ID(05), AT("11:30"));
    assert_status(tw_logbook_book_amount(book, by_scoop, now, &amount, &quantity), TW_ERR_UNKNOWN);
    free_book(book);
}

#define DOSE(book, id, clock, writer, grams, unit)                                                              \
    ADD(book, "kind=addition", "substance=" UUID(55), "amount=" grams, "amount_unit=" unit, ID(id), AT(clock), \
        "writer=" writer)

static void the_same_dose_from_two_writers_is_asked_about(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    tw_doubt doubt[8];
    size_t count;
    TUB_LINE(book);
    DOSE(book, 02, "09:00", WRITER_A, "97", "g");
    DOSE(book, 03, "09:12", WRITER_B, "0.1", "kg");
    assert_ok(tw_logbook_book_doubts(book, tw_units_text(TUB_A), now, doubt, 8, &count));
    assert_int_equal(count, 1);
    assert_int_equal(doubt[0].kind, TW_DOUBT_SAME_DOSE);
    assert_true(tw_units_text_is(doubt[0].entry->id, UUID(03)));
    assert_true(tw_units_text_is(doubt[0].other->id, UUID(02)));
    /* Both count until somebody says; then the doubt is over. */
    assert_int_equal(used_count(book, TUB_A, now), 3);
    ADD(book, "kind=reply", "question=same-dose", "about=" UUID(03), "reply=yes", ID(04), AT("10:00"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_SAME_DOSE), 1);
    ADD(book, "kind=reply", "question=same-dose", "about=" UUID(03), "reply=no", ID(05), AT("10:01"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_SAME_DOSE), 0);
    ADD(book, "kind=void", "target=" UUID(05), ID(06), AT("10:02"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_SAME_DOSE), 1);
    ADD(book, "kind=void", "target=" UUID(02), ID(07), AT("10:03"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_SAME_DOSE), 0);
    free_book(book);
}

static void doses_that_differ_are_not_doubted(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    TUB_LINE(book);
    DOSE(book, 02, "09:00", WRITER_A, "97", "g");
    DOSE(book, 03, "09:05", WRITER_A, "97", "g");  /* one person, twice            */
    DOSE(book, 04, "09:25", WRITER_B, "97", "g");  /* twenty minutes later         */
    DOSE(book, 05, "09:30", WRITER_A, "80", "g");  /* another amount               */
    DOSE(book, 06, "09:31", WRITER_B, "80", "mL"); /* by volume, the other by weight */
    assert_int_equal(doubts_of(book, now, TW_DOUBT_SAME_DOSE), 0);
    free_book(book);
}

static void an_unknown_tub_and_a_newer_entry_are_doubts(void **state)
{
    (void)state;
    const tw_time now = NOW("12:00");
    tw_book *book = new_book();
    tw_tub tub;
    ADD(book, "kind=note", "words=x", ID(02), AT("09:00"));
    assert_int_equal(doubts_of(book, now, TW_DOUBT_UNKNOWN_TUB), 1);
    TUB_LINE(book);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_UNKNOWN_TUB), 0);
    assert_ok(tw_logbook_book_tub(book, tw_units_text(TUB_A), now, &tub));
    assert_int_equal(tub.newer, 0);
    static const char *const NEWER[] = {"kind=cocktail", ID(03), AT("10:00"), NULL};
    test_line line;
    assert_ok(test_compose(&line, NULL, TW_CHECK_IMPORTED, NEWER));
    add(book, &line);
    assert_int_equal(doubts_of(book, now, TW_DOUBT_NEWER), 1);
    assert_ok(tw_logbook_book_tub(book, tw_units_text(TUB_A), now, &tub));
    assert_int_equal(tub.newer, 1);
    free_book(book);
}

/* A few hundred entries of every sort, voids and conflicts among them. */
static size_t random_lines(test_line *line, uint64_t *random)
{
    size_t n = 0;
    for (; n < 250; n++) {
        char id[64], at[64], tub[64], target[64], amount[32], writer[64];
        snprintf(id, sizeof id, "id=01890000-0000-7000-8000-%012x", (unsigned)(random_bits(random) % 240));
        snprintf(target, sizeof target, "target=01890000-0000-7000-8000-%012x", (unsigned)(random_bits(random) % 240));
        snprintf(at, sizeof at, "at=2026-03-%02uT%02u:%02u:00+01:00", 1 + (unsigned)(random_bits(random) % 20),
                 (unsigned)(random_bits(random) % 24), (unsigned)(random_bits(random) % 60));
        snprintf(tub, sizeof tub, "tub=%s", random_bits(random) % 3 ? TUB_A : TUB_B);
        snprintf(writer, sizeof writer, "writer=%s", random_bits(random) % 2 ? WRITER_A : WRITER_B);
        snprintf(amount, sizeof amount, "amount=%u", 1 + (unsigned)(random_bits(random) % 3));
        switch (random_bits(random) % 5) {
        case 0:
            LINE(&line[n], id, at, tub, writer, "kind=void", target);
            break;
        case 1:
            LINE(&line[n], id, at, tub, writer, "kind=tub", "name=T \"x\"", "volume=900", "volume_unit=L");
            break;
        case 2:
            LINE(&line[n], id, at, tub, writer, "kind=intent", "act=a");
            break;
        default:
            LINE(&line[n], id, at, tub, writer, "kind=addition", "substance=" UUID(55), amount, "amount_unit=g");
            break;
        }
    }
    return n;
}

/* Everything that a book says at a time, as one digest. */
static void digest_of_answers(const tw_book *book, tw_time now, uint8_t out[TW_SHA256_BYTES])
{
    static tw_doubt doubt[4000];
    const tw_entry *entry, *open[400];
    tw_tub tub[8];
    size_t count, cursor = 0;
    tw_sha256_state state;
    uint8_t digest[TW_SHA256_BYTES];
    tw_sha256_init(&state);
    tw_logbook_book_digest(book, digest);
    tw_sha256_update(&state, digest, sizeof digest);
    tw_logbook_book_digest_tub(book, tw_units_text(TUB_A), now, digest);
    tw_sha256_update(&state, digest, sizeof digest);
    while ((entry = tw_logbook_book_next(book, EVERY, now, &cursor)) != NULL)
        tw_sha256_update(&state, entry->line.at, entry->line.n);
    assert_ok(tw_logbook_book_doubts(book, EVERY, now, doubt, 4000, &count));
    for (size_t i = 0; i < count; i++) {
        tw_sha256_update(&state, &doubt[i].kind, sizeof doubt[i].kind);
        tw_sha256_update(&state, doubt[i].entry->line.at, doubt[i].entry->line.n);
        if (doubt[i].other)
            tw_sha256_update(&state, doubt[i].other->line.at, doubt[i].other->line.n);
    }
    assert_ok(tw_logbook_book_open_intents(book, EVERY, now, open, 400, &count));
    for (size_t i = 0; i < count; i++)
        tw_sha256_update(&state, open[i]->line.at, open[i]->line.n);
    assert_ok(tw_logbook_book_tubs(book, now, tub, 8, &count));
    for (size_t i = 0; i < count; i++)
        tw_sha256_update(&state, tub[i].first->line.at, tub[i].first->line.n);
    tw_sha256_final(&state, out);
}

static void arrival_never_shows(void **state)
{
    (void)state;
    static test_line line[250];
    uint64_t random = check_seed;
    const tw_time now = test_time("2026-03-15T12:00:00+01:00");
    for (int round = 0; round < 6; round++) {
        const size_t n = random_lines(line, &random);
        uint8_t first[TW_SHA256_BYTES], digest[TW_SHA256_BYTES];
        for (int shuffle = 0; shuffle < 5; shuffle++) {
            tw_book *book = new_book();
            for (size_t i = n; i > 1 && shuffle > 0; i--) {
                const size_t j = random_bits(&random) % i;
                const test_line swap = line[i - 1];
                line[i - 1] = line[j];
                line[j] = swap;
            }
            for (size_t i = 0; i < n; i++) {
                (void)add(book, &line[i]);
                if (random_bits(&random) % 10 == 0)
                    (void)add(book, &line[random_bits(&random) % (i + 1)]); /* a resend */
            }
            digest_of_answers(book, now, shuffle == 0 ? first : digest);
            if (shuffle > 0)
                assert_memory_equal(first, digest, sizeof first);
            /* In the order of the fold, and each line there is found by its id. */
            for (size_t i = 1; i < tw_logbook_book_count(book); i++) {
                const tw_entry *a = tw_logbook_book_at(book, i - 1), *b = tw_logbook_book_at(book, i);
                assert_true(tw_units_time_compare(a->at, b->at) <= 0);
                const size_t found = tw_logbook_book_find(book, b->id);
                assert_true(tw_units_text_equal(tw_logbook_book_at(book, found)->id, b->id));
            }
            free_book(book);
        }
    }
}

static void prefix_and_tub_digests_see_what_they_name(void **state)
{
    (void)state;
    tw_book *book = new_book();
    uint8_t a[TW_SHA256_BYTES], b[TW_SHA256_BYTES];
    const tw_text tub = tw_units_text(TUB_A);
    TUB_LINE(book);
    ADD(book, "kind=note", "words=x", ID(02), AT("09:00"));
    tw_logbook_book_digest_tub(book, tub, NOW("09:30"), a);
    tw_logbook_book_digest_prefix(book, 2, b);
    assert_memory_equal(a, b, sizeof a);
    ADD(book, "kind=note", "words=later", ID(03), AT("10:00"));
    ADD(book, "kind=note", "words=elsewhere", "tub=" TUB_B, ID(04), AT("09:00"));
    tw_logbook_book_digest_tub(book, tub, NOW("09:30"), b);
    assert_memory_equal(a, b, sizeof a);
    tw_logbook_book_digest_tub(book, tub, NOW("10:00"), b);
    assert_memory_not_equal(a, b, sizeof a);
    tw_logbook_book_digest_prefix(book, tw_logbook_book_count(book), a);
    tw_logbook_book_digest(book, b);
    assert_memory_equal(a, b, sizeof a);
    free_book(book);
}

static void a_full_book_says_so_and_stays_whole(void **state)
{
    (void)state;
    tw_book *book = NULL;
    const size_t bytes = tw_logbook_book_bytes(3, 2000);
    void *mem = malloc(bytes);
    test_line line;
    assert_non_null(mem);
    assert_status(tw_logbook_book_init(mem, bytes - 1, 3, 2000, &book), TW_ERR_CAPACITY);
    assert_ok(tw_logbook_book_init(mem, bytes, 3, 2000, &book));
    for (int i = 0; i < 4; i++) {
        char id[64];
        snprintf(id, sizeof id, "id=01890000-0000-7000-8000-%012d", i);
        LINE(&line, "kind=note", "words=x", id);
        assert_status(tw_logbook_book_add_line(book, test_text(&line), NULL, NULL), i < 3 ? TW_OK : TW_ERR_CAPACITY);
    }
    assert_int_equal(tw_logbook_book_count(book), 3);
    assert_int_equal(used_count(book, TUB_A, NOW("12:00")), 3);
    /* Too little text: what was promised fits, much more does not, and memory is not overrun. */
    tw_book *small = NULL;
    static char words[2010] = "words=";
    memset(words + 6, '"', 2000);
    void *other = malloc(tw_logbook_book_bytes(100, 3000));
    assert_non_null(other);
    assert_ok(tw_logbook_book_init(other, tw_logbook_book_bytes(100, 3000), 100, 3000, &small));
    tw_status status = TW_OK;
    size_t taken = 0;
    for (int i = 0; i < 100 && status == TW_OK; i++) {
        char id[64];
        snprintf(id, sizeof id, "id=01890000-0000-7000-8000-%012d", i);
        LINE(&line, "kind=note", words, id);
        status = tw_logbook_book_add_line(small, test_text(&line), NULL, NULL);
        taken += status == TW_OK;
    }
    assert_status(status, TW_ERR_CAPACITY);
    assert_true(taken <= 2);
    free(mem);
    free(other);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(adding_again_changes_nothing),
        cmocka_unit_test(a_line_that_is_none_changes_nothing),
        cmocka_unit_test(two_lines_with_one_id_are_both_kept_and_doubted),
        cmocka_unit_test(a_void_takes_back_and_cannot_be_voided),
        cmocka_unit_test(a_void_waits_for_its_target_and_keeps_to_its_tub),
        cmocka_unit_test(what_is_ahead_is_kept_and_not_used),
        cmocka_unit_test(order_is_instant_then_id),
        cmocka_unit_test(a_tub_is_what_its_latest_entries_say),
        cmocka_unit_test(an_intent_is_open_until_it_is_answered),
        cmocka_unit_test(the_latest_setting_is_found_at_any_time),
        cmocka_unit_test(an_amount_by_scoop_is_so_many_full_scoops),
        cmocka_unit_test(the_same_dose_from_two_writers_is_asked_about),
        cmocka_unit_test(doses_that_differ_are_not_doubted),
        cmocka_unit_test(an_unknown_tub_and_a_newer_entry_are_doubts),
        cmocka_unit_test(arrival_never_shows),
        cmocka_unit_test(prefix_and_tub_digests_see_what_they_name),
        cmocka_unit_test(a_full_book_says_so_and_stays_whole),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
