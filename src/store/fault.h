/* store/fault.h: what is wrong with a logbook file, as a name and a sentence for people.
 *
 * Each name has one tw_status and one sentence; the sentence says what to do next. */
#ifndef TW_STORE_FAULT_H
#define TW_STORE_FAULT_H

#include "num/status.h"

typedef enum tw_store_trouble {
    TW_STORE_FINE,
    TW_STORE_NO_FILE,       /* TW_ERR_MISSING   there is no file of this name              */
    TW_STORE_NO_FOLDER,     /* TW_ERR_MISSING   its folder is not there                    */
    TW_STORE_IS_FOLDER,     /* TW_ERR_DAMAGED   the name is a folder's                     */
    TW_STORE_NO_FILE_KIND,  /* TW_ERR_DAMAGED   a device, a pipe or a socket               */
    TW_STORE_LINK_LOOP,     /* TW_ERR_MISSING   links that lead in a circle                */
    TW_STORE_NAME_LONG,     /* TW_ERR_MISSING   the name is too long                       */
    TW_STORE_FORBIDDEN,     /* TW_ERR_IO        the file may not be opened                 */
    TW_STORE_READ_ONLY,     /* TW_ERR_READ_ONLY file, folder or disk is read-only          */
    TW_STORE_NO_DATABASE,   /* TW_ERR_DAMAGED   the file is something else                 */
    TW_STORE_FOREIGN,       /* TW_ERR_DAMAGED   a database of another program              */
    TW_STORE_NEWER,         /* TW_ERR_NEWER     a newer version made it                    */
    TW_STORE_CUT,           /* TW_ERR_DAMAGED   the file is shorter than it says           */
    TW_STORE_DAMAGED,       /* TW_ERR_DAMAGED   pages or lines are not as they were written */
    TW_STORE_SCHEMA_ODD,    /* TW_ERR_DAMAGED   tables or guards are not those of a logbook */
    TW_STORE_LOCKED,        /* TW_ERR_LOCKED    another program holds it                   */
    TW_STORE_FULL,          /* TW_ERR_FULL      no space is left on the disk               */
    TW_STORE_IO,            /* TW_ERR_IO        the disk reports an error                  */
    TW_STORE_NO_MEMORY,     /* TW_ERR_CAPACITY  no memory                                  */
    TW_STORE_ENTRY,         /* of the check     a line is not as it must be                */
    TW_STORE_TROUBLES
} tw_store_trouble;

/* Room for the detail of a fault, with its zero. */
#define TW_STORE_DETAIL_BYTES 1024

typedef struct tw_store_fault {
    tw_store_trouble id;
    tw_status status;
    char detail[TW_STORE_DETAIL_BYTES]; /* what the system or the check says more exactly, "" when nothing */
} tw_store_fault;

/* The name as a word ("no-folder"), for problem objects and tests. Never NULL. */
const char *tw_store_trouble_name(tw_store_trouble id);

/* What is wrong, one sentence; and what to do next. Never NULL. */
const char *tw_store_trouble_text(tw_store_trouble id);
const char *tw_store_trouble_remedy(tw_store_trouble id);

/* The status of a name; TW_ERR_FORMAT for TW_STORE_ENTRY (the fault itself has the exact one). */
tw_status tw_store_trouble_status(tw_store_trouble id);

/* Advanced: fill a fault (may be NULL) and return its status; detail may be NULL. */
tw_status tw_store_fault_set(tw_store_fault *fault, tw_store_trouble id, const char *detail);

#endif
