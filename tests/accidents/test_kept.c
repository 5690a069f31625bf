/* What was kept of an earlier answer: there, gone, damaged, or of something else. The answer has the same bytes.
 *
 * A cache that outlives what it was made from is an old accident of advisors: here it is flipped bit by bit, cut, of other
 * entries, another time and another program, and each time it must be passed over in silence. That it is
 * used when it fits is seen by putting a mark into it that only a user of it can show. */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "same/lodge_lines.h"
#include "support/check.h"
#include "answer/core.h"
#include "estimate/checkpoint.h"
#include "num/print.h"
#include "num/sha256.h"

#define LINES (sizeof LODGE / sizeof LODGE[0])
#define ANSWER_BYTES (1u << 20)
#define AT "2026-03-24T18:05:00+01:00"
#define LATER "2026-03-24T18:06:00+01:00"

static const uint8_t PROGRAM[32] = {1, 2, 3}, OTHER_PROGRAM[32] = {1, 2, 4};
static tw_core *core;
static void *memory;
static uint8_t *kept;
static size_t kept_bytes;
static char *answer;

static void begin(size_t lines)
{
    const size_t bytes = tw_core_bytes(LINES + 4, 65536);
    free(memory);
    memory = malloc(bytes);
    assert_non_null(memory);
    assert_int_equal(tw_core_init(memory, bytes, LINES + 4, 65536, &core), 0);
    for (size_t i = 0; i < lines; i++)
        assert_int_equal(tw_core_add_line(core, LODGE[i], strlen(LODGE[i]), NULL, 0), 0);
}

/* Digest of answers: of what is known of the water and the logbook, or of the words given. */
static void ask_words(const char *const *words, size_t n, const char *at, uint8_t digest[TW_SHA256_BYTES])
{
    tw_sha256_state state;
    tw_sha256_init(&state);
    for (size_t w = 0; w < n; w++) {
        char question[96];
        size_t length = 0;
        (void)snprintf(question, sizeof question, "%s at=%s", words[w], at);
        assert_int_equal(tw_core_ask(core, question, strlen(question), answer, ANSWER_BYTES, &length), 0);
        tw_sha256_update(&state, answer, length);
    }
    tw_sha256_final(&state, digest);
}

static void ask(const char *at, uint8_t digest[TW_SHA256_BYTES])
{
    static const char *const WORDS[] = {"water", "logbook"};
    ask_words(WORDS, 2, at, digest);
}

static int set_up(void **state)
{
    uint8_t digest[TW_SHA256_BYTES];
    (void)state;
    answer = malloc(ANSWER_BYTES);
    kept = malloc(tw_core_keep_bytes());
    begin(LINES);
    assert_int_equal(tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &kept_bytes), TW_ERR_MISSING);
    ask(AT, digest);
    assert_int_equal(tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes() - 1, &kept_bytes), TW_ERR_CAPACITY);
    assert_int_equal(tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &kept_bytes), 0);
    assert_int_equal(kept_bytes, tw_core_keep_bytes());
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    free(memory);
    free(answer);
    free(kept);
    return 0;
}

static double cpu_ms(void)
{
    return 1e3 * (double)clock() / (double)CLOCKS_PER_SEC;
}

static void with_it_and_without_the_answers_are_the_same(void **state)
{
    static const char *const ALL[] = {"now", "why", "water", "forecast", "bathing", "sheet"};
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    double ms[2];
    (void)state;
    for (int use = 0; use < 2; use++) {
        begin(LINES);
        tw_core_kept(core, PROGRAM, use ? kept : NULL, use ? kept_bytes : 0);
        const double from = cpu_ms();
        ask_words(ALL + 2, 1, AT, use ? with : without);
        ms[use] = cpu_ms() - from;
        ask_words(ALL, 6, AT, use ? with : without);
    }
    printf("# %zu bytes; what is known of the water: %.1f ms without it, %.1f ms with it\n", kept_bytes, ms[0], ms[1]);
    assert_memory_equal(without, with, sizeof with);
}

/* Another number in it, sealed anew: only what is used can show it. */
static void what_fits_is_used(void **state)
{
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    (void)state;
    uint8_t *marked = malloc(kept_bytes);
    assert_non_null(marked);
    memcpy(marked, kept, kept_bytes);
    begin(LINES);
    ask(AT, without);
    const size_t calcium = 8 + 32 * 3 + 8 + 8 + 8 * (size_t)(TW_COLUMNS + TW_TOTAL_CA) * core->belief.n;
    for (size_t i = 0; i < core->belief.n; i++)
        memcpy(marked + calcium + 8 * i, marked + calcium, 8);
    const size_t end = tw_estimate_checkpoint_bytes(core->belief.n); /* behind it: what earlier waters taught */
    tw_print print;
    tw_print_init(&print);
    tw_print_bytes(&print, marked, (end - 32) / 8);
    tw_print_final(&print, marked + end - 32);
    begin(LINES);
    tw_core_kept(core, PROGRAM, marked, kept_bytes);
    ask(AT, with);
    assert_memory_not_equal(without, with, sizeof with);
    free(marked);
}

