/* Under whom an installation writes: a number is never given twice, so copies and restored logbooks
 * go on under a new writer. */
#include "store/logbooks.h"

static test_place place;
static test_lines lines;

static int set_up(void **state)
{
    (void)state;
    place_make(&place);
    memset(&lines, 0, sizeof lines);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    place_remove(&place);
    return 0;
}

/* Write one entry and say by whom and with which number. */
static unsigned written(const char *logbook, unsigned id, char writer[TW_ID_BYTES])
{
    test_place at = place;
    double n = 0;
    tw_entry_room room;
    tw_entry entry;
    (void)snprintf(at.logbook, sizeof at.logbook, "%s", logbook);
    memset(&lines, 0, sizeof lines);
    tw_store *store = opened(&at, WRITE_AND_MAKE);
    append_one(store, id, &lines);
    tw_store_close(store);
    assert_ok(tw_logbook_line_read(collected(&lines, 0), TW_CHECK_TYPED, &room, &entry, NULL));
    assert_ok(tw_logbook_number(&entry, TW_FIELD_N, &n));
    (void)snprintf(writer, TW_ID_BYTES, "%.*s", (int)entry.writer.n, entry.writer.at);
    return (unsigned)n;
}

static void the_same_logbook_goes_on(void **state)
{
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    (void)state;
    assert_int_equal(written(place.logbook, 1, a), 1);
    assert_int_equal(written(place.logbook, 2, b), 2);
    assert_string_equal(a, b);
}

static void a_moved_logbook_goes_on(void **state)
{
    char moved[400];
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    (void)state;
    (void)snprintf(moved, sizeof moved, "%s/moved.db", place.folder);
    assert_int_equal(written(place.logbook, 1, a), 1);
    assert_int_equal(rename(place.logbook, moved), 0);
    assert_int_equal(written(moved, 2, b), 2);
    assert_string_equal(a, b);
}

static void a_copy_goes_on_as_another_and_the_first_as_itself(void **state)
{
    char copy[400];
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    (void)state;
    (void)snprintf(copy, sizeof copy, "%s/copy.db", place.folder);
    assert_int_equal(written(place.logbook, 1, a), 1);
    shell("cp '@' '@'", place.logbook, copy);
    assert_int_equal(written(copy, 2, b), 1);
    assert_string_not_equal(a, b);
    assert_int_equal(written(place.logbook, 3, b), 2);
    assert_string_equal(a, b);
    assert_int_equal(written(copy, 4, b), 2); /* and the copy as the other */
    assert_string_not_equal(a, b);
}

static void a_logbook_put_back_in_its_place_goes_on_as_another(void **state)
{
    char backup[400];
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    tw_store_loss loss;
    (void)state;
    (void)snprintf(backup, sizeof backup, "%s/backup.db", place.folder);
    assert_int_equal(written(place.logbook, 1, a), 1);
    shell("cp '@' '@'", place.logbook, backup);
    assert_int_equal(written(place.logbook, 2, b), 2);
    shell("cat '@' > '@'", backup, place.logbook); /* the same file by inode, as it was before */
    tw_store *store = opened(&place, TW_STORE_READ);
    assert_int_equal(tw_store_lost(store, &loss), 1);
    assert_string_equal(loss.writer, a);
    assert_int_equal(loss.had_n, 2);
    assert_int_equal(loss.has_n, 1);
    assert_ok(tw_store_writer(store, b, NULL));
    assert_string_equal(b, "");
    tw_store_close(store);
    assert_int_equal(written(place.logbook, 3, b), 1);
    assert_string_not_equal(a, b);
    store = opened(&place, TW_STORE_READ);
    assert_int_equal(tw_store_lost(store, &loss), 0);
    tw_store_close(store);
}

static void without_its_notes_an_installation_goes_on_as_another(void **state)
{
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    (void)state;
    assert_int_equal(written(place.logbook, 1, a), 1);
    shell("rm -r '@'", place.state, NULL);
    assert_int_equal(written(place.logbook, 2, b), 1);
    assert_string_not_equal(a, b);
    shell("for f in '@'/*; do echo nonsense > \"$f\"; done", place.state, NULL);
    assert_int_equal(written(place.logbook, 3, a), 1);
    assert_string_not_equal(a, b);
}

