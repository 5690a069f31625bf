/* tests/estimate/lines_problem.h: the plain events of the lines of book_lines.h, as the sampler gets them. */
#ifndef TW_TESTS_LINES_PROBLEM_H
#define TW_TESTS_LINES_PROBLEM_H

#include "support/check.h"

#include "book_lines.h"
#include "estimate/from_book.h"

/* The events of all lines up to an hour; good until the next call. */
static const tw_problem *problem_at(double hours)
{
    static tw_problem problem;
    static tw_from_book f;
    memset(&f, 0, sizeof f);
    f.book = lines_book(NULL);
    f.tub = tw_units_text(LINES_TUB);
    f.now = f.end = f.until = lines_now(hours);
    f.most_entries = 400;
    f.problem = &problem;
    assert_int_equal(tw_estimate_from_book(&f), TW_OK);
    return &problem;
}

#endif
