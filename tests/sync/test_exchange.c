/* What is said, given and taken between two logbooks, claim by claim; the histories (test_histories.py) mix all of it. */
#include "two_places.h"

#include "sync/sync.h"

static const tw_sync_way FILE_WAY = {1774345200000, "file", {"", 0}, 0, NULL, NULL};

/* Some of the lines into a store, each with what became of it. */
static void take(tw_store *store, const size_t *which, size_t n, tw_sync_result *said)
{
    tw_sync_batch batch = {0};
    for (size_t i = 0; i < n; i++)
        assert_ok(tw_sync_batch_add(&batch, collected(&lines, which[i]), NULL));
    assert_ok(tw_sync_take(store, &batch, &FILE_WAY, said, NULL));
    tw_sync_batch_free(&batch);
}

/* Ten entries of one writer, in `lines`. */
static tw_store *ten(void)
{
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 10; i++)
        append_one(store, i, &lines);
    return store;
}

static void hash_of(size_t index, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256(collected(&lines, index).at, collected(&lines, index).n, out);
}

static void a_whole_chain_is_one_run_and_a_gap_makes_two(void **state)
{
    tw_sync_have have;
    tw_sync_result said[10];
    tw_sync_report report;
    uint8_t hash[TW_SHA256_BYTES];
    (void)state;
    tw_store *store = ten();
    assert_ok(tw_sync_have_of(store, 7, &have, NULL));
    assert_int_equal(have.runs, 1);
    assert_int_equal(have.run[0].from, 1);
    assert_int_equal(have.run[0].n, 10);
    assert_int_equal(have.lines, 10);
    assert_int_equal(have.now_ms, 7);
    tw_sync_have_free(&have);
    tw_store *half = opened(&other, WRITE_AND_MAKE);
    take(half, (const size_t[]){0, 1, 2, 4, 5}, 5, said);
    assert_int_equal(said[3].gap, 1);
    assert_int_equal(said[4].gap, 0);
    assert_int_equal(said[3].n, 5);
    assert_ok(tw_sync_have_of(half, 0, &have, NULL));
    assert_int_equal(have.runs, 2);
    assert_int_equal(have.run[0].n, 3);
    assert_int_equal(have.run[1].from, 5);
    assert_int_equal(have.run[1].n, 6);
    /* What the first has and the second does not: the fourth, and from the seventh on. */
    tw_sync_list list = {0};
    assert_ok(tw_sync_lacking(store, &have, &list, NULL));
    assert_int_equal(list.count, 5);
    hash_of(3, hash);
    assert_memory_equal(list.hash[0], hash, sizeof hash);
    hash_of(6, hash);
    assert_memory_equal(list.hash[1], hash, sizeof hash);
    free(list.hash);
    tw_sync_have_free(&have);
    /* And the second names what it was not given, from what the first says. */
    assert_ok(tw_sync_have_of(store, 0, &have, NULL));
    memset(&report, 0, sizeof report);
    assert_ok(tw_sync_not_given(half, &have, &report, NULL));
    assert_int_equal(report.odds, 1);
    assert_int_equal(report.odd[0].n, 10);
    tw_sync_report_free(&report);
    take(half, (const size_t[]){6, 7, 8, 9}, 4, said);
    assert_ok(tw_sync_not_given(half, &have, &report, NULL));
    assert_int_equal(report.odds, 1);
    assert_int_equal(report.odd[0].n, 4);
    hash_of(3, hash);
    assert_memory_equal(report.odd[0].hash, hash, sizeof hash);
    tw_sync_report_free(&report);
    assert_ok(tw_sync_chains(half, &report, NULL));
    assert_int_equal(report.odds, 1);
    assert_int_equal(report.odd[0].kind, TW_SYNC_ODD_GAP);
    assert_int_equal(report.odd[0].n, 4);
    assert_int_equal(report.odd[0].last, 4);
    assert_memory_equal(report.odd[0].other, hash, sizeof hash);
    tw_sync_report_free(&report);
    tw_sync_have_free(&have);
    tw_store_close(store);
    tw_store_close(half);
}

static void who_is_behind_is_given_no_more_than_it_lacks_and_who_is_ahead_is_not_forgotten(void **state)
{
    tw_sync_have have;
    tw_sync_result said[10];
    tw_sync_list list = {0};
    (void)state;
    tw_store *store = ten();
    tw_store *behind = opened(&other, WRITE_AND_MAKE);
    take(behind, (const size_t[]){0, 1, 2}, 3, said);
    /* Theirs is the end of a run that is not known here: all of it may be lacking there. */
    assert_ok(tw_sync_have_of(store, 0, &have, NULL));
    assert_ok(tw_sync_lacking(behind, &have, &list, NULL));
    assert_int_equal(list.count, 3);
    tw_sync_have_free(&have);
    /* They have nothing. */
    memset(&have, 0, sizeof have);
    assert_ok(tw_sync_lacking(store, &have, &list, NULL));
    assert_int_equal(list.count, 10);
    assert_ok(tw_sync_have_of(store, 0, &have, NULL));
    assert_ok(tw_sync_lacking(store, &have, &list, NULL));
    assert_int_equal(list.count, 0);
    free(list.hash);
    tw_sync_have_free(&have);
    tw_store_close(store);
    tw_store_close(behind);
}

