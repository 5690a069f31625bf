/* The next act: guards before stages, never a dose at the wrong moment, one act for any logbook.
 * Expectations come from the rules of data/conditions.csv and data/acts.csv and the cautions of the trade. */
#include "support/check.h"

#include <math.h>

#include "num/philox.h"
#include "tubs.h"

static void a_new_tub_is_asked_for_its_past(void **state)
{
    (void)state;
    a_tub();
    const tw_act act = act_at(0.5, 0);
    assert_int_equal(act.verb, TW_VERB_ASK);
    assert_int_equal(act.stage, TW_STAGE_HISTORY);
    assert_int_equal(act.substance, -1);
}

/* Somebody reads a tub that stood full: nobody asks about its hose or its fill, and soon there is an amount. */
static void a_tub_that_stands_full_is_taken_as_it_is(void **state)
{
    (void)state;
    a_tub();
    (void)lines_reading(0.2, "ph", "7.6", "pH", "drops", "");
    (void)lines_reading(0.2, "total-alkalinity", "180", "mg/L", "drops", "\"step\":\"10\"");
    (void)lines_reading(0.2, "calcium-hardness", "90", "mg/L", "drops", "\"step\":\"10\"");
    (void)lines_reading(0.2, "free-chlorine", "1.0", "mg/L", "drops", "\"step\":\"0.2\"");
    (void)lines_reading(0.2, "temperature", "37", "Cel", "thermometer", "");
    assert_int_equal(act_at(0.3, 1).stage, TW_STAGE_HISTORY);
    no_old_chemistry(0.4);
    reply(0.5, "circulation", "yes");
    reply(0.5, "electrician", "yes");
    const tw_act act = act_at(0.6, 1);
    assert_int_equal(act.id, TW_ACT_ACID_STEP);
    assert_true(act.amount_g > 0.0 && act.first.n > 0 && act.why.n > 0 && act.tests > 0);
}

/* Free chlorine 0 by strip in a tub that somebody found full: the pad may be bleached, so no chlorine before it was
 * thinned, or read by drops. In water whose every dose is written down a zero is a zero. */
static void a_zero_that_may_be_bleached_gets_no_chlorine(void **state)
{
    (void)state;
    for (int by = 0; by < 3; by++) {
        a_tub();
        (void)lines_reading(0.2, "ph", "7.5", "pH", "strip", "\"lot\":\"B\"");
        (void)lines_reading(0.2, "total-alkalinity", "80", "mg/L", "strip", "\"lot\":\"B\"");
        (void)lines_reading(0.2, "calcium-hardness", "90", "mg/L", "drops", "\"step\":\"10\"");
        (void)lines_reading(0.2, "free-chlorine", "0", "mg/L", by == 1 ? "drops" : "strip", by == 2 ? "\"dilution\":\"5\"" : "");
        (void)lines_reading(0.2, "temperature", "37", "Cel", "thermometer", "");
        no_old_chemistry(0.3);
        reply(0.3, "circulation", "yes");
        reply(0.3, "electrician", "yes");
        const tw_act act = act_at(0.4, 1);
        if (by == 0) {
            assert_int_equal(act.id, TW_ACT_RETEST_DILUTED);
            assert_true(act.why.n > 0 && act.how.n > 0);
        } else {
            assert_int_equal(act.id, TW_ACT_HOLDING_DOSE);
        }
    }
}

static void do_not_know_counts_as_bromine(void **state)
{
    (void)state;
    a_tub();
    no_old_chemistry(0.1);
    reply(0.2, "bromine", "unknown");
    tw_act act = act_at(0.5, 0);
    assert_int_equal(act.verb, TW_VERB_STOP);
    assert_int_equal(act.id, TW_ACT_CLEAR_BROMINE);
    assert_true(act.lift.n > 0 && act.why.n > 0);
    reply(0.6, "bromine-cleared", "yes");
    act = act_at(0.7, 0);
    assert_int_not_equal(act.verb, TW_VERB_STOP);
    assert_int_equal(act.stage, TW_STAGE_SOURCE_WATER);
}

