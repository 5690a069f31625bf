/* estimate/hocl.c: see hocl.h. */
#include "estimate/hocl.h"

#include <stddef.h>

#define STEPS 8 /* of Newton, towards the HOCl that the rings leave */

TW_WIDE void tw_estimate_hocl_root(const tw_acid_constants *k, const tw_lanes *h, const tw_lanes *ocl, int rings, tw_lanes out[TW_ROOTS])
{
    TW_EACH_LANE(l) out[TW_ROOT_SHARE].v[l] = 1.0 - ocl->v[l];
    if (!rings)
        return;
    TW_EACH_LANE(l)
    {
        const double i = 1.0 / h->v[l], share = out[TW_ROOT_SHARE].v[l];
        const double ring1 = k->kcy * i, ring2 = ring1 * (k->kcy2 * i), all = 1.0 / (1.0 + ring1 + ring2);
        const double one1 = k->one[1] * i, one2 = k->one[2] * i * i, two1 = k->two[1] * i;
        const double one = k->one[0] + one1 + one2, two = k->two[0] + two1;
        const double fall = (ring1 + 2.0 * ring2) * all; /* minus d ln of the free rings by ln H */
        const double a = one * all * share, b = two * all * (share * share);
        out[TW_ROOT_ONE].v[l] = a;
        out[TW_ROOT_TWO].v[l] = b;
        out[TW_ROOT_ONE_SLOPE].v[l] = a * (fall - (one1 + 2.0 * one2) / one + (1.0 - share));
        out[TW_ROOT_TWO_SLOPE].v[l] = b * (fall - two1 / two + 2.0 * (1.0 - share));
    }
}

/* The root z in 0..1 of z(1 + p z + q z^2) + (r z + 2 s z^2) = 1 + p z + q z^2 with p = a*c, q = b*c^2, r = a*y, s = b*y*c. */
TW_WIDE void tw_estimate_hocl_left(const tw_lanes root[TW_ROOTS], const tw_lanes *chlorine, const tw_lanes *rings, tw_lanes *left, tw_lanes by[4])
{
    TW_EACH_LANE(l)
    {
        const double a = root[TW_ROOT_ONE].v[l], b = root[TW_ROOT_TWO].v[l], c = chlorine->v[l], y = rings->v[l];
        const double q3 = b * c * c, q2 = a * c + 2.0 * b * y * c - q3, q1 = 1.0 + a * y - a * c;
        double z = q1 > 1.0 ? 1.0 / q1 : 1.0; /* from the right: the cubic bends upwards */
        for (int i = 0; i < STEPS; i++)
            z -= (((q3 * z + q2) * z + q1) * z - 1.0) / ((3.0 * q3 * z + 2.0 * q2) * z + q1);
        left->v[l] = z;
        if (by == NULL)
            continue;
        const double per = -1.0 / ((3.0 * q3 * z + 2.0 * q2) * z + q1), z2 = z * z, low = z2 - z, high = z2 * z - z2;
        by[0].v[l] = per * (c * low + y * z);
        by[1].v[l] = per * (c * c * high + 2.0 * y * c * z2);
        by[2].v[l] = per * (a * low + 2.0 * b * c * high + 2.0 * b * y * z2);
        by[3].v[l] = per * (a * z + 2.0 * b * c * z2);
    }
}

TW_WIDE tw_lanes tw_estimate_hocl_follow(const tw_lanes root[TW_ROOTS], const tw_lanes *part, const tw_lanes *chlorine, const tw_lanes *cyanurate, int rings)
{
    tw_lanes left = tw_lanes_of(1.0), c, follow;
    if (rings) {
        TW_EACH_LANE(l) c.v[l] = chlorine->v[l] * (1.0 / TW_MG_PER_MMOL_CL2);
        tw_estimate_hocl_left(root, &c, cyanurate, &left, NULL);
    }
    TW_EACH_LANE(l)
    follow.v[l] = 1.0 + part->v[l] * (root[TW_ROOT_SHARE].v[l] * left.v[l] * (1.0 / TW_HOCL_SHARE_REF) - 1.0);
    return follow;
}
