/* The store keeps lines: all of a batch or none, each once, never changed, numbered by writer. */
#include "store/logbooks.h"

#include "logbook/book.h"
#include "logbook/chain.h"

static test_place place;
static test_lines lines;
static test_lines again;

static int set_up(void **state)
{
    (void)state;
    place_make(&place);
    memset(&lines, 0, sizeof lines);
    memset(&again, 0, sizeof again);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    place_remove(&place);
    return 0;
}

static uint64_t count_of(tw_store *store)
{
    uint64_t count = 0;
    uint64_t bytes = 0;
    assert_ok(tw_store_size(store, &count, &bytes, NULL));
    return count;
}

static void an_empty_logbook_has_no_lines_and_no_writer(void **state)
{
    char writer[TW_ID_BYTES];
    size_t heads = 9;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_int_equal(count_of(store), 0);
    assert_ok(tw_store_writer(store, writer, NULL));
    assert_string_equal(writer, "");
    assert_ok(tw_store_heads(store, NULL, 0, &heads, NULL));
    assert_int_equal(heads, 0);
    assert_ok(tw_store_check(store, NULL));
    tw_store_close(store);
}

static void own_lines_are_numbered_and_chained(void **state)
{
    char hash[TW_SHA256_HEX];
    uint8_t digest[TW_SHA256_BYTES];
    tw_entry_room room;
    tw_entry entry;
    double number = 0;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 5; i++)
        append_one(store, i, &lines);
    for (size_t i = 0; i < 5; i++) {
        assert_ok(tw_logbook_line_read(collected(&lines, i), TW_CHECK_TYPED, &room, &entry, NULL));
        assert_ok(tw_logbook_number(&entry, TW_FIELD_N, &number));
        assert_true(number == (double)(i + 1));
        if (i == 0) {
            assert_false(tw_logbook_has(&entry, TW_FIELD_PREV));
        } else {
            tw_sha256(collected(&lines, i - 1).at, collected(&lines, i - 1).n, digest);
            tw_sha256_hex(digest, hash);
            assert_true(tw_units_text_is(tw_logbook_text(&entry, TW_FIELD_PREV), hash));
        }
    }
    tw_store_close(store);
    /* After closing and opening the same writer goes on. */
    store = opened(&place, TW_STORE_WRITE);
    append_one(store, 6, &lines);
    assert_ok(tw_logbook_line_read(collected(&lines, 5), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_number(&entry, TW_FIELD_N, &number));
    assert_true(number == 6.0);
    tw_store_close(store);
}

static void a_batch_of_own_lines_is_all_or_nothing(void **state)
{
    test_line good;
    tw_store_fault fault;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    draft_of(&good, 1);
    const tw_text batch[] = {test_text(&good), TW_TEXT("{\"kind\":\"reading\"}")};
    assert_int_equal(tw_store_append_own(store, batch, 2, collect, &lines, &fault), TW_ERR_MISSING);
    assert_int_equal(fault.id, TW_STORE_ENTRY);
    assert_non_null(strstr(fault.detail, "line 2: "));
    assert_int_equal(lines.count, 0);
    assert_int_equal(count_of(store), 0);
    tw_store_close(store);
}

static void the_same_line_is_kept_once(void **state)
{
    tw_text batch[4];
    size_t added = 0;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 3; i++)
        append_one(store, i, &lines);
    for (size_t i = 0; i < 3; i++)
        batch[i] = collected(&lines, i);
    batch[3] = batch[0];
    assert_ok(tw_store_append(store, batch, 4, &added, NULL));
    assert_int_equal(added, 0);
    assert_int_equal(count_of(store), 3);
    tw_store_close(store);

    test_place other;
    place_make(&other);
    store = opened(&other, WRITE_AND_MAKE);
    assert_ok(tw_store_append(store, batch, 4, &added, NULL));
    assert_int_equal(added, 3);
    assert_ok(tw_store_append(store, batch, 4, &added, NULL));
    assert_int_equal(added, 0);
    tw_store_close(store);
    place_remove(&other);
}