static void an_announced_dose_is_asked_about_before_anything_is_poured(void **state)
{
    (void)state;
    a_filled_tub("7.6", "160");
    (void)lines_add("intent", 2.7, "\"act\":\"acid-step\",\"amount\":\"90\",\"amount_unit\":\"g\",\"substance\":\"sodium-bisulfate-93\"");
    const tw_act act = act_at(3.0, 1);
    assert_int_equal(act.id, TW_ACT_ANSWER_INTENT);
    assert_int_equal(act.verb, TW_VERB_ASK);
    assert_near(act.amount, 90.0, 0.0);
}

static void a_wait_is_waited_for(void **state)
{
    (void)state;
    a_filled_tub("7.6", "160");
    (void)lines_add("addition", 2.7, "\"amount\":\"60\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bicarbonate\"");
    const tw_act act = act_at(3.0, 1);
    assert_int_equal(act.verb, TW_VERB_WAIT);
    assert_int_equal(act.substance, -1);
    assert_true(act.until.utc_s == lines_now(2.7 + 1.0).utc_s);
}

static void low_ph_with_enough_alkalinity_is_aired_and_gets_no_base(void **state)
{
    (void)state;
    a_filled_tub("6.6", "66");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.verb, TW_VERB_AIR);
    assert_int_equal(act.substance, -1);
}

static void an_acid_step_keeps_the_floor_and_its_cap(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_ACID_STEP);
    assert_true(act.predicted_ph[0] >= 6.8);
    assert_true(act.chance <= 0.05);
    assert_true(act.steps > act.step);
    /* 45 mg/L of 1180 L is 137 g of bisulfate by the table (2.58 g/m3 a mg/L): never more in one step. */
    assert_true(act.amount_g > 20.0 && act.amount_g <= 45.0 * 1.25 * 1.2 * 2.58);
    assert_true(act.label_amount > 1.5 * act.amount);
    assert_int_equal(act.first.line[0].message, TW_SAY_FIRST_ACID);
    /* The cautions of acid, before it is poured; the label has the last word. */
    int gas = 0;
    for (uint32_t i = 0; i < act.first.n; i++)
        gas |= act.first.line[i].message == TW_SAY_CAUTION_ACID_GAS;
    assert_true(gas);
    assert_int_equal(act.first.line[act.first.n - 1].message, TW_SAY_CAUTION_LABEL);
    /* Mixing and a quarter of an hour of air at the least, four hours at the most, before the next test. */
    const double wait_h = (double)(act.next.utc_s - lines_now(2.7).utc_s) / 3600.0;
    assert_true(wait_h >= 0.5 && wait_h <= 4.25);
}

/* Alkalinity under its band at a pH by its limit, and cold, where bicarbonate leads to 8.4. It has no room. Acid goes first and says why; what was
 * moved is read, then bicarbonate goes in. */
static void acid_makes_room_for_bicarbonate(void **state)
{
    (void)state;
    a_filled_tub_at("8.2", "55", "90", "12");
    (void)lines_add("waiver", 2.6, "\"condition\":\"warm-enough\",\"reason\":\"no power yet\",\"role\":\"owner\"");
    tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_ACID_TRIM);
    assert_true(act.predicted_ph[0] >= 6.8 && act.predicted_ta[0] >= 40.0 && act.chance <= 0.05);
    int says = 0;
    for (uint32_t i = 0; i < act.why.n; i++)
        says += act.why.line[i].message == TW_SAY_WHY_ACID_FIRST;
    assert_int_equal(says, 1);
    const double poured_g = act.amount_g, ph = act.predicted_ph[1];
    char grams[160];
    (void)snprintf(grams, sizeof grams, "\"amount\":\"%.0f\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bisulfate-93\"", act.amount_g);
    (void)lines_add("addition", 2.8, grams);
    assert_int_equal(act_at(2.9, 1).verb, TW_VERB_WAIT);
    act = act_at(4.0, 1);
    assert_int_equal(act.verb, TW_VERB_TEST);
    /* 2.58 g of dry acid take 1 mg/L of a cubic metre (reference/dosing.md 2), and drops show the next step above; the pH as foretold. */
    char drops[16], meter[16];
    (void)snprintf(meter, sizeof meter, "%.1f", ph);
    (void)snprintf(drops, sizeof drops, "%.0f", 10.0 * ceil((55.0 - poured_g / 2.58 / 1.18) / 10.0));
    (void)lines_reading(4.1, "ph", meter, "pH", "meter", "");
    (void)lines_reading(4.1, "total-alkalinity", drops, "mg/L", "drops", "\"step\":\"10\"");
    act = act_at(4.2, 1);
    assert_int_equal(act.id, TW_ACT_BICARBONATE);
    assert_true(act.predicted_ph[2] < 8.2);
}

