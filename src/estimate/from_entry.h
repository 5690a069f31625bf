/* estimate/from_entry.h: from an entry of kind reading to what estimate/instrument.h reads. Pure. */
#ifndef TW_ESTIMATE_FROM_ENTRY_H
#define TW_ESTIMATE_FROM_ENTRY_H

#include "estimate/instrument.h"
#include "logbook/book.h"

/* Sodium chloride for the chloride in it, by mass: 58.443 over 35.453 g/mol. */
#define TW_NACL_PER_CHLORIDE 1.6484

#define TW_MAX_BLOCKS 16 /* of a scale of the user's own */

/* What an analyte (a word of the logbook) by a tool (enum tw_tool) speaks of: enum tw_observed; -1 when no
 * reading of it is used. */
int tw_estimate_observed_of(int analyte, int tool);

/* A reading as it was written: instrument, form, value, step, dilution, the scale that it names (looked up in
 * the book as of `now`, written to `block`, which must outlive *out), whether the person doubts it. Chloride
 * is turned to NaCl. TW_ERR_UNKNOWN: nothing that the estimate uses. */
tw_status tw_estimate_written(const tw_book *book, const tw_entry *entry, tw_time now, double density_kg_per_l,
                              double block[TW_MAX_BLOCKS], tw_written_reading *out);

/* A technical pH buffer at one temperature; the rows of one follow each other. */
typedef struct {
    double named, temp_c, ph;
} tw_buffer_row;

/* An entry of kind standard as a reading by its instrument, and what it should have read (NULL: not asked): the
 * nominal value, of a technical pH buffer at the temperature given (data/buffers.csv). TW_ERR_UNKNOWN: nothing that
 * the estimate uses. */
tw_status tw_estimate_standard(const tw_entry *entry, double density_kg_per_l, tw_written_reading *out, double *nominal);

#endif
