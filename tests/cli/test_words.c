/* The words of log: what each line of words means, field by field. */
#include <string.h>

#include "support/check.h"

#include "cli/words.h"
#include "logbook/entry.h"

static tw_words words;

static tw_time now(void)
{
    tw_time time = {0, 0};
    assert_int_equal(tw_units_time_read(tw_units_text("2026-03-24T12:50:00+01:00"), &time), TW_OK);
    return time;
}

/* Read a typed line as the prompt does. */
static int read_line(const char *line)
{
    static char room[4096];
    const char *word[64];
    const int n = tw_cli_words_split(line, room, sizeof room, word, 64);
    assert_true(n > 0);
    return tw_cli_words_read((size_t)n, word, now(), &words);
}

/* Draft i as "kind name=value name=value ...". */
static const char *draft(size_t i)
{
    static char text[1024];
    size_t n = 0;
    assert_true(i < words.drafts);
    n += (size_t)snprintf(text, sizeof text, "%s", tw_logbook_kind_name(words.draft[i].kind));
    for (size_t k = 0; k < words.draft[i].n; k++)
        n += (size_t)snprintf(text + n, sizeof text - n, " %.*s=%.*s", (int)words.draft[i].field[k].field.n,
                              words.draft[i].field[k].field.at, (int)words.draft[i].field[k].value.n,
                              words.draft[i].field[k].value.at);
    return text;
}

static void reads(const char *line, const char *wanted)
{
    assert_int_equal(read_line(line), 0);
    assert_string_equal(draft(0), wanted);
}

static void a_whole_wet_strip_is_one_line(void **state)
{
    (void)state;
    assert_int_equal(read_line("ph=7.4 ta=120 th=60..120 fc=0 cya='<30' by strips lot=B opened=2026-01-12"), 0);
    assert_int_equal(words.drafts, 5);
    assert_string_equal(draft(0), "reading analyte=ph form=value value=7.4 unit=pH instrument=strip lot=B opened=2026-01-12");
    assert_string_equal(draft(2), "reading analyte=total-hardness form=between value=60 high=120 unit=mg/L instrument=strip lot=B opened=2026-01-12");
    assert_string_equal(draft(3), "reading analyte=free-chlorine form=value value=0 unit=mg/L instrument=strip lot=B opened=2026-01-12");
    assert_string_equal(draft(4), "reading analyte=cyanuric-acid form=below value=30 unit=mg/L instrument=strip lot=B opened=2026-01-12");
}

static void absent_unreadable_doubted_and_zero_differ(void **state)
{
    (void)state;
    reads("fc=0", "reading analyte=free-chlorine form=value value=0 unit=mg/L");
    reads("fc=-", "reading analyte=free-chlorine form=not-done");
    reads("fc=?", "reading analyte=free-chlorine form=unreadable");
    reads("fc=3?", "reading analyte=free-chlorine doubt=other form=value value=3 unit=mg/L");
    reads("fc='>10'", "reading analyte=free-chlorine form=above value=10 unit=mg/L");
    assert_int_equal(read_line("fc="), 1);
    assert_non_null(strstr(words.problem, "no value"));
}

static void units_stand_behind_their_number(void **state)
{
    (void)state;
    reads("temp=100degF", "reading analyte=temperature form=value value=100 unit=degF");
    reads("ch=10dH by drops", "reading analyte=calcium-hardness form=value value=10 unit=dH instrument=drops");
    reads("ec=2.4mS/cm", "reading analyte=conductivity form=value value=2.4 unit=mS/cm");
    reads("ph=6.9..7.3", "reading analyte=ph form=between value=6.9 high=7.3 unit=pH");
    reads("ph=6.9-7.3", "reading analyte=ph form=between value=6.9 high=7.3 unit=pH");
    reads("ph=7,4", "reading analyte=ph form=value value=7,4 unit=pH");
}

