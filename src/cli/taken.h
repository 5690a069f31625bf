/* cli/taken.h: one line of words on its way to becoming entries. Inside of log.c and settle.c. */
#ifndef TW_CLI_TAKEN_H
#define TW_CLI_TAKEN_H

#include "answer/core.h"
#include "answer/done.h"
#include "cli/answers.h"
#include "cli/words.h"
#include "logbook/line.h"
#include "num/sha256.h"
#include "units/decimal.h"

#define TW_TAKEN_LINES (2 * TW_DRAFTS) /* most entries that one line becomes */

/* Everything of one line of words; large, so it is allocated. */
typedef struct {
    tw_words words;
    char id[TW_TAKEN_LINES][TW_ID_BYTES];
    char room[TW_TAKEN_LINES][TW_LINE_BYTES];
    tw_text draft[TW_TAKEN_LINES];
    size_t drafts;
    char sample[TW_ID_BYTES];
    char at[TW_TIME_BYTES], entered[TW_TIME_BYTES], good_until[TW_TIME_BYTES];
    char digest[TW_SHA256_HEX], seal[TW_SHA256_HEX];
    char amount[TW_DECIMAL_BYTES];
    char role[17], by[97];
    tw_done done; /* what "done" writes now; drafts point into it */
    tw_tub tub;
} tw_taken;

/* Add a field to a draft; 1 when it is full. */
int tw_cli_taken_field(tw_draft *draft, const char *name, tw_text value);

/* What may be set aside (settle_aside.c). "na" to an act needs a reason, and a condition that may be; a waiver of a
 * stage becomes one of each of its conditions that may be; drafts of waivers that are well formed need a known
 * condition that may be, and a role that may. Each returns 0, or the exit code of what was asked back. */
int tw_cli_may_not_apply(tw_cli *cli, const tw_taken *taken, const tw_act *act);
int tw_cli_settle_waivers(tw_cli *cli, tw_taken *taken);
int tw_cli_waivers_may(tw_cli *cli, const tw_taken *taken);

/* Turn what speaks of the card or of earlier entries (done, adding, void, ...) into drafts. Returns 0, or
 * the exit code of what was asked back. */
int tw_cli_settle(tw_cli *cli, tw_core *core, tw_taken *taken);

#endif
