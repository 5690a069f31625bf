/* estimate/hands.c: see hands.h and crew.h. */
#include "estimate/hands.h"

#include "estimate/arena.h"

#define LANES ((size_t)TW_ESTIMATE_LANES)
#define LANE_ROWS 7 /* x, gradient, y, y_gradient, momentum, step, y_try */

size_t tw_estimate_crew_bytes(size_t hands)
{
    const size_t each = sizeof(tw_sampler) + sizeof(tw_desk) + sizeof(tw_path) + tw_estimate_adjoint_bytes() + LANE_ROWS * TW_MAX_DIMS * sizeof(tw_lanes);
    return hands > 1 ? (hands - 1) * each + 5 * hands * TW_ARENA_ALIGN : 0;
}

tw_sampler *tw_estimate_hand(tw_sampler *s, size_t part) { return part == 0 ? s : &s->hand[part - 1]; }

int tw_estimate_hands_lay(tw_sampler *s)
{
    const tw_crew *crew = s->options.crew;
    s->hands = crew != NULL && crew->hands > 1 ? crew->hands : 1;
    if (s->hands == 1)
        return 1;
    if (s->hands > TW_MOST_HANDS || crew->bytes < tw_estimate_crew_bytes(s->hands))
        return 0;
    tw_arena arena = {crew->mem, crew->bytes};
    s->hand = tw_arena_take(&arena, (s->hands - 1) * sizeof *s->hand);
    s->desk = tw_arena_take(&arena, (s->hands - 1) * sizeof *s->desk);
    for (size_t i = 0; s->desk != NULL && i + 1 < s->hands; i++) {
        tw_desk *own = &s->desk[i];
        own->path = tw_arena_take(&arena, sizeof *own->path);
        own->adjoint = tw_arena_take(&arena, tw_estimate_adjoint_bytes());
        own->lanes = tw_arena_take(&arena, LANE_ROWS * TW_MAX_DIMS * sizeof *own->lanes);
        if (own->lanes == NULL)
            return 0;
        own->path->measuring = 0;
    }
    return s->desk != NULL;
}

/* All as the sampler has it but for what is the hand's own. That is read from elsewhere than what is copied over: clang 14 loads
 * it behind the copy in WebAssembly. */
static void instruct(tw_sampler *s, size_t part)
{
    tw_sampler *hand = tw_estimate_hand(s, part);
    const tw_desk *own = &s->desk[part - 1];
    *hand = *s;
    hand->path = own->path;
    hand->adjoint = own->adjoint;
    tw_lanes **const row[LANE_ROWS] = {&hand->x, &hand->gradient, &hand->y, &hand->y_gradient, &hand->momentum, &hand->step, &hand->y_try};
    for (size_t i = 0; i < LANE_ROWS; i++)
        *row[i] = own->lanes + i * TW_MAX_DIMS;
    hand->accepted = hand->tried = 0.0;
}

typedef struct {
    tw_sampler *s;
    tw_group_job *job;
    void *how;
    int by_part; /* each part has a hand's place to itself */
} shared;

static void do_group(void *arg, size_t hand, size_t group)
{
    const shared *w = arg;
    w->job(tw_estimate_hand(w->s, w->by_part ? group : hand), group * LANES, w->how);
}

void tw_estimate_each_group(tw_sampler *s, size_t n, tw_group_job *job, void *how)
{
    const size_t groups = (n + LANES - 1) / LANES;
    shared w = {s, job, how, groups <= s->hands};
    if (s->hands < 2 || groups < 2) {
        for (size_t group = 0; group < groups; group++)
            do_group(&w, 0, group);
        return;
    }
    for (size_t i = 1; i < s->hands; i++)
        instruct(s, i);
    s->options.crew->run(s->options.crew, do_group, &w, groups);
    for (size_t i = 1; i < s->hands; i++) {
        s->accepted += tw_estimate_hand(s, i)->accepted;
        s->tried += tw_estimate_hand(s, i)->tried;
    }
}
