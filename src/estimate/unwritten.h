/* estimate/unwritten.h: acts that nobody wrote down, as possibilities of their own inside the members. Internal.
 *
 * Where readings of chlorine contradict the rest, or an act between two of them would explain them far better,
 * the water with that act is searched as well: one more dose whose size is a coordinate (even chance on ln over
 * the sizes of data/unlogged.csv, as a log-normal of the same mean and variance). The waters are weighed by the
 * act's rate and by the probability around their best points, and the chains are shared out by the weights. */
#ifndef TW_ESTIMATE_UNWRITTEN_H
#define TW_ESTIMATE_UNWRITTEN_H

#include "estimate/explain.h"
#include "estimate/sampler.h"

/* Waters beside the one as written that are weighed at most. */
#define TW_MOST_GUESSES 3

/* One water: with an act that nobody wrote, or as written (act TW_UNLOGGED_NONE). */
typedef struct {
    int act;                /* enum tw_unlogged                                                   */
    double from_h, until_h; /* the readings between which it was done                             */
    double nominal;         /* kg by which its middle size is made a dose                         */
    uint32_t reading;       /* of the problem: the first that shows it                            */
    double gain;            /* of ln probability, as the screen has it                            */
    double weight;          /* ln of its probability, then its probability                        */
    uint32_t chains;        /* that walk in it                                                    */
    double map[TW_MAX_DIMS];
} tw_water_guess;

/* Bytes of what tw_estimate_guess() needs beside the sampler. */
typedef struct {
    tw_problem problem;                       /* as written, with one act more                    */
    tw_water_guess guess[1 + TW_MOST_GUESSES]; /* [0]: as written                                 */
} tw_guesses;

/* After tw_estimate_map() on the water as written: which waters share the chains, and how. Returns how many
 * guesses there are; 1: the water as written alone, and the sampler stands as it stood. */
size_t tw_estimate_guess(tw_sampler *sampler, const tw_problem *written, tw_guesses *out);

/* Make the sampler stand at the best point of a guess. 0: it failed. */
int tw_estimate_guess_take(tw_sampler *sampler, const tw_problem *written, tw_guesses *guesses, size_t index);

#endif
