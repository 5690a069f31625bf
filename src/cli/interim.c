/* cli/interim.c: until the procedure is there: nothing on the card can be answered. */
#include "cli/taken.h"

int tw_cli_taken_field(tw_draft *draft, const char *name, tw_text value)
{
    if (draft->n == TW_DRAFT_FIELDS)
        return 1;
    draft->field[draft->n++] = (tw_typed){tw_units_text(name), value};
    return 0;
}

int tw_cli_settle(tw_cli *cli, tw_core *core, tw_taken *t)
{
    (void)core;
    if (t->words.drafts > 0)
        return 0;
    return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "asked-back", "there is no card to answer yet", NULL);
}
