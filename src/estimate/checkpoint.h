/* estimate/checkpoint.h: a belief as bytes, a cache and nothing more.
 *
 * Little-endian doubles behind a header that names everything the belief came from. A key that does
 * not match throws the checkpoint away; it is never converted. */
#ifndef TW_ESTIMATE_CHECKPOINT_H
#define TW_ESTIMATE_CHECKPOINT_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"
#include "estimate/fold.h"
#include "num/status.h"

typedef struct {
    uint8_t core[32];    /* digest of the program's core         */
    uint8_t tables[32];  /* digest of its tables                 */
    uint8_t entries[32]; /* digest of the entries folded         */
    int64_t at_utc_s;    /* the hour it was folded to            */
    uint32_t members;
} tw_checkpoint_key;

/* Bytes of a checkpoint of n members. */
size_t tw_estimate_checkpoint_bytes(size_t n);

/* Write. TW_ERR_CAPACITY when cap is too small; *length gets what was written. */
tw_status tw_estimate_checkpoint_write(const tw_belief *belief, const tw_checkpoint_key *key,
                                       uint8_t *out, size_t cap, size_t *length);

/* Read into a belief whose arrays lie in mem (tw_estimate_belief_bytes(members)).
 *   TW_ERR_MISSING   the key is another one: fold again
 *   TW_ERR_DAMAGED   length or digest is wrong: fold again
 *   TW_ERR_CAPACITY  mem is too small */
tw_status tw_estimate_checkpoint_read(const uint8_t *in, size_t length,
                                      const tw_checkpoint_key *key, void *mem, size_t bytes,
                                      tw_belief *out);

/* The key that stands at the head of a checkpoint; TW_ERR_DAMAGED: it is none. Nothing else of it is looked at. */
tw_status tw_estimate_checkpoint_key(const uint8_t *in, size_t length, tw_checkpoint_key *out);

/* What was settled (fold.h), of a checkpoint of its belief whose key names its key under `entries`; into the memory of the
 * fold to come. Statuses as above; out->there is then 0. */
tw_status tw_estimate_settled_read(const uint8_t *in, size_t length, const tw_checkpoint_key *key, const tw_estimate_options *options,
                                   void *mem, size_t bytes, tw_settled *out);

/* Bytes for the arrays of a belief of n members. */
size_t tw_estimate_belief_bytes(size_t n);

/* What earlier waters taught, as bytes: always as many. core: digest of the program's core, as in the key. read:
 * TW_ERR_MISSING of another core, TW_ERR_DAMAGED; the shelf is then empty. */
size_t tw_estimate_shelf_bytes(void);
void tw_estimate_shelf_write(const tw_taught_shelf *shelf, const uint8_t core[32], uint8_t *out);
tw_status tw_estimate_shelf_read(const uint8_t *in, size_t length, const uint8_t core[32], tw_taught_shelf *out);

#endif
