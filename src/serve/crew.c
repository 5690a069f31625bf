/* serve/crew.c: see crew.h. Whoever is free takes the next part, the caller too: a thread that wakes late holds up nobody. Work comes
 * thousands of times in a fold, a fraction of a millisecond after the last and half a millisecond long: to fall asleep and be woken
 * in between costs a tenth of it, so whoever waits looks about for a while first. */
#define _POSIX_C_SOURCE 200809L
#include "serve/crew.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <unistd.h>

typedef struct {
    tw_crew crew; /* first: what the caller knows */
    pthread_t thread[TW_MOST_HANDS];
    size_t threads;
    int started;
    pthread_mutex_t lock; /* of the following */
    pthread_cond_t work, done;
    void (*job)(void *arg, size_t hand, size_t part);
    void *arg;
    size_t begun;         /* threads that have */
    size_t next, parts;   /* the part that nobody took yet; how many */
    atomic_size_t left;   /* how many are not done; read without the lock too, as is turn */
    atomic_size_t turn;   /* how often there was work */
    int ending;
} pool;

#define LOOKS 4000 /* before falling asleep: 0.1 ms (measured on one processor) */

/* Until a number is this one, or no longer this one; or for a while. */
static void look_about(atomic_size_t *number, size_t this, int until)
{
    for (int i = 0; i < LOOKS && (atomic_load_explicit(number, memory_order_relaxed) == this) != until; i++) {
#ifdef __x86_64__
        __builtin_ia32_pause();
#endif
    }
}

/* Take and do parts until none is left to take. The lock is held before and after. */
static void do_parts(pool *p, size_t hand)
{
    while (p->next < p->parts) {
        const size_t part = p->next++;
        (void)pthread_mutex_unlock(&p->lock);
        p->job(p->arg, hand, part);
        (void)pthread_mutex_lock(&p->lock);
        if (atomic_fetch_sub(&p->left, 1) == 1)
            (void)pthread_cond_signal(&p->done);
    }
}

static void *live(void *arg)
{
    pool *p = arg;
    (void)pthread_mutex_lock(&p->lock);
    const size_t hand = ++p->begun;
    while (!p->ending) {
        do_parts(p, hand);
        const size_t turn = p->turn;
        (void)pthread_mutex_unlock(&p->lock);
        look_about(&p->turn, turn, 0);
        (void)pthread_mutex_lock(&p->lock);
        while (p->turn == turn && !p->ending)
            (void)pthread_cond_wait(&p->work, &p->lock);
    }
    (void)pthread_mutex_unlock(&p->lock);
    return NULL;
}

/* Those that cannot be had are not missed: parts are done by whoever is there. */
static void begin_threads(pool *p)
{
    p->started = 1;
    while (p->threads + 1 < p->crew.hands && pthread_create(&p->thread[p->threads], NULL, live, p) == 0)
        p->threads++;
}

static void run(tw_crew *crew, void (*job)(void *arg, size_t hand, size_t part), void *arg, size_t parts)
{
    pool *p = (pool *)crew;
    if (!p->started)
        begin_threads(p);
    (void)pthread_mutex_lock(&p->lock);
    p->job = job;
    p->arg = arg;
    p->next = 0;
    p->parts = parts;
    p->left = parts;
    p->turn++;
    (void)pthread_cond_broadcast(&p->work);
    do_parts(p, 0);
    (void)pthread_mutex_unlock(&p->lock);
    look_about(&p->left, 0, 1);
    (void)pthread_mutex_lock(&p->lock);
    while (p->left > 0)
        (void)pthread_cond_wait(&p->done, &p->lock);
    p->parts = 0;
    (void)pthread_mutex_unlock(&p->lock);
}

tw_crew *tw_serve_crew_open(size_t hands)
{
    if (hands == 0) {
        const long online = sysconf(_SC_NPROCESSORS_ONLN);
        hands = online > 1 ? (size_t)online : 1;
    }
    hands = hands < TW_MOST_HANDS ? hands : TW_MOST_HANDS;
    if (hands < 2)
        return NULL;
    pool *p = calloc(1, sizeof *p);
    if (p == NULL)
        return NULL;
    p->crew = (tw_crew){run, hands, malloc(tw_estimate_crew_bytes(hands)), tw_estimate_crew_bytes(hands)};
    if (p->crew.mem == NULL) {
        free(p);
        return NULL;
    }
    (void)pthread_mutex_init(&p->lock, NULL);
    (void)pthread_cond_init(&p->work, NULL);
    (void)pthread_cond_init(&p->done, NULL);
    return &p->crew;
}

void tw_serve_crew_close(tw_crew *crew)
{
    if (crew == NULL)
        return;
    pool *p = (pool *)crew;
    (void)pthread_mutex_lock(&p->lock);
    p->ending = 1;
    (void)pthread_cond_broadcast(&p->work);
    (void)pthread_mutex_unlock(&p->lock);
    for (size_t i = 0; i < p->threads; i++)
        (void)pthread_join(p->thread[i], NULL);
    (void)pthread_cond_destroy(&p->work);
    (void)pthread_cond_destroy(&p->done);
    (void)pthread_mutex_destroy(&p->lock);
    free(p->crew.mem);
    free(p);
}