static void doses_are_amount_then_name_or_name_then_amount(void **state)
{
    (void)state;
    assert_int_equal(read_line("added 97 g dry acid"), 0);
    assert_non_null(strstr(draft(0), "amount=97 amount_unit=g"));
    assert_int_equal(read_line("added 49mL hypochlorite 12%"), 0);
    assert_non_null(strstr(draft(0), "amount=49 amount_unit=mL strength=12"));
    assert_int_equal(read_line("added 49 mL hypochlorite 12 %"), 0);
    assert_non_null(strstr(draft(0), "strength=12"));
    assert_int_equal(read_line("add dry-acid=97g where='return jet'"), 0);
    assert_non_null(strstr(draft(0), "amount=97 amount_unit=g place=return jet"));
    assert_int_equal(read_line("added"), 1);
    assert_int_equal(read_line("adding 97 g dry acid"), 0);
    assert_int_equal(words.draft[0].kind, TW_KIND_INTENT);
    assert_int_equal(read_line("adding"), 0);
    assert_true(words.announces && words.drafts == 0);
}

static void acts_are_answered(void **state)
{
    (void)state;
    assert_int_equal(read_line("done"), 0);
    assert_int_equal(words.outcome, TW_OUTCOME_DONE);
    assert_int_equal(read_line("done 79 g"), 0);
    assert_int_equal(words.outcome, TW_OUTCOME_DONE_DIFFERENTLY);
    assert_true(tw_units_text_is(words.amount, "79") && tw_units_text_is(words.unit, "g"));
    assert_int_equal(read_line("couldn't 'no acid left'"), 0);
    assert_int_equal(words.outcome, TW_OUTCOME_COULDNT);
    assert_true(tw_units_text_is(words.reason, "no acid left"));
    assert_int_equal(read_line("later guests until noon"), 0);
    assert_true(tw_units_text_is(words.reason, "guests until noon"));
    assert_int_equal(read_line("na"), 0);
    assert_int_equal(words.outcome, TW_OUTCOME_NOT_APPLICABLE);
    assert_int_equal(read_line("done will"), 1);
}

static void settings_are_words_of_their_own(void **state)
{
    (void)state;
    reads("duty=42%", "setting what=duty value=42 unit=%");
    reads("duty=42", "setting what=duty value=42 unit=pct");
    reads("duty=10h/d", "setting what=duty value=10 unit=h");
    reads("cover=open", "setting what=cover state=open");
    reads("setpoint=38", "setting what=temperature value=38 unit=Cel");
    reads("temperature=37.5", "reading analyte=temperature form=value value=37.5 unit=Cel");
    reads("jets=on", "setting what=jets state=on");
}

static int has_tool(size_t i, const char *tool)
{
    for (size_t k = 0; k < words.draft[i].n; k++)
        if (tw_units_text_is(words.draft[i].field[k].field, "instrument"))
            return tw_units_text_is(words.draft[i].field[k].value, tool);
    return 0;
}

static void each_reading_has_the_instrument_that_can_read_it(void **state)
{
    (void)state;
    assert_int_equal(read_line("ph=7.4 by meter fc=3 ta=90 by drops temp=37"), 0);
    assert_true(has_tool(0, "meter") && has_tool(1, "drops") && has_tool(2, "drops") && has_tool(3, "thermometer"));
    assert_int_equal(read_line("by strips ph=7.4 temp=37"), 0);
    assert_true(has_tool(0, "strip") && has_tool(1, "thermometer"));
    assert_int_equal(read_line("ph=7.7 temp=38 by thermometer"), 1);
}

static void water_people_and_care_have_verbs(void **state)
{
    (void)state;
    reads("filled 1180 L of hose", "exchange cause=fill in=1180 volume_unit=L source=hose");
    reads("swapped 130 L", "exchange cause=swap in=130 out=130 volume_unit=L");
    reads("drained 600 L", "exchange cause=drain out=600 volume_unit=L");
    reads("bathers 2 for 20 min", "bathers count=2 minutes=20");
    reads("care purge done", "care job=purge state=done");
    reads("part cell fitted serial=A7", "part part=cell act=fitted serial=A7");
    reads("arrived", "visit state=arrived");
    reads("note 'cover torn'", "note words=cover torn");
    reads("seen cloudy", "symptom symptom=cloudy words=cloudy");
    reads("seen milky since noon", "symptom words=milky since noon");
    reads("reply bromine=no", "reply question=bromine reply=no");
    assert_int_equal(read_line("reply bromine=no silver=unknown ph=7.4"), 0);
    assert_string_equal(draft(1), "reply question=silver reply=unknown");
    assert_string_equal(draft(2), "reading analyte=ph form=value value=7.4 unit=pH");
    reads("waive phosphate 'customer declines'", "waiver condition=phosphate reason=customer declines");
    reads("volume 1180 L by clock spread=5%", "volume volume=1180 volume_unit=L method=clock spread=5");
    reads("ready by 16:00", "ready-by by_time=2026-03-24T16:00:00+01:00");
    reads("plate output=0.16g/h salt=2000mg/L", "plate cell_output=0.16 cell_output_unit=g/h salt_target=2000 salt_unit=mg/L");
}

