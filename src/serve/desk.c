/* serve/desk.c: the queue of a desk and its thread. */
#define _POSIX_C_SOURCE 200809L

#include "serve/desk.h"

#include <string.h>
#include <time.h>

/* The next job, waited for a second at most; NULL: none came. Called with the lock. */
static tw_serve_job *next_job(tw_serve_desk *desk)
{
    struct timespec until;
    (void)clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += 1;
    if (desk->first == NULL && !desk->ends)
        (void)pthread_cond_timedwait(&desk->wake, &desk->lock, &until);
    tw_serve_job *job = desk->first;
    if (job != NULL) {
        desk->first = job->next;
        if (desk->first == NULL)
            desk->last = NULL;
        desk->waiting--;
        desk->works = 1;
    }
    return job;
}

static void *work(void *of)
{
    tw_serve_desk *desk = of;
    time_t ticked = 0;
    (void)pthread_mutex_lock(&desk->lock);
    for (;;) {
        tw_serve_job *job = next_job(desk);
        if (job == NULL && desk->ends)
            break;
        (void)pthread_mutex_unlock(&desk->lock);
        if (job != NULL)
            job->run(job);
        struct timespec now;
        (void)clock_gettime(CLOCK_MONOTONIC, &now);
        if (desk->tick != NULL && now.tv_sec != ticked) {
            ticked = now.tv_sec;
            desk->tick(desk->of);
        }
        (void)pthread_mutex_lock(&desk->lock);
        desk->works = 0;
    }
    (void)pthread_mutex_unlock(&desk->lock);
    return NULL;
}

int tw_serve_desk_open(tw_serve_desk *desk, size_t most, void (*tick)(void *of), void *of)
{
    memset(desk, 0, sizeof *desk);
    desk->most = most;
    desk->tick = tick;
    desk->of = of;
    if (pthread_mutex_init(&desk->lock, NULL) != 0)
        return 0;
    if (pthread_cond_init(&desk->wake, NULL) != 0 || pthread_create(&desk->thread, NULL, work, desk) != 0)
        return 0;
    desk->open = 1;
    return 1;
}

int tw_serve_desk_put(tw_serve_desk *desk, tw_serve_job *job)
{
    (void)pthread_mutex_lock(&desk->lock);
    const int taken = desk->waiting < desk->most && !desk->ends;
    if (taken) {
        job->next = NULL;
        if (desk->last != NULL)
            desk->last->next = job;
        else
            desk->first = job;
        desk->last = job;
        desk->waiting++;
        (void)pthread_cond_signal(&desk->wake);
    }
    (void)pthread_mutex_unlock(&desk->lock);
    return taken;
}

int tw_serve_desk_idle(tw_serve_desk *desk)
{
    (void)pthread_mutex_lock(&desk->lock);
    const int idle = desk->first == NULL && !desk->works;
    (void)pthread_mutex_unlock(&desk->lock);
    return idle;
}

void tw_serve_desk_close(tw_serve_desk *desk)
{
    if (!desk->open)
        return;
    (void)pthread_mutex_lock(&desk->lock);
    desk->ends = 1;
    (void)pthread_cond_signal(&desk->wake);
    (void)pthread_mutex_unlock(&desk->lock);
    (void)pthread_join(desk->thread, NULL);
    desk->open = 0; /* the lock stays: whoever still hands something in is told that it is too late */
}
