/* store/grow.h: an array that becomes longer. */
#ifndef TW_STORE_GROW_H
#define TW_STORE_GROW_H

#include <stddef.h>

/* Make room for `need` members of `size` bytes in an array of malloc. What is there stays; the room at least doubles, so that adding one
 * after another takes time in proportion.
 *   array  address of the pointer to the array (of whatever type; NULL is the empty one), which may move
 *   room   members that there is room for; afterwards at least one
 * 0: there is no memory, or no such amount of it; array and room are as they were. */
int tw_store_grow(void *array, size_t *room, size_t need, size_t size);

#endif
