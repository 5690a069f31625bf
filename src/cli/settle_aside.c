/* cli/settle_aside.c: what is set aside. Only what the tables allow, by a role that may, with a reason; all else is
 * said to stay open. */
#include <string.h>

#include "cli/taken.h"
#include "procedure/tables.h"

int tw_cli_may_not_apply(tw_cli *cli, const tw_taken *t, const tw_act *act)
{
    if (!tw_procedure_may_be_set_aside(act->id))
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "not-to-waive", "this cannot be set aside; it stays open",
                              "Do what the card says, or write: tubwright log couldn't 'why', or later 'why'");
    if (t->words.reason.n == 0)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "no-reason", "why does it not apply?", "Write: tubwright log na 'no blower'");
    return 0;
}

/* Stages and conditions that may be set aside, for a person who typed another word. */
static int unknown(tw_cli *cli, tw_text word)
{
    char detail[2048];
    int n = snprintf(detail, sizeof detail, "%.*s is no condition. Conditions that may be set aside:", (int)word.n, word.at);
    for (int c = 0; c < TW_CONDITIONS && n < (int)sizeof detail - 48; c++)
        if (tw_procedure_conditions[c].waivable)
            n += snprintf(detail + n, sizeof detail - (size_t)n, " %s", tw_procedure_conditions[c].id);
    return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "unknown-condition", "there is no such condition to set aside", detail);
}

/* A waiver more, of the same words but for its condition. 0 or 1 when there is no room. */
static int copy_for(tw_taken *t, const tw_draft *like, size_t field, const char *condition)
{
    if (t->words.drafts == TW_DRAFTS)
        return 1;
    tw_draft *draft = &t->words.draft[t->words.drafts++];
    *draft = *like;
    draft->field[field].value = tw_units_text(condition);
    return 0;
}

static int is_condition(const tw_draft *draft, size_t field)
{
    return draft->kind == TW_KIND_WAIVER && tw_units_text_is(draft->field[field].field, "condition");
}

/* A stage is all its conditions that may be set aside. 1 when there is no room for so many. */
static int whole_stage(tw_taken *t, tw_draft *draft, size_t field)
{
    const tw_text word = draft->field[field].value;
    const tw_draft like = *draft;
    int of_stage = 0;
    for (int c = 0; c < TW_CONDITIONS; c++) {
        const tw_condition_row *row = &tw_procedure_conditions[c];
        if (!row->waivable || !tw_units_text_is(word, tw_procedure_stages[row->stage].id))
            continue;
        if (of_stage++ == 0)
            draft->field[field].value = tw_units_text(row->id);
        else if (copy_for(t, &like, field, row->id) != 0)
            return 1;
    }
    return 0;
}

int tw_cli_settle_waivers(tw_cli *cli, tw_taken *t)
{
    const size_t typed = t->words.drafts;
    for (size_t i = 0; i < typed; i++)
        for (size_t f = 0; f < t->words.draft[i].n; f++)
            if (is_condition(&t->words.draft[i], f) && whole_stage(t, &t->words.draft[i], f) != 0)
                return tw_cli_problem(cli, TW_EXIT_USAGE, "too-many", "that is too much for one line", NULL);
    return 0;
}

static int condition_may(tw_cli *cli, tw_text word)
{
    for (int c = 0; c < TW_CONDITIONS; c++)
        if (tw_units_text_is(word, tw_procedure_conditions[c].id))
            return tw_procedure_conditions[c].waivable
                       ? 0
                       : tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "not-to-waive", "this cannot be set aside; it stays open",
                                        "No role may. What the card says lifts it.");
    return unknown(cli, word);
}

int tw_cli_waivers_may(tw_cli *cli, const tw_taken *t)
{
    for (size_t i = 0; i < t->words.drafts; i++)
        for (size_t f = 0; f < t->words.draft[i].n; f++) {
            if (!is_condition(&t->words.draft[i], f))
                continue;
            const int trouble = condition_may(cli, t->words.draft[i].field[f].value);
            if (trouble != 0)
                return trouble;
            if (!tw_procedure_role_may_set_aside(tw_logbook_find_word(TW_SET_ROLE, tw_units_text(t->role))))
                return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "who", "who sets this aside?",
                                      "An owner, a technician or a manager may: add --role technician. It is kept for this logbook.");
        }
    return 0;
}
