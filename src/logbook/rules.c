/* logbook/rules.c: rules between the fields of one entry (data/entry/rules.csv). They hang on the
 * entry alone: never on the clock, on other entries or on the order of arrival. */
#include <string.h>

#include "logbook/internal.h"
#include "units/decimal.h"

#define MAX_BLOCKS 16

/* 1 when a word is one of those in a list with blanks between them. */
static int among(tw_text word, const char *list)
{
    const char *at = list;
    while (*at != '\0') {
        const char *end = at;
        while (*end != '\0' && *end != ' ')
            end++;
        if (word.n == (size_t)(end - at) && memcmp(word.at, at, word.n) == 0)
            return 1;
        at = *end == ' ' ? end + 1 : end;
    }
    return 0;
}

/* A fault about the field `when`, with what the rule wants beside it. */
static tw_status breach(const tw_entry *entry, const tw_rule_row *rule, tw_fault_id id, const char *allowed,
                        tw_fault *fault)
{
    return tw_logbook_fault_set(fault, id, tw_units_text(tw_logbook_field_name(rule->when)),
                                tw_logbook_text(entry, rule->when), tw_units_text(allowed));
}

/* "value 7.8": the other field and what stands there. */
static tw_status breach_beside(const tw_entry *entry, const tw_rule_row *rule, tw_fault_id id, tw_fault *fault)
{
    char text[96];
    const char *name = tw_logbook_field_name(rule->field[0]);
    const tw_text value = tw_logbook_text(entry, rule->field[0]);
    const size_t n = strlen(name), v = value.n < 40 ? value.n : 40;
    memcpy(text, name, n);
    text[n] = ' ';
    memcpy(text + n + 1, value.at, v);
    text[n + 1 + v] = '\0';
    return breach(entry, rule, id, text, fault);
}

/* Both numbers, as typed: a rule compares only fields that share one unit. */
static int two_numbers(const tw_entry *entry, const tw_rule_row *rule, double *mine, double *other)
{
    return tw_logbook_number(entry, rule->when, mine) == TW_OK
           && tw_logbook_number(entry, rule->field[0], other) == TW_OK;
}

static int rises(tw_text list)
{
    size_t at = 0;
    int count = 0;
    double before = 0.0, value;
    while (at <= list.n) {
        size_t end = at;
        while (end < list.n && list.at[end] != ' ')
            end++;
        if (tw_units_decimal_read(tw_units_text_part(list, at, end - at), &value, NULL) != TW_OK
            || (count > 0 && !(value > before)))
            return 0;
        before = value;
        count++;
        at = end + 1;
    }
    return count >= 2 && count <= MAX_BLOCKS;
}

static tw_status check_chained(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    const int first = tw_units_text_is(tw_logbook_text(entry, rule->when), "1");
    if (first == tw_logbook_has(entry, rule->field[0]))
        return breach(entry, rule, first ? TW_FAULT_EXCLUDES : TW_FAULT_NEEDS, tw_logbook_field_name(rule->field[0]),
                      fault);
    return TW_OK;
}

static tw_status check_needs_one(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    char text[4 * 40];
    size_t n = 0;
    for (int i = 0; i < rule->fields; i++) {
        if (tw_logbook_has(entry, rule->field[i]))
            return TW_OK;
        const char *name = tw_logbook_field_name(rule->field[i]);
        if (i > 0)
            memcpy(text + n, " or ", 4), n += 4;
        memcpy(text + n, name, strlen(name)), n += strlen(name);
    }
    text[n] = '\0';
    return breach(entry, rule, TW_FAULT_NEEDS, text, fault);
}

static tw_status check_comparison(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    double mine, other;
    if (!two_numbers(entry, rule, &mine, &other))
        return TW_OK;
    if (rule->rule == TW_RULE_ABOVE && !(mine > other))
        return breach_beside(entry, rule, TW_FAULT_NOT_ABOVE, fault);
    if (rule->rule == TW_RULE_NOT_BELOW && mine < other)
        return breach_beside(entry, rule, TW_FAULT_NOT_BELOW, fault);
    return TW_OK;
}

static tw_status check_presence(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    const int wanted = rule->rule == TW_RULE_NEEDS;
    for (int i = 0; i < rule->fields; i++)
        if (tw_logbook_has(entry, rule->field[i]) != wanted)
            return breach(entry, rule, wanted ? TW_FAULT_NEEDS : TW_FAULT_EXCLUDES,
                          tw_logbook_field_name(rule->field[i]), fault);
    return TW_OK;
}

static tw_status check_allows(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    if (!tw_logbook_has(entry, rule->field[0]))
        return TW_OK;
    const tw_text value = tw_logbook_text(entry, rule->field[0]);
    tw_unit unit;
    if (among(value, rule->allowed))
        return TW_OK;
    /* What is unknown was refused before where it was typed, and is a newer version's here. */
    const tw_field_row *row = tw_logbook_field_row(entry->kind, rule->field[0]);
    if (row && row->type == TW_TYPE_UNIT ? tw_units_find(value, &unit) != TW_OK
                                         : tw_logbook_word(entry, rule->field[0]) < 0)
        return TW_OK;
    return tw_logbook_fault_set(fault, TW_FAULT_WORD, tw_units_text(tw_logbook_field_name(rule->field[0])), value,
                                tw_units_text(rule->allowed));
}

static tw_status check_rule(const tw_entry *entry, const tw_rule_row *rule, tw_fault *fault)
{
    tw_time mine, other;
    switch (rule->rule) {
    case TW_RULE_CHAINED:
        return check_chained(entry, rule, fault);
    case TW_RULE_NEEDS:
    case TW_RULE_EXCLUDES:
        return check_presence(entry, rule, fault);
    case TW_RULE_NEEDS_ONE:
        return check_needs_one(entry, rule, fault);
    case TW_RULE_ALLOWS:
        return check_allows(entry, rule, fault);
    case TW_RULE_ABOVE:
    case TW_RULE_NOT_BELOW:
        return check_comparison(entry, rule, fault);
    case TW_RULE_NOT_BEFORE:
        if (tw_logbook_time(entry, rule->when, &mine) == TW_OK
            && tw_logbook_time(entry, rule->field[0], &other) == TW_OK && tw_units_time_compare(mine, other) < 0)
            return breach_beside(entry, rule, TW_FAULT_BEFORE, fault);
        return TW_OK;
    case TW_RULE_RISING:
        return rises(tw_logbook_text(entry, rule->field[0]))
                   ? TW_OK
                   : breach(entry, rule, TW_FAULT_RISING, "2 to 16 numbers that rise, such as 0 40 80 120", fault);
    case TW_RULES:
    default:
        return TW_OK;
    }
}

tw_status tw_logbook_check_rules(const tw_entry *entry, tw_fault *fault)
{
    for (int i = 0; i < TW_RULE_ROWS; i++) {
        const tw_rule_row *rule = &tw_logbook_rules[i];
        if (rule->kind != TW_KINDS && rule->kind != entry->kind)
            continue;
        if (!tw_logbook_has(entry, rule->when))
            continue;
        if (rule->words[0] != '\0' && !among(tw_logbook_text(entry, rule->when), rule->words))
            continue;
        const tw_status status = check_rule(entry, rule, fault);
        if (status != TW_OK)
            return status;
    }
    return TW_OK;
}
