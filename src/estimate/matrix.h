/* estimate/matrix.h: the little linear algebra of the sampler. Row-major, n <= TW_MAX_DIMS. Internal. */
#ifndef TW_ESTIMATE_MATRIX_H
#define TW_ESTIMATE_MATRIX_H

#include <stddef.h>

#include "estimate/lanes.h"

/* A frame: H = L L^T. l and its transpose lt have n*n entries, inverse the 1/L[i][i]. */
typedef struct {
    size_t n;
    double *l, *lt, *inverse;
} tw_frame;

/* Factor h (n*n, destroyed: only its lower half is read). 0 when a pivot is not positive. */
int tw_estimate_frame_make(const double *h, tw_frame *frame);

/* Add weight * row * row' of so many rows of n, one after another, to the lower half of h (n*n). */
void tw_estimate_add_squares(double *h, size_t n, const double *rows, const double *weight, size_t count);

/* to = from - by[0]*row 0 - by[1]*row 1 ..., of so many rows of n, one after another: from place `first` on; what stands before it
 * may become anything. `from` and `by` are read at every stride'th place. None may lie in another. */
void tw_estimate_less_rows(const double *from, const double *by, size_t stride, const double *rows, size_t n, size_t count, size_t first,
                           double *to);

/* The unit matrix as a frame. */
void tw_estimate_frame_unit(tw_frame *frame);

/* y = L^T x, one vector: back into the frame's coordinates. Not the same array. */
void tw_estimate_frame_back(const tw_frame *frame, const double *x, double *y);

/* x = H^-1 g, one vector; may be the same array. */
void tw_estimate_frame_solve(const tw_frame *frame, const double *g, double *x);

/* d = L^-T y: from the sampler's coordinates to steps of x. Lanes. */
void tw_estimate_frame_out(const tw_frame *frame, const tw_lanes *y, tw_lanes *d);

/* d = L^-1 g: from gradients by x to gradients by y. Lanes; may be the same array. */
void tw_estimate_frame_in(const tw_frame *frame, const tw_lanes *g, tw_lanes *d);

#endif