/* A pad works towards none with one time constant: 240 to 195 mg/L in a day is 24/ln(240/195) = 115.6 h, and from 195 to 150
 * it takes 115.6 ln(195/150) = 30.3 h more. */
static void a_calcium_pad_says_what_is_left(void **state)
{
    (void)state;
    a_filled_tub_of("7.6", "80", "240");
    (void)lines_reading(2.6, "calcium-hardness", "240", "mg/L", "drops", "\"step\":\"10\"");
    tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_CALCIUM_PAD);
    for (uint32_t i = 0; i < act.why.n; i++)
        assert_int_not_equal(act.why.line[i].message, TW_SAY_WHY_PAD_LEFT);
    (void)lines_add("response", 2.8, "\"act\":\"calcium-pad\",\"outcome\":\"done\"");
    (void)lines_add("addition", 25.0, "\"amount\":\"16\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\""); /* a holding dose */
    (void)lines_reading(26.8, "calcium-hardness", "195", "mg/L", "drops", "\"step\":\"5\"");
    (void)lines_reading(26.9, "calcium-hardness", "195", "mg/L", "drops", "\"step\":\"5\"");
    act = act_at(27.0, 1);
    assert_int_equal(act.id, TW_ACT_CALCIUM_PAD);
    double hours = 0.0, took = 0.0;
    for (uint32_t i = 0; i < act.why.n; i++)
        for (uint32_t k = 0; k < act.why.line[i].args && act.why.line[i].message == TW_SAY_WHY_PAD_LEFT; k++) {
            const tw_arg *a = &act.why.line[i].arg[k];
            *(tw_units_text_is(tw_units_text(a->name), "wait") ? &hours : &took) = a->number;
        }
    assert_near(took, 45.0, 1e-9);
    assert_near(hours, 24.1 / log(240.0 / 195.0) * log(195.0 / 150.0), 0.05);
}

/* CO2 leaves in proportion to what is over the air's: the farther pH has to come, the longer the air. */
static void air_is_as_long_as_the_water_needs(void **state)
{
    (void)state;
    double hours[2];
    static const char *const PH[] = {"7.0", "6.4"};
    for (int i = 0; i < 2; i++) {
        a_filled_tub(PH[i], "70");
        const tw_act act = act_at(2.7, 1);
        assert_int_equal(act.verb, TW_VERB_AIR);
        hours[i] = (double)(act.next.utc_s - lines_now(2.7).utc_s) / 3600.0;
    }
    assert_true(hours[0] >= 0.25 && hours[1] <= 4.0 && hours[1] > hours[0]);
}

static void a_dose_of_unknown_size_is_asked_about(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    const char *scoops = lines_add("addition", 2.7, "\"amount\":\"3\",\"amount_unit\":\"1\",\"measured\":\"scoop\",\"scoop\":\"0195c000-0000-7000-8000-0000000000aa\",\"substance\":\"sodium-bisulfate-93\"");
    char members[160];
    (void)snprintf(members, sizeof members, "\"target\":\"%s\",\"reason\":\"weighed now\"", scoops);
    for (double at = 2.8; at < 30.0; at += 9.0) {
        const tw_act act = act_at(at, 1);
        assert_int_equal(act.id, TW_ACT_UNKNOWN_POUR);
        assert_int_equal(act.substance, -1);
    }
    (void)lines_add("void", 30.0, members);
    assert_int_not_equal(act_at(30.1, 1).id, TW_ACT_UNKNOWN_POUR);
}

