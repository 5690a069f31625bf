/* cli/solve_table.c: a table in, a table out. */
#include "cli/solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv.h"
#include "store/grow.h"

typedef struct {
    const char *which;
    const tw_solve_column *in;
    const char *const *out;
    void (*row)(tw_solve_row *row); /* NULL: chains */
} table;

static const table TABLES[] = {
    {"equilibrium", tw_cli_solve_equilibrium_in, tw_cli_solve_equilibrium_out, tw_cli_solve_equilibrium_row},
    {"dosing", tw_cli_solve_dosing_in, tw_cli_solve_dosing_out, tw_cli_solve_dosing_row},
    {"chlorine", tw_cli_solve_chlorine_in, tw_cli_solve_chlorine_out, tw_cli_solve_chlorine_row},
    {"chain", tw_cli_solve_chain_in, tw_cli_solve_chain_out, NULL}};

enum { CHAIN_ID = TW_SOLVE_WATER_COLUMNS, CHAIN_STEP };

typedef struct {
    tw_solve_row *row;
    size_t rows, room;
    int column[TW_SOLVE_INPUTS]; /* of each input in the file, -1: not there */
    int id_column;
    char **kept;                 /* copies of words, freed at the end        */
    size_t words, word_room;
} work;

static int fail(FILE *err, const char *which, const char *what)
{
    fprintf(err, "solve %s: %s\n", which, what);
    return 3;
}

/* ------------------------------------------------------------------------------------------- reading */

static int find(const tw_cli_csv *csv, const char *name, int *twice)
{
    int at = -1;
    for (size_t i = 0; i < csv->cells; i++) {
        if (strcmp(csv->cell[i], name) != 0)
            continue;
        *twice |= at >= 0;
        at = (int)i;
    }
    return at;
}

static int may_lack(tw_solve_kind kind)
{
    return kind == TW_SOLVE_NUMBER_OR_EMPTY || kind == TW_SOLVE_WORD_OR_EMPTY;
}

static int read_header(const table *t, const tw_cli_csv *csv, work *w, FILE *err)
{
    int bad = 0, twice = 0;
    w->id_column = find(csv, "case_id", &twice);
    if (w->id_column < 0) {
        fprintf(err, "solve %s: column case_id is missing\n", t->which);
        bad = 1;
    }
    for (int i = 0; t->in[i].name; i++) {
        twice = 0;
        w->column[i] = find(csv, t->in[i].name, &twice);
        if (twice) {
            fprintf(err, "solve %s: column %s stands twice\n", t->which, t->in[i].name);
            bad = 1;
        } else if (w->column[i] < 0 && !may_lack(t->in[i].kind)) {
            fprintf(err, "solve %s: column %s is missing\n", t->which, t->in[i].name);
            bad = 1;
        }
    }
    return !bad;
}

static const char *copy(work *w, const char *text)
{
    if (!tw_store_grow(&w->kept, &w->word_room, w->words + 1, sizeof *w->kept))
        return NULL;
    const size_t n = strlen(text) + 1;
    char *mine = malloc(n);
    if (!mine)
        return NULL;
    memcpy(mine, text, n);
    w->kept[w->words++] = mine;
    return mine;
}

/* One input of a row; the first that is missing or garbled is named. */
static void read_cell(const table *t, int i, const char *cell, tw_solve_row *row)
{
    const tw_solve_kind kind = t->in[i].kind;
    row->in[i] = (double)NAN;
    if (cell[0] == '\0') {
        if (!may_lack(kind) && !row->bad) {
            row->bad = 1;
            snprintf(row->why, sizeof row->why, "%s is empty", t->in[i].name);
        }
        return;
    }
    if (kind == TW_SOLVE_WORD || kind == TW_SOLVE_WORD_OR_EMPTY)
        return;
    if (!tw_cli_csv_number(cell, &row->in[i]) && !row->bad) {
        row->bad = 1;
        snprintf(row->why, sizeof row->why, "%s is '%.60s', which is no number", t->in[i].name, cell);
    }
}

static tw_solve_row *add_row(work *w)
{
    if (!tw_store_grow(&w->row, &w->room, w->rows + 1, sizeof *w->row))
        return NULL;
    tw_solve_row *row = &w->row[w->rows++];
    memset(row, 0, sizeof *row);
    for (int i = 0; i < TW_SOLVE_OUTPUTS; i++)
        row->out[i] = (double)NAN;
    return row;
}

static int read_row(const table *t, const tw_cli_csv *csv, work *w)
{
    tw_solve_row *row = add_row(w);
    if (!row)
        return 0;
    row->line = csv->line;
    row->id = (size_t)w->id_column < csv->cells ? copy(w, csv->cell[w->id_column]) : "";
    for (int i = 0; t->in[i].name; i++) {
        const char *cell = w->column[i] >= 0 && (size_t)w->column[i] < csv->cells ? csv->cell[w->column[i]] : "";
        row->word[i] = t->in[i].kind >= TW_SOLVE_WORD ? copy(w, cell) : "";
        if (!row->word[i])
            return 0;
        read_cell(t, i, cell, row);
    }
    return row->id != NULL;
}

static int read_all(const table *t, tw_cli_csv *csv, work *w, FILE *err)
{
    if (tw_cli_csv_next(csv) <= 0)
        return fail(err, t->which, csv->fault ? csv->fault : "the table is empty");
    if (!read_header(t, csv, w, err))
        return 3;
    int more;
    while ((more = tw_cli_csv_next(csv)) > 0)
        if (!read_row(t, csv, w))
            return fail(err, t->which, "there is not enough memory for the table");
    if (more < 0) {
        fprintf(err, "solve %s: line %lu: %s\n", t->which, csv->line, csv->fault);
        return 3;
    }
    return 0;
}

