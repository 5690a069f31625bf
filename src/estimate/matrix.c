/* estimate/matrix.c: Cholesky's factor and its triangular solves. */
#include "estimate/matrix.h"

#include <math.h>

static void transpose(tw_frame *f)
{
    for (size_t i = 0; i < f->n; i++)
        for (size_t j = 0; j < f->n; j++)
            f->lt[i * f->n + j] = f->l[j * f->n + i];
}

/* Eight at a time, that their sums do not wait for each other; the last eight begin early, so that they are whole. */
TW_WIDE void tw_estimate_less_rows(const double *from, const double *by, size_t stride, const double *rows, size_t n, size_t count, size_t first,
                                   double *to)
{
    for (size_t i = first; n < TW_ESTIMATE_LANES && i < n; i++) { /* fewer than eight */
        to[i] = from[i * stride];
        for (size_t k = 0; k < count; k++)
            to[i] -= rows[k * n + i] * by[k * stride];
    }
    for (size_t i = first; n >= TW_ESTIMATE_LANES && i < n; i += TW_ESTIMATE_LANES) {
        const size_t at = i < n - TW_ESTIMATE_LANES ? i : n - TW_ESTIMATE_LANES;
        tw_lanes sum;
        TW_EACH_LANE(l) sum.v[l] = from[(at + (size_t)l) * stride];
        for (size_t k = 0; k < count; k++) {
            const double *row = &rows[k * n + at], x = by[k * stride];
            TW_EACH_LANE(l) sum.v[l] -= row[l] * x;
        }
        TW_EACH_LANE(l) to[at + (size_t)l] = sum.v[l];
    }
}

int tw_estimate_frame_make(const double *h, tw_frame *f)
{
    const size_t n = f->n;
    for (size_t i = 0; i < n * n; i++)
        f->l[i] = f->lt[i] = 0.0;
    for (size_t j = 0; j < n; j++) {
        double *column = &f->lt[j * n];
        tw_estimate_less_rows(&h[j], &f->lt[j], n, f->lt, n, j, j, column);
        if (!(column[j] > 1e-12) || !(column[j] < 1e18))
            return 0;
        column[j] = sqrt(column[j]);
        f->inverse[j] = 1.0 / column[j];
        for (size_t i = 0; i < j; i++)
            column[i] = 0.0;
        for (size_t i = j + 1; i < n; i++)
            column[i] *= f->inverse[j];
        for (size_t i = j; i < n; i++)
            f->l[i * n + j] = column[i];
    }
    return 1;
}

TW_WIDE void tw_estimate_add_squares(double *h, size_t n, const double *rows, const double *weight, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        double *to = &h[i * n];
        size_t j = 0;
        for (; j + TW_ESTIMATE_LANES <= i + 1; j += TW_ESTIMATE_LANES) {
            tw_lanes sum;
            TW_EACH_LANE(l) sum.v[l] = to[j + (size_t)l];
            for (size_t r = 0; r < count; r++) {
                const double *row = &rows[r * n], by = weight[r] * row[i];
                if (by < 0.0 || by > 0.0)
                    TW_EACH_LANE(l) sum.v[l] += by * row[j + (size_t)l];
            }
            TW_EACH_LANE(l) to[j + (size_t)l] = sum.v[l];
        }
        for (size_t r = 0; r < count; r++) {
            const double *row = &rows[r * n], by = weight[r] * row[i];
            for (size_t k = j; (by < 0.0 || by > 0.0) && k <= i; k++)
                to[k] += by * row[k];
        }
    }
}

void tw_estimate_frame_unit(tw_frame *f)
{
    for (size_t i = 0; i < f->n; i++) {
        for (size_t j = 0; j < f->n; j++)
            f->l[i * f->n + j] = i == j ? 1.0 : 0.0;
        f->inverse[i] = 1.0;
    }
    transpose(f);
}

