/* dose/hazard.h: the cautions of a hazard class, in the order in which they are said.
 *
 * Cautions stand before amounts. They are sentences of data/text/dose.en.csv, named by class in
 * data/hazards.csv; the label and the safety sheet in front of the person win. */
#ifndef TW_DOSE_HAZARD_H
#define TW_DOSE_HAZARD_H

#include <stdint.h>

#include "dose/substance.h"
#include "gen/text_tables.h"

#define TW_HAZARD_CAUTIONS 6 /* most cautions of one class */

/* The cautions of one hazard class. */
typedef struct {
    uint32_t n;
    tw_message caution[TW_HAZARD_CAUTIONS];
    const char *source, *mark;
} tw_dose_hazard;

/* By hazard class. */
extern const tw_dose_hazard tw_dose_hazards[TW_HAZARDS];

/* The cautions of a substance: those of its class. Never NULL. */
const tw_dose_hazard *tw_dose_hazard_of(const tw_substance *substance);

#endif
