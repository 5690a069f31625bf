/* cli/words_acts.c: words of data/log_words.csv that begin something: a dose, an answer, an exchange, ... */
#include <stdio.h>
#include <string.h>

#include "cli/clock.h"
#include "cli/substance.h"
#include "cli/words_reader.h"
#include "logbook/entry.h"

static int add_presets(tw_reader *r, tw_draft *draft, const char *preset)
{
    while (*preset != '\0') {
        const size_t n = strcspn(preset, " ");
        const size_t name = strcspn(preset, "=");
        if (name + 1 < n && strncmp(preset, "kind=", 5) != 0 &&
            tw_cli_reader_add(r, draft, (tw_text){preset, name}, (tw_text){preset + name + 1, n - name - 1}))
            return 1;
        preset += n + (preset[n] == ' ');
    }
    return 0;
}

/* Fields of a preset that wait for a value ("job= state="), in order. */
static tw_text open_field(const char *preset, int index)
{
    while (*preset != '\0') {
        const size_t n = strcspn(preset, " ");
        if (preset[n - 1] == '=' && index-- == 0)
            return (tw_text){preset, n - 1};
        preset += n + (preset[n] == ' ');
    }
    return (tw_text){"", 0};
}

static tw_kind preset_kind(const tw_log_word *row)
{
    const size_t n = strcspn(row->preset, " ");
    return strncmp(row->preset, "kind=", 5) == 0 ? tw_logbook_find_kind((tw_text){row->preset + 5, n - 5}) : TW_KINDS;
}

/* "97 g dry acid 93%" or "dry-acid=97g". */
static int read_dose(tw_reader *r, tw_kind kind)
{
    tw_text number = {"", 0};
    tw_text unit = {"", 0};
    tw_text name = {"", 0};
    tw_text strength = {"", 0};
    if (!tw_cli_reader_amount(r, &number, &unit)) {
        const char *typed = tw_cli_reader_next(r);
        const char *equals = typed != NULL ? strchr(typed, '=') : NULL;
        if (equals == NULL)
            return tw_cli_reader_fail(r, "how much of what", typed != NULL ? typed : "", "Write: added 97 g dry acid.");
        const tw_text amount = tw_units_text(equals + 1);
        const size_t n = tw_cli_reader_number_length(amount);
        name = (tw_text){typed, (size_t)(equals - typed)};
        number = tw_units_text_part(amount, 0, n);
        unit = tw_cli_reader_part_from(amount, n);
    } else {
        name = tw_cli_reader_phrase(r);
        const size_t last = name.n > 0 && name.at[name.n - 1] == '%' ? 1 : 0;
        if (last) { /* the strength stands at the end */
            size_t from = name.n;
            while (from > 0 && name.at[from - 1] != ' ')
                from--;
            strength = tw_units_text_part(name, from, name.n - 1 - from);
            name = tw_cli_reader_unblank(tw_units_text_part(name, 0, from));
            if (strength.n == 0) { /* "12 %" */
                from = name.n;
                while (from > 0 && name.at[from - 1] != ' ')
                    from--;
                strength = tw_cli_reader_part_from(name, from);
                name = tw_cli_reader_unblank(tw_units_text_part(name, 0, from));
            }
        }
    }
    if (name.n == 0)
        return tw_cli_reader_fail(r, "of what", r->i > 0 ? r->word[r->i - 1] : "", "Write: added 97 g dry acid.");
    tw_draft *draft = tw_cli_reader_begin(r, kind);
    if (draft != NULL && (tw_units_text_is(unit, "scoop") || tw_units_text_is(unit, "scoops")))
        return tw_cli_reader_add_named(r, draft, "amount", number) || tw_cli_reader_add_named(r, draft, "amount_unit", (tw_text){"1", 1}) ||
               tw_cli_reader_add_named(r, draft, "measured", (tw_text){"scoop", 5}) || tw_cli_reader_add_named(r, draft, "scoop", name);
    char id[64];
    const size_t n = tw_cli_substance(name, id, sizeof id);
    int bad = draft == NULL || tw_cli_reader_add_named(r, draft, "substance", n > 0 ? tw_cli_reader_keep(r, id, n) : name) ||
              tw_cli_reader_add_named(r, draft, "amount", number);
    if (!bad && unit.n > 0)
        bad = tw_cli_reader_add_named(r, draft, "amount_unit", unit);
    if (!bad && strength.n > 0)
        bad = tw_cli_reader_add_named(r, draft, "strength", strength);
    if (!bad && kind == TW_KIND_INTENT)
        bad = tw_cli_reader_add_named(r, draft, "act", (tw_text){"add", 3});
    return bad;
}

