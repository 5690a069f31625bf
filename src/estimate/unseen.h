/* estimate/unseen.h: what nobody wrote and no reading would show. Internal.
 *
 * An act shortly before the last reading of chlorine, or after it, is one that no search can find: what was used up
 * has not used much yet, or nothing was read since. Members do it by themselves, each from its own stream: at the rates and
 * of the sizes of data/unlogged.csv, in the middle of the gap before that reading, or at any hour since. Done before a
 * reading, it stays with the chance that the reading leaves it (one step of independence Metropolis-Hastings from none); done
 * after it, it stays. What readings ask for shares the chains instead (estimate/unwritten.h). */
#ifndef TW_ESTIMATE_UNSEEN_H
#define TW_ESTIMATE_UNSEEN_H

#include "estimate/belief.h"
#include "estimate/sampler.h"

/* Hours between which members may do something; until_h of the first: the last reading, of the second: now. */
typedef struct {
    double from_h, until_h;
} tw_unseen_gap;

/* The gap before the last reading of chlorine and the one since; from_h = until_h: there is none. */
void tw_estimate_unseen_gaps(const tw_problem *problem, tw_unseen_gap gap[2]);

/* A path that has been run and the ln likelihood of its readings: its last state, what it reads and *ln become those with
 * what each member does. member: their numbers among all, TW_ESTIMATE_LANES of them. The gap before the last reading is left
 * alone where a water that shares the chains holds an act in it (sampler->act, sampler->told_h). */
void tw_estimate_unseen(const tw_sampler *sampler, const uint32_t member[], tw_lanes *ln);

/* How much, mg per kg, by a standard normal. */
double tw_estimate_unseen_size(int act, double normal);

/* 1: this member did something between the last reading of chlorine and the last entry. */
int tw_estimate_unseen_since(const tw_belief *belief, size_t member);

#endif
