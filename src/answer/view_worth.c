/* answer/view_worth.c: which test is worth doing next for the decision at hand, and the test off and on that would tell
 * demand from production. */
#include <math.h>
#include <string.h>

#include "answer/act.h"
#include "answer/at_hand.h"
#include "answer/views.h"
#include "estimate/from_entry.h"
#include "estimate/trial.h"
#include "gen/worth_tables.h"
#include "num/require.h"
#include "num/sort.h"

#define MOST_TESTS 40
#define SHOWN 6
#define TELLS_P 0.05     /* under this chance of another act a test changes nothing */
#define OFF_H 12.0       /* off, and as long on, where no length of it would decide: a night and a day */

_Static_assert((int)TW_TOOL_STRIP == (int)TW_INSTRUMENT_STRIP && (int)TW_TOOL_SUPPLIER == (int)TW_INSTRUMENT_SUPPLIER,
               "instruments are counted in one order");

/* A test that could be done. */
typedef struct {
    int observed;
    const tw_test_row *row;
    double step;         /* of its drops, the last that was written; 0: the table's */
    int seen;            /* such a reading stands in the logbook       */
    int asked;           /* the card asks for it                       */
    int off_and_on;      /* a test of two ends, not one reading        */
    double off_h;        /* of that                                    */
    double minutes, wait_h;
    tw_worth worth;
    double net_h;        /* gain less the minutes and the waiting      */
} candidate;

typedef struct {
    tw_core *core;
    const tw_ask *ask;
    const tw_tub *tub;
    const tw_belief *belief;
    const tw_act *act;
    tw_sink *sink;
    tw_decision_at_hand hand;
    double *value, *off, *on; /* n values each */
    void *rest;
    size_t rest_bytes;
    tw_trial trial;          /* the smallest off and on that would decide, by the best instrument for free chlorine */
    tw_status trial_status;  /* TW_OK: it was looked for and holds */
    size_t n;
    candidate test[MOST_TESTS];
} view;

/* What a person can read, with its word. Calcium and hardness are one kind of test; chloride is told as salt. On the residual bear
 * chlorine, the share of it that is lost (pH, cyanuric acid) and the litres that salt tells; calcium, hardness and alkalinity go with it
 * among a thousand members as chance has it, which is no advice. */
static const struct {
    int observed, analyte, of_residual;
} READ[] = {{TW_OBSERVED_FREE_CHLORINE, TW_ANALYTE_FREE_CHLORINE, 1}, {TW_OBSERVED_PH, TW_ANALYTE_PH, 1},
            {TW_OBSERVED_ALKALINITY, TW_ANALYTE_TOTAL_ALKALINITY, 0}, {TW_OBSERVED_CALCIUM, TW_ANALYTE_CALCIUM_HARDNESS, 0},
            {TW_OBSERVED_HARDNESS, TW_ANALYTE_TOTAL_HARDNESS, 0},     {TW_OBSERVED_CHLORIDE, TW_ANALYTE_SALT, 1},
            {TW_OBSERVED_CONDUCTIVITY, TW_ANALYTE_CONDUCTIVITY, 1},   {TW_OBSERVED_CYANURATE, TW_ANALYTE_CYANURIC_ACID, 1}};

enum { READS = sizeof READ / sizeof *READ };

static int analyte_of(int observed)
{
    for (size_t i = 0; i < READS; i++)
        if (READ[i].observed == observed)
            return READ[i].analyte;
    return TW_ANALYTE_FREE_CHLORINE;
}

/* Has the logbook such a reading of the tub, and by which drops? */
static void look_for(view *v, candidate *c)
{
    size_t cursor = 0;
    const tw_entry *e;
    double step = 0.0;
    while ((e = tw_logbook_book_next(v->core->book, v->tub->id, v->ask->now, &cursor)) != NULL) {
        const int tool = e->kind == TW_KIND_READING ? tw_logbook_word(e, TW_FIELD_INSTRUMENT) : -1;
        if (tool != c->row->instrument || tw_logbook_has(e, TW_FIELD_SOURCE) || tw_estimate_observed_of(tw_logbook_word(e, TW_FIELD_ANALYTE), tool) != c->observed)
            continue;
        c->seen = 1;
        if (tool == TW_TOOL_DROPS && tw_logbook_number(e, TW_FIELD_STEP, &step) == TW_OK && step > 0.0)
            c->step = step;
    }
}

static int card_asks(const view *v, int observed)
{
    for (uint32_t i = 0; i < v->act->tests; i++)
        if (tw_estimate_observed_of(v->act->test[i], TW_TOOL_DROPS) == observed)
            return 1;
    return 0;
}

