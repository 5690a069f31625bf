/* answer/sink.h: where an answer is told to.
 *
 * An answer is described once, by a function that speaks to a sink; the sink makes JSON or text for
 * 60 columns of it. Keys, their types, units and decimals stand in data/answer.csv; a key
 * that is not there, or is used with another type, is refused (status TW_ERR_UNKNOWN) and nothing
 * more is written. The first status other than TW_OK stays. */
#ifndef TW_ANSWER_SINK_H
#define TW_ANSWER_SINK_H

#include <stddef.h>
#include <stdint.h>

#include "gen/answer_tables.h" /* enum tw_key, tw_key_type, tw_key_rows */
#include "num/status.h"
#include "units/language.h"
#include "units/said.h"
#include "units/shown.h"
#include "units/text.h"
#include "units/time.h"

#define TW_SINK_DEPTH 12   /* most things open at once                    */
#define TW_PARA_BYTES 4096 /* longest paragraph of a text answer           */

typedef struct tw_sink tw_sink;

/* What a kind of sink does. Keys are checked before these are called. */
typedef struct {
    void (*open)(tw_sink *sink, tw_key key);          /* an object; TW_KEYS: an item of a list */
    void (*open_list)(tw_sink *sink, tw_key key);
    void (*close)(tw_sink *sink);
    void (*number)(tw_sink *sink, tw_key key, double value);
    void (*spread)(tw_sink *sink, tw_key key, double low, double median, double high);
    void (*text)(tw_sink *sink, tw_key key, tw_text text);
    void (*words)(tw_sink *sink, tw_key key, const tw_said *said);
    void (*time)(tw_sink *sink, tw_key key, tw_time time);
    void (*flag)(tw_sink *sink, tw_key key, int value);
} tw_sink_ways;

struct tw_sink {
    const tw_sink_ways *ways;
    tw_status status;
    tw_time now;             /* how times are shown                        */
    const tw_language *language; /* NULL: English                          */
    tw_shown shown;          /* units for people; 0: as they are inside    */
    char *buf;
    size_t cap, length;      /* bytes written; never zero-ended            */
    int depth;
    tw_key open[TW_SINK_DEPTH];
    uint8_t is_list[TW_SINK_DEPTH];
    uint8_t filled[TW_SINK_DEPTH]; /* something stands in it already       */
    /* text only */
    size_t width;
    int bold;                /* mark the act for a terminal                */
    int heavy;               /* the double rule                            */
    char left[160];          /* left cell of a line whose right is to come */
    size_t left_n;
    char para[TW_PARA_BYTES];
    size_t para_n;
    uint32_t items;          /* of the list being shown                    */
    int margin;              /* the hour of this line stands already       */
    int run_on;              /* items of this list stand in one paragraph  */
    int strike;              /* the next cell was taken back               */
};

/* A sink over the caller's buffer. */
void tw_answer_sink_json(tw_sink *sink, char *buf, size_t cap, tw_time now);
void tw_answer_sink_text(tw_sink *sink, char *buf, size_t cap, tw_time now, size_t width);

/* Finish: closes nothing by itself (an answer that is left open is TW_ERR_FORMAT). */
tw_status tw_answer_sink_end(tw_sink *sink);

/* Speaking. An answer begins by opening TW_KEY_ANSWER and ends by closing it. */
void tw_answer_open(tw_sink *sink, tw_key key);       /* object                                   */
void tw_answer_open_list(tw_sink *sink, tw_key key);  /* list of objects, or of words             */
void tw_answer_item(tw_sink *sink);                   /* object in a list; close it as any other  */
void tw_answer_close(tw_sink *sink);
void tw_answer_number(tw_sink *sink, tw_key key, double value); /* NaN: null, "not known"         */
void tw_answer_spread(tw_sink *sink, tw_key key, double low, double median, double high);
void tw_answer_text(tw_sink *sink, tw_key key, tw_text text);
void tw_answer_string(tw_sink *sink, tw_key key, const char *zero_ended);
void tw_answer_words(tw_sink *sink, tw_key key, const tw_said *said);
void tw_answer_message(tw_sink *sink, tw_key key, tw_message message); /* words without arguments */
void tw_answer_time(tw_sink *sink, tw_key key, tw_time time);
void tw_answer_flag(tw_sink *sink, tw_key key, int value);
void tw_answer_digest(tw_sink *sink, tw_key key, const uint8_t digest[32]);
/* A line drawn for people (a fan); the JSON sink leaves it out, since its numbers stand beside it. */
void tw_answer_drawing(tw_sink *sink, tw_key key, tw_text line);

/* Advanced, for sinks: append bytes; a full buffer sets TW_ERR_CAPACITY. */
void tw_answer_put(tw_sink *sink, const char *bytes, size_t n);
void tw_answer_puts(tw_sink *sink, const char *zero_ended);

#endif