static void each_line_is_taken_for_itself(void **state)
{
    tw_sync_batch batch = {0};
    tw_sync_result said[5];
    uint8_t hash[TW_SHA256_BYTES];
    int64_t at_ms = 0;
    char via[16];
    (void)state;
    tw_store_close(ten());
    tw_store *store = opened(&other, WRITE_AND_MAKE);
    hash_of(0, hash);
    assert_ok(tw_sync_batch_add(&batch, collected(&lines, 0), hash));
    assert_ok(tw_sync_batch_add(&batch, tw_units_text("{\"a\":1}"), NULL));
    assert_ok(tw_sync_batch_add(&batch, collected(&lines, 1), hash)); /* with the hash of another */
    assert_ok(tw_sync_batch_add(&batch, collected(&lines, 0), hash));
    assert_ok(tw_sync_batch_add(&batch, collected(&lines, 2), NULL));
    assert_ok(tw_sync_take(store, &batch, &FILE_WAY, said, NULL));
    assert_int_equal(said[0].taken, TW_SYNC_STORED);
    assert_int_equal(said[1].taken, TW_SYNC_REFUSED);
    assert_string_equal(said[1].reason, "not-text");
    assert_true(strlen(said[1].sentence) > 10);
    assert_int_equal(said[2].taken, TW_SYNC_REFUSED);
    assert_string_equal(said[2].reason, "altered");
    assert_int_equal(said[2].n, 2);
    assert_int_equal(said[3].taken, TW_SYNC_HAD);
    assert_int_equal(said[4].taken, TW_SYNC_STORED);
    assert_int_equal(said[4].gap, 1);
    assert_ok(tw_store_arrived(store, hash, &at_ms, via, sizeof via, NULL));
    assert_int_equal(at_ms, FILE_WAY.now_ms);
    assert_string_equal(via, "file");
    tw_sync_batch_free(&batch);
    tw_store_close(store);
}

static void a_second_entry_with_a_number_is_kept_and_named_with_both_hashes(void **state)
{
    tw_sync_result said[3];
    tw_sync_report report;
    tw_sync_batch batch = {0};
    char changed[TW_LINE_BYTES];
    uint8_t first[TW_SHA256_BYTES], second[TW_SHA256_BYTES];
    (void)state;
    tw_store *store = ten();
    const tw_text line = collected(&lines, 4);
    memcpy(changed, line.at, line.n);
    changed[line.n] = '\0';
    *(strstr(changed, "\"value\":\"7.") + 11) = '0';
    hash_of(4, first);
    tw_sha256(changed, line.n, second);
    assert_ok(tw_sync_batch_add(&batch, (tw_text){changed, line.n}, second));
    assert_ok(tw_sync_take(store, &batch, &FILE_WAY, said, NULL));
    tw_sync_batch_free(&batch);
    assert_int_equal(said[0].taken, TW_SYNC_STORED);
    assert_int_equal(said[0].forks, 1);
    assert_memory_equal(said[0].other, first, sizeof first);
    memset(&report, 0, sizeof report);
    assert_ok(tw_sync_chains(store, &report, NULL));
    assert_int_equal(report.odds, 1);
    assert_int_equal(report.odd[0].kind, TW_SYNC_ODD_FORKED);
    assert_int_equal(report.odd[0].n, 5);
    assert_true((memcmp(report.odd[0].hash, first, sizeof first) == 0 && memcmp(report.odd[0].other, second, sizeof second) == 0)
                || (memcmp(report.odd[0].hash, second, sizeof first) == 0 && memcmp(report.odd[0].other, first, sizeof second) == 0));
    tw_sync_report_free(&report);
    tw_store_close(store);
}

