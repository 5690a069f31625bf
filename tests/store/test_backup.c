/* Backups are copies that were tried; a restored logbook goes on as another writer; older files are copied before they are changed. */
#include "store/logbooks.h"

#include "store/backup.h"

static test_place place;
static test_lines lines;
static char copy[400];

static int set_up(void **state)
{
    (void)state;
    place_make(&place);
    memset(&lines, 0, sizeof lines);
    (void)snprintf(copy, sizeof copy, "%s/copy.db", place.folder);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    place_remove(&place);
    return 0;
}

static tw_store_sum sum_of(const char *path)
{
    tw_store *store = NULL;
    tw_store_sum sum;
    tw_store_sum replayed;
    assert_ok(tw_store_open(path, TW_STORE_READ, NULL, &store, NULL));
    assert_ok(tw_store_sum_up(store, &sum, NULL));
    assert_ok(tw_store_replay(store, &replayed, NULL));
    assert_memory_equal(&sum.seal, &replayed.seal, sizeof sum.seal);
    assert_int_equal(sum.lines, replayed.lines);
    assert_int_equal(sum.writers, replayed.writers);
    tw_store_close(store);
    return sum;
}

static void a_backup_is_the_logbook_of_its_moment(void **state)
{
    tw_store_sum sum;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    append_one(store, 2, NULL);
    assert_ok(tw_store_backup(store, copy, &sum, NULL));
    append_one(store, 3, NULL);
    tw_store_close(store);
    const tw_store_sum copied = sum_of(copy);
    assert_int_equal(copied.lines, 2);
    assert_memory_equal(copied.seal, sum.seal, sizeof sum.seal);
    assert_int_equal(sum_of(place.logbook).lines, 3);
    shell("test $(ls @ | grep -c -e new -e try) = 0", place.folder, "");
}

