/* answer/done.h: what "done" writes. An act that was done as the card says leaves facts (a dose, a setting, a job) and a
 * response that names what it answers; every face writes the same. Pure. */
#ifndef TW_ANSWER_DONE_H
#define TW_ANSWER_DONE_H

#include "answer/core.h"
#include "logbook/compose.h"
#include "num/sha256.h"
#include "units/decimal.h"

#define TW_DONE_FACTS 2  /* most facts that one act leaves */
#define TW_DONE_FIELDS 8 /* most fields of one of them      */

/* An entry without id, tub, times and person. */
typedef struct {
    tw_kind kind;
    size_t n;
    tw_typed field[TW_DONE_FIELDS];
} tw_done_entry;

typedef struct {
    const tw_entry *intent; /* the open announcement that is answered; NULL: the card itself           */
    int answerable;         /* 0: the card waits or nothing is due; there is nothing to answer         */
    int enough;             /* 0: "done" alone leaves open what was read, how much, or which           */
    size_t facts;
    tw_done_entry fact[TW_DONE_FACTS];
    tw_done_entry response; /* outcome, reason and another amount are the person's to add              */
    char amount[TW_DECIMAL_BYTES], digest[TW_SHA256_HEX];
} tw_done;

/* What stands in `out` points into the book, the tables and `out` itself. `act` is the next act of the tub at `now`. */
void tw_answer_done(const tw_core *core, const tw_tub *tub, tw_time now, const tw_act *act, tw_done *out);

/* Part of an answer: the same as data. */
void tw_answer_tell_done(const tw_done *done, tw_sink *sink);

#endif
