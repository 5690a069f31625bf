/* procedure/next.h: for any logbook exactly one next act, or a named reason for none.
 *
 * Guards come first (a newer entry, an incident, what must be gone first, an open intent, a running
 * wait, readings that cannot both be right, warm water without chlorine); then the stages in their
 * order: the first condition that is not met names the act. Pure. Rules and sources: docs/procedure.md. */
#ifndef TW_PROCEDURE_NEXT_H
#define TW_PROCEDURE_NEXT_H

#include <stddef.h>

#include "estimate/belief.h"
#include "estimate/held.h"
#include "logbook/book.h"
#include "procedure/tables.h"

/* Bytes of working memory for a belief of so many members. */
size_t tw_procedure_bytes(size_t members);

/* The next act.
 *   belief   what is known of this tub at `now`; NULL when nothing can be: then no amount is advised
 *   profile  NULL: the tub's own
 *   TW_ERR_CAPACITY  mem too small. "Nothing is due" is TW_OK. */
tw_status tw_procedure_next(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                            const tw_profile *profile, void *mem, size_t bytes, tw_act *out);

/* 1 when the condition is met, set aside or does not apply at `now`. For handover sheets and lists. */
int tw_procedure_met(const tw_book *book, const tw_tub *tub, tw_time now, const tw_belief *belief,
                     const tw_profile *profile, tw_condition condition, void *mem, size_t bytes);

#endif
