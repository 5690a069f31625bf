/* serve/crew.h: threads that share out the work of a fold (estimate/crew.h). */
#ifndef TW_SERVE_CREW_H
#define TW_SERVE_CREW_H

#include "estimate/crew.h"

/* A crew of so many hands, TW_MOST_HANDS at most; 0: as many as there are processors. Its threads begin with its first work.
 * NULL where one hand is all, or there is no memory: work is then done in turn. One caller at a time. */
tw_crew *tw_serve_crew_open(size_t hands);

/* Its threads end. NULL is none. */
void tw_serve_crew_close(tw_crew *crew);

#endif