static void weigh(view *v, candidate *c, const tw_worth_test *test)
{
    if (tw_estimate_worth(v->belief, &v->hand.decision, test, TW_WORTH_OUTCOMES, v->rest, v->rest_bytes, &c->worth) != TW_OK)
        return;
    c->net_h = c->worth.gain_h - c->minutes / 60.0 - c->wait_h;
    v->test[v->n++] = *c;
}

static int of_residual(const view *v)
{
    return v->hand.what == TW_AT_HAND_HOLD || v->hand.what == TW_AT_HAND_CAUSE;
}

/* Every reading by what was used here and by what is cheap. */
static void weigh_readings(view *v)
{
    const tw_belief *b = v->belief;
    for (size_t k = 0; k < READS; k++) {
        if (of_residual(v) && !READ[k].of_residual)
            continue;
        for (size_t i = 0; i < b->n; i++)
            v->value[i] = tw_estimate_inside(b, READ[k].observed, i);
        for (size_t r = 0; r < TW_TEST_ROWS && v->n < MOST_TESTS; r++) {
            candidate c;
            memset(&c, 0, sizeof c);
            c.observed = READ[k].observed;
            c.row = &tw_answer_tests[r];
            c.minutes = c.row->minutes;
            c.wait_h = c.row->wait_h;
            /* A strip that is said to show calcium shows hardness. */
            if (tw_estimate_instrument(c.row->instrument, c.observed) == NULL ||
                (c.row->instrument == TW_TOOL_STRIP && c.observed == TW_OBSERVED_CALCIUM))
                continue;
            look_for(v, &c);
            if (!c.seen && !c.row->cheap)
                continue;
            c.asked = card_asks(v, c.observed);
            const tw_worth_test test = {c.row->instrument, c.observed, c.step, 1, {v->value, NULL, NULL, NULL}};
            weigh(v, &c, &test);
        }
    }
}

/* The best instrument for free chlorine that was used here; drops when none was. */
static candidate best_chlorine(view *v)
{
    static const int ORDER[] = {TW_TOOL_PHOTOMETER, TW_TOOL_DROPS, TW_TOOL_COMPARATOR, TW_TOOL_STRIP};
    candidate c;
    for (size_t k = 0; k < sizeof ORDER / sizeof *ORDER; k++)
        for (size_t r = 0; r < TW_TEST_ROWS; r++) {
            memset(&c, 0, sizeof c);
            c.observed = TW_OBSERVED_FREE_CHLORINE;
            c.row = &tw_answer_tests[r];
            if (c.row->instrument == ORDER[k])
                look_for(v, &c);
            if (c.seen)
                return c;
        }
    memset(&c, 0, sizeof c);
    c.observed = TW_OBSERVED_FREE_CHLORINE;
    for (size_t r = 0; r < TW_TEST_ROWS; r++)
        if (tw_answer_tests[r].instrument == TW_TOOL_DROPS)
            c.row = &tw_answer_tests[r];
    TW_REQUIRE(c.row != NULL);
    return c;
}

/* Off and on, beside single readings, where the residual is what is asked about and enough chlorine is there. */
static void weigh_trial(view *v, candidate c)
{
    const tw_belief *b = v->belief;
    /* As long as it takes to tell a weak cell from a thirsty tub with this instrument. */
    c.off_h = v->trial_status == TW_OK && v->trial.state == TW_TRIAL_PROPOSED ? v->trial.hours : OFF_H;
    const double stop = TW_TRIAL_STOP_MG_PER_L / b->density_kg_per_l;
    size_t below = 0;
    if (tw_estimate_trial_foretell(b, c.off_h, v->rest, v->rest_bytes, v->off, v->on) != TW_OK)
        return;
    for (size_t i = 0; i < b->n; i++)
        below += v->off[i] < stop;
    if ((double)below >= TW_TRIAL_STOP_P * (double)b->n || v->n == MOST_TESTS)
        return;
    c.off_and_on = 1;
    c.minutes = 3.0 * c.row->minutes;
    c.wait_h = 2.0 * c.off_h;
    const tw_worth_test test = {c.row->instrument, c.observed, c.step, 3,
                                {b->column[TW_COLUMN_CHLORINE_MG_PER_KG], v->off, v->on, NULL}};
    weigh(v, &c, &test);
}

static int better(uint32_t a, uint32_t b, const void *context)
{
    const candidate *test = context;
    return test[a].net_h > test[b].net_h;
}

static tw_message by_word(int tool)
{
    static const tw_message BY[] = {TW_SAY_BY_STRIP, TW_SAY_BY_DROPS, TW_SAY_BY_COMPARATOR, TW_SAY_BY_PHOTOMETER,
                                    TW_SAY_BY_METER, TW_SAY_BY_MONITOR, TW_SAY_BY_DISPLAY, TW_SAY_BY_LABORATORY};
    return (size_t)tool < sizeof BY / sizeof *BY ? BY[tool] : TW_SAY_BY_NONE;
}

