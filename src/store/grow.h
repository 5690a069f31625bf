/* store/grow.h: an array that becomes longer. */
#ifndef TW_STORE_GROW_H
#define TW_STORE_GROW_H

#include <stddef.h>

/* Make room for `need` members of `size` bytes in an array of malloc; what is there stays, and the array at least doubles, so that adding one after
 * another takes time in proportion. NULL is the empty array.
 *   room  members that there is room for; only ever raised
 * Returns the array, which may have moved; NULL when there is no memory (or no such amount of it): the old one is then as it was, and
 * still the caller's. */
void *tw_store_grow(void *array, size_t *room, size_t need, size_t size);

#endif
