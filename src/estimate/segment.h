/* estimate/segment.h: what one stretch of water teaches the next one.
 *
 * A tub's life is cut at its fills, and a long water every three weeks. What a water taught about the tub itself
 * (its volume, its loss, its cell, its bottles and meters) is handed on as means and covariances of coordinates,
 * widened by what may have changed since (data/carry.csv). Water that was let out taught nothing about the water
 * that is let in; where the same water goes on, what it is at the cut is handed on with the rest, as a normal. */
#ifndef TW_ESTIMATE_SEGMENT_H
#define TW_ESTIMATE_SEGMENT_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"
#include "estimate/events.h"

#define TW_MOST_STRETCHES 48 /* of a tub's life that are followed back (stretches.h) */

/* Numbers of a covariance's lower triangle. */
#define TW_TAUGHT_COVARIANCES (TW_MAX_CARRIED * (TW_MAX_CARRIED + 1) / 2)

typedef struct {
    uint32_t n;                           /* coordinates; 0: nothing was taught                  */
    uint32_t waters;                      /* how many waters taught it                           */
    uint32_t goes_on;                     /* 1: the same water goes on, and what it is is in it  */
    uint32_t film_begun;                  /* 1: film and demand are being used up                */
    int64_t from_utc_s, until_utc_s;      /* start and end of what was followed of the last one  */
    double plate_output_g_per_h, output_sd; /* what the cell's factor is a factor of             */
    int32_t what[TW_MAX_CARRIED];         /* enum tw_coordinate or tw_carried                    */
    uint64_t name[TW_MAX_CARRIED];        /* BIAS: tw_problem.bias_name; else 0. When it goes on:
                                             bias_here, product_here                             */
    uint64_t lot[TW_MAX_CARRIED];         /* when it goes on: tw_problem.bias_name               */
    double scale[TW_MAX_CARRIED];         /* when it goes on: sd of the bias, of ln strength     */
    double mean[TW_MAX_CARRIED];
    double covariance[TW_TAUGHT_COVARIANCES]; /* lower triangle, row by row                      */
    double temp_c;                        /* the rest when it goes on: of the water at the cut   */
    tw_cut cut;
    tw_before before;                     /* what this water was taught at its fill              */
    uint32_t contradictions;              /* readings of this water that are hard to believe     */
    tw_contradiction contradiction[TW_CONTRADICTIONS];
} tw_taught;

/* How much a coordinate may change from water to water: sd at a fill, and for a month between, both on the
 * scale of its prior (ln, kJ/mol), of the coordinate itself, or of the bias's sd. data/carry.csv. */
enum tw_drift_unit { TW_DRIFT_LN, TW_DRIFT_KJ, TW_DRIFT_COORDINATE, TW_DRIFT_SD };
typedef struct {
    int what, unit;
    double at_fill, a_month;
} tw_drift;

/* The prior of a problem whose events are there: what matches of it (the cell only under the same plate, a
 * bias only by its name), months after. purged: 1 when the film was purged since. After a fill all that was taught of
 * the tub; in a problem that goes on the water as well, and bottles and products that were not used since. */
void tw_estimate_carry_make(const tw_taught *taught, double months, int purged, tw_problem *problem);

/* Make a problem one that goes on from what was taught: its flags, its scales, what is certain at the cut. Before
 * its events are made (tw_estimate_carry_make() comes after them). */
void tw_estimate_go_on(const tw_taught *taught, tw_problem *problem);

/* The coordinates that belong to the tub and not to its water; beside them the cell's factor does. */
#define TW_OF_THE_TUB 10
extern const int tw_estimate_of_the_tub[TW_OF_THE_TUB];

/* From a value to the coordinate that has it under a prior; what is nearly nothing, and shares near none and all, are
 * kept within three to four standard deviations or, of logarithms, at a millionth. */
double tw_estimate_coordinate(const tw_prior *prior, double value);

/* Bytes of what was taught, little-endian; both ways. */
#define TW_TAUGHT_BYTES                                                                              \
    (8 * (31 + (size_t)TW_MAX_CARRIED * 5 + TW_TAUGHT_COVARIANCES + (size_t)TW_CONTRADICTIONS * 5))
void tw_estimate_taught_write(const tw_taught *taught, uint8_t *out);
void tw_estimate_taught_read(const uint8_t *in, tw_taught *out);

#endif
