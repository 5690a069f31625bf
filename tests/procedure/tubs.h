/* tests/procedure/tubs.h: tubs that the tests of the procedure share: an act at an hour, answers, a filled tub. */
#ifndef TW_TESTS_PROCEDURE_TUBS_H
#define TW_TESTS_PROCEDURE_TUBS_H

#include "estimate/book_lines.h"
#include "procedure/next.h"

static void *tubs_memory;

/* The act at an hour; with_belief 0: nothing is known of the water. */
static inline tw_act act_at(double hours, int with_belief)
{
    static tw_act act;
    const tw_estimate_options quick = tw_estimate_options_quick();
    const tw_book *book = lines_book(NULL);
    const tw_time now = lines_now(hours);
    tw_tub tub;
    assert_int_equal(tw_logbook_book_tub(book, tw_units_text(LINES_TUB), now, &tub), TW_OK);
    tw_belief belief;
    if (with_belief)
        belief = lines_fold(book, hours, &quick);
    const size_t bytes = tw_procedure_bytes(with_belief ? belief.n : 1);
    free(tubs_memory);
    tubs_memory = malloc(bytes);
    assert_int_equal(tw_procedure_next(book, &tub, now, with_belief ? &belief : NULL, NULL, tubs_memory, bytes, &act), TW_OK);
    return act;
}

static inline int says(const tw_lines *lines, tw_message message)
{
    for (uint32_t i = 0; i < lines->n; i++)
        if (lines->line[i].message == message)
            return 1;
    return 0;
}

static inline double number_of(const tw_lines *lines, tw_message message, const char *name)
{
    for (uint32_t i = 0; i < lines->n; i++)
        for (uint32_t k = 0; k < lines->line[i].args && lines->line[i].message == message; k++)
            if (tw_units_text_is(tw_units_text(lines->line[i].arg[k].name), name))
                return lines->line[i].arg[k].number;
    return (double)NAN;
}

static inline void reply(double hours, const char *question, const char *word)
{
    char members[160];
    (void)snprintf(members, sizeof members, "\"question\":\"%s\",\"reply\":\"%s\"", question, word);
    (void)lines_add("reply", hours, members);
}

static inline void no_old_chemistry(double hours)
{
    static const char *const QUESTIONS[] = {"bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone"};
    for (size_t i = 0; i < sizeof QUESTIONS / sizeof *QUESTIONS; i++)
        reply(hours, QUESTIONS[i], "no");
}

static inline void a_tub(void)
{
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
}

/* A tub filled with water of this pH, alkalinity, hardness and temperature, everything before it answered. */
static inline void a_filled_tub_at(const char *ph, const char *ta, const char *ch, const char *celsius)
{
    a_tub();
    no_old_chemistry(0.0);
    (void)lines_add("source", 0.1, "\"source\":\"hose\",\"origin\":\"mains\"");
    static const char *const ANALYTES[][2] = {{"ph", "pH"}, {"total-alkalinity", "mg/L"}, {"calcium-hardness", "mg/L"},
        {"iron", "mg/L"}, {"manganese", "mg/L"}, {"copper", "mg/L"}, {"phosphate", "mg/L"}};
    const char *value[] = {ph, ta, ch, "0.02", "0.01", "0.02", "0.1"};
    for (size_t i = 0; i < 7; i++)
        (void)lines_reading(0.2, ANALYTES[i][0], value[i], ANALYTES[i][1], "laboratory", "\"source\":\"hose\"");
    (void)lines_add("care", 0.3, "\"job\":\"purge\",\"state\":\"done\"");
    char fill[160];
    (void)snprintf(fill, sizeof fill, "\"cause\":\"fill\",\"in\":\"1180\",\"source\":\"hose\",\"volume_unit\":\"L\",\"temperature\":\"%s\",\"temperature_unit\":\"Cel\"", celsius);
    (void)lines_add("exchange", 1.0, fill);
    (void)lines_add("volume", 1.1, "\"method\":\"meter\",\"volume\":\"1180\",\"volume_unit\":\"L\"");
    reply(1.2, "circulation", "yes");
    reply(1.2, "electrician", "yes");
    (void)lines_reading(1.3, "temperature", celsius, "Cel", "thermometer", "");
    (void)lines_add("addition", 1.4, "\"amount\":\"16\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"");
    (void)lines_reading(2.6, "ph", ph, "pH", "meter", "");
    (void)lines_reading(2.6, "total-alkalinity", ta, "mg/L", "drops", "\"step\":\"10\"");
}

/* The same, warm. */
static inline void a_filled_tub_of(const char *ph, const char *ta, const char *ch)
{
    a_filled_tub_at(ph, ta, ch, "38");
}

static inline void a_filled_tub(const char *ph, const char *ta)
{
    a_filled_tub_of(ph, ta, "90");
}

/* A tub that somebody found full, all in order but the chlorine: 0.5 mg/L by drops. */
static inline void a_tub_that_wants_chlorine(void)
{
    static const char *const READ[][4] = {{"ph", "7.4", "pH", "meter"}, {"total-alkalinity", "75", "mg/L", "laboratory"}, {"calcium-hardness", "90", "mg/L", "laboratory"},
        {"free-chlorine", "0.5", "mg/L", "drops"}, {"total-chlorine", "0.5", "mg/L", "drops"}, {"temperature", "37", "Cel", "thermometer"},
        {"conductivity", "4150", "uS/cm", "meter"}, {"phosphate", "0.1", "mg/L", "laboratory"}};
    a_tub();
    no_old_chemistry(0.0);
    reply(0.1, "circulation", "yes");
    reply(0.1, "electrician", "yes");
    (void)lines_add("plate", 0.2, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    for (size_t i = 0; i < sizeof READ / sizeof *READ; i++)
        (void)lines_reading(2.6, READ[i][0], READ[i][1], READ[i][2], READ[i][3], "");
}

#endif
