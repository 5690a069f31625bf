/* answer/mind.c: the belief and the forecast of a question, made once; a belief that was kept outside is looked at first. */
#include <string.h>

#include "answer/core.h"
#include "answer/views.h"
#include "estimate/checkpoint.h"
#include "num/sha256.h"

static uint32_t members_of_a_belief(void)
{
    const tw_estimate_options full = tw_estimate_options_default();
    return (uint32_t)full.chains * (uint32_t)full.keep;
}

/* Program, version and tub; the key of what was settled names all that it was made of. */
static tw_checkpoint_key key_of(const uint8_t program[32], tw_text tub)
{
    tw_checkpoint_key key;
    tw_sha256_state state;
    memset(&key, 0, sizeof key);
    memcpy(key.core, program, sizeof key.core);
    tw_sha256_init(&state);
    tw_sha256_update(&state, TW_VERSION, sizeof TW_VERSION);
    tw_sha256_update(&state, tub.at, tub.n);
    tw_sha256_final(&state, key.tables);
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
    if (!core->has_belief || core->belief_status != TW_OK || !core->settled.there ||
        core->belief_lines != tw_logbook_book_count(core->book))
        return TW_ERR_MISSING;
    tw_checkpoint_key key = key_of(program, (tw_text){core->belief_tub, TW_ID_LENGTH});
    memcpy(key.entries, core->settled.key, sizeof key.entries);
    key.at_utc_s = core->settled.belief.at_utc_s;
    if (cap < tw_core_keep_bytes())
        return TW_ERR_CAPACITY;
    const tw_status status = tw_estimate_checkpoint_write(&core->settled.belief, &key, out, cap, length);
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
    core->has_belief = core->settled.there = 0; /* what was kept is looked at */
    memcpy(core->kept_program, program, sizeof core->kept_program);
    if (n != tw_core_keep_bytes())
        return;
    const size_t belief = tw_estimate_checkpoint_bytes(members_of_a_belief());
    (void)tw_estimate_shelf_read((const uint8_t *)bytes + belief, n - belief, program, &core->shelf);
}

/* What was kept of this tub, into the place of what was settled; the fold sees whether it still stands. */
static void recall(tw_core *core, tw_text tub)
{
    const size_t belief = tw_estimate_checkpoint_bytes(members_of_a_belief());
    const tw_checkpoint_key wanted = key_of(core->kept_program, tub);
    tw_checkpoint_key key;
    if (core->kept == NULL || core->kept_bytes != tw_core_keep_bytes() || tw_estimate_checkpoint_key(core->kept, belief, &key) != TW_OK ||
        memcmp(key.core, wanted.core, sizeof key.core) != 0 || memcmp(key.tables, wanted.tables, sizeof key.tables) != 0 ||
        key.members != wanted.members)
        return;
    (void)tw_estimate_settled_read(core->kept, belief, &key, NULL, core->fold_mem, core->fold_bytes, &core->settled);
}

static tw_status belief_of(tw_core *core, const tw_tub *tub, tw_time now)
{
    const uint32_t folded = core->settled.folded;
    if (!core->has_belief || tub->id.n != TW_ID_LENGTH || memcmp(core->belief_tub, tub->id.at, TW_ID_LENGTH) != 0)
        core->settled.there = 0;
    if (!core->settled.there)
        recall(core, tub->id);
    tw_estimate_options full = tw_estimate_options_default();
    full.crew = core->crew;
    const tw_status status = tw_estimate_fold_kept(core->book, tub->id, now, &full, &core->shelf, &core->settled, core->fold_mem,
                                                   core->fold_bytes, &core->belief);
    core->folded |= core->settled.folded != folded;
    return status;
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

void tw_answer_tell_forecast(const tw_belief *belief, const tw_schedule *plan, uint32_t hours, int to_people, tw_sink *sink)
{
    uint8_t name[TW_SHA256_BYTES];
    const tw_schedule same = tw_estimate_schedule_same(belief);
    tw_estimate_forecast_name(belief, plan != NULL ? plan : &same, hours, name);
    tw_answer_digest(sink, TW_KEY_FORECAST, name);
    if (to_people)
        tw_answer_tell_digest(name, sink);
}
