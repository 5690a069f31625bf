/* serve/answers.c: the desks that ask the core, each with one of its own, so that a slow answer about one tub holds up no other. What was answered is remembered until a line arrives; a question without
 * a clock of its own is asked for the beginning of the minute, so that many ask the same one. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "serve/guard.h"
#include "serve/inside.h"

#define ROWS 128                          /* answers that are remembered */
#define ROW_BYTES ((size_t)256 << 10)     /* longest of them             */
#define SEATS 3                           /* desks: each holds the logbook  */
#define MOST_WAITING 64                   /* at each                        */

/* An answer that was given. */
typedef struct {
    uint64_t place; /* of the logbook for which it holds */
    char *question, *bytes;
    size_t n;
    char tag[40];
    const char *outcome, *type;
} answered;

/* A desk with its core. */
typedef struct tw_serve_seat {
    tw_serve_desk desk;
    tw_serve_book book;
    char tub[TW_ID_BYTES]; /* what is recalled in the book is of this one */
    char *room;            /* of one answer                               */
} seat;

struct tw_serve_answers {
    seat seat[SEATS];
    pthread_mutex_t lock;  /* of the following                            */
    tw_serve_request *asked; /* questions that wait at a desk, each once  */
    answered row[ROWS];
    size_t next;
};

static const char *outcome_name(int outcome)
{
    return outcome == TW_ENDED_STOPPED ? "stop" : outcome == TW_ENDED_NEWER ? "newer" : outcome == TW_ENDED_ASKED ? "asked-back" : "answered";
}

/* ---- what was answered ------------------------------------------------------------------------------------ */

/* The scope stands before the question: who may see one tub alone is not answered out of what others asked. */
static int recall(tw_serve_request *request, uint64_t place)
{
    struct tw_serve_answers *answers = request->serve->answers;
    int found = 0;
    (void)pthread_mutex_lock(&answers->lock);
    for (size_t i = 0; i < ROWS && !found; i++) {
        const answered *row = &answers->row[i];
        if (row->question == NULL || row->place != place || strcmp(row->question, request->question) != 0)
            continue;
        char *bytes = malloc(row->n + 1);
        if (bytes == NULL)
            break;
        memcpy(bytes, row->bytes, row->n);
        tw_serve_reply_bytes(request, MHD_HTTP_OK, row->type, bytes, row->n);
        request->reply.outcome = row->outcome;
        memcpy(request->reply.tag, row->tag, sizeof row->tag);
        found = 1;
    }
    (void)pthread_mutex_unlock(&answers->lock);
    return found;
}

static void remember(struct tw_serve_answers *answers, const tw_serve_request *request)
{
    const tw_serve_reply *reply = &request->reply;
    if (reply->n > ROW_BYTES)
        return;
    const size_t n = strlen(request->question) + 1;
    char *question = malloc(n), *bytes = malloc(reply->n + 1);
    if (question == NULL || bytes == NULL) {
        free(question);
        free(bytes);
        return;
    }
    memcpy(question, request->question, n);
    memcpy(bytes, reply->bytes, reply->n);
    (void)pthread_mutex_lock(&answers->lock);
    answered *row = &answers->row[answers->next++ % ROWS];
    free(row->question);
    free(row->bytes);
    *row = (answered){request->seat->book.cursor.opaque, question, bytes, reply->n, "", reply->outcome, reply->type};
    memcpy(row->tag, reply->tag, sizeof row->tag);
    (void)pthread_mutex_unlock(&answers->lock);
}

/* ---- at the desk ------------------------------------------------------------------------------------------- */

/* What the core would not answer. */
static void refused(tw_serve_request *request, tw_status status)
{
    if (status == TW_ERR_RANGE || status == TW_ERR_FORMAT || status == TW_ERR_UNKNOWN)
        tw_serve_reply_problem(request, TW_PROBLEM_PARAMETER, "A parameter is outside its range.", NULL, NULL);
    else
        tw_serve_reply_problem(request, TW_PROBLEM_INTERNAL, tw_status_text(status), NULL, NULL);
}

/* The tub that is meant, recalled. 0: the reply says why not. */
static int find_tub(tw_serve_request *request, tw_tub *tub)
{
    seat *at = request->seat;
    tw_serve_book *book = &at->book;
    tw_ask ask;
    if (tw_answer_ask_read(tw_units_text(strchr(request->question, '|') + 1), &ask) != TW_OK) {
        refused(request, TW_ERR_FORMAT);
        return 0;
    }
    const tw_status status = tw_answer_tub(book->core, &ask, tub);
    if (status != TW_OK) {
        tw_serve_reply_problem(request, status == TW_ERR_MISSING ? TW_PROBLEM_NO_TUB : TW_PROBLEM_WHICH_TUB,
                               status == TW_ERR_AMBIGUOUS ? "More than one has this name: use its id." : NULL, NULL, NULL);
        return 0;
    }
    if (request->who.tub[0] != '\0' && !tw_units_text_is(tub->id, request->who.tub)) {
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, "You may see one tub; this is another one.", NULL, NULL);
        return 0;
    }
    if (!tw_units_text_is(tub->id, at->tub)) {
        tw_serve_book_forget(book);
        (void)snprintf(at->tub, sizeof at->tub, "%.*s", (int)tub->id.n, tub->id.at);
        tw_serve_book_recall(book, request->serve->config.program, tub->id);
    }
    return 1;
}

