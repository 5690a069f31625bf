/* estimate/jacobian.c: see jacobian.h. */
#include "estimate/jacobian.h"

#include "estimate/hands.h"

#define DELTA 1e-4
#define LANES ((size_t)TW_ESTIMATE_LANES)

static void begins_by(size_t *first, size_t role, size_t op)
{
    if (first[role] > op)
        first[role] = op;
}

/* With which operation each role first moves something. Days come before one another: what moves one moves those after it. */
static void find_first(const tw_model *m, size_t *first)
{
    const tw_problem *p = m->problem;
    size_t lost_days = 0, made_days = 0;
    for (size_t r = 0; r < m->dims; r++)
        first[r] = r < m->x_cell || r >= m->x_cut ? 0 : m->ops;
    for (size_t i = 0; i < m->ops; i++) {
        const tw_op *op = &m->op[i];
        if (op->kind == TW_OP_STEP) {
            const tw_step *st = &m->step[op->index];
            for (; (int)lost_days <= m->loss_class[st->loss_class].day; lost_days++)
                first[m->x_loss_day + lost_days] = i;
            if (st->made_class < 0)
                continue;
            const tw_made_class *made = &m->made_class[st->made_class];
            for (; (int)made_days <= made->day; made_days++)
                first[m->x_made_day + made_days] = i;
            begins_by(first, m->x_cell + (size_t)made->cell, i);
            if (p->part_of[made->cell] > 0)
                begins_by(first, m->x_cell + (size_t)p->part_of[made->cell] - 1, i);
        } else if (op->kind == TW_OP_DOSE) {
            if (m->own_of_dose[op->index] >= 0)
                begins_by(first, m->x_own + (size_t)m->own_of_dose[op->index], i);
            if (p->dose[op->index].product >= 0)
                begins_by(first, m->x_product + (size_t)p->dose[op->index].product, i);
        } else if (op->kind == TW_OP_READ || op->kind == TW_OP_LOOK) {
            const tw_reading *r = &p->reading[tw_estimate_reading_of(p, tw_estimate_slot(p, op))];
            if (r->bias >= 0)
                begins_by(first, m->x_bias + (size_t)r->bias, i);
        }
    }
}

void tw_estimate_columns(tw_model *m)
{
    size_t first[TW_MAX_DIMS];
    find_first(m, first);
    for (size_t place = 0; place < m->active; place++) {
        const size_t op = first[m->role[place]];
        size_t at = place;
        for (; at > 0 && m->column_op[at - 1] > op; at--) {
            m->column[at] = m->column[at - 1];
            m->column_op[at] = m->column_op[at - 1];
        }
        m->column[at] = place;
        m->column_op[at] = op;
    }
}

void tw_estimate_set_lane(tw_sampler *s, int lane, const double *point)
{
    const tw_model *m = s->model;
    for (size_t i = 0; i < m->active; i++)
        s->x[m->role[i]].v[lane] = point[i];
    for (size_t i = m->active; i < m->dims; i++)
        s->x[m->role[i]].v[lane] = 0.0;
}

void tw_estimate_run_marking(tw_sampler *s)
{
    const tw_model *m = s->model;
    const size_t groups = (m->active + LANES - 1) / LANES;
    for (size_t g = 0; g < groups; g++)
        s->mark[g].way.op = m->column_op[g * LANES];
    tw_estimate_forward_marking(m, s->x, s->path, s->mark, groups);
}

/* The point, and the lane of the marks in which it stands. */
typedef struct {
    const double *at;
    int lane;
} origin;

/* The columns of a group. */
static void columns_at(tw_sampler *s, size_t from, void *how)
{
    const tw_model *m = s->model;
    const origin *point = how;
    const size_t n = m->active, count = n - from < LANES ? n - from : LANES, *column = &m->column[from];
    const tw_mark *mark = &s->mark[from / LANES];
    for (size_t l = 0; l < LANES; l++) {
        tw_estimate_set_lane(s, (int)l, point->at);
        if (l < count)
            s->x[m->role[column[l]]].v[l] += DELTA;
    }
    tw_estimate_bend(m, s->x, &s->bend);
    if (mark->way.op == 0)
        tw_estimate_forward(m, s->x, s->path);
    else
        tw_estimate_forward_from(m, s->x, s->path, mark, point->lane);
    for (size_t i = 0; i < m->ops; i++) {
        if (m->op[i].kind != TW_OP_READ && m->op[i].kind != TW_OP_LOOK)
            continue;
        const size_t r = tw_estimate_slot(m->problem, &m->op[i]);
        for (size_t l = 0; l < count; l++)
            s->jacobian[r * n + column[l]] = i < mark->way.op ? 0.0 : (s->path->eta[r].v[l] - s->eta_at[r].v[point->lane]) * (1.0 / DELTA);
    }
}

void tw_estimate_jacobian(tw_sampler *s, const double *point, int lane)
{
    origin o = {point, lane};
    tw_estimate_each_group(s, s->model->active, columns_at, &o);
}
