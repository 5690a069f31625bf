/* dose/pairs.c: see pairs.h. */
#include "dose/pairs.h"
#include "num/pick.h"

const tw_dose_pair *tw_dose_pair_of(tw_family a, tw_family b)
{
    for (int i = 0; i < TW_PAIRS; i++) {
        const tw_dose_pair *p = &tw_dose_pairs[i];
        if ((p->a == a && p->b == b) || (p->a == b && p->b == a))
            return p;
    }
    return NULL;
}

tw_dose_pair_verdict tw_dose_may_follow(tw_family before, double minutes_ago, tw_family now, int same_place)
{
    tw_dose_pair_verdict v = {.may = 1, .pair = tw_dose_pair_of(before, now)};
    if (v.pair == NULL)
        return v;
    const double ago = tw_max(minutes_ago, 0.0); /* NaN becomes 0 as well */
    v.apart = v.pair->apart;
    v.boxes = v.pair->boxes;
    v.wait_left_min = v.pair->wait_min < 0.0 ? -1.0 : v.pair->wait_min > ago ? v.pair->wait_min - ago : 0.0;
    v.may = v.wait_left_min == 0.0 && !(v.apart && same_place);
    return v;
}

tw_family tw_dose_family_find(tw_text word)
{
    for (int i = 0; i < TW_FAMILIES; i++)
        if (tw_units_text_equal(word, tw_units_text(tw_dose_families[i])))
            return (tw_family)i;
    return TW_FAMILIES;
}
