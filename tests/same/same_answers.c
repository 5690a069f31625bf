/* One hash of answers: the words that a person reads, about one logbook, however its lines came in.
 *
 * The same lines are given in the order they were written, backwards, shuffled, from two files in turn, twice over,
 * and with questions in between (so that all that is kept between questions is kept too early). Every order must give
 * the same bytes, and every build the same hash of them. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer/core.h"
#include "num/sha256.h"

#include "lodge_lines.h"

#define LINES (sizeof LODGE / sizeof LODGE[0])
#define ANSWER_BYTES (1u << 20)

typedef enum order { AS_WRITTEN, BACKWARDS, SHUFFLED_AND_ASKED, TWO_FILES, TWICE, ASKED_MEANWHILE, ORDERS } order;

static const char *const ORDER_NAMES[ORDERS] = {"as written", "backwards", "shuffled and asked", "two files in turn",
                                                "twice over", "asked meanwhile"};
static const char *const QUESTIONS[] = {"now", "why", "water", "forecast", "bathing", "sheet", "logbook", "ahead", "plan", "worth"};
static const char *const EARLIER = "2026-03-24T12:35:00+01:00", *const LATER = "2026-03-24T18:05:00+01:00";

static char *answer;

static void fail(const char *what, const char *which)
{
    printf("trouble %s: %s\n", what, which);
    exit(1);
}

/* Which line comes as the k-th. */
static void arrange(order how, size_t to[LINES])
{
    uint64_t random = 20260324u + (uint64_t)how;
    for (size_t k = 0; k < LINES; k++)
        to[k] = how == BACKWARDS ? LINES - 1 - k : how == TWO_FILES ? (k % 2 == 0 ? k / 2 : LINES - 1 - k / 2) : k;
    if (how != SHUFFLED_AND_ASKED)
        return;
    for (size_t k = LINES - 1; k > 0; k--) {
        random = random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        const size_t other = (size_t)((random >> 33) % (k + 1));
        const size_t kept = to[k];
        to[k] = to[other];
        to[other] = kept;
    }
}

static size_t ask(tw_core *core, const char *word, const char *time, const char *form, int tub_is_there)
{
    char question[160];
    size_t length = 0;
    (void)snprintf(question, sizeof question, "%s at=%s as=%s", word, time, form);
    const int status = tw_core_ask(core, question, strlen(question), answer, ANSWER_BYTES, &length);
    if (status != 0 && (tub_is_there || status != TW_ERR_MISSING))
        fail(question, tw_core_status_text(status));
    return length;
}

static void ask_all(tw_core *core, uint8_t digest[TW_SHA256_BYTES])
{
    tw_sha256_state hash;
    tw_sha256_init(&hash);
    size_t n = ask(core, "now", EARLIER, "json", 1);
    tw_sha256_update(&hash, answer, n);
    for (size_t q = 0; q < sizeof QUESTIONS / sizeof QUESTIONS[0]; q++)
        for (int form = 0; form < 2; form++) {
            n = ask(core, QUESTIONS[q], LATER, form ? "text" : "json", 1);
            tw_sha256_update(&hash, answer, n);
        }
    tw_sha256_final(&hash, digest);
}

/* The lines in one order, then all questions. */
static void told(order how, void *mem, size_t bytes, uint8_t digest[TW_SHA256_BYTES])
{
    size_t to[LINES];
    tw_core *core = NULL;
    char said[1024];
    arrange(how, to);
    if (tw_core_init(mem, bytes, LINES + 4, 65536, &core) != 0)
        fail("init", ORDER_NAMES[how]);
    for (int round = 0; round < (how == TWICE ? 2 : 1); round++)
        for (size_t k = 0; k < LINES; k++) {
            const char *line = LODGE[to[k]];
            if (tw_core_add_line(core, line, strlen(line), said, sizeof said) != 0)
                fail(said, ORDER_NAMES[how]);
            /* Asked meanwhile, the last time before the last line and of the hour that is asked first in the end: what
             * was kept must not outlive the next line. Before the line of the tub there is none. */
            const int asks = how == ASKED_MEANWHILE || how == SHUFFLED_AND_ASKED;
            if (asks && (k % 12 == 5 || k == LINES - 2))
                (void)ask(core, k % 24 == 5 ? "logbook" : "now", k % 24 == 17 ? LATER : EARLIER, "json", how == ASKED_MEANWHILE);
        }
    ask_all(core, digest);
}

int main(void)
{
    const size_t bytes = tw_core_bytes(LINES + 4, 65536);
    uint8_t first[TW_SHA256_BYTES], other[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    void *mem = malloc(bytes);
    answer = malloc(ANSWER_BYTES);
    if (mem == NULL || answer == NULL)
        fail("memory", "");
    told(AS_WRITTEN, mem, bytes, first);
    for (int how = AS_WRITTEN + 1; how < ORDERS; how++) {
        memset(mem, 0xa5, bytes); /* nothing may lean on what memory held before */
        told((order)how, mem, bytes, other);
        if (memcmp(first, other, sizeof first) != 0)
            fail("other answers when the lines came", ORDER_NAMES[how]);
    }
    tw_sha256_hex(first, hex);
    printf("answers %s of %u lines in %d orders\n", hex, (unsigned)LINES, (int)ORDERS);
    free(mem);
    free(answer);
    return 0;
}
