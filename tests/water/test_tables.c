/* Every row of the reference tables through the command solve's own code, every column within
 * tests/vectors/water/tolerances.csv. USGS PHREEQC with phreeqc.dat, computed; conventions and origin in
 * tests/vectors/water/README.md. Prints the worst difference of each column. */
#include <math.h>

#include "cli/csv.h"
#include "cli/solve.h"
#include "support/check.h"

#define MAX_ROWS 100
#define MAX_COLUMNS 64

/* A table in memory: cells by row and column name. */
typedef struct {
    tw_cli_csv csv;
    char *cell[MAX_ROWS + 1][MAX_COLUMNS]; /* row 0 is the header */
    size_t rows, columns;
} sheet;

static void read_sheet(sheet *s, FILE *file)
{
    memset(s, 0, sizeof *s);
    assert_true(tw_cli_csv_open(&s->csv, file));
    while (tw_cli_csv_next(&s->csv) > 0) {
        assert_true(s->rows <= MAX_ROWS && s->csv.cells <= MAX_COLUMNS);
        for (size_t i = 0; i < s->csv.cells; i++)
            s->cell[s->rows][i] = s->csv.cell[i];
        s->columns = s->rows == 0 ? s->csv.cells : s->columns;
        assert_int_equal(s->csv.cells, s->columns);
        s->rows++;
    }
    assert_null(s->csv.fault);
}

static size_t column_of(const sheet *s, const char *name)
{
    for (size_t i = 0; i < s->columns; i++)
        if (strcmp(s->cell[0][i], name) == 0)
            return i;
    print_error("# no column %s\n", name);
    fail();
    return 0;
}

static double number(const char *cell)
{
    double x = 0.0;
    if (!tw_cli_csv_number(cell, &x)) {
        print_error("# '%s' is no number\n", cell);
        fail();
    }
    return x;
}

static void open_vector(sheet *s, const char *name)
{
    char path[128];
    snprintf(path, sizeof path, "tests/vectors/water/%s.csv", name);
    FILE *file = check_open(path);
    read_sheet(s, file);
    fclose(file);
}

/* Run solve on a file of the vectors. */
static void solve(sheet *got, const char *which, const char *name)
{
    char path[128];
    snprintf(path, sizeof path, "tests/vectors/water/%s.csv", name);
    FILE *in = check_open(path), *out = tmpfile(), *err = tmpfile();
    assert_non_null(out);
    assert_non_null(err);
    assert_int_equal(tw_cli_solve_table(which, in, out, err), 0);
    assert_int_equal(ftell(err), 0);
    rewind(out);
    read_sheet(got, out);
    fclose(in);
    fclose(out);
    fclose(err);
}

/* Every column that tolerances.csv lists for this table, on every row. */
static void compare(const char *which, const char *name, size_t least_rows)
{
    static sheet want, got, tolerance;
    open_vector(&tolerance, "tolerances");
    open_vector(&want, name);
    solve(&got, which, name);
    assert_int_equal(got.rows, want.rows);
    assert_true(want.rows - 1 >= least_rows);
    size_t compared = 0;
    int outside = 0;
    for (size_t t = 1; t < tolerance.rows; t++) {
        if (strcmp(tolerance.cell[t][0], name) != 0)
            continue;
        const char *column = tolerance.cell[t][1];
        const double absolute = number(tolerance.cell[t][2]), relative = number(tolerance.cell[t][3]);
        const size_t from = column_of(&want, column), to = column_of(&got, column);
        double worst = 0.0;
        const char *where = "";
        for (size_t r = 1; r < want.rows; r++) {
            assert_string_equal(want.cell[r][0], got.cell[r][0]);
            const double a = number(want.cell[r][from]), gap = fabs(number(got.cell[r][to]) - a);
            if (!(gap <= absolute + relative * fabs(a))) {
                print_error("# %s %s: %s, wanted %s\n", want.cell[r][0], column, got.cell[r][to], want.cell[r][from]);
                outside++;
            }
            if (gap > worst) {
                worst = gap;
                where = want.cell[r][0];
            }
        }
        print_message("# %-60s worst %.2e at %s\n", column, worst, where);
        compared++;
    }
    /* Nothing that is written goes uncompared. */
    assert_int_equal(compared, got.columns - 1);
    assert_int_equal(outside, 0);
    tw_cli_csv_close(&want.csv);
    tw_cli_csv_close(&got.csv);
    tw_cli_csv_close(&tolerance.csv);
}

static void equilibrium_rows_agree(void **unused)
{
    (void)unused;
    compare("equilibrium", "equilibrium", 60);
}

static void dosing_rows_agree(void **unused)
{
    (void)unused;
    compare("dosing", "dosing", 40);
}

static void chain_rows_agree(void **unused)
{
    (void)unused;
    compare("chain", "chain", 40);
}

static void chlorine_rows_agree(void **unused)
{
    (void)unused;
    compare("chlorine", "chlorine", 40);
}

static void chlorine_rows_of_the_simple_model_agree(void **unused)
{
    (void)unused;
    compare("chlorine", "chlorine_simple", 20);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equilibrium_rows_agree),
        cmocka_unit_test(dosing_rows_agree),
        cmocka_unit_test(chain_rows_agree),
        cmocka_unit_test(chlorine_rows_agree),
        cmocka_unit_test(chlorine_rows_of_the_simple_model_agree),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
