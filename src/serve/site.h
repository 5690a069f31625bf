/* serve/site.h: the files of the page, embedded when the program was built (tools/site.py). */
#ifndef TW_SERVE_SITE_H
#define TW_SERVE_SITE_H

#include <stddef.h>

/* One file: as it is, and packed by gzip. */
typedef struct {
    const char *path; /* "/app/main.js"; "/" for the page itself */
    const char *type; /* media type                              */
    const char *tag;  /* ETag with its quotes                    */
    const unsigned char *plain, *plain_end, *packed, *packed_end;
} tw_site_file;

/* All of them, and how many: none where the program was built without the page. */
extern const tw_site_file tw_site_files[];
extern const size_t tw_site_count;

#endif