static int read_outcome(tw_reader *r, const tw_log_word *row)
{
    const char *word = row->preset + strlen("outcome=");
    if (r->out->outcome >= 0)
        return tw_cli_reader_fail(r, "two answers in one line", row->word, "Answer one act at a time.");
    r->out->outcome = tw_logbook_find_word(TW_SET_OUTCOME, tw_units_text(word));
    if (tw_cli_reader_amount(r, &r->out->amount, &r->out->unit) && r->out->outcome == TW_OUTCOME_DONE)
        r->out->outcome = TW_OUTCOME_DONE_DIFFERENTLY;
    r->out->reason = tw_cli_reader_phrase(r);
    return 0;
}

static int read_exchange(tw_reader *r, const tw_log_word *row)
{
    tw_text number;
    tw_text unit;
    tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_EXCHANGE);
    if (draft == NULL || add_presets(r, draft, row->preset))
        return 1;
    if (!tw_cli_reader_amount(r, &number, &unit))
        return 0; /* how much is not known; in= and out= may follow */
    for (int i = 0; open_field(row->preset, i).n > 0; i++)
        if (tw_cli_reader_add(r, draft, open_field(row->preset, i), number))
            return 1;
    return unit.n > 0 ? tw_cli_reader_add_named(r, draft, "volume_unit", unit) : 0;
}

static int read_bathers(tw_reader *r)
{
    tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_BATHERS);
    const char *count = tw_cli_reader_next(r);
    if (draft == NULL || count == NULL || tw_cli_reader_add_named(r, draft, "count", tw_units_text(count)))
        return count == NULL ? tw_cli_reader_fail(r, "how many", "bathers", "Write: bathers 2 for 20 min.") : 1;
    if (r->i < r->n && strcmp(r->word[r->i], "for") == 0)
        r->i++;
    if (r->i < r->n && tw_cli_reader_is_digit(r->word[r->i][0])) {
        const tw_text minutes = tw_units_text(r->word[r->i++]);
        if (r->i < r->n && strncmp(r->word[r->i], "min", 3) == 0)
            r->i++;
        return tw_cli_reader_add_named(r, draft, "minutes", tw_units_text_part(minutes, 0, tw_cli_reader_number_length(minutes)));
    }
    return 0;
}

/* "at 10:30", "at Mon 10:30", "at 2026-03-24 10:30". */
static int read_at(tw_reader *r)
{
    char both[96];
    const char *one = tw_cli_reader_next(r);
    r->out->at_given = 1;
    tw_status status = one != NULL ? tw_cli_time_typed(tw_units_text(one), r->now, &r->out->at) : TW_ERR_FORMAT;
    if (status == TW_ERR_FORMAT && one != NULL && r->i < r->n) {
        (void)snprintf(both, sizeof both, "%s %s", one, r->word[r->i]);
        status = tw_cli_time_typed(tw_units_text(both), r->now, &r->out->at);
        r->i += status != TW_ERR_FORMAT;
    }
    return status == TW_OK ? 0 : tw_cli_reader_fail(r, "the time is not understood", one != NULL ? one : "", tw_cli_time_instead(status));
}

/* "by strips", and after a volume "by clock". */
/* Readings before "by" that have no instrument yet were taken with it; those after it too, until the next "by". */
static int read_with(tw_reader *r, tw_text instrument)
{
    const tw_text field = {"instrument", 10};
    tw_draft *context = &r->out->context;
    for (size_t i = 0; i < r->out->drafts; i++)
        if ((r->out->draft[i].kind == TW_KIND_READING || r->out->draft[i].kind == TW_KIND_STANDARD) &&
            !tw_cli_reader_has(&r->out->draft[i], field) && tw_cli_reader_add(r, &r->out->draft[i], field, instrument))
            return 1;
    for (size_t k = 0; k < context->n; k++)
        if (tw_units_text_equal(context->field[k].field, field)) {
            context->field[k].value = instrument;
            return 0;
        }
    return tw_cli_reader_add(r, context, field, instrument);
}

