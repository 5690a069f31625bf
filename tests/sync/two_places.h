/* tests/sync/two_places.h: two places for logbooks and lines to write, made before each test and removed after it. */
#ifndef TW_TESTS_TWO_PLACES_H
#define TW_TESTS_TWO_PLACES_H

#include "store/logbooks.h"

static test_place place, other;
static test_lines lines;

static int set_up(void **state)
{
    (void)state;
    place_make(&place);
    place_make(&other);
    memset(&lines, 0, sizeof lines);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    place_remove(&place);
    place_remove(&other);
    return 0;
}

#endif
