/* An exchange with another side that spoils a line once, refuses, or is of one tub: what is mended is said to be, first and last alike. */
#include "two_places.h"

#include "sync/sync.h"

/* The other side: a store, and what is done to its messages. */
typedef struct {
    tw_store *store;
    size_t spoil[2];  /* indexes of lines of the first page that come spoilt, SIZE_MAX: none                   */
    int asked;        /* pages that were asked for                                                            */
    const char *tub;  /* it shows this tub alone, as a lid link does, and says nothing of chains; NULL: all    */
    size_t taken;     /* lines that were offered to it                                                        */
} far_side;

static tw_status far_since(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES], int *more)
{
    far_side *far = to;
    const tw_status status = tw_sync_since(far->store, tw_units_text(cursor), tw_units_text(far->tub != NULL ? far->tub : ""), most, out, next,
                                           more, NULL);
    for (int i = 0; i < 2 && far->asked == 0; i++)
        if (far->spoil[i] < out->count)
            out->bytes[out->item[far->spoil[i]].at + 9] ^= 1; /* the hash that goes with it stays */
    far->asked++;
    return status;
}

static tw_status add_run(void *to, tw_text line)
{
    static tw_entry_room room;
    tw_entry entry;
    tw_sync_run run;
    double n = 0;
    memset(&run, 0, sizeof run);
    assert_ok(tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL));
    assert_ok(tw_logbook_number(&entry, TW_FIELD_N, &n));
    (void)snprintf(run.writer, sizeof run.writer, "%.*s", (int)entry.writer.n, entry.writer.at);
    run.from = run.n = (uint32_t)n;
    tw_sha256(line.at, line.n, run.hash);
    return tw_sync_have_add(to, &run);
}

static tw_status far_have(void *to, tw_sync_have *out)
{
    far_side *far = to;
    if (far->tub == NULL)
        return tw_sync_have_of(far->store, 1774345200000, out, NULL);
    return tw_store_of_tub(far->store, tw_units_text(far->tub), add_run, out, NULL);
}

static tw_status far_take(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result)
{
    far_side *far = to;
    const tw_sync_way way = {1774345200000, "test", writer, now_ms, NULL, NULL};
    far->taken += in->count;
    return tw_sync_take(far->store, in, &way, result, NULL);
}

static int64_t clock_of(void *of)
{
    (void)of;
    return 1774345200000;
}

static tw_sync_report meet(tw_store *store, far_side *far)
{
    const tw_sync_peer peer = {"far", far, far_have, far_since, far_take, far->tub};
    tw_sync_report report;
    assert_ok(tw_sync_exchange(store, &peer, clock_of, NULL, &report, NULL));
    return report;
}

/* The claim of a change in settle_refused_here that only the first of several shows. */
static void what_came_spoilt_and_then_whole_is_mended_the_first_as_well(void **state)
{
    (void)state;
    tw_store *there = opened(&other, WRITE_AND_MAKE), *here = opened(&place, WRITE_AND_MAKE);
    for (unsigned i = 1; i <= 6; i++)
        append_one(there, i, NULL);
    far_side far = {there, {1, 4}, 0, NULL, 0};
    tw_sync_report report = meet(here, &far);
    size_t refused = 0;
    for (size_t i = 0; i < report.odds; i++) {
        refused += report.odd[i].kind == TW_SYNC_ODD_REFUSED_HERE;
        assert_int_equal(report.odd[i].mended, 1);
    }
    assert_int_equal(report.odd[0].kind, TW_SYNC_ODD_REFUSED_HERE);
    assert_int_equal(refused, 2);
    assert_int_equal(report.got, 6);
    assert_int_equal(report.began_again, 1);
    assert_int_equal(report.same, 1);
    tw_sync_report_free(&report);
    tw_store_close(here);
    tw_store_close(there);
}

static void a_line_of(tw_store *store, const char *tub, unsigned number)
{
    char id[64];
    test_line draft;
    tw_fault fault;
    (void)snprintf(id, sizeof id, "01890000-0000-7000-8000-%012u", number);
    const tw_typed typed[] = {
        {TW_TEXT("id"), tw_units_text(id)},        {TW_TEXT("kind"), TW_TEXT("note")},
        {TW_TEXT("tub"), tw_units_text(tub)},      {TW_TEXT("at"), TW_TEXT("2026-03-24T10:40:00+01:00")},
        {TW_TEXT("words"), TW_TEXT("as ever")},    {TW_TEXT("entered"), TW_TEXT("2026-03-24T10:40:00+01:00")},
    };
    assert_ok(tw_logbook_compose(typed, sizeof typed / sizeof *typed, TW_CHECK_DRAFT, draft.bytes, sizeof draft.bytes, &draft.n, &fault));
    const tw_text text = test_text(&draft);
    assert_ok(tw_store_append_own(store, &text, 1, NULL, NULL, NULL));
}

static void a_peer_of_one_tub_is_given_that_tub_alone(void **state)
{
    static const char TUB_C[] = "01890000-0000-7000-8000-0000000000cc";
    uint64_t n = 0, bytes = 0;
    (void)state;
    tw_store *there = opened(&other, WRITE_AND_MAKE), *here = opened(&place, WRITE_AND_MAKE);
    a_line_of(there, TUB_A, 101);
    a_line_of(there, TUB_C, 102);
    a_line_of(there, TUB_A, 103);
    a_line_of(here, TUB_C, 201);
    a_line_of(here, TUB_A, 202);
    a_line_of(here, TUB_C, 203);
    far_side far = {there, {SIZE_MAX, SIZE_MAX}, 0, TUB_A, 0};
    tw_sync_report report = meet(here, &far);
    assert_int_equal(report.got, 2);
    assert_int_equal(report.given, 1);
    assert_int_equal(far.taken, 1);
    assert_int_equal(report.same, 1); /* of the tub: the logbooks differ */
    tw_sync_report_free(&report);
    assert_ok(tw_store_size(there, &n, &bytes, NULL));
    assert_int_equal(n, 4);
    report = meet(here, &far); /* again: nothing is offered a second time */
    assert_int_equal(report.got + report.given, 0);
    assert_int_equal(far.taken, 1);
    assert_int_equal(report.same, 1);
    tw_sync_report_free(&report);
    tw_store_close(here);
    tw_store_close(there);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        T(what_came_spoilt_and_then_whole_is_mended_the_first_as_well),
        T(a_peer_of_one_tub_is_given_that_tub_alone),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
