/* cli/lines.h: lines of JSON in memory, as export, import and verify use them. */
#ifndef TW_CLI_LINES_H
#define TW_CLI_LINES_H

#include <stdio.h>

#include "cli/book_io.h"
#include "logbook/book.h"

/* Lines one after the other. Zero-filled it is empty. */
typedef struct {
    char *bytes;
    size_t used, room;
    tw_text *line;    /* without line ends; valid after tw_cli_lines_split */
    size_t *number;   /* of each line in its file, from 1                  */
    size_t lines;
} tw_cli_lines;

/* Give the memory back; the struct is empty again. */
void tw_cli_lines_free(tw_cli_lines *lines);

/* Add bytes. 0 when there is no memory. */
int tw_cli_lines_add(tw_cli_lines *lines, const char *bytes, size_t n);

/* Add a line and a line feed; a tw_store_visit. */
tw_status tw_cli_lines_visit(void *lines, tw_text line);

/* All of a file. 0 when reading failed or there is no memory. */
int tw_cli_lines_read(tw_cli_lines *lines, FILE *file);

/* Cut the bytes into lines: line feed or carriage return and line feed end one, empty ones are left out. 0: no
 * memory. */
int tw_cli_lines_split(tw_cli_lines *lines);

/* Check every line as imported. 0, or the exit code after the problem was told: what names the file. */
int tw_cli_lines_check(tw_cli *cli, const tw_cli_lines *lines, const char *what);

/* Tell of a line that is not as it must be; more is what to say behind it. Returns the exit code. */
int tw_cli_lines_bad(tw_cli *cli, const char *what, size_t number, const tw_fault *fault, const char *more);

/* A book of the lines; *left counts those that are no entries. NULL: no memory. free() it. */
tw_book *tw_cli_lines_book(const tw_cli_lines *lines, size_t *left);

/* The seal of a book as text. */
void tw_cli_seal(const tw_book *book, char out[TW_SHA256_HEX]);

/* All lines of a store in the order of export, split. Tub empty: of every tub. 0, or the exit code. */
int tw_cli_lines_export(tw_cli *cli, tw_store *store, tw_text tub, tw_cli_lines *out);

/* Say that there is no memory. */
int tw_cli_no_memory(tw_cli *cli);

#endif
