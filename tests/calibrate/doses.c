/* tests/calibrate/doses.c: random tubs by every way of dosing (tests/dose/trial_dose.h); prints tallies as JSON.
 * usage: doses [tubs [first seed [members [ways]]]]   ways: letters of c(ourse) t(able) h(alf) o(racle), w: also wrong */
#include <time.h>

#include "dose/trial_dose.h"

typedef struct {
    long tubs, acted, visits, crossed, crossed_of[REAL_QUANTITIES], planned_more, crossed_first, in_promise, promises, reached, stuck, unfinished, looked, held[REAL_QUANTITIES + 1];
    double minutes, grams, grams_of[TW_SUBSTANCES], promised, expected, seconds;
} tally;

static void count(tally *t, const trial_result *r)
{
    t->tubs++;
    t->acted += r->visits > 0;
    t->visits += r->visits;
    t->crossed += r->crossed;
    for (int of = 0; of < REAL_QUANTITIES; of++)
        t->crossed_of[of] += r->crossed_of[of];
    t->planned_more += r->planned_more;
    t->crossed_first += r->planned_more && r->crossed_first;
    t->promises += r->promised > 0;
    t->in_promise += r->promised > 0 && r->reached_at > 0 && r->reached_at <= r->promised;
    t->promised += r->promised;
    t->expected += r->expected_visits;
    t->reached += r->reached_at != 0;
    t->stuck += r->stuck;
    t->unfinished += r->visits == TRIAL_VISITS;
    t->looked += r->looked;
    for (int of = 0; of <= REAL_QUANTITIES; of++)
        t->held[of] += r->held[of];
    t->minutes += r->minutes;
    t->grams += r->grams;
    for (int s = 0; s < TW_SUBSTANCES; s++)
        t->grams_of[s] += r->grams_of[s];
}

static void write(const char *name, const tally *t, int last)
{
    static const char *const OF[REAL_QUANTITIES] = {"ph", "alkalinity", "calcium", "salt", "chlorine", "cyanurate"};
    static const char *const HELD[REAL_QUANTITIES + 1] = {"ph", "alkalinity", "calcium", "salt", "chlorine", "cyanurate", "volume"};
    printf("  \"%s\": {\"tubs\": %ld, \"acted\": %ld, \"visits\": %ld, \"minutes\": %.0f, \"grams\": %.0f, \"crossed\": %ld, "
           "\"planned_more\": %ld, \"crossed_first\": %ld, \"promises\": %ld, \"in_promise\": %ld, \"promised\": %.0f, "
           "\"expected\": %.2f, \"reached\": %ld, \"stuck\": %ld, \"unfinished\": %ld, \"seconds\": %.2f,\n   \"crossed_of\": {",
           name, t->tubs, t->acted, t->visits, t->minutes, t->grams, t->crossed, t->planned_more, t->crossed_first, t->promises,
           t->in_promise, t->promised, t->expected, t->reached, t->stuck, t->unfinished, t->seconds);
    for (int of = 0; of < REAL_QUANTITIES; of++)
        printf("\"%s\": %ld%s", OF[of], t->crossed_of[of], of + 1 < REAL_QUANTITIES ? ", " : "},\n   \"held_90\": {");
    for (int of = 0; of <= REAL_QUANTITIES; of++)
        printf("\"%s\": %ld, ", HELD[of], t->held[of]);
    printf("\"of\": %ld},\n   \"grams_of\": {", t->looked);
    int some = 0;
    for (int s = 0; s < TW_SUBSTANCES; s++)
        if (t->grams_of[s] > 0.0)
            printf("%s\"%s\": %.0f", some++ ? ", " : "", tw_dose_substances[s].id, t->grams_of[s]);
    printf("}}%s\n", last ? "" : ",");
}

int main(int argc, char **argv)
{
    static tally found[2][TRIAL_WAYS];
    const long tubs = argc > 1 ? strtol(argv[1], NULL, 10) : 200, first = argc > 2 ? strtol(argv[2], NULL, 10) : 1;
    const size_t members = argc > 3 ? (size_t)strtol(argv[3], NULL, 10) : 1000;
    const char *ways = argc > 4 ? argv[4] : "ctho";
    const size_t bytes = (size_t)64 << 20;
    void *mem = malloc(bytes);
    if (mem == NULL || members < 2 || members > BELIEF_MOST / 2)
        return 2;
    for (int wrong = 0; wrong <= (strchr(ways, 'w') != NULL); wrong++)
        for (int way = 0; way < TRIAL_WAYS; way++) {
            if (strchr(ways, TRIAL_WAY[way][0]) == NULL || (wrong && way != TRIAL_COURSE && way != TRIAL_HALF))
                continue;
            const clock_t began = clock();
            for (long k = 0; k < tubs; k++) {
                trial_result r;
                trial_play((uint64_t)(first + k), way, wrong, members, mem, bytes, &r);
                count(&found[wrong][way], &r);
                if (getenv("TRIAL_TELL") != NULL && (r.crossed || r.stuck || r.visits == TRIAL_VISITS || (r.promised > 0 && !(r.reached_at > 0 && r.reached_at <= r.promised))))
                    fprintf(stderr, "%s seed %ld: visits %d promised %d reached %d crossed %d first %d stuck %d ph%d ta%d ca%d salt%d fc%d cya%d\n", TRIAL_WAY[way], first + k, r.visits,
                            r.promised, r.reached_at, r.crossed, r.crossed_first, r.stuck, r.crossed_of[0], r.crossed_of[1], r.crossed_of[2], r.crossed_of[3], r.crossed_of[4], r.crossed_of[5]);
            }
            found[wrong][way].seconds = (double)(clock() - began) / CLOCKS_PER_SEC;
        }
    printf("{\n");
    for (int wrong = 0; wrong <= (strchr(ways, 'w') != NULL); wrong++) {
        printf(" \"%s\": {\n", wrong ? "wrong" : "right");
        int left = 0;
        for (int way = 0; way < TRIAL_WAYS; way++)
            left += found[wrong][way].tubs > 0;
        for (int way = 0; way < TRIAL_WAYS; way++)
            if (found[wrong][way].tubs > 0)
                write(TRIAL_WAY[way], &found[wrong][way], --left == 0);
        printf(" }%s\n", wrong < (strchr(ways, 'w') != NULL) ? "," : "");
    }
    printf("}\n");
    free(mem);
    return 0;
}
