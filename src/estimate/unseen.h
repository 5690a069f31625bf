/* estimate/unseen.h: what nobody wrote and no reading would show. Internal.
 *
 * An act shortly before the last reading of chlorine, or after it, is one that no search can find: what was used up
 * has not used much yet, or nothing was read since. Members do it by themselves, each from its own stream. At any hour since the
 * last reading: at the rates and of the sizes of data/unlogged.csv. In the middle of the gap before it: with the odds and of the
 * sizes that the screen of unwritten.c has for them, the member's coordinates moving as one step of the search moves them; it
 * stays by what its readings and prior then are worth against what the screen foresaw. That is Barker's choice between the member
 * without the act and with it, from a proposal that is the posterior as far as one step knows it. What readings ask for louder shares the chains instead
 * (estimate/unwritten.h). */
#ifndef TW_ESTIMATE_UNSEEN_H
#define TW_ESTIMATE_UNSEEN_H

#include "estimate/belief.h"
#include "estimate/sampler.h"
#include "num/philox.h"

/* Hours between which members may do something; until_h of the first: the last reading, of the second: now. */
typedef struct {
    double from_h, until_h;
} tw_unseen_gap;

/* The gap before the last reading of chlorine and the one since; from_h = until_h: there is none. */
void tw_estimate_unseen_gaps(const tw_problem *problem, tw_unseen_gap gap[2]);

/* How much, mg per kg, by a standard normal. */
double tw_estimate_unseen_size(int act, double normal);

/* Before anything is screened: acts before the last reading have the odds of their rates. */
void tw_estimate_unseen_begin(tw_sampler *sampler);

/* What the screen says of a mg per kg more at the last reading, all coordinates moving with it: slope and information of ln
 * probability. The path is that of the best point; sampler->last.shift is filled. */
void tw_estimate_unseen_screened(tw_sampler *sampler, double slope, double info);

/* One member's act, and what it changed so far: chlorine and demand, mg per kg. */
typedef struct {
    int act; /* enum tw_unlogged */
    double size, chlorine, demand, loss_per_h;
} tw_deed;

/* What the members of a group of lanes may do. */
typedef struct {
    tw_unseen_gap gap[2];
    tw_deed before[TW_ESTIMATE_LANES], since[TW_ESTIMATE_LANES];
    double dice[TW_ESTIMATE_LANES], part[TW_ESTIMATE_LANES]; /* of the last gap that followed the act           */
    tw_lanes move;                                           /* of the coordinates, in sampler->last.shift      */
    tw_lanes foreseen;                                       /* ln by which the readings should be likelier     */
} tw_unseen;

/* member: their numbers among all, TW_ESTIMATE_LANES of them. The gap before the last reading is left alone where a water that
 * shares the chains holds such an act in it (sampler->act, sampler->told_h). */
void tw_estimate_unseen_draw(const tw_sampler *sampler, const uint32_t member[], tw_unseen *out);

/* A path that has been run at the moved coordinates: what it reads becomes that with the acts. */
void tw_estimate_unseen_show(const tw_sampler *sampler, tw_unseen *unseen);

/* Who keeps his act: `over` is by how much ln probability rose with it. Who lets go of it has none, and does not move. */
void tw_estimate_unseen_keep(const tw_sampler *sampler, tw_unseen *unseen, const tw_lanes *over);

/* The last state of the path becomes that with the acts since the last reading; with_before: and with those before it. */
void tw_estimate_unseen_do(const tw_sampler *sampler, tw_unseen *unseen, int with_before);

/* 1: this member did something between the last reading of chlorine and the last entry. */
int tw_estimate_unseen_since(const tw_belief *belief, size_t member);

#endif