static int read_by(tw_reader *r)
{
    const char *typed = tw_cli_reader_next(r);
    if (typed == NULL)
        return tw_cli_reader_fail(r, "by what", "", "Write: by strips.");
    const tw_text word = tw_units_text(typed);
    if (r->cur != NULL && r->cur->kind == TW_KIND_VOLUME && !tw_cli_reader_has(r->cur, (tw_text){"method", 6}))
        return tw_cli_reader_add_named(r, r->cur, "method", word);
    const int tool = tw_logbook_find_word(TW_SET_INSTRUMENT, tw_cli_reader_alias("instrument", word));
    if (tool < 0)
        return tw_cli_reader_fail(r, "no such instrument", typed, "Write by strips, drops, photometer, meter, lab, display or eye.");
    return read_with(r, tw_units_text(tw_logbook_word_name(TW_SET_INSTRUMENT, tool)));
}

/* "of hose": of water let in, or of what the readings of this line are. */
static int read_of(tw_reader *r)
{
    const char *typed = tw_cli_reader_next(r);
    if (typed == NULL)
        return tw_cli_reader_fail(r, "of what", "", "Write: of hose.");
    if (r->cur != NULL && r->cur->kind == TW_KIND_EXCHANGE)
        return tw_cli_reader_add_named(r, r->cur, "source", tw_units_text(typed));
    return tw_cli_reader_add_named(r, &r->out->context, "source", tw_units_text(typed)) ||
           tw_cli_reader_add_named(r, &r->out->context, "point", (tw_text){"source", 6});
}

static int read_text(tw_reader *r, const tw_log_word *row, tw_kind kind)
{
    tw_draft *draft = tw_cli_reader_begin(r, kind);
    const tw_text words = tw_cli_reader_phrase(r);
    if (draft == NULL)
        return 1;
    if (kind == TW_KIND_SYMPTOM && tw_logbook_find_word(TW_SET_SYMPTOM, words) >= 0 && tw_cli_reader_add_named(r, draft, "symptom", words))
        return 1;
    return tw_cli_reader_add(r, draft, open_field(row->preset, 0), words);
}

/* "bromine=no": the question before the sign, yes, no or unknown behind it. */
static int is_reply(const char *typed)
{
    const char *equals = strchr(typed, '=');
    return equals != NULL && tw_logbook_find_word(TW_SET_YES_NO_UNKNOWN, tw_units_text(equals + 1)) >= 0;
}

static int read_reply(tw_reader *r)
{
    size_t replies = 0;
    while (r->i < r->n && (replies == 0 || is_reply(r->word[r->i]))) {
        const char *typed = r->word[r->i++];
        const char *equals = strchr(typed, '=');
        tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_REPLY);
        if (equals == NULL)
            return tw_cli_reader_fail(r, "which question", typed, "Write: reply bromine=no.");
        if (draft == NULL || tw_cli_reader_add_named(r, draft, "question", (tw_text){typed, (size_t)(equals - typed)}) ||
            tw_cli_reader_add_named(r, draft, "reply", tw_units_text(equals + 1)))
            return 1;
        replies++;
    }
    return replies > 0 ? 0 : tw_cli_reader_fail(r, "which question", "", "Write: reply bromine=no.");
}

static int read_void(tw_reader *r)
{
    const char *typed = tw_cli_reader_next(r);
    if (typed == NULL)
        return tw_cli_reader_fail(r, "which entry", "", "Write: void last, or its id.");
    r->out->voids = tw_units_text(typed);
    r->out->reason = tw_cli_reader_phrase(r);
    return 0;
}

