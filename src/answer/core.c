/* answer/core.c: the public calls. A question is read, its tub is found, the view of its word speaks
 * to the sink of its form. */
#include "answer/core.h"

#include <string.h>

#include "answer/views.h"
#include "estimate/trial.h"
#include "logbook/chain.h"
#include "num/require.h"
#include "num/sha256.h"
#include "procedure/next.h"

/* Memory is handed out in whole doubles. */
static size_t whole(size_t bytes)
{
    return (bytes + 15u) & ~(size_t)15u;
}

static size_t larger(size_t a, size_t b)
{
    return a > b ? a : b;
}

/* Room for the largest single question about a belief of the full number of members. */
static size_t work_bytes(void)
{
    const tw_estimate_options full = tw_estimate_options_default();
    const size_t members = (size_t)full.chains * full.keep;
    return whole(larger(larger(tw_procedure_bytes(members), tw_estimate_trial_bytes(members)),
                        larger(tw_estimate_forecast_bytes(members, TW_FAN_HOURS), tw_estimate_held_bytes(members))));
}

/* Arrays of a question, beside the working memory: see view_worth.c. */
static size_t room_bytes(void)
{
    const tw_estimate_options full = tw_estimate_options_default();
    return whole(7 * (size_t)full.chains * full.keep * sizeof(double));
}

const char *tw_core_version(void)
{
    return TW_VERSION;
}

size_t tw_core_bytes(size_t max_entries, size_t max_text)
{
    return whole(sizeof(tw_core)) + whole(tw_logbook_book_bytes(max_entries, max_text)) +
           whole(tw_estimate_bytes(NULL)) + work_bytes() + room_bytes();
}

int tw_core_init(void *mem, size_t bytes, size_t max_entries, size_t max_text, tw_core **out)
{
    if (bytes < tw_core_bytes(max_entries, max_text))
        return TW_ERR_CAPACITY;
    tw_core *core = mem;
    char *at = (char *)mem + whole(sizeof *core);
    memset(core, 0, sizeof *core);
    const size_t book_bytes = tw_logbook_book_bytes(max_entries, max_text);
    core->fold_mem = at + whole(book_bytes);
    core->fold_bytes = tw_estimate_bytes(NULL);
    core->work = at + whole(book_bytes) + whole(core->fold_bytes);
    core->work_bytes = work_bytes();
    core->room = at + whole(book_bytes) + whole(core->fold_bytes) + core->work_bytes;
    *out = core;
    return (int)tw_logbook_book_init(at, book_bytes, max_entries, max_text, &core->book);
}

const tw_language *tw_answer_language(const tw_core *core)
{
    return core->has_language ? &core->language : NULL;
}

int tw_core_add_line(tw_core *core, const char *line, size_t n, char *fault_text, size_t fault_cap)
{
    tw_fault fault;
    memset(&fault, 0, sizeof fault);
    const tw_status status = tw_logbook_book_add_line(core->book, (tw_text){line, n}, NULL, &fault);
    if (fault_text != NULL && fault_cap > 0) {
        fault_text[0] = '\0';
        if (status != TW_OK)
            (void)tw_logbook_fault_text(&fault, tw_answer_language(core), fault_text, fault_cap);
    }
    return (int)status;
}

int tw_core_language(tw_core *core, const void *bytes, size_t n, char *fault_text, size_t fault_cap)
{
    char fault[TW_LANGUAGE_FAULT] = "";
    tw_status status = TW_OK;
    core->has_language = 0;
    if (n > 0) {
        status = tw_units_language_read(bytes, n, &core->language, fault);
        core->has_language = status == TW_OK;
    }
    if (fault_text != NULL && fault_cap > 0) {
        const size_t length = strlen(fault) < fault_cap ? strlen(fault) : fault_cap - 1;
        memcpy(fault_text, fault, length);
        fault_text[length] = '\0';
    }
    return (int)status;
}

int tw_core_outcome(const tw_core *core)
{
    return core->outcome;
}

const char *tw_core_status_text(int status)
{
    return tw_status_text((tw_status)status);
}

void tw_answer_head(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    uint8_t seal[TW_SHA256_BYTES];
    tw_answer_text(sink, TW_KEY_QUESTION, ask->word);
    tw_answer_string(sink, TW_KEY_VERSION, TW_VERSION);
    if (tub != NULL) {
        tw_answer_text(sink, TW_KEY_TUB_ID, tub->id);
        tw_answer_text(sink, TW_KEY_TUB, tub->name);
    }
    tw_answer_time(sink, TW_KEY_AT, ask->now);
    tw_logbook_chain_seal(core->book, seal);
    tw_answer_digest(sink, TW_KEY_LOGBOOK_SEAL, seal);
}

/* The words that can be asked. */
typedef struct {
    const char *word;
    int of_tub; /* 1: needs one tub */
    void (*view)(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
} question_row;

static const question_row QUESTIONS[] = {
    {"now", 1, tw_answer_view_now},
    {"why", 1, tw_answer_view_why},
    {"logbook", 1, tw_answer_view_logbook},
    {"logged", 1, tw_answer_view_logged},
    {"check", 1, tw_answer_view_check},
    {"bathing", 1, tw_answer_view_bathing},
    {"sheet", 1, tw_answer_view_sheet},
    {"tub", 1, tw_answer_view_tub},
    {"water", 1, tw_answer_view_water},
    {"forecast", 1, tw_answer_view_forecast},
    {"ahead", 1, tw_answer_view_ahead},
    {"plan", 1, tw_answer_view_plan},
    {"worth", 1, tw_answer_view_worth},
    {"tubs", 0, tw_answer_view_tubs},
};

static const question_row *find_question(tw_text word)
{
    for (size_t i = 0; i < sizeof QUESTIONS / sizeof QUESTIONS[0]; i++)
        if (tw_units_text_is(word, QUESTIONS[i].word))
            return &QUESTIONS[i];
    return NULL;
}

int tw_core_ask(tw_core *core, const char *question, size_t n, char *out, size_t cap, size_t *length)
{
    tw_ask ask;
    tw_tub tub;
    tw_sink sink;
    *length = 0;
    core->outcome = TW_ENDED_ANSWERED;
    tw_status status = tw_answer_ask_read((tw_text){question, n}, &ask);
    if (status != TW_OK)
        return (int)status;
    const question_row *row = find_question(ask.word);
    if (row == NULL)
        return TW_ERR_UNKNOWN;
    if (row->of_tub) {
        status = tw_answer_tub(core, &ask, &tub);
        if (status != TW_OK)
            return (int)status;
    }
    if (ask.form == TW_AS_TEXT)
        tw_answer_sink_text(&sink, out, cap, ask.now, ask.width);
    else
        tw_answer_sink_json(&sink, out, cap, ask.now);
    sink.language = tw_answer_language(core);
    sink.shown = ask.shown;
    tw_answer_open(&sink, TW_KEY_ANSWER);
    tw_answer_head(core, &ask, row->of_tub ? &tub : NULL, &sink);
    row->view(core, &ask, row->of_tub ? &tub : NULL, &sink);
    tw_answer_close(&sink);
    status = tw_answer_sink_end(&sink);
    *length = status == TW_OK ? sink.length : 0;
    return (int)status;
}
