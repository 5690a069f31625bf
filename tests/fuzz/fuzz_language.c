/* A language pack of any bytes: as it comes, and as one sentence of an otherwise whole pack. What is taken can be said. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "answer/say.h"
#include "units/language.h"

#define PACK_BYTES 200000u

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static char whole[PACK_BYTES];
static tw_language language;

static size_t put(size_t at, const char *text, size_t n)
{
    must(at + n < sizeof whole);
    memcpy(whole + at, text, n);
    whole[at + n] = '\0';
    return at + n + 1;
}

static tw_status read_exactly(const char *bytes, size_t n)
{
    char fault[TW_LANGUAGE_FAULT];
    char *exact = malloc(n > 0 ? n : 1);
    must(exact != NULL);
    memcpy(exact, bytes, n);
    const tw_status status = tw_units_language_read(exact, n, &language, fault);
    must((status == TW_OK) == (fault[0] == '\0') && strlen(fault) < sizeof fault);
    if (status == TW_OK) {
        char said[TW_SENTENCE_BYTES];
        for (int m = 0; m < TW_MESSAGES; m++) {
            tw_said words = tw_units_say((tw_message)m);
            tw_units_say_message(&words, "what", TW_SAY_WORD_YES);
            tw_units_say_number(&words, "p", 0.5);
            size_t length = 0;
            (void)tw_answer_say(&words, &language, 0, (tw_time){0, 0}, said, sizeof said, &length);
            must(length < sizeof said);
        }
        must(tw_units_language_term(&language, tw_units_text("no such term")).n > 0);
    }
    free(exact);
    return status;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *const bytes = (const char *)data;
    (void)read_exactly(bytes, size);
    if (size < 2 || size > 4096)
        return 0;
    const int changed = (int)(((unsigned)data[0] << 8 | data[1]) % TW_MESSAGES);
    size_t n = put(put(0, "tubwright language 1", 20), "xx", 2);
    for (int m = 0; m < TW_MESSAGES; m++) {
        n = put(n, tw_units_message_id((tw_message)m), strlen(tw_units_message_id((tw_message)m)));
        n = m == changed ? put(n, bytes + 2, size - 2) : put(n, tw_units_message_text((tw_message)m), strlen(tw_units_message_text((tw_message)m)));
    }
    (void)read_exactly(whole, n);
    return 0;
}
