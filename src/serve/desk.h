/* serve/desk.h: a desk: one thread that does one job after the other. */
#ifndef TW_SERVE_DESK_H
#define TW_SERVE_DESK_H

#include <pthread.h>
#include <stddef.h>

/* A job; it stands inside what it is about. */
typedef struct tw_serve_job {
    struct tw_serve_job *next;
    void (*run)(struct tw_serve_job *job);
} tw_serve_job;

typedef struct {
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t wake;
    tw_serve_job *first, *last;
    size_t waiting, most;      /* jobs that wait, and how many may */
    void (*tick)(void *of);    /* once a second when nothing waits; NULL: never */
    void *of;
    int ends, open, works;     /* works: 1 while a job is being done */
} tw_serve_desk;

/* Open a desk. 0: no thread could be had. */
int tw_serve_desk_open(tw_serve_desk *desk, size_t most, void (*tick)(void *of), void *of);

/* Hand in a job. 0: too many wait already; nothing happens with it. */
int tw_serve_desk_put(tw_serve_desk *desk, tw_serve_job *job);

/* 1 when nothing waits and nothing is being done. */
int tw_serve_desk_idle(tw_serve_desk *desk);

/* Do what waits, then end. Harmless when it was not opened. */
void tw_serve_desk_close(tw_serve_desk *desk);

#endif
