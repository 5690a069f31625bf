/* estimate/matrix.c: Cholesky's factor and its triangular solves. */
#include "estimate/matrix.h"

#include <math.h>

static void transpose(tw_frame *f)
{
    for (size_t i = 0; i < f->n; i++)
        for (size_t j = 0; j < f->n; j++)
            f->lt[i * f->n + j] = f->l[j * f->n + i];
}

int tw_estimate_frame_make(const double *h, tw_frame *f)
{
    const size_t n = f->n;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            if (j > i) {
                f->l[i * n + j] = 0.0;
                continue;
            }
            double sum = h[i * n + j];
            for (size_t k = 0; k < j; k++)
                sum -= f->l[i * n + k] * f->l[j * n + k];
            if (i != j) {
                f->l[i * n + j] = sum * f->inverse[j];
            } else {
                if (!(sum > 1e-12) || !(sum < 1e18))
                    return 0;
                f->l[i * n + i] = sqrt(sum);
                f->inverse[i] = 1.0 / f->l[i * n + i];
            }
        }
    transpose(f);
    return 1;
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

TW_WIDE void tw_estimate_frame_out(const tw_frame *f, const tw_lanes *y, tw_lanes *d)
{
    const size_t n = f->n;
    for (size_t i = n; i-- > 0;) {
        const tw_lanes sum = less_products(y[i], &f->lt[i * n + i + 1], &d[i + 1], n - i - 1);
        TW_EACH_LANE(l) d[i].v[l] = sum.v[l] * f->inverse[i];
    }
}

TW_WIDE void tw_estimate_frame_in(const tw_frame *f, const tw_lanes *g, tw_lanes *d)
{
    const size_t n = f->n;
    for (size_t i = 0; i < n; i++) {
        const tw_lanes sum = less_products(g[i], &f->l[i * n], d, i);
        TW_EACH_LANE(l) d[i].v[l] = sum.v[l] * f->inverse[i];
    }
}
