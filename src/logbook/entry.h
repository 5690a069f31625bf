/* logbook/entry.h: one entry, read from its canonical line.
 *
 * An entry points into memory that its reader was given (line.h) or that its book holds (book.h);
 * it owns nothing. Kinds, fields and words are the tables of data/entry/. Values are as typed;
 * tw_logbook_si gives them in the inside unit of their quantity (units/convert.h).
 * All functions are pure. `field` may be any field of the table, also one that this kind has not. */
#ifndef TW_LOGBOOK_ENTRY_H
#define TW_LOGBOOK_ENTRY_H

#include <stddef.h>
#include <stdint.h>

#include "gen/entry_tables.h" /* enum tw_kind, tw_field, TW_ANALYTE_PH and the other words */
#include "logbook/fault.h"
#include "num/status.h"
#include "units/convert.h"
#include "units/text.h"
#include "units/time.h"

#define TW_ENTRY_FIELDS 48  /* most fields of one entry           */
#define TW_LINE_BYTES 8192  /* longest line, without its line end */

typedef struct {
    tw_text name;   /* as it stands in the line                           */
    tw_text value;  /* without quotes and escapes                         */
    tw_field field; /* TW_FIELDS for a name that this version does not know */
} tw_pair;

typedef struct tw_entry {
    tw_text line;        /* the canonical bytes: the fact                                    */
    const tw_pair *pair; /* in the order of the line                                         */
    uint32_t pairs;
    tw_kind kind;        /* TW_KINDS for a kind that this version does not know              */
    int newer;           /* 1: holds a kind, field, word or unit that this version does not know */
    tw_time at;          /* measured at or done at                                           */
    tw_time entered;     /* written down at                                                  */
    tw_text id, tub, writer;
} tw_entry;

/* 1 when the field is there. */
int tw_logbook_has(const tw_entry *entry, tw_field field);

/* The value as text; empty when it is not there. */
tw_text tw_logbook_text(const tw_entry *entry, tw_field field);

/* A decimal or count as typed. TW_ERR_MISSING when it is not there, TW_ERR_FORMAT when the field
 * is no number. *out is left alone on errors. */
tw_status tw_logbook_number(const tw_entry *entry, tw_field field, double *out);

/* Digits after the point as typed (the resolution); -1 when there is no number. */
int tw_logbook_decimals(const tw_entry *entry, tw_field field);

/* A decimal in the inside unit of its quantity: mg/L, L, g, Cel, h, uS/cm, g/h, kW, L/min; a share
 * 0..1 for what is typed in percent (also without a unit field); the number itself where there is
 * no unit (pH, seconds, minutes). reading.step and other steps convert as differences. A duty in
 * hours a day gives its share of the day.
 *   TW_ERR_MISSING  not there, or its unit is not there
 *   TW_ERR_UNKNOWN  the unit is one that this version does not know
 *   TW_ERR_FORMAT   the field is no decimal */
tw_status tw_logbook_si(const tw_entry *entry, tw_field field, double *inside);

/* The unit in which a decimal was typed. Statuses as above; TW_ERR_MISSING also where the field
 * has no unit. */
tw_status tw_logbook_unit(const tw_entry *entry, tw_field field, tw_unit *out);

/* Index of a word in its set (TW_ANALYTE_PH, TW_READING_FORM_VALUE, ...); -1 when the field is not
 * there, has no set, or holds a word that this version does not know. */
int tw_logbook_word(const tw_entry *entry, tw_field field);

/* A time or a date. TW_ERR_MISSING when it is not there, TW_ERR_FORMAT when it is none. */
tw_status tw_logbook_time(const tw_entry *entry, tw_field field, tw_time *out);
tw_status tw_logbook_date(const tw_entry *entry, tw_field field, int32_t *days);

/* Names. tw_logbook_word_name(TW_SET_ANALYTE, TW_ANALYTE_PH) is "ph". NULL when out of range. */
const char *tw_logbook_kind_name(tw_kind kind);
const char *tw_logbook_field_name(tw_field field);
const char *tw_logbook_word_name(tw_set set, int word);

/* Find a kind, a field or a word by its name; TW_KINDS, TW_FIELDS, -1 when there is none.
 * tw_logbook_find_word also takes the short form ("fc" for free-chlorine). */
tw_kind tw_logbook_find_kind(tw_text name);
tw_field tw_logbook_find_field(tw_text name);
int tw_logbook_find_word(tw_set set, tw_text name);

/* The row of a field in a kind (type, quantity, bounds, words, meaning), common fields included;
 * NULL when the kind has no such field. */
const tw_field_row *tw_logbook_field_row(tw_kind kind, tw_field field);

/* The row of an analyte: quantity, default unit, range, decimals. TW_REQUIRE(a valid analyte). */
const tw_analyte_row *tw_logbook_analyte(int analyte);

/* How strictly an entry is checked. */
typedef enum tw_check_mode {
    TW_CHECK_IMPORTED, /* what is unknown is kept and flagged: a newer version may have written it  */
    TW_CHECK_TYPED,    /* what is unknown is refused                                                */
    TW_CHECK_DRAFT     /* as typed, but writer, n and prev may be missing: the store gives them     */
} tw_check_mode;

/* Advanced: check the fields of an entry against the tables. line.h and compose.h do this. Sets
 * entry->newer. The first fault counts: fields in the order of the line, then what is missing in
 * the order of the table, then rules between fields. fault may be NULL. */
tw_status tw_logbook_check(tw_entry *entry, tw_check_mode mode, tw_fault *fault);

#endif
