/* tests/support/histories.c: random histories of installations that write, meet and die (tests/sync/history.h).
 *
 *   histories FOLDER SEED COUNT [THOROUGH [WAY]]
 *                                  each from its seed, SEED and on; one line of what they came to. Stops with exit 1 at the
 *                                  first that does not hold, and names its seed and the claim. Every THOROUGH-th
 *                                  one is asked for its card in the end, which takes a second. WAY to the server: store,
 *                                  http or tls. */
#include "../sync/history.h"
#include "../sync/over_http.h"

int main(int argc, char **argv)
{
    static tally total;
    if (argc < 4)
        return 2;
    cut_install();
    const uint64_t seed = strtoull(argv[2], NULL, 10);
    const uint64_t count = strtoull(argv[3], NULL, 10);
    const transport *const ways[] = {&DIRECT, &OVER_HTTP, &OVER_TLS};
    const transport *how = &DIRECT;
    for (size_t i = 0; argc > 5 && i < sizeof ways / sizeof *ways; i++)
        if (strcmp(argv[5], ways[i]->name) == 0)
            how = ways[i];
    const uint64_t thorough = argc > 4 ? strtoull(argv[4], NULL, 10) : count + 1;
    for (uint64_t i = 0; i < count; i++)
        history(how, argv[1], seed + i, (i + 1) % thorough == 0, &total);
    (void)printf("# %lu histories over %s: %lu entries acknowledged, %lu unsure, %lu exchanges, %lu messages, %lu lost, %lu doubled, %lu files carried,"
                 " %lu old copies put back, died %lu times\n# planted and found:", total.histories, how->name, total.entries, total.unsure, total.exchanges,
                 total.messages, total.losts, total.doubles, total.files, total.restores, total.died);
    for (int i = 1; i < PLANTS; i++)
        (void)printf(" %s %lu%s", PLANT_NAME[i], total.planted[i], i + 1 < PLANTS ? "," : "\n");
    return 0;
}
