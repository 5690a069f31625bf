/* units/said.h: something to be said to a person: a message and its typed arguments.
 *
 * The sentence stands in data/text/ by the id of the message; nobody glues sentences together, so
 * another language is another file. Rooms fill a tw_said; answer/say.h turns it into text. */
#ifndef TW_UNITS_SAID_H
#define TW_UNITS_SAID_H

#include <stdint.h>

#include "gen/text_tables.h" /* enum tw_message: TW_SAY_..., one for each row of data/text */
#include "units/text.h"
#include "units/time.h"

#define TW_SAID_ARGS 8 /* most arguments of one message */

typedef enum tw_arg_type {
    TW_ARG_NUMBER,  /* {x:0} {x:mgl1} {x:g} {x:pct} {x:h} ...; see data/text/README.md            */
    TW_ARG_AMOUNT,  /* {x:amount}: a number with exactly so many decimals and its unit, if any    */
    TW_ARG_TIME,    /* {x:time} {x:clock} {x:day}                                                   */
    TW_ARG_TEXT,    /* {x:text}: words of the logbook or a name from a table                        */
    TW_ARG_MESSAGE  /* {x:words}: another message, which has no arguments of its own                */
} tw_arg_type;

typedef struct {
    const char *name;    /* as between the braces; lives as long as the program */
    tw_arg_type type;
    int decimals;        /* AMOUNT                                              */
    double number;       /* NUMBER, AMOUNT                                      */
    tw_time time;        /* TIME                                                */
    tw_text text;        /* TEXT; AMOUNT: the unit as shown                     */
    tw_message message;  /* MESSAGE                                             */
} tw_arg;

typedef struct tw_said {
    tw_message message;
    uint32_t args;
    tw_arg arg[TW_SAID_ARGS];
} tw_said;

/* A message without arguments yet. */
tw_said tw_units_say(tw_message message);

/* Add an argument. More than TW_SAID_ARGS is a caller's bug (TW_REQUIRE). Order does not matter;
 * an argument that the sentence does not use is allowed. */
void tw_units_say_number(tw_said *said, const char *name, double value);
void tw_units_say_amount(tw_said *said, const char *name, double value, int decimals, tw_text unit);
void tw_units_say_time(tw_said *said, const char *name, tw_time time);
void tw_units_say_text(tw_said *said, const char *name, tw_text text);
void tw_units_say_message(tw_said *said, const char *name, tw_message message);

/* 1 when the sentence has an argument of this name. */
int tw_units_message_uses(tw_message message, const char *name);

/* Find a message by its id ("wait-mixing"); TW_MESSAGES when there is none. Also for ids in tables. */
tw_message tw_units_message_find(tw_text id);

/* The id of a message. Never NULL. */
const char *tw_units_message_id(tw_message message);

/* The sentence of a message in English, with its arguments in braces. message < TW_MESSAGES. */
const char *tw_units_message_text(tw_message message);

#endif