static void ask(tw_serve_request *request)
{
    seat *at = request->seat;
    tw_serve_book *book = &at->book;
    const tw_serve_route_row *row = &tw_serve_routes[request->route];
    const char *question = strchr(request->question, '|') + 1;
    tw_store_fault fault;
    tw_tub tub;
    size_t length = 0;
    const int of_tub = request->of.at != NULL;
    const void *before = book->mem;
    const tw_status fresh = tw_serve_book_refresh(book, &fault);
    if (fresh != TW_OK) {
        tw_serve_reply_fault(request, &fault, fresh);
        return;
    }
    if (before != book->mem)
        at->tub[0] = '\0'; /* another core: nothing is recalled in it */
    if (recall(request, book->cursor.opaque) || (of_tub && !find_tub(request, &tub)))
        return;
    const tw_status status = (tw_status)tw_core_ask(book->core, question, strlen(question), at->room, TW_SERVE_ANSWER_BYTES, &length);
    if (status != TW_OK) {
        refused(request, status);
        return;
    }
    if (of_tub)
        tw_serve_book_keep(book, request->serve->config.program, tub.id);
    char *bytes = malloc(length + 1);
    if (bytes != NULL)
        memcpy(bytes, at->room, length);
    tw_serve_reply_bytes(request, MHD_HTTP_OK, strstr(question, " as=text") != NULL ? "text/plain; charset=utf-8" : "application/json",
                         bytes, length);
    if (bytes == NULL || row->word[0] == '\0')
        return;
    request->reply.outcome = outcome_name(tw_core_outcome(book->core));
    tw_serve_reply_tag(&request->reply);
    remember(request->serve->answers, request);
}

static void at_desk(tw_serve_job *job)
{
    tw_serve_request *request = (tw_serve_request *)job;
    struct tw_serve_answers *answers = request->serve->answers;
    ask(request);
    /* From here on nobody joins it; who joined is answered out of what is remembered now. */
    (void)pthread_mutex_lock(&answers->lock);
    tw_serve_request **at = &answers->asked;
    while (*at != NULL && *at != request)
        at = &(*at)->asked_next;
    if (*at != NULL)
        *at = request->asked_next;
    tw_serve_request *other = request->same;
    seat *here = request->seat; /* once it is released the request may be gone */
    (void)pthread_mutex_unlock(&answers->lock);
    tw_serve_release(request);
    while (other != NULL) {
        tw_serve_request *next = other->same;
        other->seat = here;
        ask(other);
        tw_serve_release(other);
        other = next;
    }
}

/* Wait with somebody who asks the same; 0: nobody does, and this request is now the one that asks. */
static int join(tw_serve_request *request)
{
    struct tw_serve_answers *answers = request->serve->answers;
    (void)pthread_mutex_lock(&answers->lock);
    tw_serve_request *first = answers->asked;
    while (first != NULL && strcmp(first->question, request->question) != 0)
        first = first->asked_next;
    if (first != NULL) {
        tw_serve_wait(request);
        request->same = first->same;
        first->same = request;
    } else {
        request->asked_next = answers->asked;
        answers->asked = request;
    }
    (void)pthread_mutex_unlock(&answers->lock);
    return first != NULL;
}

/* It could not be handed in. Only the thread that speaks HTTP joins, so nobody has yet. */
static void leave(tw_serve_request *request)
{
    struct tw_serve_answers *answers = request->serve->answers;
    (void)pthread_mutex_lock(&answers->lock);
    if (answers->asked == request)
        answers->asked = request->asked_next;
    (void)pthread_mutex_unlock(&answers->lock);
}

/* A tub has a desk, where what was worked out of it is at hand; when that one is busy, one that has nothing to do. */
static seat *seat_for(struct tw_serve_answers *answers, tw_text tub)
{
    unsigned sum = 0;
    for (size_t i = 0; i < tub.n; i++)
        sum = sum * 31u + (unsigned char)tub.at[i];
    for (unsigned i = 0; i < SEATS; i++) {
        seat *one = &answers->seat[(sum + i) % SEATS];
        if (tw_serve_desk_idle(&one->desk))
            return one;
    }
    return &answers->seat[sum % SEATS];
}

/* ---- a question ---------------------------------------------------------------------------------------------- */

/* Add text to the question; a blank becomes %20 where the piece came from outside. 0: too long. */
static int add(tw_serve_request *request, tw_text text, int outside)
{
    size_t n = strlen(request->question);
    for (size_t i = 0; i < text.n; i++) {
        const int blank = outside && text.at[i] == ' ';
        if (n + 4 > sizeof request->question)
            return 0;
        if (blank) {
            memcpy(request->question + n, "%20", 3);
            n += 3;
        } else {
            request->question[n++] = text.at[i];
        }
    }
    request->question[n] = '\0';
    return 1;
}

