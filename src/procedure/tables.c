/* procedure/tables.c: finding rows and their words. */
#include "procedure/tables.h"

#include <string.h>

#include "logbook/entry.h"

const tw_profile *tw_procedure_profile_find(tw_text id)
{
    for (int i = 0; i < TW_PROFILES; i++)
        if (tw_units_text_is(id, tw_procedure_profiles[i].id))
            return &tw_procedure_profiles[i];
    return NULL;
}

const tw_profile *tw_procedure_profile_of(tw_text named, int use)
{
    const tw_profile *found = named.n > 0 ? tw_procedure_profile_find(named) : NULL;
    if (found != NULL)
        return found;
    return &tw_procedure_profiles[use == TW_USE_LODGING || use == TW_USE_PUBLIC ? TW_PROFILE_THREE_TO_FIVE
                                                                                : TW_PROFILE_THREE_AND_ABOVE];
}

int tw_procedure_may_be_set_aside(tw_act_id act)
{
    for (int c = 0; c < TW_CONDITIONS; c++)
        if (tw_procedure_conditions[c].waivable && tw_procedure_conditions[c].act == act)
            return 1;
    return 0;
}

int tw_procedure_role_may_set_aside(int role)
{
    return role == TW_ROLE_OWNER || role == TW_ROLE_TECHNICIAN || role == TW_ROLE_MANAGER;
}

tw_message tw_procedure_stage_message(tw_stage stage)
{
    return (unsigned)stage < TW_STAGES ? tw_procedure_stages[stage].title : TW_MESSAGES;
}

tw_message tw_procedure_state_message(tw_stands state)
{
    static const tw_message WORDS[TW_STANDS] = {
        [TW_STANDS_TO_DO] = TW_SAY_STANDS_TO_DO, [TW_STANDS_WAITING] = TW_SAY_STANDS_WAITING,
        [TW_STANDS_RETEST_DUE] = TW_SAY_STANDS_RETEST_DUE, [TW_STANDS_DOUBTFUL] = TW_SAY_STANDS_DOUBTFUL,
        [TW_STANDS_NOT_PROVEN] = TW_SAY_STANDS_NOT_PROVEN, [TW_STANDS_STOPPED] = TW_SAY_STANDS_STOPPED,
        [TW_STANDS_CLOSED] = TW_SAY_STANDS_CLOSED, [TW_STANDS_HELD] = TW_SAY_STANDS_HELD,
        [TW_STANDS_HANDED_OVER] = TW_SAY_STANDS_HANDED_OVER};
    return (unsigned)state < TW_STANDS ? WORDS[state] : TW_MESSAGES;
}

tw_message tw_procedure_analyte_message(int analyte)
{
    char id[48] = "analyte-";
    const char *word = tw_logbook_word_name(TW_SET_ANALYTE, analyte);
    const size_t n = word != NULL ? strlen(word) : 0;
    if (n == 0 || n + 8 > sizeof id)
        return TW_MESSAGES;
    memcpy(id + 8, word, n);
    return tw_units_message_find((tw_text){id, n + 8});
}
