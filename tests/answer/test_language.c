/* Another language: what a pack must be, what is refused of one, and what sentences are made with it. The packs here are
 * English rows with what a test changes; the German one is looked at by tests/cli/test_languages.py. */
#include <stdlib.h>
#include <string.h>

#include "support/check.h"

#include "answer/core.h"
#include "answer/say.h"
#include "units/language.h"

#define PACK_BYTES 200000u

typedef struct {
    char bytes[PACK_BYTES];
    size_t n;
} a_pack;

static void put(a_pack *pack, const char *text)
{
    const size_t n = strlen(text) + 1;
    assert_true(pack->n + n < sizeof pack->bytes);
    memcpy(pack->bytes + pack->n, text, n);
    pack->n += n;
}

/* A pack with every English sentence but that one sentence has another text, or with NULL is left out. */
static a_pack *pack_with(tw_message other, const char *text)
{
    a_pack *pack = calloc(1, sizeof *pack);
    assert_non_null(pack);
    put(pack, "tubwright language 1");
    put(pack, "xx");
    put(pack, "/a page");
    put(pack, "{of its own}");
    put(pack, "=salt");
    put(pack, "Salz");
    put(pack, "=soda ash");
    put(pack, "Soda");
    for (int i = 0; i < TW_MESSAGES; i++) {
        if (i == (int)other && text == NULL)
            continue;
        put(pack, tw_units_message_id((tw_message)i));
        put(pack, i == (int)other ? text : tw_units_message_text((tw_message)i));
    }
    return pack;
}

static void refused(a_pack *pack, tw_status status, const char *named)
{
    static tw_language language;
    char fault[TW_LANGUAGE_FAULT];
    assert_int_equal(tw_units_language_read(pack->bytes, pack->n, &language, fault), status);
    assert_non_null(strstr(fault, named));
    free(pack);
}

static void a_pack_is_refused_by_the_name_of_what_is_wrong(void **state)
{
    (void)state;
    a_pack *pack = calloc(1, sizeof *pack);
    assert_non_null(pack);
    put(pack, "something else");
    refused(pack, TW_ERR_FORMAT, "it does not begin with \"tubwright language 1\"");
    pack = pack_with(TW_MESSAGES, NULL);
    pack->bytes[19] = '2';
    refused(pack, TW_ERR_NEWER, "tubwright language 2");
    refused(pack_with(TW_SAY_WAIT_MIXING, NULL), TW_ERR_MISSING, "wait-mixing");
    refused(pack_with(TW_SAY_WAIT_MIXING, "ohne {next:time}"), TW_ERR_CONFLICT, "wait-mixing");
    refused(pack_with(TW_SAY_WAIT_MIXING, "{wait:h} {next:clock}"), TW_ERR_CONFLICT, "wait-mixing");
    refused(pack_with(TW_SAY_WAIT_MIXING, "{wait:h} {next:time} {extra:text}"), TW_ERR_CONFLICT, "wait-mixing");
    refused(pack_with(TW_SAY_WAIT_MIXING, "{wait:h} {next:time} {"), TW_ERR_CONFLICT, "wait-mixing");
    pack = pack_with(TW_MESSAGES, NULL);
    put(pack, "zz-no-such");
    put(pack, "?");
    refused(pack, TW_ERR_UNKNOWN, "zz-no-such");
    pack = pack_with(TW_MESSAGES, NULL);
    put(pack, "=late");
    put(pack, "out of order");
    refused(pack, TW_ERR_FORMAT, "=late");
    pack = pack_with(TW_MESSAGES, NULL);
    pack->n--;
    refused(pack, TW_ERR_FORMAT, "cut off");
}

/* Whatever is cut off behind, it is refused, and nothing behind the end is looked at. */
static void a_pack_cut_anywhere_is_refused(void **state)
{
    static tw_language language;
    char fault[TW_LANGUAGE_FAULT];
    a_pack *pack = pack_with(TW_MESSAGES, NULL);
    (void)state;
    for (size_t n = 0; n < pack->n; n += 97) {
        char *exact = malloc(n > 0 ? n : 1);
        assert_non_null(exact);
        memcpy(exact, pack->bytes, n);
        assert_int_not_equal(tw_units_language_read(exact, n, &language, fault), TW_OK);
        free(exact);
    }
    assert_int_equal(tw_units_language_read(pack->bytes, pack->n, &language, fault), TW_OK);
    assert_string_equal(language.tag, "xx");
    free(pack);
}