/* A product that must not meet the next one: data/pairs.csv, calcium and carbonate within the hour. */
static void what_must_not_meet_waits(void **state)
{
    (void)state;
    a_filled_tub("7.6", "40");
    assert_int_equal(act_at(2.7, 1).id, TW_ACT_BICARBONATE);
    (void)lines_add("addition", 2.7, "\"amount\":\"5\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"lanthanum-chloride-heptahydrate\"");
    const tw_act wait = act_at(3.2, 1);
    assert_int_equal(wait.verb, TW_VERB_WAIT);
    assert_true(wait.until.utc_s == lines_now(3.7).utc_s);
    assert_int_equal(act_at(3.8, 1).id, TW_ACT_BICARBONATE);
}

static void a_retest_that_says_the_same_stands_and_another_does_not(void **state)
{
    (void)state;
    a_filled_tub("7.5", "75");
    (void)lines_reading(3.0, "total-alkalinity", "180", "mg/L", "drops", "\"step\":\"10\"");
    assert_int_equal(act_at(3.1, 1).id, TW_ACT_DOUBTFUL);
    (void)lines_reading(3.2, "total-alkalinity", "290", "mg/L", "drops", "\"step\":\"10\"");
    assert_int_equal(act_at(3.3, 1).id, TW_ACT_DOUBTFUL); /* neither agrees with the other: once more */
    (void)lines_reading(3.4, "total-alkalinity", "290", "mg/L", "drops", "\"step\":\"10\"");
    assert_int_not_equal(act_at(3.5, 1).id, TW_ACT_DOUBTFUL);
}

/* Soft water, 20 mg/L of calcium by the laboratory; then drops say 140, and again. No act that nobody writes brings calcium, so
 * it is not believed, and no calcium goes in on either: however long ago it was read. Another way of reading it settles it. */
static void what_was_read_twice_and_is_not_believed_gets_no_dose_of_its_kind(void **state)
{
    (void)state;
    a_filled_tub_of("7.4", "75", "20");
    (void)lines_reading(2.7, "calcium-hardness", "20", "mg/L", "drops", "\"step\":\"10\"");
    (void)lines_reading(2.7, "total-hardness", "25", "mg/L", "laboratory", "");
    assert_int_equal(act_at(2.8, 1).id, TW_ACT_CALCIUM_CHLORIDE);
    (void)lines_reading(3.0, "calcium-hardness", "140", "mg/L", "drops", "\"step\":\"10\"");
    assert_int_equal(act_at(3.1, 1).id, TW_ACT_DOUBTFUL);
    (void)lines_reading(3.2, "calcium-hardness", "140", "mg/L", "drops", "\"step\":\"10\"");
    const tw_act act = act_at(3.3, 1);
    assert_int_equal(act.id, TW_ACT_UNEXPLAINED);
    assert_int_equal(act.verb, TW_VERB_TEST);
    assert_int_equal(act.substance, -1);
    assert_int_equal(act.test[0], TW_ANALYTE_CALCIUM_HARDNESS);
    assert_true(says(&act.why, TW_SAY_WHY_UNEXPLAINED) && act.how.n > 0);
    assert_near(number_of(&act.why, TW_SAY_WHY_UNEXPLAINED, "now"), 140.0, 0.0);
    for (int hours = 6; hours < 60; hours += 6)
        assert_int_not_equal(act_at(3.3 + hours, 1).id, TW_ACT_CALCIUM_CHLORIDE);
    (void)lines_reading(3.4, "calcium-hardness", "20", "mg/L", "laboratory", "");
    assert_int_equal(act_at(3.5, 1).id, TW_ACT_CALCIUM_CHLORIDE);
}

/* Acid goes into water that was read, not into what the model makes of it: after jets, after hours, test first. */
static void acid_follows_a_reading(void **state)
{
    (void)state;
    a_filled_tub("7.9", "75");
    assert_int_equal(act_at(2.7, 1).id, TW_ACT_ACID_TRIM);
    assert_int_equal(act_at(6.0, 1).verb, TW_VERB_TEST);
    (void)lines_add("care", 2.8, "\"job\":\"aerate\",\"state\":\"done\"");
    assert_int_equal(act_at(2.9, 1).verb, TW_VERB_TEST);
    (void)lines_reading(2.95, "ph", "8.0", "pH", "meter", "");
    assert_int_equal(act_at(3.0, 1).id, TW_ACT_ACID_TRIM);
}

