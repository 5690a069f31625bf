/* serve/lines.c: sockets: one that listens, and the connections, so that those that only drip can be ended. */
#define _GNU_SOURCE

#include <arpa/inet.h>
#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "serve/inside.h"

/* As many open files as connections need. */
void tw_serve_raise_files(unsigned connections)
{
    struct rlimit files;
    const rlim_t wanted = (rlim_t)connections + TW_SERVE_SPARE + 64;
    if (getrlimit(RLIMIT_NOFILE, &files) != 0 || files.rlim_cur >= wanted)
        return;
    files.rlim_cur = files.rlim_max == RLIM_INFINITY || files.rlim_max > wanted ? wanted : files.rlim_max;
    (void)setrlimit(RLIMIT_NOFILE, &files);
}

/* A socket that listens at the address, and its port. -1: `why` says what stands against it. */
int tw_serve_listen(tw_serve *serve, char *why, size_t cap)
{
    char port[8];
    struct addrinfo *found = NULL;
    const struct addrinfo hints = {.ai_family = AF_UNSPEC, .ai_socktype = SOCK_STREAM, .ai_flags = AI_PASSIVE | AI_NUMERICSERV};
    (void)snprintf(port, sizeof port, "%u", serve->config.port);
    const int error = getaddrinfo(serve->config.address, port, &hints, &found);
    if (error != 0) {
        (void)snprintf(why, cap, "%s: %s", serve->config.address, gai_strerror(error));
        return -1;
    }
    const int on = 1;
    int listening = socket(found->ai_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (listening >= 0) {
        (void)setsockopt(listening, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
        if (found->ai_family == AF_INET6)
            (void)setsockopt(listening, IPPROTO_IPV6, IPV6_V6ONLY, &on, sizeof on);
    }
    if (listening < 0 || bind(listening, found->ai_addr, found->ai_addrlen) != 0 || listen(listening, 1024) != 0) {
        (void)snprintf(why, cap, "%s port %s: %s", serve->config.address, port, strerror(errno));
        if (listening >= 0)
            (void)close(listening);
        listening = -1;
    }
    freeaddrinfo(found);
    struct sockaddr_in6 bound; /* the port stands at the same place for both families */
    socklen_t n = sizeof bound;
    if (listening >= 0 && getsockname(listening, (struct sockaddr *)&bound, &n) == 0)
        serve->port = ntohs(bound.sin6_port);
    return listening;
}

enum MHD_Result tw_serve_line_may(void *of, const struct sockaddr *address, socklen_t n)
{
    tw_serve *serve = of;
    (void)address;
    (void)n;
    (void)pthread_mutex_lock(&serve->lock);
    const int may = serve->lined < (size_t)serve->config.connections + TW_SERVE_SPARE;
    (void)pthread_mutex_unlock(&serve->lock);
    return may ? MHD_YES : MHD_NO;
}

void tw_serve_line_changed(void *of, struct MHD_Connection *connection, void **context, enum MHD_ConnectionNotificationCode code)
{
    tw_serve *serve = of;
    tw_serve_line *line = *context;
    if (code == MHD_CONNECTION_NOTIFY_STARTED) {
        const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
        line = calloc(1, sizeof *line);
        if (line == NULL || info == NULL) {
            free(line);
            return;
        }
        line->socket = info->connect_fd;
        line->since_ms = tw_serve_ms();
        line->first = 1;
        (void)pthread_mutex_lock(&serve->lock);
        line->next = serve->lines;
        if (serve->lines != NULL)
            serve->lines->before = line;
        serve->lines = line;
        line->over = ++serve->lined > serve->config.connections;
        (void)pthread_mutex_unlock(&serve->lock);
        *context = line;
        return;
    }
    if (line == NULL)
        return;
    (void)pthread_mutex_lock(&serve->lock);
    if (line->before != NULL)
        line->before->next = line->next;
    else
        serve->lines = line->next;
    if (line->next != NULL)
        line->next->before = line->before;
    serve->lined--;
    (void)pthread_mutex_unlock(&serve->lock);
    free(line);
    *context = NULL;
}

/* The library counts silence, so who sends a byte now and then is never silent. Here the age counts: of a head, of a body, of
 * an answer that nobody fetches. Shut down, not closed: the library notices and cleans up itself. */
void tw_serve_end_drips(tw_serve *serve)
{
    const uint64_t now = tw_serve_ms();
    const uint64_t patience = (uint64_t)serve->config.patience_s * 1000u;
    (void)pthread_mutex_lock(&serve->lock);
    for (tw_serve_line *line = serve->lines; line != NULL; line = line->next) {
        const uint64_t age = now - line->since_ms;
        /* A connection that is kept alive may be idle as long before its next head. */
        const uint64_t most = line->phase == TW_PHASE_HEAD ? (line->first ? patience : 2 * patience)
            : line->phase == TW_PHASE_BODY ? 3 * patience : line->phase == TW_PHASE_WORK ? 30 * patience : UINT64_MAX;
        if (age > most)
            (void)shutdown(line->socket, SHUT_RDWR);
    }
    (void)pthread_mutex_unlock(&serve->lock);
}
