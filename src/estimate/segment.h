/* estimate/segment.h: what one water teaches the next one.
 *
 * A tub's life is cut at its fills. What a water taught about the tub itself (its volume, its loss, its cell,
 * its bottles and meters) is handed on as means and covariances of coordinates, widened by what may have
 * changed since (data/carry.csv). Water that was let out taught nothing about the water that is let in. */
#ifndef TW_ESTIMATE_SEGMENT_H
#define TW_ESTIMATE_SEGMENT_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/events.h"

/* Numbers of a covariance's lower triangle. */
#define TW_TAUGHT_COVARIANCES (TW_MAX_CARRIED * (TW_MAX_CARRIED + 1) / 2)

typedef struct {
    uint32_t n;                           /* coordinates; 0: nothing was taught                  */
    uint32_t waters;                      /* how many waters taught it                           */
    int64_t from_utc_s, until_utc_s;      /* start and end of what was followed of the last one  */
    double plate_output_g_per_h, output_sd; /* what the cell's factor is a factor of             */
    int32_t what[TW_MAX_CARRIED];         /* enum tw_coordinate or tw_carried                    */
    uint64_t name[TW_MAX_CARRIED];        /* BIAS: tw_problem.bias_name; else 0                  */
    double mean[TW_MAX_CARRIED];
    double covariance[TW_TAUGHT_COVARIANCES]; /* lower triangle, row by row                      */
} tw_taught;

/* How much a coordinate may change from water to water: sd at a fill, and for a month between, both on the
 * scale of its prior (ln, kJ/mol), of the coordinate itself, or of the bias's sd. data/carry.csv. */
enum tw_drift_unit { TW_DRIFT_LN, TW_DRIFT_KJ, TW_DRIFT_COORDINATE, TW_DRIFT_SD };
typedef struct {
    int what, unit;
    double at_fill, a_month;
} tw_drift;

/* The prior of a problem whose events are there: what matches of it (the cell only under the same plate, a
 * bias only by its name), months after. purged: 1 when the film was purged since, 2 when the cell is another one too. */
void tw_estimate_carry_make(const tw_taught *taught, double months, int purged, tw_problem *problem);

/* Bytes of what was taught, little-endian; both ways. */
#define TW_TAUGHT_BYTES (8 * (6 + (size_t)TW_MAX_CARRIED * 3 + TW_TAUGHT_COVARIANCES))
void tw_estimate_taught_write(const tw_taught *taught, uint8_t *out);
void tw_estimate_taught_read(const uint8_t *in, tw_taught *out);

#endif
