/* estimate/cell.h: what becomes of the cell: its output over time, and the day on which it no longer carries the need.
 *
 * The levels are what separate stretches of the logbook said of the output (each a fold of its own: they share no
 * reading). Output falls along a straight line; how fast is a priori 0.25 % of the plate a day, give or take as much
 * (a cell of three to six months; assumed), and the levels teach it. Pure. */
#ifndef TW_ESTIMATE_CELL_H
#define TW_ESTIMATE_CELL_H

#include <stddef.h>

#include "estimate/belief.h"
#include "num/status.h"

#define TW_CELL_LEVELS 8
#define TW_CELL_HORIZON_DAYS 365.0
#define TW_CELL_FLAG_DAYS 30.0 /* a cell is ordered when it may be needed within a month */
#define TW_CELL_LEARNED 0.2    /* under this the fall is "assumed, not learned"          */

#define TW_CELL_SHORT 0.1      /* chance of being enough at which it is said to be short */

/* The output of one stretch, at the middle of its readings. */
typedef struct {
    double day;          /* before now: 0 or negative                     */
    double g_per_h;
    double sd_g_per_h;
} tw_cell_level;

/* Bathing that is booked, people times hours a day on average, and the floor to be held. */
typedef struct {
    double person_h_per_day;
    double floor_mg_per_l;
} tw_cell_need;

typedef struct {
    tw_spread output_g_per_h;   /* now, at full duty                                                   */
    tw_spread need_g_per_h;     /* to hold the floor with the booked use; q90 below is what must be met */
    double need_q90_g_per_h;
    double p_enough;            /* that full duty makes that                                           */
    int beyond_plate;           /* 1: the booked use needs more than a new cell makes: what stands here is
                                   for nobody in, and bathing is for doses by hand                     */
    double booked_q90_g_per_h;  /* need with the booked use                                            */
    double fall_pct_per_week;   /* of the plate's output, mean; negative: it rose                      */
    double fall_sd_pct_per_week;
    double fall_learned;        /* 1 - var(after)/var(before) of the fall; under TW_CELL_LEARNED say "assumed" */
    size_t levels;              /* how many stretches it rests on                                      */
    tw_spread days;             /* until the output no longer meets need_q90; TW_CELL_HORIZON_DAYS: not
                                   within it                                                           */
    int flagged;                /* 1: learned (or short already), and 1 in 20 within TW_CELL_FLAG_DAYS */
} tw_cell;

/* Bytes of working memory for a belief of n members. */
size_t tw_estimate_cell_bytes(size_t n);

/* Levels in order of their days; the last is of the stretch that the belief is of.
 *   TW_ERR_RANGE     more than TW_CELL_LEVELS levels, or no floor
 *   TW_ERR_MISSING   no output of the plate is known: nothing to compare with
 *   TW_ERR_CAPACITY  mem is too small */
tw_status tw_estimate_cell(const tw_belief *belief, const tw_cell_level *level, size_t levels, const tw_cell_need *need,
                           void *mem, size_t bytes, tw_cell *out);

#endif
