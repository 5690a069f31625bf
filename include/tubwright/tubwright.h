/* tubwright.h: the core of Tubwright as a library.
 *
 * A core holds the entries of one logbook in memory that you give it and answers questions about
 * them. It reads no clock, no file and no network; the same entries and the same question give the
 * same bytes on every machine. Entries are canonical lines (docs/logbook-format.md), questions and
 * answers are described in docs/answers.md. Not for two threads at once. */
#ifndef TUBWRIGHT_H
#define TUBWRIGHT_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct tw_core tw_core;

/* Version of the program ("0.1.0"). */
const char *tw_core_version(void);

/* Bytes of memory for a core that holds so many entries with so many bytes of lines altogether. */
size_t tw_core_bytes(size_t max_entries, size_t max_text);

/* An empty core in mem (aligned for double, at least tw_core_bytes()). Returns 0, or a status:
 * every function below does; tw_core_status_text() says what it means. */
int tw_core_init(void *mem, size_t bytes, size_t max_entries, size_t max_text, tw_core **out);

/* Add one line (n bytes, no line end). Adding it again changes nothing; the order does not matter.
 * When it is refused, fault (may be NULL) gets a sentence that names field, value and what is
 * allowed, zero-ended. */
int tw_core_add_line(tw_core *core, const char *line, size_t n, char *fault, size_t fault_cap);

/* Ask. question is a word and its options, "now tub=Barn at=2026-03-24T10:40:00+01:00 as=json".
 *   at=   the clock, required      tub=  id of the tub (or its name, blanks as %20)
 *   as=   json (default) or text
 * out gets the answer (not zero-ended), *length its bytes. */
int tw_core_ask(tw_core *core, const char *question, size_t n, char *out, size_t cap, size_t *length);

/* Answer in another language from now on: n bytes of a pack (docs/how-to-add.md), which stay
 * yours and must stay where they are; n 0: English again. Only words change: numbers, ids, keys and digests are the same.
 * A pack that does not fit this program is refused and the language is English; fault (may be NULL) says why, zero-ended. */
int tw_core_language(tw_core *core, const void *bytes, size_t n, char *fault, size_t fault_cap);

/* How the last answer ended, as an exit code: 0 answered, 1 something was asked back, 4 the tub is
 * stopped or closed, 6 entries of a newer version: no addition is advised. */
int tw_core_outcome(const tw_core *core);

/* What was worked out of a tub for the last answer, as bytes to keep somewhere: a cache and nothing more. Until the tub's
 * next entry it saves the most of every answer, at any later time; an answer has the same bytes with it and without.
 *   program  32 bytes that name this program and no other, such as the SHA-256 of its file
 * keep: *length 0 and a status when nothing was worked out or a line came in since; tw_core_keep_bytes() are enough.
 * kept: the bytes stay yours and must stay where they are until kept is called again (n 0: forget them). Bytes that are
 * damaged, of another program, of other entries or another tub are passed over in silence. */
size_t tw_core_keep_bytes(void);
int tw_core_keep(tw_core *core, const uint8_t program[32], void *out, size_t cap, size_t *length);
void tw_core_kept(tw_core *core, const uint8_t program[32], const void *bytes, size_t n);

/* The sentence of a status. Never NULL. */
const char *tw_core_status_text(int status);

#ifdef __cplusplus
}
#endif

#endif