static void times_are_typed_as_people_say_them(void **state)
{
    char text[TW_TIME_BYTES];
    static const struct {
        const char *line, *at;
    } ROWS[] = {{"ph=7 at 10:30", "2026-03-24T10:30:00+01:00"},
                {"ph=7 at Mon 10:30", "2026-03-23T10:30:00+01:00"},
                {"ph=7 20 min ago", "2026-03-24T12:30:00+01:00"},
                {"ph=7 20min ago", "2026-03-24T12:30:00+01:00"},
                {"ph=7 at 2026-03-20 10:30", "2026-03-20T10:30:00+01:00"},
                {"ph=7 at 2026-03-20T10:30", "2026-03-20T10:30:00+01:00"},
                {"ph=7 at 2026-03-20T10:30Z", "2026-03-20T10:30:00+00:00"},
                {"ph=7 at=2026-03-20T10:30:05Z", "2026-03-20T10:30:05+00:00"},
                {"ph=7 at 2026-03-20T10:30+02:00", "2026-03-20T10:30:00+02:00"},
                {"ph=7 at=10:30", "2026-03-24T10:30:00+01:00"}};
    (void)state;
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++) {
        assert_int_equal(read_line(ROWS[i].line), 0);
        assert_int_equal(tw_units_time_write(words.at, text, sizeof text), TW_OK);
        assert_string_equal(text, ROWS[i].at);
    }
    assert_int_equal(read_line("ph=7 at noonish"), 1);
    assert_int_equal(read_line("ph=7 at 2026-03-20T10:30X"), 1);
    assert_int_equal(read_line("ph=7 at 2026-03-20T24:30Z"), 1);
}

static void readings_of_source_water_say_so(void **state)
{
    (void)state;
    assert_int_equal(read_line("ph=7.7 ta=190 of hose by drops"), 0);
    assert_non_null(strstr(draft(1), "source=hose point=source"));
}

static void what_is_not_understood_is_named(void **state)
{
    (void)state;
    assert_int_equal(read_line("ph=7.4 frobnicate"), 1);
    assert_non_null(strstr(words.problem, "frobnicate"));
    assert_int_equal(read_line("colour=7"), 1);
    assert_non_null(strstr(words.problem, "colour=7"));
    assert_int_equal(read_line("ph=7.4 by magic"), 1);
    assert_non_null(strstr(words.problem, "magic"));
}

static void quotes_keep_words_together(void **state)
{
    char room[256];
    const char *word[8];
    (void)state;
    assert_int_equal(tw_cli_words_split("a 'b c' \"d e\" cya='<30' couldn't f\\ g", room, sizeof room, word, 8), 6);
    assert_string_equal(word[1], "b c");
    assert_string_equal(word[2], "d e");
    assert_string_equal(word[3], "cya=<30");
    assert_string_equal(word[4], "couldn't");
    assert_string_equal(word[5], "f g");
    assert_int_equal(tw_cli_words_split("a 'b", room, sizeof room, word, 8), -1);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_wet_strip_is_one_line),       cmocka_unit_test(absent_unreadable_doubted_and_zero_differ),
        cmocka_unit_test(units_stand_behind_their_number),     cmocka_unit_test(doses_are_amount_then_name_or_name_then_amount),
        cmocka_unit_test(acts_are_answered),                   cmocka_unit_test(settings_are_words_of_their_own),
        cmocka_unit_test(each_reading_has_the_instrument_that_can_read_it),
        cmocka_unit_test(water_people_and_care_have_verbs),    cmocka_unit_test(times_are_typed_as_people_say_them),
        cmocka_unit_test(readings_of_source_water_say_so),     cmocka_unit_test(what_is_not_understood_is_named),
        cmocka_unit_test(quotes_keep_words_together),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
