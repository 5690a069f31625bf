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

/* Waters beside the one as written that are weighed at most: with a dose or what used chlorine up, with the generator off. */
#define TW_MOST_POURS 3
#define TW_MOST_OFFS 2
#define TW_MOST_OTHERS 3 /* acid, base, air, water, salt */
#define TW_MOST_GUESSES (TW_MOST_POURS + TW_MOST_OFFS + TW_MOST_OTHERS)

_Static_assert(TW_MOST_GUESSES <= TW_UNWRITTENS, "each of them is told");

/* One water: with an act that nobody wrote, or as written (act TW_UNLOGGED_NONE). */
typedef struct tw_water_guess {
    int act;                /* enum tw_unlogged                                                   */
    double from_h, until_h; /* the readings between which it was done                             */
    double first_until_h, last_from_h; /* generator off: end of the first gap, start of the last  */
    double chance, rank;    /* before any reading that it was done there; gain and ln of that      */
    double size;            /* where that is no coordinate: hours of air, share of the water      */
    double nominal;         /* kg by which its middle size is made a dose                         */
    int pooled;             /* 1: stands for many, each of which little was read after             */
    uint32_t reading;       /* of the problem: the first that shows it                            */
    double gain;            /* of ln probability, as the screen has it                            */
    double weight;          /* ln of its probability, then its probability                        */
    uint32_t chains;        /* that walk in it                                                    */
    double map[TW_MAX_DIMS];
} tw_water_guess;

/* A gap between two readings of chlorine, as the generator being off in it would show. */
typedef struct {
    double from_h, until_h;
    double made;              /* mg per kg that the generator made in it, as it stands at the end        */
    double slope, info;       /* of ln probability, by a mg per kg more at its end: all that follows     */
    double here_info;         /* of that, what is read at its end                                        */
    int cell;                 /* that made it; -1: none, or more than one                                */
    int turned;               /* 1: somebody wrote that it was switched on then, and saw it run          */
    uint32_t first;           /* of the problem's readings, the first at its end                         */
    size_t op, readings;      /* of the model, where that stands; how many of this time                  */
} tw_off_gap;

/* Bytes of what tw_estimate_guess() needs beside the sampler. */
typedef struct {
    tw_problem problem;                       /* as written, with one act more                    */
    tw_water_guess guess[1 + TW_MOST_GUESSES]; /* [0]: as written                                 */
    tw_water_guess other[TW_MOST_OTHERS];
    tw_off_gap gap[TW_MAX_READINGS];
} tw_guesses;

/* After tw_estimate_map() on the water as written: which waters share the chains, and how. Returns how many
 * guesses there are; 1: the water as written alone, and the sampler stands as it stood. */
size_t tw_estimate_guess(tw_sampler *sampler, const tw_problem *written, tw_guesses *out);

/* Is the act chlorine that was poured or used up? */
int tw_estimate_is_a_pour(int act);

/* Make the sampler stand at the best point of a guess. 0: it failed. */
int tw_estimate_guess_take(tw_sampler *sampler, const tw_problem *written, tw_guesses *guesses, size_t index);

/* How much was done, in one lane of a path that has been run in this guess: by the table's unit. */
double tw_estimate_guess_size(const tw_sampler *sampler, const tw_water_guess *guess, int lane);

#endif
