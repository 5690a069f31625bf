/* wasm/wasm.h: the core as a WebAssembly module: one buffer, lines in, questions in, answers out.
 *
 * The module imports nothing and allocates nothing. A page writes bytes at tw_wasm_buffer() and calls
 * with their number; the answer, or the sentence of a refusal, lies at tw_wasm_answer(). */
#ifndef TW_WASM_WASM_H
#define TW_WASM_WASM_H

#include <stdint.h>

#define TW_WASM_ENTRIES 8192          /* most entries that a module holds  */
#define TW_WASM_TEXT (4u << 20)       /* bytes of all their lines together */
#define TW_WASM_BUFFER (1u << 20)     /* longest question or line          */
#define TW_WASM_ANSWER (4u << 20)     /* longest answer                    */

/* Begin with an empty logbook. Returns 0, or a status. Called by itself before the first line. */
int32_t tw_wasm_reset(void);

/* Where to write n bytes of a line or a question; 0 when there is no room for so many. */
uint8_t *tw_wasm_buffer(uint32_t n);

/* Add the line of n bytes that lies in the buffer. 0, or a status; then a sentence is the answer. */
int32_t tw_wasm_add_line(uint32_t n);

/* Ask the question of n bytes that lies in the buffer (include/tubwright/tubwright.h). */
int32_t tw_wasm_ask(uint32_t n);

/* The last answer and its bytes, and how it ended (0 answered, 1 asked back, 4 stopped, 6 newer). */
const uint8_t *tw_wasm_answer(void);
uint32_t tw_wasm_length(void);
int32_t tw_wasm_outcome(void);

#endif
