/* logbook/chain.h: each installation's chain of entries, and the seal of a logbook.
 *
 * A writer numbers its entries from 1 and each names the SHA-256 of the one before. What this can
 * show: an entry altered, missing from the middle, or numbered twice (a copied installation). What
 * it cannot: an end cut off, or a chain rewritten whole, unless a seal was kept elsewhere; nor that
 * a reading was true. docs/logbook-format.md says so to people. */
#ifndef TW_LOGBOOK_CHAIN_H
#define TW_LOGBOOK_CHAIN_H

#include <stddef.h>
#include <stdint.h>

#include "logbook/book.h"
#include "num/sha256.h"

/* An entry that no entry of its writer names as the one before. A whole chain has one head. */
typedef struct {
    tw_text writer;
    uint32_t n;
    const tw_entry *entry;
    const uint8_t *hash; /* SHA-256 of the entry's line */
} tw_chain_head;

/* Heads in order of writer, then n, then hash. *count is the number that there are, also when cap
 * is smaller (TW_ERR_CAPACITY). */
tw_status tw_logbook_chain_heads(const tw_book *book, tw_chain_head *out, size_t cap, size_t *count);

/* The seal: SHA-256 over one line "WRITER N HASH\n" for each head (hash in lower-case hexadecimal).
 * The seal of an empty book is the SHA-256 of nothing. */
void tw_logbook_chain_seal(const tw_book *book, uint8_t out[TW_SHA256_BYTES]);

typedef enum tw_chain_fault {
    TW_CHAIN_MISSING, /* entries n..last of this writer are not here                                */
    TW_CHAIN_ALTERED, /* entry n is not what the entry after it names as the one before: n was altered, or
                         what the one after it names (then its own follower does not fit either)     */
    TW_CHAIN_FORKED,  /* more than one entry has this number: a restored or copied logbook went on,
                         or one of them was made up                                                  */
    TW_CHAIN_FAULTS
} tw_chain_fault;

typedef struct {
    tw_chain_fault kind;
    tw_text writer;
    uint32_t n, last;      /* last: MISSING only, else n                                             */
    const tw_entry *entry; /* the altered or forked one; NULL when missing                           */
    const tw_entry *after; /* the entry that names another one before it, or the one after the gap   */
    const uint8_t *hash;   /* SHA-256 of entry's line; NULL when missing                             */
    tw_text named;         /* what `after` names as the hash before it, 64 digits; else empty        */
} tw_chain_trouble;

/* Everything that is wrong with the chains, in order of writer and n. TW_OK also when something is
 * wrong: look at *count. TW_ERR_CAPACITY as above. */
tw_status tw_logbook_chain_verify(const tw_book *book, tw_chain_trouble *out, size_t cap, size_t *count);

/* Number and hash of a writer's last entry, for the next one: *n is 0 when it has none. With a
 * fork, the highest number and of these the smallest hash. */
void tw_logbook_chain_last(const tw_book *book, tw_text writer, uint32_t *n, uint8_t hash[TW_SHA256_BYTES]);

/* Name of a kind of trouble ("altered"). Never NULL. */
const char *tw_logbook_chain_fault_name(tw_chain_fault kind);

#endif
