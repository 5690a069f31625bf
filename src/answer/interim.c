/* answer/interim.c: until the procedure is there: no card, the usual floor. */
#include "answer/views.h"

void tw_answer_view_now(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    (void)core;
    (void)ask;
    (void)tub;
    tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
}

void tw_answer_limits_of(const tw_ask *ask, const tw_tub *tub, tw_answer_limits *out)
{
    (void)ask;
    (void)tub;
    *out = (tw_answer_limits){.profile = {"", 0}, .floor_mg_per_l = 3.0, .ceiling_mg_per_l = 0.0};
}
