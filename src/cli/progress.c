/* cli/progress.c: a timer's signal writes one line; only calls that a signal handler may make. */
#define _XOPEN_SOURCE 700

#include "cli/progress.h"

#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/time.h>
#include <unistd.h>

static const char *said_what = "";
static volatile sig_atomic_t shown;
static volatile sig_atomic_t running;

static void say(const char *text, size_t n)
{
    /* A terminal that takes no more is no reason to fail. */
    (void)!write(STDERR_FILENO, text, n);
}

static void show(int signal_number)
{
    const int kept = errno;
    (void)signal_number;
    if (running && !shown) {
        say(said_what, strlen(said_what));
        say(" ...", 4);
        shown = 1;
    } else if (running) {
        say(".", 1);
    }
    errno = kept;
}

void tw_cli_progress_begin(const tw_cli *cli, const char *what)
{
    if (cli->json || !isatty(STDERR_FILENO))
        return;
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_handler = show;
    action.sa_flags = SA_RESTART;
    (void)sigemptyset(&action.sa_mask);
    said_what = tw_cli_say(cli, what);
    shown = 0;
    running = 1;
    const struct itimerval every = {.it_interval = {1, 0}, .it_value = {1, 0}};
    if (sigaction(SIGALRM, &action, NULL) != 0 || setitimer(ITIMER_REAL, &every, NULL) != 0)
        running = 0;
}

void tw_cli_progress_end(void)
{
    static const char WIPE[] = "\r\033[K";
    const struct itimerval never = {{0, 0}, {0, 0}};
    if (!running)
        return;
    (void)setitimer(ITIMER_REAL, &never, NULL);
    running = 0;
    if (shown)
        say(WIPE, sizeof WIPE - 1);
}
