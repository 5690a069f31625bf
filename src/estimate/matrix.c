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

void tw_estimate_frame_out(const tw_frame *f, const tw_lanes *y, tw_lanes *d)
{
    const size_t n = f->n;
    for (size_t i = n; i-- > 0;) {
        tw_lanes sum = y[i];
        for (size_t k = i + 1; k < n; k++) {
            const double c = f->lt[i * n + k];
            TW_EACH_LANE(l) sum.v[l] -= c * d[k].v[l];
        }
        TW_EACH_LANE(l) d[i].v[l] = sum.v[l] * f->inverse[i];
    }
}

void tw_estimate_frame_in(const tw_frame *f, const tw_lanes *g, tw_lanes *d)
{
    const size_t n = f->n;
    for (size_t i = 0; i < n; i++) {
        tw_lanes sum = g[i];
        for (size_t k = 0; k < i; k++) {
            const double c = f->l[i * n + k];
            TW_EACH_LANE(l) sum.v[l] -= c * d[k].v[l];
        }
        TW_EACH_LANE(l) d[i].v[l] = sum.v[l] * f->inverse[i];
    }
}