/* The card of a tub whose rough volume is 1,200 L and whose plate asks for 2,000 mg/L: 2.4 kg by the table. */
static void the_first_salt_is_never_the_whole_of_the_plate(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    (void)lines_add("plate", 2.65, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    (void)lines_reading(2.66, "conductivity", "560", "uS/cm", "meter", "");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_SALT_STEP);
    assert_true(act.amount_g > 1000.0 && act.amount_g <= 0.85 * 2400.0);
}

/* With the generator running pH has the guidance's limits, and a step of acid does not break the proof. */
static void a_proof_is_not_broken_for_a_trim(void **state)
{
    (void)state;
    for (int running = 0; running < 2; running++) {
        a_filled_tub("7.7", "75");
        if (running)
            (void)lines_add("setting", 2.65, "\"what\":\"duty\",\"value\":\"100\",\"unit\":\"pct\"");
        const tw_act act = act_at(2.7, 1);
        if (running)
            assert_int_not_equal(act.id, TW_ACT_ACID_TRIM);
        else
            assert_int_equal(act.id, TW_ACT_ACID_TRIM);
    }
}

static void an_incident_closes_and_only_its_own_way_opens(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    (void)lines_add("symptom", 2.8, "\"symptom\":\"rash\",\"words\":\"itching after a night\"");
    tw_act act = act_at(3.0, 1);
    assert_int_equal(act.id, TW_ACT_BODY);
    assert_int_equal(act.verb, TW_VERB_STOP);
    (void)lines_add("exchange", 3.5, "\"cause\":\"fill\",\"in\":\"1180\",\"source\":\"hose\",\"volume_unit\":\"L\"");
    assert_int_equal(act_at(4.0, 1).id, TW_ACT_BODY); /* new water clears no illness */
    reply(4.5, "authority-cleared", "yes");
    assert_int_not_equal(act_at(5.0, 1).verb, TW_VERB_STOP);
    (void)lines_add("symptom", 5.1, "\"symptom\":\"stool\",\"words\":\"in the water\"");
    assert_int_equal(act_at(5.2, 1).id, TW_ACT_INCIDENT);
    (void)lines_add("exchange", 7.0, "\"cause\":\"fill\",\"in\":\"1180\",\"source\":\"hose\",\"volume_unit\":\"L\"");
    assert_int_not_equal(act_at(7.1, 1).verb, TW_VERB_STOP);
}

