/* answer/limits.c: from the id of a profile to its limits. */
#include "answer/limits.h"

#include "procedure/tables.h"

const tw_profile *tw_answer_profile(const tw_ask *ask, const tw_tub *tub)
{
    const tw_profile *named = ask->profile.n > 0 ? tw_procedure_profile_find(ask->profile) : NULL;
    return named != NULL ? named : tw_procedure_profile_of(tub->profile, tub->use);
}

void tw_answer_limits_of(const tw_ask *ask, const tw_tub *tub, tw_answer_limits *out)
{
    const tw_profile *profile = tw_answer_profile(ask, tub);
    out->profile = tw_units_text(profile->id);
    out->floor_mg_per_l = profile->fc_min_mg_per_l;
    out->ceiling_mg_per_l = profile->fc_max_mg_per_l == profile->fc_max_mg_per_l ? profile->fc_max_mg_per_l : 0.0;
}
