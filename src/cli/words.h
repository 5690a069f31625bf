/* cli/words.h: from the words of `log` to drafts of entries. No logbook is looked at: what a word
 * means never depends on what was written before. The grammar is docs/answers.md; its words are
 * data/log_words.csv. */
#ifndef TW_CLI_WORDS_H
#define TW_CLI_WORDS_H

#include <stddef.h>

#include "logbook/compose.h"
#include "units/time.h"

#define TW_DRAFTS 24       /* most entries of one line */
#define TW_DRAFT_FIELDS 24 /* most fields of one of them, without id, kind, tub and times */

/* One entry as it was typed, before its canonical line is made. */
typedef struct {
    tw_kind kind;
    size_t n;
    tw_typed field[TW_DRAFT_FIELDS];
} tw_draft;

/* A line of words, read. Texts point into the words and into room. */
typedef struct {
    tw_draft draft[TW_DRAFTS];
    size_t drafts;
    tw_time at;              /* when it was measured or done                          */
    int at_given;            /* 0: now                                                */
    int outcome;             /* TW_OUTCOME_... of done, couldn't, ...; -1: none       */
    int announces;           /* 1: "adding" alone: what is advised, now               */
    tw_text reason;          /* of outcome or void                                    */
    tw_text amount, unit;    /* of outcome: what was done differently                 */
    tw_text voids;           /* "last" or an id; empty: none                          */
    tw_text remark;          /* beside every entry of the line                        */
    tw_draft context;        /* fields of every reading of the line                   */
    char problem[480];       /* what is not understood, and what to write instead     */
    char room[8192];
    size_t used;
} tw_words;

/* Read words (argv style). 0: understood; else problem says what is wrong. */
int tw_cli_words_read(size_t n, const char *const *word, tw_time now, tw_words *out);

/* Split a typed line into words: blanks separate, ' and " keep together, \ takes the next as it is.
 * The words lie in room. Returns how many, or -1 when a quote is not closed or there are too many. */
int tw_cli_words_split(const char *line, char *room, size_t cap, const char **word, size_t most);

#endif
