/* num/status.c: sentences and names of the statuses, from the one list. */
#include "num/status.h"

#include <stddef.h>

#define TW_STATUS_TEXT(name, text) text,
#define TW_STATUS_NAME(name, text) #name,

static const char *const TEXTS[] = {TW_STATUS_LIST(TW_STATUS_TEXT)};
static const char *const NAMES[] = {TW_STATUS_LIST(TW_STATUS_NAME)};

const char *tw_status_text(tw_status status)
{
    const size_t i = (size_t)status;
    return i < sizeof TEXTS / sizeof *TEXTS ? TEXTS[i] : "unknown status";
}

const char *tw_status_name(tw_status status)
{
    const size_t i = (size_t)status;
    return i < sizeof NAMES / sizeof *NAMES ? NAMES[i] : "unknown status";
}