static void tell_test(const view *v, const candidate *c)
{
    tw_said said = tw_units_say(c->off_and_on ? TW_SAY_WORTH_OFF_ON : c->seen ? TW_SAY_WORTH_TEST : TW_SAY_WORTH_TEST_NEW);
    tw_answer_item(v->sink);
    tw_answer_string(v->sink, TW_KEY_WORTH_ANALYTE, tw_units_message_id(tw_procedure_analyte_message(analyte_of(c->observed))));
    tw_answer_string(v->sink, TW_KEY_WORTH_BY, tw_units_message_id(by_word(c->row->instrument)));
    tw_answer_flag(v->sink, TW_KEY_WORTH_OFF_AND_ON, c->off_and_on);
    tw_answer_flag(v->sink, TW_KEY_WORTH_SEEN, c->seen);
    tw_answer_flag(v->sink, TW_KEY_WORTH_ASKED, c->asked);
    tw_answer_number(v->sink, TW_KEY_WORTH_GAIN_H, c->worth.gain_h);
    tw_answer_number(v->sink, TW_KEY_WORTH_P_CHANGES, c->worth.p_changes);
    tw_answer_number(v->sink, TW_KEY_WORTH_MINUTES, c->minutes);
    tw_answer_number(v->sink, TW_KEY_WORTH_STRIPS, (double)c->row->strips);
    tw_answer_number(v->sink, TW_KEY_WORTH_WAIT_H, c->wait_h);
    tw_answer_number(v->sink, TW_KEY_WORTH_NET_H, c->net_h);
    tw_units_say_message(&said, "what", tw_procedure_analyte_message(analyte_of(c->observed)));
    tw_units_say_message(&said, "by", by_word(c->row->instrument));
    tw_units_say_message(&said, "other", v->hand.decision.kind == TW_WORTH_DOSE ? TW_SAY_WORTH_OTHER_AMOUNT : TW_SAY_WORTH_OTHER_ACT);
    tw_units_say_number(&said, "gain", c->worth.gain_h);
    tw_units_say_number(&said, "p", c->worth.p_changes);
    tw_units_say_number(&said, "minutes", c->minutes);
    tw_units_say_number(&said, "wait", c->wait_h);
    tw_units_say_number(&said, "off", c->off_h);
    tw_answer_words(v->sink, TW_KEY_WORTH_SAID, &said);
    if (c->asked)
        tw_answer_message(v->sink, TW_KEY_WORTH_CARD, TW_SAY_WORTH_CARD);
    tw_answer_close(v->sink);
}

static void tell_tests(view *v)
{
    static const tw_message HAND[] = {TW_SAY_HAND_NOTHING, TW_SAY_HAND_TA, TW_SAY_HAND_CALCIUM, TW_SAY_HAND_SALT,
                                      TW_SAY_HAND_CHLORINE, TW_SAY_HAND_HOLD, TW_SAY_HAND_CAUSE};
    static const char *const HAND_ID[] = {"nothing", "alkalinity", "calcium", "salt", "chlorine", "hold", "cause"};
    uint32_t order[MOST_TESTS];
    tw_answer_string(v->sink, TW_KEY_DECISION, HAND_ID[v->hand.what]);
    tw_said hand = tw_units_say(HAND[v->hand.what]);
    tw_units_say_number(&hand, "loss", v->n > 0 ? v->test[0].worth.loss_h : 0.0);
    tw_answer_words(v->sink, TW_KEY_DECISION_SAID, &hand);
    tw_sort_index_by(better, v->test, v->n, order);
    const candidate *best = v->n > 0 ? &v->test[order[0]] : NULL;
    const int none = best == NULL || best->net_h <= 0.0 || best->worth.p_changes < TELLS_P;
    tw_answer_flag(v->sink, TW_KEY_NO_TEST, none);
    if (best != NULL)
        tw_answer_number(v->sink, TW_KEY_DECISION_LOSS_H, best->worth.loss_h);
    tw_said said = tw_units_say(none ? TW_SAY_WORTH_NONE : best->off_and_on ? TW_SAY_WORTH_FIRST_OFF_ON : TW_SAY_WORTH_FIRST);
    if (!none) {
        tw_units_say_message(&said, "what", tw_procedure_analyte_message(analyte_of(best->observed)));
        tw_units_say_message(&said, "by", by_word(best->row->instrument));
    }
    tw_answer_words(v->sink, TW_KEY_WORTH_FIRST, &said);
    if (v->n == 0)
        return;
    tw_answer_open_list(v->sink, TW_KEY_WORTHS);
    for (size_t k = 0; k < v->n; k++) { /* the first few that are worth their time, and what the card asks for */
        const candidate *c = &v->test[order[k]];
        if ((k < SHOWN && c->net_h > 0.0) || (c->asked && c->seen))
            tell_test(v, c);
    }
    tw_answer_close(v->sink);
}

