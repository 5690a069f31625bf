/* estimate/crew.h: hands that share out the work of a fold. A crew is the caller's, like memory: the core itself starts
 * nothing. Answers do not depend on it: with any number of hands they are the same to the bit.
 *
 * Groups of chains do not see each other within a step of the sampler, so each hand takes the next of them; what is
 * summed over them is summed afterwards, by whoever called, in the order of the groups. */
#ifndef TW_ESTIMATE_CREW_H
#define TW_ESTIMATE_CREW_H

#include <stddef.h>

typedef struct tw_crew tw_crew;
struct tw_crew {
    /* Do job(arg, hand, part) once for each part below `parts` (1..255), in any order and on any thread, also at the same time, but no
     * two for one hand (0 .. hands - 1) at a time; come back when all are done, with all that they wrote in sight. */
    void (*run)(tw_crew *crew, void (*job)(void *arg, size_t hand, size_t part), void *arg, size_t parts);
    size_t hands; /* 1.. TW_MOST_HANDS, the caller's thread among them: how many parts may be done at the same time */
    void *mem;    /* tw_estimate_crew_bytes(hands): for one fold at a time */
    size_t bytes;
};

#define TW_MOST_HANDS 8 /* a fold of 64 chains has 8 groups */

/* Working memory of the hands beside the caller's own. 0 for one hand. */
size_t tw_estimate_crew_bytes(size_t hands);

#endif
