/* estimate/hocl.h: HOCl's share of the free chlorine, and the part of the loss that follows it. Internal.
 *
 * Loss = k*(1 - w + w*h/h_ref): h is HOCl's share at the water's own pH, temperature, cyanuric acid and chlorine, h_ref the
 * share at pH 7.5 and 38 C without cyanurate, w a coordinate of its own: which part follows is not published. */
#ifndef TW_ESTIMATE_HOCL_H
#define TW_ESTIMATE_HOCL_H

#include "estimate/model.h"

#define TW_HOCL_SHARE_REF 0.468 /* pH 7.5, 38 C, no cyanurate: Morris 1966 */
#define TW_HOCL_PH_KEPT 7.65    /* days ahead, of a water that is kept: halfway from the middle to the top of its band (7.2 to 7.8) */
#define TW_HOCL_RINGS_FROM 0.02 /* mmol of cyanuric acid per kg (2.6 mg/L): less is a trace that nobody poured, and left out */

/* What a root of the carbonate leaves for the stretches after it: the share without rings, a*HOCl and b*HOCl^2 that rings with one
 * and two chlorines hold of each free one at all of the chlorine (kg per mmol), and how a and b move with ln H. */
enum { TW_ROOT_SHARE, TW_ROOT_ONE, TW_ROOT_TWO, TW_ROOT_ONE_SLOPE, TW_ROOT_TWO_SLOPE, TW_ROOTS };

/* From the share of OCl- at an H: out[TW_ROOT_SHARE], and with rings the rest. */
void tw_estimate_hocl_root(const tw_acid_constants *k, const tw_lanes *h, const tw_lanes *ocl, int rings, tw_lanes out[TW_ROOTS]);

/* Which part of its share without rings the HOCl keeps where there are rings, 0..1. chlorine, rings: mmol per kg. by: the part's
 * slopes by root[TW_ROOT_ONE], root[TW_ROOT_TWO], chlorine and rings; NULL: not asked. */
void tw_estimate_hocl_left(const tw_lanes root[TW_ROOTS], const tw_lanes *chlorine, const tw_lanes *rings, tw_lanes *left, tw_lanes by[4]);

/* 1 - w + w*h/h_ref. part: w; chlorine mg, cyanurate mmol per kg. */
tw_lanes tw_estimate_hocl_follow(const tw_lanes root[TW_ROOTS], const tw_lanes *part, const tw_lanes *chlorine, const tw_lanes *cyanurate, int rings);

#endif