/* ------------------------------------------------------------------------------------------- chains */

static int by_chain_and_step(const void *a, const void *b)
{
    const tw_solve_row *x = *(tw_solve_row *const *)a, *y = *(tw_solve_row *const *)b;
    const int chain = strcmp(x->word[CHAIN_ID], y->word[CHAIN_ID]);
    if (chain != 0)
        return chain;
    if (x->in[CHAIN_STEP] < y->in[CHAIN_STEP] || x->in[CHAIN_STEP] > y->in[CHAIN_STEP])
        return x->in[CHAIN_STEP] < y->in[CHAIN_STEP] ? -1 : 1;
    return x < y ? -1 : x > y; /* as they stand in the table */
}

static void mark_doubles(tw_solve_row **rows, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        tw_solve_row *row = rows[i];
        if (row->bad || strcmp(row->word[CHAIN_ID], rows[i - 1]->word[CHAIN_ID]) != 0 ||
            row->in[CHAIN_STEP] > rows[i - 1]->in[CHAIN_STEP] || row->in[CHAIN_STEP] < rows[i - 1]->in[CHAIN_STEP])
            continue;
        row->bad = 1;
        snprintf(row->why, sizeof row->why, "step %g of chain '%.60s' stands twice", row->in[CHAIN_STEP],
                 row->word[CHAIN_ID]);
    }
}

/* A row whose step is garbled breaks its chain at the end, where it sorts to: its place is not known. */
static int run_chains(work *w)
{
    if (w->rows == 0)
        return 1;
    tw_solve_row **rows = malloc(w->rows * sizeof *rows);
    if (!rows)
        return 0;
    for (size_t i = 0; i < w->rows; i++) {
        rows[i] = &w->row[i];
        if (!(rows[i]->in[CHAIN_STEP] < 1e300))
            rows[i]->in[CHAIN_STEP] = 1e300;
    }
    qsort(rows, w->rows, sizeof *rows, by_chain_and_step);
    mark_doubles(rows, w->rows);
    for (size_t from = 0; from < w->rows;) {
        size_t to = from + 1;
        while (to < w->rows && strcmp(rows[to]->word[CHAIN_ID], rows[from]->word[CHAIN_ID]) == 0)
            to++;
        tw_cli_solve_chain(rows + from, to - from);
        from = to;
    }
    free(rows);
    return 1;
}

/* ------------------------------------------------------------------------------------------- writing */

/* Which outputs are written: for chlorine those of the shapes that occur, both for an empty table. */
static int is_written(const table *t, const work *w, int column)
{
    if (strcmp(t->which, "chlorine") != 0)
        return 1;
    const int shape = column < TW_SOLVE_CHLORINE_FIRST ? 1 : 2;
    int any = 0;
    for (size_t i = 0; i < w->rows; i++) {
        if (w->row[i].shape == shape)
            return 1;
        any |= w->row[i].shape;
    }
    return any == 0;
}

static void write_all(const table *t, const work *w, FILE *out)
{
    fputs("case_id", out);
    for (int c = 0; t->out[c]; c++)
        if (is_written(t, w, c))
            fprintf(out, ",%s", t->out[c]);
    fputc('\n', out);
    for (size_t i = 0; i < w->rows; i++) {
        tw_cli_csv_write(out, w->row[i].id);
        for (int c = 0; t->out[c]; c++) {
            if (!is_written(t, w, c))
                continue;
            fputc(',', out);
            if (isfinite(w->row[i].out[c]))
                fprintf(out, "%.12g", w->row[i].out[c]);
        }
        fputc('\n', out);
    }
}

static int complain(const table *t, const work *w, FILE *err)
{
    int code = 0;
    for (size_t i = 0; i < w->rows; i++) {
        const tw_solve_row *row = &w->row[i];
        if (row->why[0] == '\0')
            continue;
        fprintf(err, "solve %s: %s (line %lu): %s\n", t->which, row->id, row->line, row->why);
        if (row->bad)
            code = 3;
        else if (code == 0)
            code = 1;
    }
    return code;
}

static int run(const table *t, tw_cli_csv *csv, work *w, FILE *in, FILE *out, FILE *err)
{
    if (!tw_cli_csv_open(csv, in))
        return fail(err, t->which, csv->fault);
    const int code = read_all(t, csv, w, err);
    if (code != 0)
        return code;
    if (t->row) {
        for (size_t i = 0; i < w->rows; i++)
            if (!w->row[i].bad)
                t->row(&w->row[i]);
    } else if (!run_chains(w)) {
        return fail(err, t->which, "there is not enough memory for the table");
    }
    write_all(t, w, out);
    return complain(t, w, err);
}

int tw_cli_solve_table(const char *which, FILE *in, FILE *out, FILE *err)
{
    const table *t = NULL;
    for (size_t i = 0; i < sizeof TABLES / sizeof *TABLES; i++)
        if (strcmp(which, TABLES[i].which) == 0)
            t = &TABLES[i];
    if (!t) {
        fprintf(err, "solve: '%s' is no table; known are equilibrium, dosing, chlorine, chain\n", which);
        return 2;
    }
    tw_cli_csv csv;
    work w;
    memset(&w, 0, sizeof w);
    const int code = run(t, &csv, &w, in, out, err);
    tw_cli_csv_close(&csv);
    for (size_t i = 0; i < w.words; i++)
        free(w.kept[i]);
    free(w.kept);
    free(w.row);
    return code;
}
