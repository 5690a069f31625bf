/* cli/csv.h: rows of a CSV (RFC 4180), forgiving in what tables really look like.
 *
 * Quoted cells with doubled quotes, CR LF or LF, a byte order mark, blank lines, blanks around cells. Comma is
 * the separator. Cells are zero-ended and point into the reader's own copy. */
#ifndef TW_CLI_CSV_H
#define TW_CLI_CSV_H

#include <stddef.h>
#include <stdio.h>

typedef struct {
    char *data;          /* the whole file, zero-ended; freed by tw_cli_csv_close */
    size_t bytes, at;
    unsigned long line;  /* of the row read last, from 1                         */
    unsigned long next_line;
    char **cell;         /* of the row read last                                 */
    size_t cells, room;
    const char *fault;   /* why a row could not be read                          */
} tw_cli_csv;

/* Read all of a file. 1, or 0 with csv->fault (too big, a zero byte, no memory, reading failed). */
int tw_cli_csv_open(tw_cli_csv *csv, FILE *file);

/* The next row that has any text: 1, 0 at the end, -1 with csv->fault (an open quote, text after a quote). */
int tw_cli_csv_next(tw_cli_csv *csv);

/* Give the memory back. */
void tw_cli_csv_close(tw_cli_csv *csv);

/* A number as tables have them: digits, point, exponent. 1, or 0 for anything else (empty, NaN, text). */
int tw_cli_csv_number(const char *cell, double *out);

/* Write a cell, quoted where it must be. */
void tw_cli_csv_write(FILE *file, const char *cell);

#endif
