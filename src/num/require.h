/* num/require.h: the promise a caller must keep.
 *
 * TW_REQUIRE(condition) ends the program at once when a caller's bug broke the promise: abort()
 * natively (a debugger or a core file shows the line), which wasi-libc makes a trap in
 * WebAssembly. It writes nothing, stays in every build (NDEBUG does not remove it) and is never
 * used for input: what a person or a file can get wrong is a tw_status. */
#ifndef TW_NUM_REQUIRE_H
#define TW_NUM_REQUIRE_H

#include <stdlib.h>

#define TW_REQUIRE(condition) ((condition) ? (void)0 : abort())

#endif