static int generator_runs(const view *v)
{
    return (v->act->stage >= TW_STAGE_GENERATOR || v->belief->duty > 0.0) && !(v->belief->flags & TW_BELIEF_NO_CELL);
}

/* Demand or production: the smallest test that would decide. */
static void tell_trial(view *v, const candidate *best)
{
    static const char *const STATE[] = {"proposed", "decided", "too-low", "cannot"};
    static const tw_message SAY[] = {TW_SAY_TRIAL_PROPOSED, TW_SAY_TRIAL_DECIDED, TW_SAY_TRIAL_TOO_LOW, TW_SAY_TRIAL_CANNOT};
    const tw_trial trial = v->trial;
    tw_trial finer;
    if (!generator_runs(v) || v->trial_status != TW_OK)
        return;
    tw_answer_message(v->sink, TW_KEY_TRIAL_HEADING, TW_SAY_TRIAL_HEADING);
    tw_answer_open(v->sink, TW_KEY_TRIAL);
    tw_answer_string(v->sink, TW_KEY_TRIAL_STATE, STATE[trial.state]);
    tw_answer_number(v->sink, TW_KEY_P_WEAK, trial.p_weak);
    if (trial.state == TW_TRIAL_PROPOSED || trial.state == TW_TRIAL_CANNOT) {
        tw_answer_number(v->sink, TW_KEY_TRIAL_HOURS, trial.hours);
        tw_answer_number(v->sink, TW_KEY_TRIAL_DECIDES, trial.p_decides);
        tw_answer_number(v->sink, TW_KEY_TRIAL_WRONG, trial.p_wrong);
        tw_answer_number(v->sink, TW_KEY_TRIAL_BELOW, trial.p_below);
        tw_answer_spread(v->sink, TW_KEY_TRIAL_OFF, trial.off_mg_per_l.q05, trial.off_mg_per_l.q50, trial.off_mg_per_l.q95);
        tw_answer_spread(v->sink, TW_KEY_TRIAL_ON, trial.on_mg_per_l.q05, trial.on_mg_per_l.q50, trial.on_mg_per_l.q95);
    }
    tw_answer_close(v->sink);
    tw_said said = tw_units_say(SAY[trial.state]);
    tw_units_say_message(&said, "by", by_word(best->row->instrument));
    tw_units_say_number(&said, "hours", trial.hours);
    tw_units_say_number(&said, "p", trial.state == TW_TRIAL_DECIDED ? trial.p_weak : trial.p_decides);
    tw_units_say_number(&said, "below", trial.p_below);
    tw_units_say_number(&said, "stop", TW_TRIAL_STOP_MG_PER_L);
    tw_answer_words(v->sink, TW_KEY_TRIAL_SAID, &said);
    if (trial.state != TW_TRIAL_CANNOT)
        return;
    /* What would: drops of a fifth of a milligram, else nothing at this level. */
    const int can = tw_estimate_trial(v->belief, TW_TOOL_DROPS, 0.2, v->rest, v->rest_bytes, &finer) == TW_OK && finer.state == TW_TRIAL_PROPOSED;
    said = tw_units_say(can ? TW_SAY_TRIAL_FINER : TW_SAY_TRIAL_NOTHING);
    tw_units_say_number(&said, "hours", finer.hours);
    tw_units_say_number(&said, "p", finer.p_decides);
    tw_answer_words(v->sink, TW_KEY_TRIAL_INSTEAD, &said);
}

void tw_answer_view_worth(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    view v = {.core = core, .ask = ask, .tub = tub, .sink = sink};
    v.belief = tw_answer_tell_belief(core, ask, tub, sink);
    v.act = tw_answer_act(core, tub, ask->now, &status);
    if (v.belief == NULL || v.act == NULL)
        return;
    const size_t n = v.belief->n;
    double *room = core->room;
    tw_answer_at_hand(core, ask, tub, v.belief, v.act, room, &v.hand);
    v.value = room + 4 * n;
    v.off = v.value + n;
    v.on = v.off + n;
    v.rest = core->work;
    v.rest_bytes = core->work_bytes;
    const candidate best = best_chlorine(&v);
    v.trial_status = of_residual(&v) || generator_runs(&v)
                         ? tw_estimate_trial(v.belief, best.row->instrument, best.step, v.rest, v.rest_bytes, &v.trial)
                         : TW_ERR_UNKNOWN;
    if (v.hand.what != TW_AT_HAND_NOTHING)
        weigh_readings(&v);
    if (of_residual(&v))
        weigh_trial(&v, best);
    if (v.act->verb != TW_VERB_STOP)
        tw_answer_words(sink, TW_KEY_HEAD, &v.act->head);
    tell_tests(&v);
    tell_trial(&v, &best);
    tw_answer_digest(sink, TW_KEY_BELIEF, v.belief->digest);
}