void tw_estimate_frame_solve(const tw_frame *f, const double *g, double *x)
{
    const size_t n = f->n;
    for (size_t i = 0; i < n; i++) {
        double sum = g[i];
        for (size_t k = 0; k < i; k++)
            sum -= f->l[i * n + k] * x[k];
        x[i] = sum * f->inverse[i];
    }
    for (size_t i = n; i-- > 0;) {
        double sum = x[i];
        for (size_t k = i + 1; k < n; k++)
            sum -= f->lt[i * n + k] * x[k];
        x[i] = sum * f->inverse[i];
    }
}

void tw_estimate_frame_back(const tw_frame *f, const double *x, double *y)
{
    for (size_t i = 0; i < f->n; i++) {
        double sum = 0.0;
        for (size_t k = i; k < f->n; k++)
            sum += f->lt[i * f->n + k] * x[k];
        y[i] = sum;
    }
}

/* sum - c[0]*d[0] - c[1]*d[1] ..., in this order, four at a time so that the sum stays in registers. */
TW_INLINE tw_lanes less_products(tw_lanes sum, const double *c, const tw_lanes *d, size_t n)
{
    size_t k = 0;
    for (; k + 4 <= n; k += 4) {
        const double c0 = c[k], c1 = c[k + 1], c2 = c[k + 2], c3 = c[k + 3];
        const tw_lanes *e = &d[k];
        TW_EACH_LANE(l)
        sum.v[l] = sum.v[l] - c0 * e[0].v[l] - c1 * e[1].v[l] - c2 * e[2].v[l] - c3 * e[3].v[l];
    }
    for (; k < n; k++) {
        const double c0 = c[k];
        TW_EACH_LANE(l) sum.v[l] -= c0 * d[k].v[l];
    }
    return sum;
}

TW_INLINE void times(const tw_lanes *x, double by, tw_lanes *to)
{
    TW_EACH_LANE(l) to->v[l] = x->v[l] * by;
}

TW_WIDE void tw_estimate_frame_out(const tw_frame *f, const tw_lanes *y, tw_lanes *d)
{
    const size_t n = f->n;
    for (size_t i = n; i-- > 0;) {
        const tw_lanes sum = less_products(y[i], &f->lt[i * n + i + 1], &d[i + 1], n - i - 1);
        times(&sum, f->inverse[i], &d[i]);
    }
}

TW_WIDE void tw_estimate_frame_in(const tw_frame *f, const tw_lanes *g, tw_lanes *d)
{
    const size_t n = f->n;
    size_t i = 0;
    for (; i + 4 <= n; i += 4) { /* four rows at a time: their sums do not wait for each other */
        const double *l0 = &f->l[i * n], *l1 = l0 + n, *l2 = l1 + n, *l3 = l2 + n;
        tw_lanes s0 = g[i], s1 = g[i + 1], s2 = g[i + 2], s3 = g[i + 3];
        for (size_t k = 0; k < i; k++) {
            const double c0 = l0[k], c1 = l1[k], c2 = l2[k], c3 = l3[k];
            TW_EACH_LANE(l) s0.v[l] -= c0 * d[k].v[l];
            TW_EACH_LANE(l) s1.v[l] -= c1 * d[k].v[l];
            TW_EACH_LANE(l) s2.v[l] -= c2 * d[k].v[l];
            TW_EACH_LANE(l) s3.v[l] -= c3 * d[k].v[l];
        }
        d[i + 1] = s1;
        d[i + 2] = s2;
        d[i + 3] = s3;
        times(&s0, f->inverse[i], &d[i]);
        for (size_t r = 1; r < 4; r++) {
            const tw_lanes sum = less_products(d[i + r], &f->l[(i + r) * n + i], &d[i], r);
            times(&sum, f->inverse[i + r], &d[i + r]);
        }
    }
    for (; i < n; i++) {
        const tw_lanes sum = less_products(g[i], &f->l[i * n], d, i);
        times(&sum, f->inverse[i], &d[i]);
    }
}
