/* store/mark.c: the form of a cursor as text: the arrival in hexadecimal digits without a zero before them, a point, digits of a digest. */
#include "store/store.h"

#define ARRIVAL_DIGITS 15 /* most: so it fits an integer of SQLite */

static int digit_of(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

int tw_store_mark_split(tw_text mark, uint64_t *arrival, tw_text *digits)
{
    size_t at = 0;
    *arrival = 0;
    for (; at < mark.n && at < ARRIVAL_DIGITS && digit_of(mark.at[at]) >= 0; at++)
        *arrival = *arrival << 4 | (uint64_t)digit_of(mark.at[at]);
    if (at == 0 || mark.at[0] == '0' || mark.n != at + 1 + TW_STORE_MARK_DIGITS || mark.at[at] != '.')
        return 0;
    for (size_t i = at + 1; i < mark.n; i++)
        if (digit_of(mark.at[i]) < 0)
            return 0;
    *digits = (tw_text){mark.at + at + 1, TW_STORE_MARK_DIGITS};
    return 1;
}
