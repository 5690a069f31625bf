/* answer/act.c: the next act of a question, made once. */
#include "answer/act.h"

#include "procedure/next.h"

const tw_act *tw_answer_act(tw_core *core, const tw_tub *tub, tw_time now, tw_status *status)
{
    const tw_belief *belief = tw_answer_belief(core, tub, now, status);
    if (!core->has_act) {
        *status = tw_procedure_next(core->book, tub, now, belief, NULL, core->work, core->work_bytes, &core->act);
        if (*status != TW_OK)
            return NULL;
        core->has_act = 1;
    }
    *status = TW_OK;
    return &core->act;
}

const char *tw_answer_act_name(const tw_act *act)
{
    return (unsigned)act->id < TW_ACTS ? tw_procedure_acts[act->id].id : "none";
}

const char *tw_answer_act_substance(const tw_act *act)
{
    return act->substance >= 0 && act->substance < TW_SUBSTANCES ? tw_dose_substances[act->substance].id : "";
}