static void two_lines_with_one_id_are_both_kept(void **state)
{
    test_line a;
    test_line b;
    size_t added = 0;
    (void)state;
    LINE(&a, "kind=note", "words=this");
    LINE(&b, "kind=note", "words=that");
    const tw_text batch[] = {test_text(&a), test_text(&b)};
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_ok(tw_store_append(store, batch, 2, &added, NULL));
    assert_int_equal(added, 2);
    tw_store_close(store);
}

static void a_bad_line_rejects_the_batch(void **state)
{
    test_line good;
    tw_store_fault fault;
    size_t added = 7;
    (void)state;
    LINE(&good, "kind=note", "words=this");
    const tw_text batch[] = {test_text(&good), TW_TEXT("{\"b\":\"1\",\"a\":\"2\"}")};
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_int_equal(tw_store_append(store, batch, 2, &added, &fault), TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_STORE_ENTRY);
    assert_int_equal(added, 0);
    assert_int_equal(count_of(store), 0);
    tw_store_close(store);
}

/* Try a statement on the file with a plain connection, as an SQL shell would. */
static void refused(const char *sql, int recursive)
{
    sqlite3 *db = NULL;
    char *error = NULL;
    assert_int_equal(sqlite3_open(place.logbook, &db), SQLITE_OK);
    if (recursive)
        assert_int_equal(sqlite3_exec(db, "pragma recursive_triggers = on", NULL, NULL, NULL), SQLITE_OK);
    const int rc = sqlite3_exec(db, sql, NULL, NULL, &error);
    if (rc != SQLITE_CONSTRAINT || error == NULL || strstr(error, "append-only") == NULL) {
        print_error("# not refused (%d, %s): %s\n", rc, error != NULL ? error : "", sql);
        fail();
    }
    sqlite3_free(error);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static void no_line_can_be_changed_removed_or_replaced(void **state)
{
    static const char *const SQL[] = {
        "update fact set body = replace(body, '7.1', '7.2')",
        "update fact set hash = zeroblob(32)",
        "update fact set arrival = arrival + 1",
        "delete from fact",
        "replace into fact (arrival, body, hash) select arrival, replace(body, '7.1', '7.2'), hash from fact",
        "replace into fact (body, hash) select replace(body, '7.1', '7.2'), hash from fact",
        "insert or replace into fact (arrival, body, hash) select arrival, body, zeroblob(32) from fact",
        "insert into fact (body, hash) select body, hash from fact where true on conflict (hash) do update set body = ''",
    };
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, &lines);
    tw_store_close(store);
    for (size_t i = 0; i < sizeof SQL / sizeof *SQL; i++) {
        refused(SQL[i], 0);
        refused(SQL[i], 1);
    }
    store = opened(&place, TW_STORE_READ);
    assert_ok(tw_store_export(store, tw_units_text(""), collect, &again, NULL));
    assert_int_equal(again.count, 1);
    assert_true(tw_units_text_equal(collected(&again, 0), collected(&lines, 0)));
    tw_store_close(store);
}

