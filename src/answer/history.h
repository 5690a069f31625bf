/* answer/history.h: what the entries say of this water and of the cell over their whole time, for `ahead`. */
#ifndef TW_ANSWER_HISTORY_H
#define TW_ANSWER_HISTORY_H

#include "answer/core.h"
#include "estimate/cell.h"
#include "estimate/drain.h"

/* A stretch of the logbook that can be folded by itself: up to `until`, readings from `from` on. */
typedef struct {
    tw_time from, until;
} tw_stretch;

typedef struct {
    tw_drain_facts water;
    double person_h_per_day;    /* bathing of this water so far: people times hours a day             */
    int has_cell_start;         /* the cell's fitting was written, or its first duty                  */
    tw_time cell_start;
    double cell_hours;          /* at full duty: hours times duty since then                          */
    int cell_seen;              /* cleaned or looked at since then                                    */
    double salt_low, salt_high; /* read since then, mg/L as typed; high 0: never                      */
    double temp_low, temp_high; /* Cel; high 0: never                                                 */
    int has_fill;
    tw_time fill;
    size_t stretches;           /* before the present one, oldest first; the present one last         */
    tw_stretch stretch[TW_CELL_LEVELS];
} tw_history;

/* Entries of the tub up to `now`. belief: for its litres where nobody wrote any; may be NULL. */
void tw_answer_history(const tw_core *core, const tw_tub *tub, tw_time now, const tw_belief *belief, tw_history *out);

#endif
