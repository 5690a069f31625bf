/* answer/at_hand.c: from the stage to a decision, with the loss of deciding wrongly in hours. */
#include "answer/at_hand.h"

#include <math.h>
#include <string.h>

#include "estimate/instrument.h"
#include "estimate/trial.h"
#include "procedure/residual.h"

/* Hours by which losses are counted (assumed; docs/estimate.md): one visit more; salt or calcium that comes out only with
 * water; another overshoot; a day longer to a proof; three days without knowing what is at fault. */
#define VISIT_H 2.0
#define WATER_OUT_H 24.0
#define OVERSHOOT_H 6.0
#define PROOF_WAIT_H 24.0
#define CAUSE_WAIT_H 72.0

typedef struct {
    double *least, *target, *most, *event;
} arrays;

size_t tw_answer_at_hand_bytes(size_t n)
{
    return 4 * n * sizeof(double);
}

/* Grams (of what the analyte counts in) that lift each member to the band; falling: that lower it. */
static void amounts(const tw_belief *b, int observed, double least, double target, double most, int falling, arrays *a)
{
    const double typed = 1.0 / tw_estimate_inside_factor(observed, b->density_kg_per_l), sign = falling ? -1.0 : 1.0;
    for (size_t i = 0; i < b->n; i++) {
        const double m3 = 1e-3 * b->column[TW_COLUMN_WATER_KG][i] / b->density_kg_per_l;
        const double now = tw_estimate_inside(b, observed, i) * typed;
        a->least[i] = sign * (least - now) * m3;
        a->target[i] = sign * (target - now) * m3;
        a->most[i] = sign * (most - now) * m3;
    }
}

static void dose(const tw_belief *b, tw_at_hand what, int observed, const tw_band *band, double spoilt_h, arrays *a, tw_decision_at_hand *out)
{
    const int falling = what == TW_AT_HAND_TA && tw_estimate_now(b, observed).q50 > band->target;
    if (falling)
        amounts(b, observed, band->high, band->target, band->low, 1, a);
    else
        amounts(b, observed, band->low, band->target, what == TW_AT_HAND_TA || what == TW_AT_HAND_CALCIUM ? band->high : band->hard_high, 0, a);
    out->what = what;
    out->decision = (tw_worth_decision){TW_WORTH_DOSE, NULL, a->least, a->target, a->most, VISIT_H, spoilt_h};
}

/* Once the generator runs: does it hold; and where it will not, why not. */
static void residual(tw_core *core, const tw_scene *s, const tw_answer_limits *limits, arrays *a, tw_decision_at_hand *out)
{
    const tw_belief *b = s->belief;
    tw_duty duty;
    if (tw_estimate_duty(b, tw_procedure_chlorine_target(s), limits->floor_mg_per_l, limits->ceiling_mg_per_l, b->temp_set_c, core->work,
                         core->work_bytes, &duty) != TW_OK)
        return;
    if (duty.level_full.q50 < limits->floor_mg_per_l) {
        for (size_t i = 0; i < b->n; i++)
            a->event[i] = b->column[TW_COLUMN_CELL_FACTOR][i] < TW_TRIAL_WEAK ? 1.0 : 0.0;
        out->what = TW_AT_HAND_CAUSE;
        out->decision = (tw_worth_decision){TW_WORTH_WHICH, a->event, NULL, NULL, NULL, CAUSE_WAIT_H, 0.0};
        return;
    }
    if (tw_procedure_balance(s, &duty) != TW_OK)
        return;
    const double handed = b->duty < 1.0 && b->duty > 0.0 ? b->duty : tw_procedure_duty_wanted(&duty);
    const tw_held_ask asked = {.duty = handed, .floor_mg_per_l = limits->floor_mg_per_l, .ceiling_mg_per_l = limits->ceiling_mg_per_l};
    if (tw_estimate_holds(b, &asked, core->work, core->work_bytes, a->event) != TW_OK)
        return;
    out->what = TW_AT_HAND_HOLD;
    out->decision = (tw_worth_decision){TW_WORTH_YES, a->event, NULL, NULL, NULL, PROOF_WAIT_H, 0.0};
}

void tw_answer_at_hand(tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *b, const tw_act *act, void *mem,
                       tw_decision_at_hand *out)
{
    tw_scene scene;
    tw_answer_limits limits;
    double *room = mem;
    arrays a = {room, room + b->n, room + 2 * b->n, room + 3 * b->n};
    memset(out, 0, sizeof *out);
    if (act->verb == TW_VERB_STOP || act->verb == TW_VERB_ASK)
        return;
    tw_answer_limits_of(ask, tub, &limits);
    tw_procedure_scene(core->book, tub, ask->now, b, tw_answer_profile(ask, tub), core->work, core->work_bytes, &scene);
    tw_band band;
    switch ((int)act->stage) {
    case TW_STAGE_ALKALINITY:
        band = tw_procedure_band(&scene, TW_BAND_TA);
        dose(b, TW_AT_HAND_TA, TW_OBSERVED_ALKALINITY, &band, OVERSHOOT_H, &a, out);
        break;
    case TW_STAGE_CALCIUM_UP:
        band = tw_procedure_band(&scene, TW_BAND_CH);
        dose(b, TW_AT_HAND_CALCIUM, TW_OBSERVED_CALCIUM, &band, WATER_OUT_H, &a, out);
        break;
    case TW_STAGE_SALT:
        band = tw_procedure_band(&scene, TW_BAND_SALT);
        dose(b, TW_AT_HAND_SALT, TW_OBSERVED_CHLORIDE, &band, WATER_OUT_H, &a, out);
        break;
    case TW_STAGE_FIRST_CHLORINE:
        band = tw_procedure_band(&scene, TW_BAND_FC);
        dose(b, TW_AT_HAND_CHLORINE, TW_OBSERVED_FREE_CHLORINE, &band, OVERSHOOT_H, &a, out);
        break;
    case TW_STAGE_GENERATOR: case TW_STAGE_HOLD_PROOF: case TW_STAGE_MONITOR: case TW_STAGE_HANDOVER: case TW_STAGE_CARE:
        residual(core, &scene, &limits, &a, out);
        break;
    default: break;
    }
}