static const char *say(const tw_said *said, const char *pack_text, tw_message message)
{
    static char buf[TW_SENTENCE_BYTES];
    static tw_language language;
    char fault[TW_LANGUAGE_FAULT];
    size_t n = 0;
    tw_time now;
    a_pack *pack = pack_with(message, pack_text);
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T10:40:00+01:00"), &now), TW_OK);
    assert_int_equal(tw_units_language_read(pack->bytes, pack->n, &language, fault), TW_OK);
    assert_int_equal(tw_answer_say(said, &language, 0, now, buf, sizeof buf, &n), TW_OK);
    free(pack);
    return buf;
}

static void arguments_stand_where_the_language_wants_them(void **state)
{
    tw_said said = tw_units_say(TW_SAY_WAIT_MIXING);
    tw_time next;
    (void)state;
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T12:10:00+01:00"), &next), TW_OK);
    tw_units_say_number(&said, "wait", 1.5);
    tw_units_say_time(&said, "next", next);
    assert_string_equal(say(&said, "bis {next:time}, {wait:h} ({wait:h})", TW_SAY_WAIT_MIXING), "bis 12:10, 90 min (90 min)");
}

static void numbers_and_dates_follow_the_language(void **state)
{
    tw_said said = tw_units_say(TW_SAY_WHY_ACID_TRIM);
    (void)state;
    tw_units_say_number(&said, "now", 7.75);
    tw_units_say_number(&said, "ph", 7.25);
    tw_units_say_number(&said, "phlow", -0.5);
    tw_units_say_number(&said, "phhigh", (double)NAN);
    assert_string_equal(say(&said, ",", TW_SAY_FORM_DECIMAL), "pH 7,8 to about 7,2 (-0,5 to ?).");
    said = tw_units_say(TW_SAY_DAY);
    tw_time day;
    assert_int_equal(tw_units_time_read(tw_units_text("2026-12-31T12:10:00+01:00"), &day), TW_OK);
    tw_units_say_time(&said, "at", day);
    assert_string_equal(say(&said, "a b c d e f g h i j k Dezember", TW_SAY_FORM_MONTHS), "Thu 31 Dezember");
}

/* A name of a table is another word there; what a person wrote is not. */
static void terms_are_called_and_texts_are_kept(void **state)
{
    tw_said said = tw_units_say(TW_SAY_WHY_WAIT);
    tw_time done;
    (void)state;
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T10:10:00+01:00"), &done), TW_OK);
    tw_units_say_time(&said, "done", done);
    tw_units_say_text(&said, "name", tw_units_text("soda ash"));
    assert_string_equal(say(&said, "{done:time} {name:term}", TW_SAY_WHY_WAIT), "10:10 Soda");
    said = tw_units_say(TW_SAY_ENTRY_NOTE);
    tw_units_say_text(&said, "words", tw_units_text("soda ash"));
    assert_string_equal(say(&said, "Notiz: {words:text}", TW_SAY_ENTRY_NOTE), "Notiz: soda ash");
}

/* A core that refuses a pack speaks English and says why. */
static void a_core_takes_a_pack_or_stays_with_english(void **state)
{
    const char QUESTION[] = "tubs at=2026-03-24T12:00:00+01:00 as=text";
    char answer[2000], fault[200];
    size_t n = 0;
    tw_core *core = NULL;
    const size_t bytes = tw_core_bytes(4, 1000);
    void *memory = malloc(bytes);
    a_pack *pack = pack_with(TW_SAY_NO_TUB_YET, "Noch kein Becken.");
    (void)state;
    assert_non_null(memory);
    assert_int_equal(tw_core_init(memory, bytes, 4, 1000, &core), TW_OK);
    assert_int_equal(tw_core_language(core, pack->bytes, pack->n, fault, sizeof fault), TW_OK);
    assert_string_equal(fault, "");
    assert_int_equal(tw_core_ask(core, QUESTION, strlen(QUESTION), answer, sizeof answer - 1, &n), TW_OK);
    answer[n] = '\0';
    assert_non_null(strstr(answer, "Noch kein Becken."));
    assert_int_equal(tw_core_language(core, pack->bytes, pack->n - 1, fault, sizeof fault), TW_ERR_FORMAT);
    assert_non_null(strstr(fault, "cut off"));
    assert_int_equal(tw_core_ask(core, QUESTION, strlen(QUESTION), answer, sizeof answer - 1, &n), TW_OK);
    answer[n] = '\0';
    assert_non_null(strstr(answer, "No tub yet."));
    free(pack);
    free(memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pack_is_refused_by_the_name_of_what_is_wrong), cmocka_unit_test(a_pack_cut_anywhere_is_refused),
        cmocka_unit_test(arguments_stand_where_the_language_wants_them), cmocka_unit_test(numbers_and_dates_follow_the_language),
        cmocka_unit_test(terms_are_called_and_texts_are_kept), cmocka_unit_test(a_core_takes_a_pack_or_stays_with_english),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
