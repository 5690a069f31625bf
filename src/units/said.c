/* units/said.c: filling a message. The rows are sorted by id, so finding one halves. */
#include "units/said.h"

#include <string.h>

#include "num/require.h"

tw_said tw_units_say(tw_message message)
{
    tw_said said = {.message = message, .args = 0};
    return said;
}

static tw_arg *next_arg(tw_said *said, const char *name, tw_arg_type type)
{
    TW_REQUIRE(said->args < TW_SAID_ARGS);
    tw_arg *arg = &said->arg[said->args++];
    *arg = (tw_arg){.name = name, .type = type};
    return arg;
}

void tw_units_say_number(tw_said *said, const char *name, double value)
{
    next_arg(said, name, TW_ARG_NUMBER)->number = value;
}

void tw_units_say_amount(tw_said *said, const char *name, double value, int decimals, tw_text unit)
{
    tw_arg *arg = next_arg(said, name, TW_ARG_AMOUNT);
    arg->number = value;
    arg->decimals = decimals;
    arg->text = unit;
}

void tw_units_say_time(tw_said *said, const char *name, tw_time time)
{
    next_arg(said, name, TW_ARG_TIME)->time = time;
}

void tw_units_say_text(tw_said *said, const char *name, tw_text text)
{
    next_arg(said, name, TW_ARG_TEXT)->text = text;
}

void tw_units_say_message(tw_said *said, const char *name, tw_message message)
{
    next_arg(said, name, TW_ARG_MESSAGE)->message = message;
}

tw_message tw_units_message_find(tw_text id)
{
    size_t low = 0;
    size_t high = TW_MESSAGES;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const int order = tw_units_text_compare(id, tw_units_text(tw_units_message_id((tw_message)middle)));
        if (order == 0)
            return (tw_message)middle;
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return TW_MESSAGES;
}

const char *tw_units_message_id(tw_message message)
{
    return (unsigned)message < TW_MESSAGES ? (const char *)tw_message_bytes + tw_message_at[message] : "unknown";
}

const char *tw_units_message_text(tw_message message)
{
    TW_REQUIRE((unsigned)message < TW_MESSAGES);
    const char *const id = tw_units_message_id(message);
    return id + strlen(id) + 1;
}

/* 1 when the sentence goes on at `at` with this name and a colon. */
static int goes_on(const char *at, const char *name)
{
    while (*name != '\0' && *at == *name) {
        at++;
        name++;
    }
    return *name == '\0' && *at == ':';
}

int tw_units_message_uses(tw_message message, const char *name)
{
    if ((unsigned)message >= TW_MESSAGES)
        return 0;
    for (const char *text = tw_units_message_text(message); *text != '\0'; text++)
        if (*text == '{' && goes_on(text + 1, name))
            return 1;
    return 0;
}
