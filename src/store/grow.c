/* store/grow.c: an array that becomes longer. */
#include "store/grow.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define LEAST 16

int tw_store_grow(void *array, size_t *room, size_t need, size_t size)
{
    void *at = NULL;
    if (need <= *room && *room > 0)
        return 1;
    const size_t twice = *room <= SIZE_MAX / 2 ? 2 * *room : SIZE_MAX;
    size_t more = twice > need ? twice : need;
    more = more > LEAST ? more : LEAST;
    if (more > SIZE_MAX / size)
        return 0;
    memcpy(&at, array, sizeof at); /* a pointer to any object has this form, on every system with POSIX */
    at = realloc(at, more * size);
    if (at == NULL)
        return 0;
    memcpy(array, &at, sizeof at);
    *room = more;
    return 1;
}
