/* num/pick.h: the smaller, the larger, the nearest inside. Where one is NaN the second argument is taken. */
#ifndef TW_NUM_PICK_H
#define TW_NUM_PICK_H

/* The smaller of two. */
static inline double tw_min(double a, double b)
{
    return a < b ? a : b;
}

/* The larger of two. */
static inline double tw_max(double a, double b)
{
    return a > b ? a : b;
}

/* x where it lies between low and high, else the nearer of them. */
static inline double tw_clamp(double x, double low, double high)
{
    return tw_min(tw_max(x, low), high);
}

#endif
