/* logbook/check.c: the fields of one entry against the tables of data/entry/. */
#include <string.h>

#include "logbook/identity.h"
#include "logbook/internal.h"
#include "logbook/line.h"
#include "units/decimal.h"

/* One field under the magnifier. */
typedef struct {
    tw_entry *entry;
    const tw_pair *pair;
    const tw_field_row *row;
    tw_check_mode mode;
    tw_fault *fault;
} field_check;

static tw_status refuse(const field_check *f, tw_fault_id id, const char *allowed)
{
    return tw_logbook_fault_set(f->fault, id, f->pair->name, f->pair->value, tw_units_text(allowed));
}

/* What this version does not know: kept and flagged when imported, refused when typed. */
static tw_status unknown(const field_check *f, tw_fault_id id, const char *allowed)
{
    if (f->mode != TW_CHECK_IMPORTED)
        return refuse(f, id, allowed);
    f->entry->newer = 1;
    return TW_OK;
}

static size_t characters(tw_text text)
{
    size_t n = 0;
    for (size_t i = 0; i < text.n; i++)
        n += ((unsigned char)text.at[i] & 0xC0) != 0x80;
    return n;
}

static tw_status check_length(const field_check *f)
{
    char allowed[32];
    if (characters(f->pair->value) <= (size_t)f->row->max_length)
        return TW_OK;
    memcpy(allowed, "up to ", 6);
    size_t n = 6 + tw_units_decimal_write(f->row->max_length, 0, allowed + 6, sizeof allowed - 6);
    memcpy(allowed + n, " characters", sizeof " characters");
    return refuse(f, TW_FAULT_LONG, allowed);
}

static tw_status check_text(const field_check *f)
{
    const tw_text value = f->pair->value;
    uint32_t c = 0;
    for (size_t i = 0, n; i < value.n; i += n > 0 ? n : 1) {
        n = tw_logbook_utf8(value, i, &c);
        const int line_end = c == '\n' && f->row->max_length >= 200;
        if (n == 0 || (!tw_logbook_prints(c) && !line_end))
            return refuse(f, TW_FAULT_CONTROL, f->row->allowed);
    }
    return TW_OK;
}

