/* dose/hazard.c: see hazard.h. */
#include "dose/hazard.h"

#include "num/require.h"

const tw_dose_hazard *tw_dose_hazard_of(const tw_substance *substance)
{
    TW_REQUIRE((int)substance->hazard >= 0 && substance->hazard < TW_HAZARDS);
    return &tw_dose_hazards[substance->hazard];
}
