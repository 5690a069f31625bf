/* num/elementary_inline.h: branch-free forms for loops over arrays (placeholder until the next commit). */
#ifndef TW_NUM_ELEMENTARY_INLINE_H
#define TW_NUM_ELEMENTARY_INLINE_H

#include "num/elementary.h"

#endif
