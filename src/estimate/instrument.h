/* estimate/instrument.h: how instruments err (data/instruments.csv), and from a typed reading to
 * what it says about the water. Pure. */
#ifndef TW_ESTIMATE_INSTRUMENT_H
#define TW_ESTIMATE_INSTRUMENT_H

#include <stddef.h>

#include "estimate/events.h"
#include "num/status.h"

/* Kinds of instrument, as the words of the logbook. */
typedef enum tw_tool {
    TW_TOOL_STRIP,
    TW_TOOL_DROPS,
    TW_TOOL_COMPARATOR,
    TW_TOOL_PHOTOMETER,
    TW_TOOL_METER,
    TW_TOOL_MONITOR,
    TW_TOOL_DISPLAY,
    TW_TOOL_LABORATORY,
    TW_TOOL_THERMOMETER,
    TW_TOOL_EYE,
    TW_TOOL_SUPPLIER,
    TW_TOOL_UNKNOWN,  /* a bare number: as a strip without a scale */
    TW_TOOLS
} tw_tool;

typedef enum tw_error_model {
    TW_ERROR_BLOCKS, /* nearest block of a colour scale                      */
    TW_ERROR_DROPS,  /* counted drops: n with n - 1 < truth/step + e <= n     */
    TW_ERROR_PLAIN   /* a number with sqrt(abs^2 + (rel*value)^2)             */
} tw_error_model;

/* One row of the table, in the trade's units (mg/L as the analyte is usually given, pH, uS/cm). */
typedef struct {
    int instrument, observed, model;
    double sd_abs;       /* of one reading                                                       */
    double sd_rel;       /* of one reading, of the value; BLOCKS: sd of ln                       */
    double bias_sd;      /* shared by one lot, bottle or serial number: ln when sd_rel > 0       */
    double step;         /* DROPS: one drop; PLAIN: one digit                                    */
    double low, high;    /* range                                                                */
    double bleach;       /* colour fades above this; 0: it does not                              */
    const double *block; /* BLOCKS: default scale                                                */
    size_t blocks;
    const char *source;
    const char *mark;
} tw_instrument_row;

/* The row for a pair, or NULL when this instrument does not measure this. */
const tw_instrument_row *tw_estimate_instrument(int instrument, int observed);

/* How a reading was written. Values in the trade's units. */
typedef enum tw_written {
    TW_WRITTEN_VALUE,
    TW_WRITTEN_BETWEEN,
    TW_WRITTEN_BELOW,
    TW_WRITTEN_ABOVE
} tw_written;

typedef struct tw_written_reading {
    int instrument, observed, written;
    double value, high;        /* as typed, the trade's units; high: BETWEEN only             */
    double step;               /* as typed; 0: the row's                                      */
    double dilution;           /* 1 when none                                                 */
    const double *block;       /* the user's own scale, rising; NULL: the row's               */
    size_t blocks;
    int decimals;              /* digits after the point, as typed                            */
    double density_kg_per_l;   /* of the sample                                               */
    int doubtful;              /* the person doubts it, or it was taken while a dose mixed     */
} tw_written_reading;

/* The step that drops were counted with: as typed, else the table's or a fraction of it that fits the value. */
double tw_estimate_drop_step(const tw_instrument_row *row, const tw_written_reading *written);

/* Turn a written reading into likelihood form (everything but at_h, source, bias, entry).
 * *bias_sd is the sd of the bias that its lot shares, on the reading's scale (0: none).
 *   TW_ERR_UNKNOWN  this instrument has no model for this analyte
 *   TW_ERR_RANGE    the numbers make no interval */
tw_status tw_estimate_reading(const tw_written_reading *written, tw_reading *out, double *bias_sd);

/* What the factor of a reading in the likelihood is when it is rubbish: spread over what the instrument can
 * show. For a plain number the factor is the density times sd*sqrt(2 pi), so that it is a number near 1. */
double tw_estimate_rubbish_floor(const tw_reading *reading, double sd);

/* A value in this room's unit, on the reading's scale (as it is, or ln of it and the offset). */
double tw_estimate_on_scale(const tw_reading *reading, double inside);

/* The factor of a reading that is not rubbish, at a value on its scale: 0..1. wide is its sd with whatever else
 * widens it. likelihood.c has the same by lanes, with derivatives. */
double tw_estimate_factor(const tw_reading *reading, double wide, double eta);

/* From the trade's unit (mg/L as CaCO3, as NaCl, ...) to this room's (mmol/kg, mg/kg): factor. */
double tw_estimate_inside_factor(int observed, double density_kg_per_l);

#endif