static void only_json_with_id_tub_and_kind_can_be_a_fact(void **state)
{
    static const char *const SQL[] = {
        "insert into fact (body, hash) values ('no json', zeroblob(32))",
        "insert into fact (body, hash) values ('{\"kind\":\"note\",\"tub\":\"t\",\"writer\":\"w\",\"n\":\"1\"}', zeroblob(32))",
        "insert into fact (body, hash) values ('{\"id\":\"i\",\"tub\":\"t\",\"writer\":\"w\",\"n\":\"1\"}', zeroblob(32))",
        "insert into fact (body, hash) values ('{\"id\":\"i\",\"kind\":\"note\",\"tub\":\"t\",\"writer\":\"w\",\"n\":\"1\"}', zeroblob(31))",
        "insert into fact (body, hash) values (7, zeroblob(32))",
        "insert into own values (x'00', 'a')",
    };
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (size_t i = 0; i < sizeof SQL / sizeof *SQL; i++)
        assert_int_not_equal(sqlite3_exec(store->db, SQL[i], NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(count_of(store), 0);
    tw_store_close(store);
}

static void pragma_is(tw_store *store, const char *name, const char *want)
{
    char sql[64];
    sqlite3_stmt *statement = NULL;
    (void)snprintf(sql, sizeof sql, "pragma %s", name);
    assert_int_equal(sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    assert_string_equal((const char *)sqlite3_column_text(statement, 0), want);
    (void)sqlite3_finalize(statement);
}

static void every_connection_has_the_settings_that_durability_needs(void **state)
{
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (int round = 0; round < 2; round++) {
        pragma_is(store, "synchronous", "2");
        pragma_is(store, "journal_mode", "wal");
        pragma_is(store, "foreign_keys", "1");
        pragma_is(store, "recursive_triggers", "1");
        pragma_is(store, "user_version", "2");
        pragma_is(store, "application_id", "1416979063");
        tw_store_close(store);
        store = opened(&place, TW_STORE_WRITE);
    }
    tw_store_close(store);
}

static void since_shows_what_is_new(void **state)
{
    tw_store_cursor cursor = {0};
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    append_one(store, 2, NULL);
    assert_ok(tw_store_since(store, &cursor, collect, &lines, NULL));
    assert_int_equal(lines.count, 2);
    assert_ok(tw_store_since(store, &cursor, collect, &lines, NULL));
    assert_int_equal(lines.count, 2);
    append_one(store, 3, NULL);
    assert_ok(tw_store_since(store, &cursor, collect, &lines, NULL));
    assert_int_equal(lines.count, 3);
    assert_non_null(strstr(lines.bytes + lines.end[1], "000000000003"));
    tw_store_close(store);
}

static void a_tubs_lines_are_its_own(void **state)
{
    test_line other;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    LINE(&other, "kind=note", "words=this", "tub=" TUB_B);
    const tw_text text = test_text(&other);
    assert_ok(tw_store_append(store, &text, 1, NULL, NULL));
    assert_ok(tw_store_of_tub(store, tw_units_text(TUB_B), collect, &lines, NULL));
    assert_int_equal(lines.count, 1);
    assert_true(tw_units_text_equal(collected(&lines, 0), text));
    assert_ok(tw_store_export(store, tw_units_text(TUB_A), collect, &again, NULL));
    assert_int_equal(again.count, 1);
    tw_store_close(store);
}

static void the_heads_are_those_of_the_chains(void **state)
{
    size_t count = 0;
    size_t book_count = 0;
    tw_store_head heads[8];
    tw_chain_head book_heads[8];
    test_line forked[2];
    tw_book *book = NULL;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 4; i++)
        append_one(store, i, NULL);
    LINE(&forked[0], "kind=note", "words=this", "writer=" WRITER_B, "n=1");
    LINE(&forked[1], "kind=note", "words=that", "writer=" WRITER_B, "n=1");
    const tw_text batch[] = {test_text(&forked[0]), test_text(&forked[1])};
    assert_ok(tw_store_append(store, batch, 2, NULL, NULL));
    assert_ok(tw_store_heads(store, heads, 8, &count, NULL));
    assert_int_equal(count, 3);
    assert_ok(tw_store_export(store, tw_units_text(""), collect, &lines, NULL));
    const size_t bytes = tw_logbook_book_bytes(16, 20000);
    void *mem = malloc(bytes);
    assert_ok(tw_logbook_book_init(mem, bytes, 16, 20000, &book));
    for (size_t i = 0; i < lines.count; i++)
        assert_ok(tw_logbook_book_add_line(book, collected(&lines, i), NULL, NULL));
    assert_ok(tw_logbook_chain_heads(book, book_heads, 8, &book_count));
    assert_int_equal(book_count, count);
    for (size_t i = 0; i < count; i++) {
        assert_true(tw_units_text_is(book_heads[i].writer, heads[i].writer));
        assert_int_equal(book_heads[i].n, heads[i].n);
        assert_memory_equal(book_heads[i].hash, heads[i].hash, TW_SHA256_BYTES);
    }
    assert_int_equal(tw_store_heads(store, heads, 1, &count, NULL), TW_ERR_CAPACITY);
    assert_int_equal(count, 3);
    free(mem);
    tw_store_close(store);
}

static void caches_are_kept_replaced_dropped_and_distrusted(void **state)
{
    char buf[16];
    size_t length = 0;
    const tw_text a = TW_TEXT("belief/a");
    const tw_text b = TW_TEXT("belief/b");
    const tw_text fan = TW_TEXT("fan/a");
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_int_equal(tw_store_cache_get(store, a, buf, sizeof buf, &length, NULL), TW_ERR_MISSING);
    assert_ok(tw_store_cache_put(store, a, "one", 3, NULL));
    assert_ok(tw_store_cache_put(store, a, "three", 5, NULL));
    assert_ok(tw_store_cache_put(store, b, "two", 3, NULL));
    assert_ok(tw_store_cache_put(store, fan, "", 0, NULL));
    assert_ok(tw_store_cache_get(store, a, buf, sizeof buf, &length, NULL));
    assert_int_equal(length, 5);
    assert_memory_equal(buf, "three", 5);
    assert_int_equal(tw_store_cache_get(store, a, buf, 2, &length, NULL), TW_ERR_CAPACITY);
    assert_int_equal(length, 5);
    assert_ok(tw_store_cache_get(store, fan, buf, sizeof buf, &length, NULL));
    assert_int_equal(length, 0);
    assert_int_equal(sqlite3_exec(store->db, "update cache set value = x'747778' where key = 'belief/b'", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_equal(tw_store_cache_get(store, b, buf, sizeof buf, &length, NULL), TW_ERR_MISSING);
    assert_int_equal(sqlite3_exec(store->db, "update cache set key = 'belief/c' where key = 'belief/a'", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_equal(tw_store_cache_get(store, tw_units_text("belief/c"), buf, sizeof buf, &length, NULL), TW_ERR_MISSING);
    assert_ok(tw_store_cache_drop(store, tw_units_text("belief/"), NULL));
    assert_ok(tw_store_cache_get(store, fan, buf, sizeof buf, &length, NULL));
    assert_ok(tw_store_cache_drop(store, tw_units_text(""), NULL));
    assert_int_equal(tw_store_cache_get(store, fan, buf, sizeof buf, &length, NULL), TW_ERR_MISSING);
    tw_store_close(store);
}

static void settings_are_of_this_file_and_can_be_taken_away(void **state)
{
    char buf[16];
    size_t length = 9;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_ok(tw_store_setting_get(store, "role", buf, sizeof buf, &length, NULL));
    assert_int_equal(length, 0);
    assert_ok(tw_store_setting_put(store, "role", tw_units_text("technician"), NULL));
    tw_store_close(store);
    store = opened(&place, TW_STORE_WRITE);
    assert_ok(tw_store_setting_get(store, "role", buf, sizeof buf, &length, NULL));
    assert_string_equal(buf, "technician");
    assert_ok(tw_store_setting_put(store, "role", tw_units_text(""), NULL));
    assert_ok(tw_store_setting_get(store, "role", buf, sizeof buf, &length, NULL));
    assert_int_equal(length, 0);
    tw_store_close(store);
}

static void due_work_is_claimed_by_one_until_its_lease_ends(void **state)
{
    tw_store_work work[4];
    size_t count = 0;
    const tw_text one = TW_TEXT("one");
    const tw_text two = TW_TEXT("two");
    const tw_text a = TW_TEXT(TUB_A);
    const tw_text b = TW_TEXT(TUB_B);
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    assert_ok(tw_store_due(store, a, 1000, NULL));
    assert_ok(tw_store_due(store, a, 2000, NULL)); /* the earlier one stays */
    assert_ok(tw_store_due(store, b, 500, NULL));
    assert_ok(tw_store_claim(store, one, 499, 60, work, 4, &count, NULL));
    assert_int_equal(count, 0);
    assert_ok(tw_store_claim(store, one, 1000, 60, work, 1, &count, NULL));
    assert_int_equal(count, 1);
    assert_string_equal(work[0].tub, TUB_B);
    assert_ok(tw_store_claim(store, two, 1000, 60, work, 4, &count, NULL));
    assert_int_equal(count, 1);
    assert_string_equal(work[0].tub, TUB_A);
    assert_ok(tw_store_done(store, two, a, NULL));
    assert_ok(tw_store_claim(store, two, 1059, 60, work, 4, &count, NULL));
    assert_int_equal(count, 0);
    assert_ok(tw_store_claim(store, two, 1060, 60, work, 4, &count, NULL));
    assert_int_equal(count, 1);
    assert_int_equal(tw_store_done(store, one, b, NULL), TW_ERR_CONFLICT);
    assert_ok(tw_store_done(store, two, b, NULL));
    assert_ok(tw_store_claim(store, one, 9000, 60, work, 4, &count, NULL));
    assert_int_equal(count, 0);
    tw_store_close(store);
}

static void a_handle_for_reading_writes_nothing(void **state)
{
    test_line draft;
    tw_store_fault fault;
    (void)state;
    tw_store_close(opened(&place, WRITE_AND_MAKE));
    tw_store *store = opened(&place, TW_STORE_READ);
    draft_of(&draft, 1);
    const tw_text text = test_text(&draft);
    assert_int_equal(tw_store_append_own(store, &text, 1, NULL, NULL, &fault), TW_ERR_READ_ONLY);
    assert_int_equal(fault.id, TW_STORE_READ_ONLY);
    assert_int_equal(tw_store_cache_put(store, tw_units_text("a"), "b", 1, &fault), TW_ERR_READ_ONLY);
    assert_int_equal(tw_store_setting_put(store, "by", tw_units_text("b"), &fault), TW_ERR_READ_ONLY);
    tw_store_close(store);
}

static void views_show_each_kind(void **state)
{
    sqlite3_stmt *statement = NULL;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 4, NULL);
    assert_int_equal(sqlite3_prepare_v2(store->db, "select analyte, value from entry_reading", -1, &statement, NULL),
                     SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    assert_string_equal((const char *)sqlite3_column_text(statement, 0), "ph");
    assert_string_equal((const char *)sqlite3_column_text(statement, 1), "7.4");
    (void)sqlite3_finalize(statement);
    tw_store_close(store);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        T(an_empty_logbook_has_no_lines_and_no_writer),
        T(own_lines_are_numbered_and_chained),
        T(a_batch_of_own_lines_is_all_or_nothing),
        T(the_same_line_is_kept_once),
        T(two_lines_with_one_id_are_both_kept),
        T(a_bad_line_rejects_the_batch),
        T(no_line_can_be_changed_removed_or_replaced),
        T(only_json_with_id_tub_and_kind_can_be_a_fact),
        T(every_connection_has_the_settings_that_durability_needs),
        T(since_shows_what_is_new),
        T(a_tubs_lines_are_its_own),
        T(the_heads_are_those_of_the_chains),
        T(caches_are_kept_replaced_dropped_and_distrusted),
        T(settings_are_of_this_file_and_can_be_taken_away),
        T(due_work_is_claimed_by_one_until_its_lease_ends),
        T(a_handle_for_reading_writes_nothing),
        T(views_show_each_kind),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
