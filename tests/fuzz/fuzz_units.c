/* Numbers and times from any bytes: what is read is written back as the same text, and what a
 * person typed becomes a text that can be read. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "units/decimal.h"
#include "units/time.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static void number(tw_text text)
{
    double x;
    int decimals;
    char again[TW_DECIMAL_BYTES];
    if (tw_units_decimal_read(text, &x, &decimals) != TW_OK || decimals > TW_DECIMAL_MAX_DECIMALS)
        return;
    const size_t n = tw_units_decimal_write(x, decimals, again, sizeof again);
    must(n > 0);
    /* "-0.00" is read as zero, which has no sign when written. */
    const size_t sign = text.at[0] == '-' && x == 0.0 ? 1u : 0u;
    must(n == text.n - sign && memcmp(again, text.at + sign, n) == 0);
}

static void typed(tw_text text)
{
    char canonical[TW_DECIMAL_BYTES];
    size_t n;
    double x;
    if (tw_units_decimal_canonical(text, canonical, sizeof canonical, &n) != TW_OK)
        return;
    must(n == strlen(canonical));
    must(tw_units_decimal_read((tw_text){canonical, n}, &x, NULL) == TW_OK);
}

static void when(tw_text text)
{
    tw_time time;
    char again[TW_TIME_BYTES];
    if (tw_units_time_read(text, &time) != TW_OK)
        return;
    must(tw_units_time_write(time, again, sizeof again) == TW_OK);
    must(strlen(again) == text.n && memcmp(again, text.at, text.n) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const tw_text text = {(const char *)data, size};
    number(text);
    typed(text);
    when(text);
    return 0;
}
