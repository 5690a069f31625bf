/* store/grow.c: an array that becomes longer. */
#include "store/grow.h"

#include <stdint.h>
#include <stdlib.h>

#define LEAST 16

void *tw_store_grow(void *array, size_t *room, size_t need, size_t size)
{
    if (array != NULL && need <= *room)
        return array;
    const size_t twice = *room <= SIZE_MAX / 2 ? 2 * *room : SIZE_MAX;
    size_t more = twice > need ? twice : need;
    more = more > LEAST ? more : LEAST;
    if (more > SIZE_MAX / size)
        return NULL;
    void *moved = realloc(array, more * size);
    if (moved != NULL)
        *room = more;
    return moved;
}
