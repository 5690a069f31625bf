/* answer/mind.c: the belief and the forecast of a question, made once. */
#include <string.h>

#include "answer/core.h"

const tw_belief *tw_answer_belief(tw_core *core, const tw_tub *tub, tw_time now, tw_status *status)
{
    const size_t lines = tw_logbook_book_count(core->book);
    const int same = core->has_belief && core->belief_lines == lines && core->belief_at.utc_s == now.utc_s &&
                     tub->id.n == TW_ID_LENGTH && memcmp(core->belief_tub, tub->id.at, TW_ID_LENGTH) == 0;
    if (!same) {
        core->has_fan = 0;
        core->has_act = 0;
        core->belief_status = tw_estimate_fold(core->book, tub->id, now, core->fold_mem, core->fold_bytes, &core->belief);
        core->has_belief = tub->id.n == TW_ID_LENGTH;
        core->belief_lines = lines;
        core->belief_at = now;
        if (core->has_belief)
            memcpy(core->belief_tub, tub->id.at, TW_ID_LENGTH);
    }
    *status = core->belief_status;
    return core->belief_status == TW_OK ? &core->belief : NULL;
}

const tw_fan *tw_answer_fan(tw_core *core, const tw_belief *belief, const tw_schedule *plan, tw_status *status)
{
    const tw_schedule same = tw_estimate_schedule_same(belief);
    const tw_schedule *wanted = plan != NULL ? plan : &same;
    *status = TW_OK;
    if (core->has_fan && memcmp(&core->fan_plan, wanted, sizeof same) == 0)
        return &core->fan;
    const uint32_t hours = TW_ANSWER_FAN_HOURS;
    *status = tw_estimate_forecast(belief, wanted, hours, core->work, core->work_bytes, &core->fan);
    core->has_fan = *status == TW_OK;
    core->fan_plan = *wanted;
    return core->has_fan ? &core->fan : NULL;
}