/* A tub that starts in care: nobody asks for its fill, but a residual under the floor is no rest. */
static void care_looks_after_the_residual(void **state)
{
    (void)state;
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Yard\",\"use\":\"private\",\"profile\":\"three-to-five\",\"start\":\"care\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
    no_old_chemistry(0.0);
    (void)lines_add("plate", 0.1, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    (void)lines_add("setting", 0.2, "\"what\":\"duty\",\"value\":\"40\",\"unit\":\"pct\"");
    (void)lines_reading(0.3, "ph", "7.4", "pH", "meter", "");
    (void)lines_reading(0.3, "total-alkalinity", "80", "mg/L", "drops", "\"step\":\"10\"");
    (void)lines_reading(0.3, "conductivity", "4100", "uS/cm", "meter", "");
    (void)lines_reading(0.3, "phosphate", "0.1", "mg/L", "laboratory", "");
    (void)lines_reading(0.3, "free-chlorine", "4.0", "mg/L", "drops", "\"step\":\"0.2\"");
    assert_int_equal(act_at(0.4, 1).id, TW_ACT_CARE_REST);
    for (double at = 24.3; at < 80.0; at += 24.0) {
        char value[8];
        (void)snprintf(value, sizeof value, "%.1f", 4.0 - at / 40.0);
        (void)lines_reading(at, "free-chlorine", value, "mg/L", "drops", "\"step\":\"0.2\"");
    }
    (void)lines_reading(72.3, "ph", "7.5", "pH", "meter", "");
    const tw_act act = act_at(72.4, 1); /* 2.2 mg/L */
    assert_int_not_equal(act.id, TW_ACT_CARE_REST);
    assert_true(act.id == TW_ACT_HAND_DUTY || act.id == TW_ACT_CHECK_CELL || act.id == TW_ACT_FIND_DEMAND ||
                act.id == TW_ACT_BRIDGE_DOSE || act.id == TW_ACT_PROVE_HOLD || act.id == TW_ACT_OFF_TEST);
}

/* Salt once poured that reads low is stirred and read again before any more goes in. */
static void low_salt_is_stirred_before_more(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    (void)lines_add("plate", 2.65, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    (void)lines_reading(2.66, "conductivity", "560", "uS/cm", "meter", "");
    (void)lines_add("addition", 2.7, "\"amount\":\"2000\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-chloride\"");
    (void)lines_reading(3.8, "conductivity", "2850", "uS/cm", "meter", "");
    assert_int_equal(act_at(3.9, 1).id, TW_ACT_STIR_SALT);
    (void)lines_reading(4.8, "conductivity", "2860", "uS/cm", "meter", "");
    (void)lines_reading(4.8, "ph", "7.4", "pH", "meter", "");
    const tw_act act = act_at(4.9, 1);
    /* Stirred and the same: then the amount is in question, or there is room for more. */
    assert_true(act.id == TW_ACT_SALT_STEP || act.id == TW_ACT_DOUBTFUL || act.id == TW_ACT_CHECK_POUR);
}

/* 90 g of dry acid written as 900: pH 2 and no alkalinity by the book. Air would lift nothing; two readings that
 * agree win, and the amount is asked about. */
static void an_amount_that_readings_refute_is_asked_about(void **state)
{
    (void)state;
    a_filled_tub("7.6", "160");
    (void)lines_add("addition", 2.7, "\"amount\":\"900\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bisulfate-93\"");
    assert_int_equal(act_at(3.0, 1).verb, TW_VERB_TEST);
    for (int i = 0; i < 2; i++) {
        (void)lines_reading(3.1 + 0.1 * i, "ph", "7.0", "pH", "meter", "");
        (void)lines_reading(3.1 + 0.1 * i, "total-alkalinity", "130", "mg/L", "drops", "\"step\":\"10\"");
    }
    const tw_act act = act_at(3.4, 1);
    assert_int_equal(act.id, TW_ACT_CHECK_POUR);
    reply(3.5, "amount-right", "yes");
    assert_int_not_equal(act_at(3.6, 1).id, TW_ACT_CHECK_POUR);
}

static void what_was_put_off_is_not_forgotten(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    (void)lines_add("response", 2.65, "\"act\":\"acid-step\",\"outcome\":\"couldnt\",\"reason\":\"no acid here\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_ACID_STEP);
    assert_int_equal(act.why.line[act.why.n - 1].message, TW_SAY_PUT_OFF);
}

static void a_waiver_sets_aside_what_may_be_and_nothing_else(void **state)
{
    (void)state;
    a_tub();
    no_old_chemistry(0.1);
    assert_int_equal(act_at(0.2, 0).id, TW_ACT_ASK_SOURCE);
    (void)lines_add("waiver", 0.3, "\"condition\":\"source-named\",\"reason\":\"only one tap\",\"role\":\"technician\"");
    assert_int_equal(act_at(0.4, 0).id, TW_ACT_TEST_SOURCE);
    (void)lines_add("waiver", 0.5, "\"condition\":\"no-bromine\",\"reason\":\"in a hurry\",\"role\":\"owner\"");
    reply(0.6, "bromine", "yes");
    assert_int_equal(act_at(0.7, 0).verb, TW_VERB_STOP);
}

static void without_a_belief_nothing_is_poured(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    for (double at = 2.7; at < 40.0; at += 6.1)
        assert_int_not_equal(act_at(at, 0).verb, TW_VERB_ADD);
}

/* Any logbook: some of the entries of a start-up, in any number, some wrong. One act; a pour only
 * with an amount, and never in a wait or over an open announcement. */
static void any_logbook_has_one_act(void **state)
{
    (void)state;
    tw_stream stream = tw_stream_make(check_seed, 0, 1, 2);
    for (int turn = 0; turn < 25; turn++) {
        a_filled_tub(turn % 3 == 0 ? "6.7" : "7.9", turn % 2 ? "70" : "190");
        double last_pour = 1.4;
        int open = 0;
        double at = 2.7;
        for (uint32_t k = 0, most = tw_stream_below(&stream, 8); k < most; k++) {
            at += 0.2 + 3.0 * tw_stream_uniform(&stream);
            switch (tw_stream_below(&stream, 6)) {
            case 0:
                (void)lines_add("addition", at, "\"amount\":\"500\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-chloride\"");
                last_pour = at;
                break;
            case 1:
                (void)lines_add("addition", at, "\"amount\":\"20\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bisulfate-93\"");
                last_pour = at;
                break;
            case 2: (void)lines_reading(at, "free-chlorine", "0", "mg/L", "strip", "\"lot\":\"B\""); break;
            case 3: (void)lines_reading(at, "ph", "8.2", "pH", "strip", "\"lot\":\"B\""); break;
            case 4:
                (void)lines_add("intent", at, "\"act\":\"salt-step\",\"amount\":\"900\",\"amount_unit\":\"g\",\"substance\":\"sodium-chloride\"");
                open = 1;
                break;
            default: (void)lines_reading(at, "conductivity", "2100", "uS/cm", "meter", ""); break;
            }
        }
        at += 0.1 + 2.0 * tw_stream_uniform(&stream);
        const tw_act act = act_at(at, 1);
        assert_true((unsigned)act.verb < TW_VERBS && (unsigned)act.id < TW_ACTS && act.head.message < TW_MESSAGES);
        if (act.verb == TW_VERB_ADD) {
            assert_false(open);
            assert_true(act.amount > 0.0 && isfinite(act.amount) && act.amount_unit != NULL && act.substance >= 0);
            assert_true(at - last_pour >= 0.24);
            assert_true(act.first.n > 0 && act.chance <= 0.05 + 1e-9);
        }
        if (act.verb == TW_VERB_STOP)
            assert_true(act.lift.n > 0 && act.why.n > 0);
        if (act.verb == TW_VERB_WAIT)
            assert_true(act.until.utc_s > lines_now(at).utc_s);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_tub_is_asked_for_its_past),
        cmocka_unit_test(a_tub_that_stands_full_is_taken_as_it_is),
        cmocka_unit_test(a_zero_that_may_be_bleached_gets_no_chlorine),
        cmocka_unit_test(do_not_know_counts_as_bromine),
        cmocka_unit_test(an_announced_dose_is_asked_about_before_anything_is_poured),
        cmocka_unit_test(a_wait_is_waited_for),
        cmocka_unit_test(low_ph_with_enough_alkalinity_is_aired_and_gets_no_base),
        cmocka_unit_test(an_acid_step_keeps_the_floor_and_its_cap),
        cmocka_unit_test(acid_makes_room_for_bicarbonate), cmocka_unit_test(a_calcium_pad_says_what_is_left), cmocka_unit_test(air_is_as_long_as_the_water_needs),
        cmocka_unit_test(a_dose_of_unknown_size_is_asked_about),
        cmocka_unit_test(what_must_not_meet_waits),
        cmocka_unit_test(a_retest_that_says_the_same_stands_and_another_does_not),
        cmocka_unit_test(what_was_read_twice_and_is_not_believed_gets_no_dose_of_its_kind),
        cmocka_unit_test(acid_follows_a_reading),
        cmocka_unit_test(the_first_salt_is_never_the_whole_of_the_plate),
        cmocka_unit_test(a_proof_is_not_broken_for_a_trim),
        cmocka_unit_test(an_incident_closes_and_only_its_own_way_opens),
        cmocka_unit_test(care_looks_after_the_residual),
        cmocka_unit_test(low_salt_is_stirred_before_more),
        cmocka_unit_test(an_amount_that_readings_refute_is_asked_about),
        cmocka_unit_test(what_was_put_off_is_not_forgotten),
        cmocka_unit_test(a_waiver_sets_aside_what_may_be_and_nothing_else),
        cmocka_unit_test(without_a_belief_nothing_is_poured),
        cmocka_unit_test(any_logbook_has_one_act),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