static int has_word_form(tw_text text)
{
    for (size_t i = 0; i < text.n; i++) {
        const char c = text.at[i];
        if (!((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || ((c == '-' || c == '.') && i > 0)))
            return 0;
    }
    return text.n > 0;
}

static tw_status check_word(const field_check *f)
{
    const tw_text value = f->pair->value;
    if (!has_word_form(value))
        return refuse(f, TW_FAULT_WORD_FORM, f->row->allowed);
    if (f->row->substance && TW_SUBSTANCE_NAMES > 0) {
        for (int i = 0; i < TW_SUBSTANCE_NAMES; i++)
            if (tw_units_text_is(value, tw_logbook_substances[i]))
                return TW_OK;
        return tw_logbook_id_is(value, NULL) ? TW_OK : unknown(f, TW_FAULT_WORD, f->row->allowed);
    }
    if (f->row->set == TW_SETS)
        return TW_OK;
    const int word = tw_logbook_find_word(f->row->set, value);
    if (word < 0)
        return unknown(f, TW_FAULT_WORD, f->row->allowed);
    /* A short word is for typing; in a line it is an error and no newer version's word. */
    return tw_units_text_is(value, tw_logbook_sets[f->row->set].word[word].word)
               ? TW_OK
               : refuse(f, TW_FAULT_WORD, f->row->allowed);
}

static tw_status check_count(const field_check *f)
{
    double value;
    int decimals;
    if (tw_units_decimal_read(f->pair->value, &value, &decimals) != TW_OK || decimals > 0
        || f->pair->value.at[0] == '-')
        return refuse(f, TW_FAULT_COUNT, f->row->allowed);
    if (f->row->has_min && value < f->row->min)
        return refuse(f, TW_FAULT_BELOW, f->row->allowed);
    if (f->row->has_max && value > f->row->max)
        return refuse(f, TW_FAULT_ABOVE, f->row->allowed);
    return TW_OK;
}

/* Which units a field takes, and their words; 0 when that hangs on a word that is not known. */
static int units_of(const tw_entry *entry, const tw_field_row *row, uint32_t *quantities, uint32_t *bases,
                    const char **words)
{
    if (row->measure == TW_MEASURE_BY_ANALYTE || row->measure == TW_MEASURE_BY_ANALYTE_STEP) {
        const int analyte = tw_logbook_word(entry, TW_FIELD_ANALYTE);
        if (analyte < 0)
            return 0;
        const tw_analyte_row *of = &tw_logbook_analytes[analyte];
        *quantities = of->quantities, *bases = of->bases, *words = of->units;
        return 1;
    }
    if (row->measure == TW_MEASURE_BY_SETTING) {
        const int what = tw_logbook_word(entry, TW_FIELD_WHAT);
        if (what < 0 || !tw_logbook_settings[what].number)
            return 0;
        const tw_setting_row *of = &tw_logbook_settings[what];
        *quantities = of->quantities, *bases = of->bases, *words = of->units;
        return 1;
    }
    const tw_measure_row *of = &tw_logbook_measures[row->measure];
    *quantities = of->quantities, *bases = of->bases, *words = of->units;
    return 1;
}

static int unit_goes(tw_unit unit, uint32_t quantities, uint32_t bases)
{
    const tw_unit_row *row = tw_units_row(unit);
    return (quantities >> row->quantity & 1u) && (bases >> row->basis & 1u);
}

/* The meanings of a word such as a bare "gal", as "gal-us or gal-imp". */
static tw_status ask_unit(const field_check *f, uint32_t quantities, uint32_t bases, int narrow)
{
    tw_unit meaning[8];
    char allowed[128];
    size_t n = 0;
    const size_t count = tw_units_meanings(f->pair->value, meaning, 8);
    for (size_t i = 0; i < count; i++) {
        const char *word = tw_units_row(meaning[i])->word;
        if ((narrow && !unit_goes(meaning[i], quantities, bases)) || n + strlen(word) + 5 > sizeof allowed)
            continue;
        if (n > 0)
            memcpy(allowed + n, " or ", 4), n += 4;
        memcpy(allowed + n, word, strlen(word));
        n += strlen(word);
    }
    allowed[n] = '\0';
    return n > 0 ? refuse(f, TW_FAULT_WHICH_UNIT, allowed) : TW_ERR_UNKNOWN;
}

static tw_status check_unit(const field_check *f)
{
    uint32_t quantities = 0, bases = 0;
    const char *words = f->row->allowed;
    const int known = units_of(f->entry, f->row, &quantities, &bases, &words);
    tw_unit unit;
    const tw_status found = tw_units_find(f->pair->value, &unit);
    if (found == TW_OK)
        return !known || unit_goes(unit, quantities, bases) ? TW_OK : refuse(f, TW_FAULT_WRONG_UNIT, words);
    if (found == TW_ERR_AMBIGUOUS) {
        const tw_status asked = ask_unit(f, quantities, bases, known);
        return asked == TW_ERR_UNKNOWN ? refuse(f, TW_FAULT_WRONG_UNIT, words) : asked;
    }
    /* "litres" is an alias for typing; in a line it is an error and no newer version's unit. */
    if (tw_units_find_typed(f->pair->value, &unit) == TW_OK)
        return refuse(f, TW_FAULT_UNIT, words);
    return unknown(f, TW_FAULT_UNIT, words);
}

/* A value in the unit that bounds are given in. */
static double for_bounds(const tw_field_row *row, tw_unit unit, double typed)
{
    const double inside = tw_units_inside(unit, typed);
    const tw_quantity quantity = tw_units_row(unit)->quantity;
    if ((row->measure == TW_MEASURE_AMOUNT || row->measure == TW_MEASURE_PORTION) && quantity == TW_QUANTITY_VOLUME)
        return inside * 1000.0; /* portions are bounded in mL */
    if (row->measure == TW_MEASURE_BY_SETTING && quantity == TW_QUANTITY_DURATION)
        return inside / 24.0; /* hours a day */
    return inside;
}

static tw_status check_bounds(const field_check *f, double value, int has_min, double min, int has_max, double max,
                              const char *allowed)
{
    if (has_min && value < min)
        return refuse(f, TW_FAULT_BELOW, allowed);
    if (has_max && value > max)
        return refuse(f, TW_FAULT_ABOVE, allowed);
    return TW_OK;
}

/* A decimal whose unit is there and known: the range of its field, analyte or setting. */
static tw_status check_measured(const field_check *f, tw_unit unit, double typed)
{
    const tw_field_row *row = f->row;
    if (row->measure == TW_MEASURE_BY_ANALYTE) {
        const tw_analyte_row *of = &tw_logbook_analytes[tw_logbook_word(f->entry, TW_FIELD_ANALYTE)];
        return check_bounds(f, tw_units_inside(unit, typed), 1, of->min, 1, of->max, of->allowed);
    }
    if (row->measure == TW_MEASURE_BY_SETTING) {
        const tw_setting_row *of = &tw_logbook_settings[tw_logbook_word(f->entry, TW_FIELD_WHAT)];
        return check_bounds(f, for_bounds(row, unit, typed), 1, of->min, 1, of->max, of->allowed);
    }
    const double value = row->measure == TW_MEASURE_BY_ANALYTE_STEP ? typed : for_bounds(row, unit, typed);
    return check_bounds(f, value, row->has_min, row->min, row->has_max, row->max, row->allowed);
}

/* What a person sees as allowed in a decimal: the range of its analyte or setting where it hangs on one. */
static const char *range_of(const tw_entry *entry, const tw_field_row *row)
{
    const int analyte = row->measure == TW_MEASURE_BY_ANALYTE ? tw_logbook_word(entry, TW_FIELD_ANALYTE) : -1;
    if (analyte >= 0)
        return tw_logbook_analytes[analyte].allowed;
    const int what = row->measure == TW_MEASURE_BY_SETTING ? tw_logbook_word(entry, TW_FIELD_WHAT) : -1;
    return what >= 0 && tw_logbook_settings[what].number ? tw_logbook_settings[what].allowed : row->allowed;
}

/* "volume_unit (L mL m3 ...)" when a number stands without its unit. */
static tw_status needs_unit(const field_check *f, const char *words)
{
    char allowed[TW_FAULT_ALLOWED_BYTES];
    const char *name = tw_logbook_field_name(f->row->unit);
    size_t n = strlen(name), w = strlen(words);
    if (w > sizeof allowed - n - 4)
        w = sizeof allowed - n - 4;
    memcpy(allowed, name, n);
    memcpy(allowed + n, " (", 2);
    memcpy(allowed + n + 2, words, w);
    memcpy(allowed + n + 2 + w, ")", 2);
    return refuse(f, TW_FAULT_NEEDS, allowed);
}

int tw_logbook_two_meanings(tw_text value, char allowed[TW_TWO_MEANINGS])
{
    const size_t comma = value.n >= 5 ? value.n - 4 : 0;
    if (value.n > 7 || comma == 0 || value.at[comma] != ',' || value.at[0] == '0')
        return 0;
    for (size_t i = 0; i < value.n; i++)
        if (i != comma && (value.at[i] < '0' || value.at[i] > '9'))
            return 0;
    size_t n = 0;
    memcpy(allowed, value.at, comma), n += comma;
    memcpy(allowed + n, value.at + comma + 1, 3), n += 3;
    memcpy(allowed + n, " or ", 4), n += 4;
    memcpy(allowed + n, value.at, value.n);
    allowed[n + comma] = '.';
    allowed[n + value.n] = '\0';
    return 1;
}

static tw_status check_decimal(const field_check *f)
{
    double typed;
    char two[TW_TWO_MEANINGS];
    const tw_status read = tw_units_decimal_read(f->pair->value, &typed, NULL);
    if (read != TW_OK && tw_logbook_two_meanings(f->pair->value, two))
        return refuse(f, TW_FAULT_WHICH_NUMBER, two);
    if (read != TW_OK)
        return refuse(f, read == TW_ERR_RANGE ? TW_FAULT_DIGITS : TW_FAULT_DECIMAL, range_of(f->entry, f->row));
    if (f->row->unit == TW_FIELDS)
        return check_bounds(f, typed, f->row->has_min, f->row->min, f->row->has_max, f->row->max, f->row->allowed);
    uint32_t quantities, bases;
    const char *words;
    if (!units_of(f->entry, f->row, &quantities, &bases, &words))
        return TW_OK; /* a word that is not known decides; it is dealt with where it stands */
    tw_unit unit;
    const tw_status found = tw_logbook_unit(f->entry, f->pair->field, &unit);
    if (found == TW_ERR_MISSING)
        return needs_unit(f, words);
    if (found != TW_OK || !unit_goes(unit, quantities, bases))
        return TW_OK; /* the unit is dealt with where it stands */
    return check_measured(f, unit, typed);
}

static tw_status check_uuid(const field_check *f)
{
    int version;
    if (!tw_logbook_id_is(f->pair->value, &version))
        return refuse(f, TW_FAULT_UUID, f->row->allowed);
    if (f->pair->field == TW_FIELD_ID && version != 7 && version != 8)
        return refuse(f, TW_FAULT_VERSION, "version 7, or version 8 for what a device pushes");
    return TW_OK;
}

static tw_status check_hash(const field_check *f)
{
    const tw_text value = f->pair->value;
    int good = value.n == 64;
    for (size_t i = 0; i < value.n; i++)
        good &= (value.at[i] >= '0' && value.at[i] <= '9') || (value.at[i] >= 'a' && value.at[i] <= 'f');
    return good ? TW_OK : refuse(f, TW_FAULT_HASH, f->row->allowed);
}

static tw_status check_field(const field_check *f)
{
    tw_time time;
    int32_t days;
    if (f->pair->value.n == 0)
        return refuse(f, TW_FAULT_EMPTY, range_of(f->entry, f->row));
    const tw_status length = check_length(f);
    if (length != TW_OK)
        return length;
    switch (f->row->type) {
    case TW_TYPE_UUID:
        return check_uuid(f);
    case TW_TYPE_WORD:
        return check_word(f);
    case TW_TYPE_TIME:
        return tw_units_time_read(f->pair->value, &time) == TW_OK ? TW_OK : refuse(f, TW_FAULT_TIME, f->row->allowed);
    case TW_TYPE_DATE:
        return tw_units_date_read(f->pair->value, &days) == TW_OK ? TW_OK : refuse(f, TW_FAULT_DATE, f->row->allowed);
    case TW_TYPE_COUNT:
        return check_count(f);
    case TW_TYPE_HASH:
        return check_hash(f);
    case TW_TYPE_TEXT:
        return check_text(f);
    case TW_TYPE_DECIMAL:
        return check_decimal(f);
    case TW_TYPE_UNIT:
        return check_unit(f);
    case TW_TYPES:
    default:
        return TW_OK;
    }
}

/* The fields that a kind has, for the message about one that it has not. */
static void list_fields(tw_kind kind, char *buf, size_t cap)
{
    size_t n = 0;
    const int last = kind == TW_KINDS ? tw_logbook_field_from[0] : tw_logbook_field_from[kind + 1];
    for (int i = kind == TW_KINDS ? 0 : tw_logbook_field_from[kind]; i < last; i++) {
        const char *name = tw_logbook_field_name(tw_logbook_field_rows[i].field);
        const size_t length = strlen(name);
        if (n + length + 2 > cap)
            break;
        if (n > 0)
            buf[n++] = ' ';
        memcpy(buf + n, name, length);
        n += length;
    }
    buf[n] = '\0';
}

static tw_status check_kind(tw_entry *entry, tw_check_mode mode, tw_fault *fault)
{
    const tw_field_row *row = tw_logbook_field_row(TW_KINDS, TW_FIELD_KIND);
    const tw_text kind = tw_logbook_text(entry, TW_FIELD_KIND), none = {"", 0};
    if (!tw_logbook_has(entry, TW_FIELD_KIND))
        return tw_logbook_fault_set(fault, TW_FAULT_MISSING, tw_units_text("kind"), none, tw_units_text(row->allowed));
    entry->kind = tw_logbook_find_kind(kind);
    if (entry->kind == TW_KINDS && mode != TW_CHECK_IMPORTED && has_word_form(kind))
        return tw_logbook_fault_set(fault, TW_FAULT_KIND, tw_units_text("kind"), kind, tw_units_text(row->allowed));
    return TW_OK; /* an unknown one, when imported, is flagged as any unknown word is */
}

static tw_status check_pairs(tw_entry *entry, tw_check_mode mode, tw_fault *fault)
{
    for (uint32_t i = 0; i < entry->pairs; i++) {
        const tw_pair *pair = &entry->pair[i];
        const tw_field_row *row = pair->field == TW_FIELDS ? NULL : tw_logbook_field_row(entry->kind, pair->field);
        const field_check check = {entry, pair, row, mode, fault};
        tw_status status;
        if (row) {
            status = check_field(&check);
        } else {
            char allowed[TW_FAULT_ALLOWED_BYTES];
            list_fields(entry->kind, allowed, sizeof allowed);
            status = unknown(&check, TW_FAULT_FIELD, allowed);
        }
        if (status != TW_OK)
            return status;
    }
    return TW_OK;
}

/* writer, n and prev come from the store when an entry is a draft. */
static int needed(const tw_field_row *row, tw_check_mode mode)
{
    return row->required && !(mode == TW_CHECK_DRAFT && (row->field == TW_FIELD_WRITER || row->field == TW_FIELD_N));
}

static tw_status check_missing(const tw_entry *entry, tw_check_mode mode, tw_fault *fault)
{
    const tw_text none = {"", 0};
    for (int i = 0; i < TW_FIELD_ROWS; i++) {
        const tw_field_row *row = &tw_logbook_field_rows[i];
        if (row->kind != TW_KINDS && row->kind != entry->kind)
            continue;
        if (needed(row, mode) && !tw_logbook_has(entry, row->field))
            return tw_logbook_fault_set(fault, TW_FAULT_MISSING, tw_units_text(tw_logbook_field_name(row->field)), none,
                                        tw_units_text(range_of(entry, row)));
    }
    return TW_OK;
}

tw_status tw_logbook_check(tw_entry *entry, tw_check_mode mode, tw_fault *fault)
{
    entry->newer = 0;
    if (fault)
        fault->id = TW_FAULT_NONE;
    tw_status status = check_kind(entry, mode, fault);
    if (status == TW_OK)
        status = check_pairs(entry, mode, fault);
    if (status == TW_OK)
        status = check_missing(entry, mode, fault);
    if (status == TW_OK)
        status = tw_logbook_check_rules(entry, fault);
    if (status != TW_OK)
        return status;
    (void)tw_logbook_time(entry, TW_FIELD_AT, &entry->at); /* both were checked just now */
    (void)tw_logbook_time(entry, TW_FIELD_ENTERED, &entry->entered);
    entry->id = tw_logbook_text(entry, TW_FIELD_ID);
    entry->tub = tw_logbook_text(entry, TW_FIELD_TUB);
    entry->writer = tw_logbook_text(entry, TW_FIELD_WRITER);
    return TW_OK;
}