/* One bit flipped: in the magic, each part of the key, the numbers, the seal. Never used. */
static void damaged_it_is_passed_over(void **state)
{
    const size_t places[] = {0, 4, 20, 60, 90, 105, 113, 120, kept_bytes / 2, kept_bytes - 33, kept_bytes - 1};
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    (void)state;
    begin(LINES);
    ask(AT, without);
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        const uint8_t bit = (uint8_t)(1u << (i % 8));
        kept[places[i]] ^= bit;
        begin(LINES);
        tw_core_kept(core, PROGRAM, kept, kept_bytes);
        ask(AT, with);
        kept[places[i]] ^= bit;
        assert_memory_equal(without, with, sizeof with);
    }
}

static void cut_it_is_passed_over(void **state)
{
    static const size_t LEFT[] = {1, 103, 120, 4096};
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    (void)state;
    begin(LINES);
    ask(AT, without);
    for (size_t i = 0; i < sizeof LEFT / sizeof LEFT[0]; i++) {
        uint8_t *part = malloc(LEFT[i]); /* so that a sanitizer sees a read behind its end */
        assert_non_null(part);
        memcpy(part, kept, LEFT[i]);
        begin(LINES);
        tw_core_kept(core, PROGRAM, part, LEFT[i]);
        ask(AT, with);
        assert_memory_equal(without, with, sizeof with);
        free(part);
    }
    begin(LINES);
    tw_core_kept(core, PROGRAM, kept, kept_bytes - 1);
    ask(AT, with);
    assert_memory_equal(without, with, sizeof with);
    tw_core_kept(core, PROGRAM, NULL, 0);
}

/* It is of the entries alone: whenever it is asked for, in whatever order, nothing is sampled again. */
static void any_later_time_is_served(void **state)
{
    static const char *const WORDS[] = {"water", "now"};
    static const char *const TIMES[] = {LATER, "2026-04-02T03:04:05+01:00", AT, "2026-03-25T09:00:00+01:00", "2026-03-24T18:05:01+01:00"};
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES], of_two[TW_SHA256_BYTES];
    (void)state;
    begin(LINES);
    tw_core_kept(core, PROGRAM, kept, kept_bytes);
    tw_core *with_it = core;
    void *its = memory;
    memory = NULL;
    for (size_t i = 0; i < sizeof TIMES / sizeof TIMES[0]; i++) {
        begin(LINES);
        ask_words(WORDS, 2, TIMES[i], without);
        core = with_it;
        ask_words(WORDS, 2, TIMES[i], with);
        assert_memory_equal(without, with, sizeof with);
        if (i > 0)
            assert_memory_not_equal(of_two, with, sizeof with); /* another time, another answer */
        memcpy(of_two, with, sizeof with);
    }
    assert_int_equal(with_it->folded, 0);
    assert_int_equal(with_it->settled.folded, 0u);
    free(its);
}

/* Of fewer lines, another minute, another program: each has its own answer, the one without it. */
static void of_something_else_it_is_passed_over(void **state)
{
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    const struct {
        size_t lines;
        const char *at;
        const uint8_t *program;
    } OTHERS[] = {{LINES - 1, AT, PROGRAM}, {LINES, LATER, PROGRAM}, {LINES, AT, OTHER_PROGRAM}};
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        begin(OTHERS[i].lines);
        ask(OTHERS[i].at, without);
        begin(OTHERS[i].lines);
        tw_core_kept(core, OTHERS[i].program, kept, kept_bytes);
        ask(OTHERS[i].at, with);
        assert_memory_equal(without, with, sizeof with);
    }
}

/* A line that comes in after it was offered: what was kept is of before. */
static void a_line_more_outdates_it(void **state)
{
    uint8_t without[TW_SHA256_BYTES], with[TW_SHA256_BYTES];
    uint8_t *before = malloc(tw_core_keep_bytes());
    size_t length = 0;
    (void)state;
    assert_non_null(before);
    begin(LINES);
    ask(AT, without);
    begin(LINES - 1);
    ask(AT, with);
    assert_memory_not_equal(without, with, sizeof with);
    assert_int_equal(tw_core_keep(core, PROGRAM, before, tw_core_keep_bytes(), &length), 0);
    tw_core_kept(core, PROGRAM, before, length);
    assert_int_equal(tw_core_add_line(core, LODGE[LINES - 1], strlen(LODGE[LINES - 1]), NULL, 0), 0);
    assert_int_equal(tw_core_keep(core, PROGRAM, kept, tw_core_keep_bytes(), &length), TW_ERR_MISSING);
    ask(AT, with);
    assert_memory_equal(without, with, sizeof with);
    free(before);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(with_it_and_without_the_answers_are_the_same), cmocka_unit_test(what_fits_is_used),
        cmocka_unit_test(damaged_it_is_passed_over),                    cmocka_unit_test(cut_it_is_passed_over),
        cmocka_unit_test(any_later_time_is_served),                     cmocka_unit_test(of_something_else_it_is_passed_over),
        cmocka_unit_test(a_line_more_outdates_it),
    };
    return cmocka_run_group_tests_name("accidents/kept", tests, set_up, tear_down);
}