static void where_no_notes_can_be_kept_copies_are_still_found_out(void **state)
{
    char copy[400];
    char a[TW_ID_BYTES];
    char b[TW_ID_BYTES];
    (void)state;
    (void)snprintf(copy, sizeof copy, "%s/copy.db", place.folder);
    (void)snprintf(place.state, sizeof place.state, "/dev/null/none");
    assert_int_equal(written(place.logbook, 1, a), 1);
    assert_int_equal(written(place.logbook, 2, b), 2);
    assert_string_equal(a, b);
    shell("cp '@' '@'", place.logbook, copy);
    assert_int_equal(written(copy, 3, b), 1);
    assert_string_not_equal(a, b);
}

static void two_handles_of_one_installation_share_a_chain(void **state)
{
    (void)state;
    tw_store *one = opened(&place, WRITE_AND_MAKE);
    tw_store *two = opened(&place, TW_STORE_WRITE);
    tw_store_head head[4];
    size_t count = 0;
    for (unsigned i = 0; i < 10; i++)
        append_one(i % 3 ? one : two, i + 1, &lines);
    assert_ok(tw_store_heads(one, head, 4, &count, NULL));
    assert_int_equal(count, 1);
    assert_int_equal(head[0].n, 10);
    tw_store_close(one);
    tw_store_close(two);
}

/* Steps: what a later version would do to a file of this one. */
static void steps_run_once_in_order_and_whole(void **state)
{
    static const tw_store_step LATER[] = {
        {TW_STORE_SCHEMA, "create table never (a)", NULL},
        {TW_STORE_SCHEMA + 1, "create table later (a any) strict; insert into later values (1)", NULL},
        {TW_STORE_SCHEMA + 2, "alter table later add column b text", NULL},
    };
    static const tw_store_step BROKEN[] = {{TW_STORE_SCHEMA + 3, "insert into later values (2, 'x'); nonsense", NULL}};
    sqlite3_stmt *statement = NULL;
    (void)state;
    tw_store *store = opened(&place, WRITE_AND_MAKE);
    append_one(store, 1, NULL);
    assert_int_equal(sqlite3_exec(store->db, "create table later (a any)", NULL, NULL, NULL), SQLITE_OK);
    assert_int_not_equal(tw_store_migrate(store->db, LATER, 3), SQLITE_OK); /* it is there: all is undone */
    assert_int_equal(sqlite3_exec(store->db, "drop table later", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(tw_store_migrate(store->db, LATER, 3), SQLITE_OK);
    assert_int_equal(tw_store_migrate(store->db, LATER, 3), SQLITE_OK);
    assert_int_not_equal(tw_store_migrate(store->db, BROKEN, 1), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(store->db, "select count(*), (select user_version from pragma_user_version()),"
                                        " (select count(*) from sqlite_schema where name = 'never') from later", -1,
                                        &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    assert_int_equal(sqlite3_column_int(statement, 0), 1);
    assert_int_equal(sqlite3_column_int(statement, 1), TW_STORE_SCHEMA + 2);
    assert_int_equal(sqlite3_column_int(statement, 2), 0);
    (void)sqlite3_finalize(statement);
    tw_store_close(store);
    /* And this version leaves the newer file alone. */
    tw_store_fault fault;
    assert_int_equal(tw_store_open(place.logbook, TW_STORE_WRITE, NULL, &store, &fault), TW_ERR_NEWER);
    assert_null(store);
    assert_non_null(strstr(fault.detail, "version 4"));
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        T(the_same_logbook_goes_on),
        T(a_moved_logbook_goes_on),
        T(a_copy_goes_on_as_another_and_the_first_as_itself),
        T(a_logbook_put_back_in_its_place_goes_on_as_another),
        T(without_its_notes_an_installation_goes_on_as_another),
        T(where_no_notes_can_be_kept_copies_are_still_found_out),
        T(two_handles_of_one_installation_share_a_chain),
        T(steps_run_once_in_order_and_whole),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
