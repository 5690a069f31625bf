/* wasm/wasm.h: the core as a WebAssembly module: one buffer, lines in, questions in, answers out.
 *
 * The module imports its memory alone and allocates nothing. The memory may be shared: then other instances on it, each on a
 * thread of its own, help with a fold (tw_wasm_hands). A page writes bytes at tw_wasm_buffer() and calls
 * with their number; the answer, or the sentence of a refusal, lies at tw_wasm_answer(). Entries are
 * composed and chained here too, so that a phone writes the bytes that every other face would. */
#ifndef TW_WASM_WASM_H
#define TW_WASM_WASM_H

#include <stdint.h>

#define TW_WASM_ENTRIES 8192          /* most entries that a module holds at first  */
#define TW_WASM_TEXT (4u << 20)       /* bytes of all their lines together, at first */
#define TW_WASM_TEXT_MOST (128u << 20) /* and at most                               */
#define TW_WASM_BUFFER (1u << 20)     /* longest question or line          */
#define TW_WASM_ANSWER (4u << 20)     /* longest answer                    */
#define TW_WASM_PACK (1u << 17)       /* most bytes of a language          */
#define TW_WASM_KEPT (1u << 19)       /* most bytes of what is kept of a tub (tw_core_keep_bytes) */
#define TW_WASM_HANDS 4               /* most threads that share the work of a fold */

/* Begin with an empty logbook. Returns 0, or a status. Called by itself before the first line. */
int32_t tw_wasm_reset(void);

/* The same with room for so many entries whose lines have so many bytes together; memory grows to it and never shrinks.
 * TW_ERR_CAPACITY when there is no such memory; then the room is as it was, and empty. */
int32_t tw_wasm_room(uint32_t entries, uint32_t text);

/* Share the work of folds with n - 1 other instances, 1..TW_WASM_HANDS of all; before anything else is called, and only where
 * the memory is shared and this thread may wait. Answers stay the same to the bit, also while nobody has come to help yet. 0,
 * TW_ERR_RANGE, or TW_ERR_CAPACITY when there is no memory for it: then folds are worked out alone. */
int32_t tw_wasm_hands(uint32_t n);

/* Of another instance on the same memory, the hand'th from 1: the end of its stack, for its __stack_pointer; and its work, from
 * which it never comes back. */
uint32_t tw_wasm_stack(uint32_t hand);
void tw_wasm_help(uint32_t hand);

/* Where to write n bytes of a line or a question; 0 when there is no room for so many. */
uint8_t *tw_wasm_buffer(uint32_t n);

/* Add the line of n bytes that lies in the buffer. 0, or a status; then a sentence is the answer. */
int32_t tw_wasm_add_line(uint32_t n);

/* Compose an entry from the fields as typed that lie in the buffer: name, zero, value, zero, and so on in any
 * order, without writer, n and prev. 0 and the draft is the answer; or a status and the answer is three texts with a zero between
 * them: the sentence, the name of the field (may be empty) and the value. */
int32_t tw_wasm_draft(uint32_t n);

/* Give the draft in the buffer its place behind the last entry of a writer: the writer's id, a zero, the draft. 0 and the
 * whole line is the answer (not added yet); or as tw_wasm_draft. */
int32_t tw_wasm_chain(uint32_t n);

/* The id of a new entry (UUID version 7) from milliseconds since 1970 and ten random bytes in the buffer. Always 0. */
int32_t tw_wasm_id(double unix_ms);

/* The seal of the logbook as 64 hexadecimal digits. 0, or a status. */
int32_t tw_wasm_seal(void);

/* What was worked out of the tub that was asked about last, to keep with its lines (tw_core_keep): the buffer has 32 bytes that name this program. 0
 * and the answer is what to keep, or a status and nothing. */
int32_t tw_wasm_keep(void);

/* Such bytes given back: 32 bytes that name this program, then the bytes; nothing behind the name forgets them. 0, or a
 * status when there is no room for so many. They are passed over when they do not fit. */
int32_t tw_wasm_kept(uint32_t n);

/* Answer in the language of the pack of n bytes in the buffer (tw_core_language); n 0: in English, as after a reset. 0, or a
 * status; then a sentence is the answer and the language is English. */
int32_t tw_wasm_language(uint32_t n);

/* Ask the question of n bytes that lies in the buffer (include/tubwright/tubwright.h). */
int32_t tw_wasm_ask(uint32_t n);

/* The last answer and its bytes, and how it ended (0 answered, 1 asked back, 4 stopped, 6 newer). */
const uint8_t *tw_wasm_answer(void);
uint32_t tw_wasm_length(void);
int32_t tw_wasm_outcome(void);

#endif