static void a_copy_that_is_damaged_is_never_called_a_backup(void **state)
{
    tw_store_fault fault;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    append_one(store, 2, NULL);
    assert_ok(tw_store_backup(store, copy, NULL, NULL));
    /* The first entry is changed behind the guards, and with its hash, so that only the seal tells. */
    assert_int_equal(sqlite3_exec(store->db, "drop trigger fact_no_update; update fact set body = replace(body, '7.1', '7.2') where arrival = 1;",
                                  NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(tw_store_backup(store, copy, NULL, &fault), TW_ERR_DAMAGED);
    tw_store_close(store);
    assert_int_equal(sum_of(copy).lines, 2); /* the older one stands as it was */
    shell("test $(ls @ | grep -c -e new -e try) = 0", place.folder, "");
}

static void what_is_restored_goes_on_as_another_writer(void **state)
{
    char first[TW_ID_BYTES], second[TW_ID_BYTES], aside[400];
    tw_store_head head[4];
    size_t heads = 0;
    (void)state;
    for (int with_state = 0; with_state < 2; with_state++) {
        tw_store *store = NULL;
        const char *notes = with_state ? place.state : NULL;
        assert_ok(tw_store_open(place.logbook, WRITE_AND_MAKE, notes, &store, NULL));
        append_one(store, 1, NULL);
        assert_ok(tw_store_writer(store, first, NULL));
        assert_ok(tw_store_backup(store, copy, NULL, NULL));
        tw_store_close(store);
        /* Nothing was written since: even then. */
        assert_ok(tw_store_restore(copy, place.logbook, aside, sizeof aside, NULL, NULL));
        assert_string_equal(aside, "");
        assert_ok(tw_store_open(place.logbook, TW_STORE_WRITE, notes, &store, NULL));
        append_one(store, 2, NULL);
        assert_ok(tw_store_writer(store, second, NULL));
        assert_string_not_equal(first, second);
        assert_ok(tw_store_heads(store, head, 4, &heads, NULL));
        assert_int_equal(heads, 2);
        tw_store_close(store);
        assert_int_equal(sum_of(place.logbook).lines, 2);
        assert_int_equal(sum_of(copy).lines, 1);
        assert_int_equal(unlink(place.logbook), 0);
    }
}

static void nothing_is_put_under_a_program_that_has_it_open(void **state)
{
    char aside[400];
    tw_store_fault fault;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    assert_ok(tw_store_backup(store, copy, NULL, NULL));
    append_one(store, 2, NULL);
    assert_int_equal(tw_store_restore(copy, place.logbook, aside, sizeof aside, NULL, &fault), TW_ERR_LOCKED);
    append_one(store, 3, NULL);
    tw_store_close(store);
    assert_int_equal(sum_of(place.logbook).lines, 3);
    shell("test $(ls @ | grep -c restore) = 0", place.folder, "");
}

static void a_damaged_logbook_is_put_aside(void **state)
{
    char aside[400];
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    assert_ok(tw_store_backup(store, copy, NULL, NULL));
    tw_store_close(store);
    shell("echo this is no logbook > @", place.logbook, "");
    assert_ok(tw_store_restore(copy, place.logbook, aside, sizeof aside, NULL, NULL));
    assert_int_equal(sum_of(place.logbook).lines, 1);
    shell("grep -q 'no logbook' @", aside, "");
    assert_int_equal(unlink(place.logbook), 0);
    assert_ok(tw_store_restore(copy, place.logbook, aside, sizeof aside, NULL, NULL));
    assert_string_equal(aside, "");
    assert_int_equal(sum_of(place.logbook).lines, 1);
}

/* A logbook as version 1 made it, with two lines. */
static void make_version_1(const test_lines *two)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *put = NULL;
    assert_int_equal(sqlite3_open(place.logbook, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "pragma application_id = 1416979063; pragma journal_mode = wal", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(tw_store_migrate(db, tw_store_steps, 1), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "insert into own values ('token', '0123456789abcdef')", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, "insert into fact (body, hash) values (?1, ?2)", -1, &put, NULL), SQLITE_OK);
    for (size_t i = 0; i < two->count; i++) {
        uint8_t hash[TW_SHA256_BYTES];
        const tw_text line = collected(two, i);
        tw_sha256(line.at, line.n, hash);
        tw_store_bind_text(put, 1, line);
        tw_store_bind_blob(put, 2, hash, sizeof hash);
        assert_int_equal(sqlite3_step(put), SQLITE_DONE);
        assert_int_equal(sqlite3_reset(put), SQLITE_OK);
    }
    (void)sqlite3_finalize(put);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static int version_of(const char *path)
{
    sqlite3 *db = NULL;
    int version = -1;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(tw_store_number_of(db, "pragma user_version", &version), SQLITE_OK);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
    return version;
}

static void an_older_file_is_read_as_it_is_and_copied_before_it_is_changed(void **state)
{
    char kept[400], mark[TW_STORE_MARK_BYTES], via[8];
    tw_store_cursor end;
    tw_store_cursor again;
    uint8_t hash[TW_SHA256_BYTES];
    int64_t at_ms = 0;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, &lines);
    append_one(store, 2, &lines);
    tw_store_close(store);
    assert_int_equal(unlink(place.logbook), 0);
    make_version_1(&lines);
    const tw_store_sum before = sum_of(place.logbook);
    assert_int_equal(before.lines, 2);
    assert_int_equal(version_of(place.logbook), 1);
    store = opened(&place, TW_STORE_WRITE);
    (void)snprintf(kept, sizeof kept, "%s.version-1", place.logbook);
    assert_int_equal(version_of(kept), 1);
    assert_memory_equal(sum_of(kept).seal, before.seal, sizeof before.seal);
    /* Lines that were there have a place to read on from, and no time of arrival. */
    assert_ok(tw_store_newest(store, &end, NULL));
    assert_ok(tw_store_mark(store, end, mark, NULL));
    assert_ok(tw_store_mark_read(store, tw_units_text(mark), &again, NULL));
    assert_int_equal(again.opaque, 2);
    tw_sha256(collected(&lines, 0).at, collected(&lines, 0).n, hash);
    assert_int_equal(tw_store_arrived(store, hash, &at_ms, via, sizeof via, NULL), TW_ERR_MISSING);
    append_one(store, 3, NULL);
    assert_ok(tw_store_check(store, NULL));
    tw_store_close(store);
    assert_int_equal(version_of(place.logbook), TW_STORE_SCHEMA);
    assert_int_equal(sum_of(place.logbook).lines, 3);
    /* Where no copy can be made nothing is changed. */
    assert_int_equal(unlink(place.logbook), 0);
    make_version_1(&lines);
    for (int i = 2; i < 100; i++) {
        (void)snprintf(kept, sizeof kept, "%s.version-1.%d", place.logbook, i);
        assert_int_equal(mkdir(kept, 0700), 0);
    }
    assert_int_equal(tw_store_open(place.logbook, TW_STORE_WRITE, NULL, &store, NULL), TW_ERR_IO);
    assert_int_equal(version_of(place.logbook), 1);
}

static void a_mark_is_of_one_file_as_it_was(void **state)
{
    char mark[TW_STORE_MARK_BYTES], aside[400];
    tw_store_cursor end;
    tw_store_cursor again;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    assert_ok(tw_store_backup(store, copy, NULL, NULL));
    append_one(store, 2, NULL);
    assert_ok(tw_store_newest(store, &end, NULL));
    assert_ok(tw_store_mark(store, end, mark, NULL));
    assert_ok(tw_store_mark_read(store, tw_units_text(mark), &again, NULL));
    assert_int_equal(again.opaque, end.opaque);
    tw_store_close(store);
    assert_ok(tw_store_restore(copy, place.logbook, aside, sizeof aside, NULL, NULL));
    store = opened(&place, TW_STORE_WRITE);
    assert_int_equal(tw_store_mark_read(store, tw_units_text(mark), &again, NULL), TW_ERR_UNKNOWN);
    append_one(store, 4, NULL); /* another entry has the number of that arrival now */
    assert_int_equal(tw_store_mark_read(store, tw_units_text(mark), &again, NULL), TW_ERR_UNKNOWN);
    assert_int_equal(again.opaque, 0);
    tw_store_close(store);
}

static void what_is_no_mark_is_refused(void **state)
{
    static const char *const BAD[] = {"1", ".", "1.", "0.0123456789abcdef", "01.0123456789abcdef", "1.0123456789abcde", "1.0123456789abcdeF",
                                      "1.0123456789abcdef0", "g.0123456789abcdef", "-1.0123456789abcdef", "1 0123456789abcdef",
                                      "1111111111111111.0123456789abcdef"};
    tw_store_cursor at;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        assert_int_equal(tw_store_mark_read(store, tw_units_text(BAD[i]), &at, NULL), TW_ERR_FORMAT);
    assert_int_equal(tw_store_mark_read(store, tw_units_text("1.0123456789abcdef"), &at, NULL), TW_ERR_UNKNOWN);
    assert_ok(tw_store_mark_read(store, tw_units_text(""), &at, NULL));
    tw_store_close(store);
}

static void an_arrival_that_is_gone_or_changed_is_damage(void **state)
{
    tw_store_fault fault;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 3; i++)
        append_one(store, i, NULL);
    assert_int_equal(sqlite3_exec(store->db, "pragma foreign_keys = off; drop trigger fact_no_delete; delete from fact where arrival = 2", NULL,
                                  NULL, NULL), SQLITE_OK);
    assert_int_equal(tw_store_check(store, &fault), TW_ERR_DAMAGED);
    assert_non_null(strstr(fault.detail, "2"));
    tw_store_close(store);
}

#define DAY ((int64_t)86400)

static void the_rule_keeps_the_newest_of_each_span(void **state)
{
    /* Every 6 hours over 70 days, from 1 January 2026; out of order. */
    static int64_t at[280];
    static unsigned char keep[280];
    tw_store_keep rule;
    size_t kept = 0;
    (void)state;
    for (size_t i = 0; i < 280; i++)
        at[i] = 20454 * DAY + (int64_t)(i * 37 % 280) * DAY / 4;
    assert_int_equal(tw_store_keep_read(tw_units_text("3,7d,4w,12m"), &rule), 1);
    tw_store_keep_which(&rule, at, 280, keep);
    for (size_t i = 0; i < 280; i++) {
        const int64_t age = (20454 * DAY + 279 * DAY / 4 - at[i]) / (DAY / 4); /* in quarter days, 0 the newest */
        const int last_of_day = age % 4 == 0;
        kept += keep[i];
        if (age < 3 || (last_of_day && age < 28))
            assert_int_equal(keep[i], 1);
        else if (!last_of_day)
            assert_int_equal(keep[i], 0);
    }
    /* 11 March 2026 is a Wednesday: 3, then 6 more days, then the Sundays 1 March and 22 February (8 March is one of the days),
     * then 28 February and 31 January. */
    assert_int_equal(kept, 3 + 6 + 2 + 2);
    assert_int_equal(tw_store_keep_read(tw_units_text("2"), &rule), 1);
    tw_store_keep_which(&rule, at, 280, keep);
    kept = 0;
    for (size_t i = 0; i < 280; i++)
        kept += keep[i];
    assert_int_equal(kept, 2);
    static const char *const BAD[] = {"", "0", "d", "3,", ",3", "3,4", "7d,7d", "3x", "3 7d", "-1", "100000"};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        assert_int_equal(tw_store_keep_read(tw_units_text(BAD[i]), &rule), 0);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        T(a_backup_is_the_logbook_of_its_moment),
        T(a_copy_that_is_damaged_is_never_called_a_backup),
        T(what_is_restored_goes_on_as_another_writer),
        T(nothing_is_put_under_a_program_that_has_it_open),
        T(a_damaged_logbook_is_put_aside),
        T(an_older_file_is_read_as_it_is_and_copied_before_it_is_changed),
        T(a_mark_is_of_one_file_as_it_was),
        T(what_is_no_mark_is_refused),
        T(an_arrival_that_is_gone_or_changed_is_damage),
        T(the_rule_keeps_the_newest_of_each_span),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
