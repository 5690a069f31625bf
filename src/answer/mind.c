/* answer/mind.c: the belief and the forecast of a question, made once; a belief that was kept outside is looked at first. */
#include <string.h>

#include "answer/core.h"
#include "estimate/checkpoint.h"
#include "num/sha256.h"

static uint32_t members_of_a_belief(void)
{
    const tw_estimate_options full = tw_estimate_options_default();
    return (uint32_t)full.chains * (uint32_t)full.keep;
}

/* Everything that a belief comes from: program, version and tub, all lines (entries are named by their place among
 * them), the time. */
static tw_checkpoint_key key_of(const tw_core *core, const uint8_t program[32], tw_text tub, tw_time now)
{
    tw_checkpoint_key key;
    tw_sha256_state state;
    memcpy(key.core, program, sizeof key.core);
    tw_sha256_init(&state);
    tw_sha256_update(&state, TW_VERSION, sizeof TW_VERSION);
    tw_sha256_update(&state, tub.at, tub.n);
    tw_sha256_final(&state, key.tables);
    tw_logbook_book_digest(core->book, key.entries);
    key.at_utc_s = now.utc_s;
    key.members = members_of_a_belief();
    return key;
}

size_t tw_core_keep_bytes(void)
{
    return tw_estimate_checkpoint_bytes(members_of_a_belief()) + tw_estimate_shelf_bytes();
}

int tw_core_keep(tw_core *core, const uint8_t program[32], void *out, size_t cap, size_t *length)
{
    *length = 0;
    if (!core->has_belief || core->belief_status != TW_OK || core->belief_lines != tw_logbook_book_count(core->book))
        return TW_ERR_MISSING;
    const tw_checkpoint_key key = key_of(core, program, (tw_text){core->belief_tub, TW_ID_LENGTH}, core->belief_at);
    if (cap < tw_core_keep_bytes())
        return TW_ERR_CAPACITY;
    const tw_status status = tw_estimate_checkpoint_write(&core->belief, &key, out, cap, length);
    if (status != TW_OK)
        return (int)status;
    tw_estimate_shelf_write(&core->shelf, program, (uint8_t *)out + *length);
    *length += tw_estimate_shelf_bytes();
    return TW_OK;
}

void tw_core_kept(tw_core *core, const uint8_t program[32], const void *bytes, size_t n)
{
    core->kept = n > 0 ? bytes : NULL;
    core->kept_bytes = n;
    core->folded = 0;
    memcpy(core->kept_program, program, sizeof core->kept_program);
    if (n != tw_core_keep_bytes())
        return;
    const size_t belief = tw_estimate_checkpoint_bytes(members_of_a_belief());
    (void)tw_estimate_shelf_read((const uint8_t *)bytes + belief, n - belief, program, &core->shelf);
}

/* What was kept, when it is just this; else it is worked out. */
static tw_status belief_of(tw_core *core, const tw_tub *tub, tw_time now)
{
    if (core->kept != NULL) {
        const tw_checkpoint_key key = key_of(core, core->kept_program, tub->id, now);
        const size_t belief = tw_estimate_checkpoint_bytes(members_of_a_belief());
        if (core->kept_bytes == tw_core_keep_bytes() &&
            tw_estimate_checkpoint_read(core->kept, belief, &key, core->fold_mem, core->fold_bytes, &core->belief) == TW_OK)
            return TW_OK;
    }
    core->folded = 1;
    return tw_estimate_fold_kept(core->book, tub->id, now, NULL, &core->shelf, core->fold_mem, core->fold_bytes, &core->belief);
}

const tw_belief *tw_answer_belief(tw_core *core, const tw_tub *tub, tw_time now, tw_status *status)
{
    const size_t lines = tw_logbook_book_count(core->book);
    const int same = core->has_belief && core->belief_lines == lines && core->belief_at.utc_s == now.utc_s &&
                     tub->id.n == TW_ID_LENGTH && memcmp(core->belief_tub, tub->id.at, TW_ID_LENGTH) == 0;
    if (!same) {
        core->has_fan = 0;
        core->has_act = 0;
        core->belief_status = belief_of(core, tub, now);
        core->has_belief = tub->id.n == TW_ID_LENGTH;
        core->belief_lines = lines;
        core->belief_at = now;
        if (core->has_belief)
            memcpy(core->belief_tub, tub->id.at, TW_ID_LENGTH);
    }
    *status = core->belief_status;
    return core->belief_status == TW_OK ? &core->belief : NULL;
}

const tw_fan *tw_answer_fan_over(tw_core *core, const tw_belief *belief, const tw_schedule *plan, uint32_t hours, tw_status *status)
{
    const tw_schedule same = tw_estimate_schedule_same(belief);
    const tw_schedule *wanted = plan != NULL ? plan : &same;
    const uint32_t far = hours > TW_ANSWER_FAN_HOURS ? hours : TW_ANSWER_FAN_HOURS;
    *status = TW_OK;
    if (core->has_fan && core->fan.hours == far && memcmp(&core->fan_plan, wanted, sizeof same) == 0)
        return &core->fan;
    *status = tw_estimate_forecast(belief, wanted, far, core->work, core->work_bytes, &core->fan);
    core->has_fan = *status == TW_OK;
    core->fan_plan = *wanted;
    return core->has_fan ? &core->fan : NULL;
}

const tw_fan *tw_answer_fan(tw_core *core, const tw_belief *belief, const tw_schedule *plan, tw_status *status)
{
    return tw_answer_fan_over(core, belief, plan, TW_ANSWER_FAN_HOURS, status);
}