static int read_fields_in_order(tw_reader *r, const tw_log_word *row, tw_kind kind)
{
    tw_draft *draft = tw_cli_reader_begin(r, kind);
    if (draft == NULL || add_presets(r, draft, row->preset))
        return 1;
    for (int i = 0; open_field(row->preset, i).n > 0; i++) {
        const char *typed = tw_cli_reader_next(r);
        if (typed == NULL)
            return tw_cli_reader_fail(r, "something is missing", row->word, row->example);
        if (tw_cli_reader_add(r, draft, open_field(row->preset, i), tw_units_text(typed)))
            return 1;
    }
    return 0;
}

static int read_time_field(tw_reader *r, tw_kind kind, const char *field)
{
    tw_draft *draft = tw_cli_reader_begin(r, kind);
    const char *link = r->i < r->n ? r->word[r->i] : "";
    if (strcmp(link, "until") == 0 || strcmp(link, "by") == 0)
        r->i++;
    if (draft == NULL)
        return 1;
    if (r->i >= r->n || tw_cli_reader_begins(r->word[r->i]))
        return 0;
    return tw_cli_reader_set(r, draft, tw_cli_reader_own_row(kind, tw_logbook_find_field(tw_units_text(field))), tw_cli_reader_phrase(r));
}

static int read_volume(tw_reader *r)
{
    tw_text number;
    tw_text unit;
    tw_draft *draft = tw_cli_reader_begin(r, TW_KIND_VOLUME);
    if (draft == NULL || !tw_cli_reader_amount(r, &number, &unit))
        return draft == NULL || tw_cli_reader_fail(r, "how much", "volume", "Write: volume 1180 L by clock.");
    return tw_cli_reader_add_named(r, draft, "volume", number) || (unit.n > 0 && tw_cli_reader_add_named(r, draft, "volume_unit", unit));
}

static int read_ago(tw_reader *r)
{
    (void)r;
    return tw_cli_reader_fail(r, "a time before now", "ago", "Write: 20 min ago.");
}

int tw_cli_read_word(tw_reader *r, const tw_log_word *row)
{
    const tw_kind kind = preset_kind(row);
    switch (row->does) {
    case TW_LOG_BY: return read_by(r);
    case TW_LOG_AT: return read_at(r);
    case TW_LOG_AGO: return read_ago(r);
    case TW_LOG_OF: return read_of(r);
    case TW_LOG_DOSE: return read_dose(r, kind);
    case TW_LOG_INTENT:
        if (r->i >= r->n || tw_cli_reader_begins(r->word[r->i])) {
            r->out->announces = 1;
            return 0;
        }
        return read_dose(r, TW_KIND_INTENT);
    case TW_LOG_ANSWER: return read_outcome(r, row);
    case TW_LOG_EXCHANGE: return read_exchange(r, row);
    case TW_LOG_TWO: case TW_LOG_PLAIN: return read_fields_in_order(r, row, kind);
    case TW_LOG_BATHERS: return read_bathers(r);
    case TW_LOG_VOLUME: return read_volume(r);
    case TW_LOG_UNTIL: return read_time_field(r, TW_KIND_POWER_CUT, "until");
    case TW_LOG_READY: return read_time_field(r, TW_KIND_READY_BY, "by_time");
    case TW_LOG_TEXT: return read_text(r, row, kind);
    case TW_LOG_REPLY: return read_reply(r);
    case TW_LOG_WAIVE: return read_fields_in_order(r, row, kind);
    case TW_LOG_REMARK: r->out->remark = tw_cli_reader_phrase(r); return 0;
    case TW_LOG_VOID: return read_void(r);
    case TW_LOG_DOES: break;
    }
    return tw_cli_reader_fail(r, "not understood", row->word, "See tubwright log --words.");
}

/* The name of a kind begins an entry of it; its first field may follow without a name. */
int tw_cli_read_kind(tw_reader *r, tw_kind kind)
{
    static const char *const FIRST[TW_KINDS] = {
        [TW_KIND_TUB] = "name", [TW_KIND_SOURCE] = "source", [TW_KIND_DEFINITION] = "defines"};
    tw_draft *draft = tw_cli_reader_begin(r, kind);
    if (draft == NULL)
        return 1;
    if (FIRST[kind] != NULL && r->i < r->n && !tw_cli_reader_begins(r->word[r->i]))
        return tw_cli_reader_add_named(r, draft, FIRST[kind], tw_cli_reader_phrase(r));
    return 0;
}