/* The clock of a question that brings none. */
static tw_time minute(tw_serve *serve)
{
    tw_time now = serve->config.clock(serve->config.clock_of);
    (void)pthread_mutex_lock(&serve->lock);
    const int64_t changed = (int64_t)serve->changed_s;
    (void)pthread_mutex_unlock(&serve->lock);
    const int64_t began = now.utc_s - (now.utc_s % 60 + 60) % 60;
    now.utc_s = changed > began && changed <= now.utc_s ? changed : began;
    return now;
}

/* "SCOPE|word at=... as=... tub=... name=value". 0: the reply says why not. */
static int put_question(tw_serve_request *request)
{
    const tw_serve_route_row *row = &tw_serve_routes[request->route];
    const tw_text accept = tw_serve_header(request, "Accept");
    const int json = tw_serve_accepts(accept, "application/json"), text = tw_serve_accepts(accept, "text/plain");
    char at[TW_TIME_BYTES];
    const tw_text given = request->target.value[TW_PARAMETER_AT];
    if (!json && !text) {
        tw_serve_reply_problem(request, TW_PROBLEM_ACCEPT, "There are application/json and text/plain.", NULL, NULL);
        return 0;
    }
    if (given.at == NULL && tw_units_time_write(minute(request->serve), at, sizeof at) != TW_OK) {
        tw_serve_reply_problem(request, TW_PROBLEM_INTERNAL, "The clock of this machine shows no time.", NULL, NULL);
        return 0;
    }
    (void)snprintf(request->question, sizeof request->question, "%s|%s at=%.*s as=%s width=60", request->who.tub, row->word,
                   (int)(given.at != NULL ? given.n : strlen(at)), given.at != NULL ? given.at : at, json ? "json" : "text");
    int fits = request->of.at == NULL || (add(request, tw_units_text(" tub="), 0) && add(request, request->of, 1));
    for (int i = 0; i < TW_PARAMETERS && fits; i++)
        if (i != TW_PARAMETER_AT && request->target.value[i].at != NULL)
            fits = add(request, tw_units_text(" "), 0) && add(request, tw_units_text(tw_serve_parameters[i].name), 0) &&
                   add(request, tw_units_text("="), 0) && add(request, request->target.value[i], 1);
    if (!fits)
        tw_serve_reply_problem(request, TW_PROBLEM_ADDRESS_LONG, NULL, NULL, NULL);
    return fits;
}

void tw_serve_answers_ask(tw_serve_request *request)
{
    tw_serve *serve = request->serve;
    if (request->of.at == NULL && request->who.tub[0] != '\0') {
        tw_serve_reply_problem(request, TW_PROBLEM_RIGHT, "You may see one tub, and not the list of all.", NULL, NULL);
        return;
    }
    if (!put_question(request))
        return;
    (void)pthread_mutex_lock(&serve->lock);
    const uint64_t place = serve->place;
    (void)pthread_mutex_unlock(&serve->lock);
    if (recall(request, place) || join(request))
        return;
    request->seat = seat_for(serve->answers, request->of);
    if (!tw_serve_hold(request, &request->seat->desk, at_desk))
        leave(request);
}

static tw_status open_seat(const tw_serve *serve, seat *one, tw_store_fault *fault)
{
    one->room = malloc(TW_SERVE_ANSWER_BYTES);
    if (one->room == NULL)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    tw_status status = tw_store_open(serve->config.logbook, TW_STORE_WRITE, NULL, &one->book.store, fault);
    one->book.writes = 1;
    if (status == TW_OK)
        status = tw_serve_book_fill(&one->book, fault);
    if (status == TW_OK && !tw_serve_desk_open(&one->desk, MOST_WAITING, NULL, NULL))
        status = tw_store_fault_set(fault, TW_STORE_NO_MEMORY, "no thread");
    return status;
}

tw_status tw_serve_answers_open(tw_serve *serve, tw_store_fault *fault)
{
    struct tw_serve_answers *answers = calloc(1, sizeof *answers);
    tw_status status = TW_OK;
    serve->answers = answers;
    if (answers == NULL || pthread_mutex_init(&answers->lock, NULL) != 0)
        return tw_store_fault_set(fault, TW_STORE_NO_MEMORY, NULL);
    for (int i = 0; i < SEATS && status == TW_OK; i++)
        status = open_seat(serve, &answers->seat[i], fault);
    return status;
}

void tw_serve_answers_end(tw_serve *serve)
{
    for (int i = 0; i < SEATS && serve->answers != NULL; i++)
        tw_serve_desk_close(&serve->answers->seat[i].desk);
}

void tw_serve_answers_close(tw_serve *serve)
{
    struct tw_serve_answers *answers = serve->answers;
    if (answers == NULL)
        return;
    for (int i = 0; i < SEATS; i++) {
        tw_serve_book_close(&answers->seat[i].book);
        free(answers->seat[i].room);
    }
    for (size_t i = 0; i < ROWS; i++) {
        free(answers->row[i].question);
        free(answers->row[i].bytes);
    }
    (void)pthread_mutex_destroy(&answers->lock);
    free(answers);
    serve->answers = NULL;
}
