/* An array that becomes longer keeps what it holds, moves seldom, and refuses what no machine has. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "store/grow.h"

static void one_after_another_stay_and_it_moves_seldom(void **state)
{
    uint32_t *array = NULL;
    size_t room = 0, moves = 0;
    (void)state;
    for (uint32_t i = 0; i < 100000; i++) {
        const size_t before = room;
        assert_true(tw_store_grow(&array, &room, (size_t)i + 1, sizeof *array));
        moves += room != before;
        array[i] = i * 7u;
    }
    for (uint32_t i = 0; i < 100000; i++)
        assert_int_equal(array[i], i * 7u);
    assert_true(moves <= 14); /* 16 doubled 13 times is over 100,000 */
    free(array);
}

static void nothing_needed_is_still_an_array(void **state)
{
    char *array = NULL;
    size_t room = 0;
    (void)state;
    assert_true(tw_store_grow(&array, &room, 0, 1));
    assert_non_null(array);
    assert_true(room > 0);
    free(array);
}

static void what_no_machine_has_is_refused_and_nothing_is_lost(void **state)
{
    uint64_t *array = NULL;
    size_t room = 0;
    (void)state;
    assert_true(tw_store_grow(&array, &room, 3, sizeof *array));
    array[2] = 42;
    const size_t before = room;
    assert_false(tw_store_grow(&array, &room, SIZE_MAX, sizeof *array));
    assert_false(tw_store_grow(&array, &room, SIZE_MAX / sizeof *array + 1, sizeof *array));
    assert_int_equal(room, before);
    assert_int_equal(array[2], 42);
    free(array);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_after_another_stay_and_it_moves_seldom),
        cmocka_unit_test(nothing_needed_is_still_an_array),
        cmocka_unit_test(what_no_machine_has_is_refused_and_nothing_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