static void pages_end_where_they_are_told_to_and_miss_nothing(void **state)
{
    tw_sync_batch batch = {0};
    char cursor[TW_STORE_MARK_BYTES] = "";
    char next[TW_STORE_MARK_BYTES];
    int more = 1;
    size_t seen = 0;
    (void)state;
    tw_store *store = ten();
    while (more) {
        assert_ok(tw_sync_since(store, tw_units_text(cursor), tw_units_text(""), 3, &batch, next, &more, NULL));
        for (size_t i = 0; i < batch.count; i++) {
            const tw_text line = tw_sync_batch_line(&batch, i);
            assert_true(tw_units_text_equal(line, collected(&lines, seen++)));
        }
        memcpy(cursor, next, sizeof cursor);
    }
    assert_int_equal(seen, 10);
    assert_ok(tw_sync_since(store, tw_units_text(cursor), tw_units_text(""), 3, &batch, next, &more, NULL));
    assert_int_equal(batch.count, 0);
    assert_int_equal(more, 0);
    assert_string_equal(cursor, next);
    assert_ok(tw_sync_since(store, tw_units_text(""), tw_units_text("01890000-0000-7000-8000-00000000ffff"), 3, &batch, next, &more, NULL));
    assert_int_equal(batch.count, 0);
    assert_string_equal(cursor, next); /* it moved over what is of another tub */
    assert_int_equal(tw_sync_since(store, tw_units_text("nonsense"), tw_units_text(""), 3, &batch, next, &more, NULL), TW_ERR_FORMAT);
    tw_sync_batch_free(&batch);
    tw_store_close(store);
}

/* Long lines: a page also ends by its bytes. */
static void a_page_holds_no_more_than_its_bytes(void **state)
{
    static char buf[TW_LINE_BYTES], remark[501];
    tw_sync_batch batch = {0};
    char cursor[TW_STORE_MARK_BYTES] = "";
    char next[TW_STORE_MARK_BYTES];
    int more = 1;
    size_t pages = 0;
    size_t seen = 0;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    memset(remark, 'x', sizeof remark - 1);
    for (unsigned i = 1; i <= 400; i++) {
        char id[64], words[1000 * 4 + 1];
        size_t length = 0;
        (void)snprintf(id, sizeof id, "01890000-0000-7000-8000-%012u", i);
        for (size_t at = 0; at + 4 < sizeof words; at += 4)
            memcpy(words + at, "\xf0\x9f\x8c\x8a", 5); /* four bytes each */
        const tw_typed typed[] = {
            {TW_TEXT("id"), tw_units_text(id)}, {TW_TEXT("kind"), TW_TEXT("note")}, {TW_TEXT("tub"), TW_TEXT(TUB_A)},
            {TW_TEXT("at"), TW_TEXT("2026-03-24T10:40:00+01:00")}, {TW_TEXT("entered"), TW_TEXT("2026-03-24T10:40:00+01:00")},
            {TW_TEXT("words"), tw_units_text(words)}, {TW_TEXT("remark"), tw_units_text(remark)}};
        assert_ok(tw_logbook_compose(typed, sizeof typed / sizeof *typed, TW_CHECK_DRAFT, buf, sizeof buf, &length, NULL));
        const tw_text draft = {buf, length};
        assert_ok(tw_store_append_own(store, &draft, 1, NULL, NULL, NULL));
    }
    for (; more; pages++) {
        assert_ok(tw_sync_since(store, tw_units_text(cursor), tw_units_text(""), 0, &batch, next, &more, NULL));
        assert_true(batch.used <= TW_SYNC_LINE_BYTES && batch.count > 0);
        seen += batch.count;
        memcpy(cursor, next, sizeof cursor);
    }
    assert_int_equal(seen, 400);
    assert_true(pages > 1);
    tw_sync_batch_free(&batch);
    tw_store_close(store);
}

static void refusals_and_clocks_are_noted_once_and_taken_back(void **state)
{
    tw_store_clock clock = {"5a000000-0000-4000-8000-000000000001", 200000, 40, 1774345200000};
    tw_store_clock found[2];
    size_t count = 0;
    (void)state;
    tw_store *store = ten();
    assert_ok(tw_store_clock_note(store, &clock, NULL));
    clock.ahead_ms += 900; /* not worth a word */
    clock.at_ms += 1000;
    assert_ok(tw_store_clock_note(store, &clock, NULL));
    assert_ok(tw_store_clocks(store, found, 2, &count, NULL));
    assert_int_equal(count, 1);
    assert_int_equal(found[0].ahead_ms, 200000);
    clock.ahead_ms += 1000;
    assert_ok(tw_store_clock_note(store, &clock, NULL));
    assert_ok(tw_store_clocks(store, found, 2, &count, NULL));
    assert_int_equal(found[0].ahead_ms, 201900);
    clock.ahead_ms -= 100;
    clock.at_ms += INT64_C(86400000);
    assert_ok(tw_store_clock_note(store, &clock, NULL));
    assert_ok(tw_store_clocks(store, found, 2, &count, NULL));
    assert_int_equal(found[0].ahead_ms, 201800);
    tw_store_close(store);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        T(a_whole_chain_is_one_run_and_a_gap_makes_two),
        T(who_is_behind_is_given_no_more_than_it_lacks_and_who_is_ahead_is_not_forgotten),
        T(each_line_is_taken_for_itself),
        T(a_second_entry_with_a_number_is_kept_and_named_with_both_hashes),
        T(pages_end_where_they_are_told_to_and_miss_nothing),
        T(a_page_holds_no_more_than_its_bytes),
        T(refusals_and_clocks_are_noted_once_and_taken_back),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
