/* answer/parts.c: parts that more than one answer has. */
#include <math.h>

#include "answer/views.h"

const tw_belief *tw_answer_tell_belief(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    const tw_belief *belief = tw_answer_belief(core, tub, ask->now, &status);
    if (!tw_answer_tell_stop(core, ask, tub, sink))
        tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
    if (belief == NULL)
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
    return belief;
}

static tw_time hours_on(tw_time now, double hours)
{
    now.utc_s += (int64_t)hours * 3600;
    return now;
}

/* What stands in the way, the floor first. */
static tw_message held_sentence(const tw_held *held)
{
    if (held->held)
        return TW_SAY_HELD_YES;
    if (held->p_floor_7d < TW_HELD_PROBABILITY || held->p_now < TW_HELD_PROBABILITY)
        return held->hours_q95 < TW_HELD_HORIZON_H ? TW_SAY_HELD_BY : TW_SAY_HELD_NOT_SEEN;
    if (held->no_product_24h && held->p_unwritten_24h > 1.0 - TW_HELD_PROBABILITY)
        return TW_SAY_HELD_UNWRITTEN;
    return held->no_product_24h ? TW_SAY_HELD_CEILING : TW_SAY_HELD_PRODUCT;
}

#define MAY_BE_AT_FAULT 0.25 /* chance of either that is worth a line; assumed */

/* A weak cell or thirsty water, where the floor will not hold and either has a chance. */
static void tell_cause(const tw_held *held, tw_sink *sink)
{
    if (held->p_floor_7d >= TW_HELD_PROBABILITY || (held->p_weak < MAY_BE_AT_FAULT && held->p_demand < MAY_BE_AT_FAULT))
        return;
    tw_said said = tw_units_say(TW_SAY_HELD_CAUSE);
    tw_units_say_number(&said, "weak", held->p_weak);
    tw_units_say_number(&said, "demand", held->p_demand);
    tw_answer_words(sink, TW_KEY_HELD_CAUSE, &said);
}

void tw_answer_tell_held(const tw_held *held, tw_time now, tw_sink *sink)
{
    tw_answer_open(sink, TW_KEY_HELD);
    tw_answer_flag(sink, TW_KEY_IS_HELD, held->held);
    tw_answer_number(sink, TW_KEY_DUTY, held->duty * 100.0);
    tw_answer_number(sink, TW_KEY_P_FLOOR, held->p_floor_7d);
    tw_answer_number(sink, TW_KEY_P_NOW, held->p_now);
    tw_answer_number(sink, TW_KEY_P_CEILING, held->p_ceiling);
    tw_answer_flag(sink, TW_KEY_NO_PRODUCT, held->no_product_24h);
    tw_answer_number(sink, TW_KEY_P_UNWRITTEN_24H, held->p_unwritten_24h);
    tw_answer_flag(sink, TW_KEY_TRADE_RULE, held->trade_rule);
    tw_answer_flag(sink, TW_KEY_REMNANT_RULE, held->remnant_rule);
    tw_answer_spread(sink, TW_KEY_HOURS_TO_HOLD, held->hours_q05, held->hours_q50, held->hours_q95);
    tw_answer_number(sink, TW_KEY_P_HOLD_EVER, held->p_hold_ever);
    tw_answer_number(sink, TW_KEY_REMNANT_HOURS, held->remnant_hours_q95);
    tw_answer_number(sink, TW_KEY_P_WEAK, held->p_weak);
    tw_answer_number(sink, TW_KEY_P_DEMAND, held->p_demand);
    tw_answer_close(sink);
    const tw_message sentence = held_sentence(held);
    tw_said said = tw_units_say(sentence);
    tw_units_say_number(&said, "p", sentence == TW_SAY_HELD_CEILING ? held->p_ceiling : held->p_floor_7d);
    tw_units_say_number(&said, "duty", held->duty);
    if (held->hours_q95 < TW_HELD_HORIZON_H)
        tw_units_say_time(&said, "at", hours_on(now, ceil(held->hours_q95)));
    tw_answer_words(sink, TW_KEY_HELD_SENTENCE, &said);
    tell_cause(held, sink);
    tw_said rules = tw_units_say(TW_SAY_HELD_RULES);
    tw_units_say_message(&rules, "trade", held->trade_rule ? TW_SAY_WORD_YES : TW_SAY_WORD_NO);
    tw_units_say_message(&rules, "remnant", held->remnant_rule ? TW_SAY_WORD_YES : TW_SAY_WORD_NO);
    tw_answer_words(sink, TW_KEY_RULES, &rules);
}

void tw_answer_tell_digest(const uint8_t digest[32], tw_sink *sink)
{
    char hex[TW_SHA256_HEX];
    tw_sha256_hex(digest, hex);
    tw_said said = tw_units_say(TW_SAY_FORECAST_DIGEST);
    tw_units_say_text(&said, "digest", (tw_text){hex, 8});
    tw_answer_words(sink, TW_KEY_FORECAST_LINE, &said);
}
