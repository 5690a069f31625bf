/* cli/csv.c: see csv.h. */
#include "cli/csv.h"
#include "store/grow.h"

#include <stdlib.h>
#include <string.h>

#define MAX_BYTES (64u << 20)
#define AT_ONCE 65536 /* bytes that are read at least, and the zero */

static int refuse(tw_cli_csv *csv, const char *fault)
{
    csv->fault = fault;
    return 0;
}

int tw_cli_csv_open(tw_cli_csv *csv, FILE *file)
{
    size_t room = 0;
    memset(csv, 0, sizeof *csv);
    csv->next_line = 1;
    for (;;) {
        if (!tw_store_grow(&csv->data, &room, csv->bytes + AT_ONCE, 1))
            return refuse(csv, "there is not enough memory for the table");
        const size_t got = fread(csv->data + csv->bytes, 1, room - 1 - csv->bytes, file);
        csv->bytes += got;
        if (csv->bytes > MAX_BYTES)
            return refuse(csv, "the table is larger than 64 MB");
        if (got == 0)
            break;
    }
    if (ferror(file))
        return refuse(csv, "reading the table failed");
    csv->data[csv->bytes] = '\0';
    if (memchr(csv->data, '\0', csv->bytes))
        return refuse(csv, "the table holds a zero byte: it is no text");
    if (csv->bytes >= 3 && memcmp(csv->data, "\xEF\xBB\xBF", 3) == 0)
        csv->at = 3;
    return 1;
}

static int is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static int ends_cell(char c)
{
    return c == ',' || c == '\n' || c == '\r' || c == '\0';
}

static int keep(tw_cli_csv *csv, char *cell)
{
    if (!tw_store_grow(&csv->cell, &csv->room, csv->cells + 1, sizeof *csv->cell))
        return refuse(csv, "there is not enough memory for the table");
    csv->cell[csv->cells++] = cell;
    return 1;
}

/* A quoted cell from its quote on; the text moves to the front over the doubled quotes. */
static char *quoted(tw_cli_csv *csv, char **end)
{
    char *from = csv->data + csv->at + 1, *to = from, *start = from;
    for (;; from++) {
        if (*from == '\0') {
            csv->fault = "a quote is never closed";
            return NULL;
        }
        if (*from == '\n')
            csv->next_line++;
        if (*from == '"' && from[1] == '"')
            from++;
        else if (*from == '"')
            break;
        *to++ = *from;
    }
    from++;
    while (is_blank(*from))
        from++;
    if (!ends_cell(*from)) {
        csv->fault = "text stands after a closing quote";
        return NULL;
    }
    csv->at = (size_t)(from - csv->data);
    *end = to;
    return start;
}

static char *plain(tw_cli_csv *csv, char **end)
{
    char *start = csv->data + csv->at, *to = start;
    while (!ends_cell(*to))
        to++;
    csv->at = (size_t)(to - csv->data);
    while (to > start && is_blank(to[-1]))
        to--;
    *end = to;
    return start;
}

/* One row into csv->cell; the separators become the ends of the cells. */
static int read_row(tw_cli_csv *csv)
{
    csv->cells = 0;
    csv->line = csv->next_line;
    for (;;) {
        char *end = NULL;
        while (is_blank(csv->data[csv->at]))
            csv->at++;
        char *cell = csv->data[csv->at] == '"' ? quoted(csv, &end) : plain(csv, &end);
        if (!cell || !keep(csv, cell))
            return -1;
        const char stop = csv->data[csv->at];
        *end = '\0';
        if (stop == ',') {
            csv->at++;
            continue;
        }
        if (stop == '\r' && csv->data[csv->at + 1] == '\n')
            csv->at++;
        if (stop != '\0') {
            csv->at++;
            csv->next_line++;
        }
        return 1;
    }
}

int tw_cli_csv_next(tw_cli_csv *csv)
{
    while (csv->at < csv->bytes) {
        if (read_row(csv) < 0)
            return -1;
        for (size_t i = 0; i < csv->cells; i++)
            if (csv->cell[i][0] != '\0')
                return 1;
    }
    return 0;
}

void tw_cli_csv_close(tw_cli_csv *csv)
{
    free(csv->data);
    free(csv->cell);
    memset(csv, 0, sizeof *csv);
}

int tw_cli_csv_number(const char *cell, double *out)
{
    if (cell[0] == '\0' || strspn(cell, "0123456789.+-eE") != strlen(cell))
        return 0;
    char *end = NULL;
    const double x = strtod(cell, &end);
    if (*end != '\0' || x - x != 0.0)
        return 0;
    *out = x;
    return 1;
}

void tw_cli_csv_write(FILE *file, const char *cell)
{
    if (!cell[strcspn(cell, ",\"\r\n")]) {
        fputs(cell, file);
        return;
    }
    fputc('"', file);
    for (; *cell != '\0'; cell++) {
        if (*cell == '"')
            fputc('"', file);
        fputc(*cell, file);
    }
    fputc('"', file);
}
