/* The command solve on tables as people have them: order, quotes, line ends, other columns, and what is wrong. */
#include <math.h>

#include "cli/csv.h"
#include "cli/solve.h"
#include "support/check.h"

#define WATER                                                                                                  \
    "temperature_C,pH,total_alkalinity_mg_per_kgw_as_CaCO3,calcium_hardness_mg_per_kgw_as_CaCO3,"              \
    "magnesium_hardness_mg_per_kgw_as_CaCO3,NaCl_added_mg_per_kgw,sulfate_mg_per_kgw_as_SO4,"                  \
    "potassium_mg_per_kgw,boron_mg_per_kgw_as_B"

typedef struct {
    int code;
    char out[20000], err[4000];
} result;

static result run_bytes(const char *which, const char *text, size_t n)
{
    static result r;
    FILE *in = tmpfile(), *out = tmpfile(), *err = tmpfile();
    assert_true(in && out && err);
    fwrite(text, 1, n, in);
    rewind(in);
    r.code = tw_cli_solve_table(which, in, out, err);
    rewind(out);
    rewind(err);
    r.out[fread(r.out, 1, sizeof r.out - 1, out)] = '\0';
    r.err[fread(r.err, 1, sizeof r.err - 1, err)] = '\0';
    fclose(in);
    fclose(out);
    fclose(err);
    return r;
}

static result run(const char *which, const char *text)
{
    return run_bytes(which, text, strlen(text));
}

/* Data lines, without the header. */
static int lines(const char *text)
{
    int n = -1;
    for (; *text; text++)
        n += *text == '\n';
    return n;
}

static int has(const char *text, const char *part)
{
    return strstr(text, part) != NULL;
}

static void plain_and_dressed_up_tables_give_the_same(void **unused)
{
    (void)unused;
    const result plain = run("equilibrium", "case_id," WATER "\nA,38,7.5,80,100,10,2000,30,0,0\n");
    assert_int_equal(plain.code, 0);
    assert_string_equal(plain.err, "");
    assert_int_equal(lines(plain.out), 1);
    char keep[sizeof plain.out];
    memcpy(keep, plain.out, sizeof keep);
    /* byte order mark, quotes, CR LF, blanks, blank lines, no end of line, an unknown column */
    assert_string_equal(run("equilibrium", "\xEF\xBB\xBF\"case_id\"," WATER ",note\r\n\r\n\"A\", 38 ,\"7.5\",80,100,10,2e3,30,0,0.0,"
                                           "\"so, \"\"he\"\" said\"").out, keep);
    /* another order, results among the columns */
    assert_string_equal(run("equilibrium", "pH,boron_mg_per_kgw_as_B,DIC_mmol_per_kgw,temperature_C,potassium_mg_per_kgw,"
                                           "sulfate_mg_per_kgw_as_SO4,NaCl_added_mg_per_kgw,magnesium_hardness_mg_per_kgw_as_CaCO3,"
                                           "calcium_hardness_mg_per_kgw_as_CaCO3,total_alkalinity_mg_per_kgw_as_CaCO3,case_id\n"
                                           "7.50,0,99,38.0,0,30,2000.0,10,100,80,A\n").out, keep);
}

static void a_result_has_ten_digits_and_every_column(void **unused)
{
    (void)unused;
    const result r = run("equilibrium", "case_id," WATER "\nA,38,7.5,80,100,10,2000,30,0,0\n");
    assert_true(has(r.out, "case_id,Na_total_mmol_per_kgw,Cl_total_mmol_per_kgw,DIC_mmol_per_kgw,CO2aq_mmol_per_kgw"));
    assert_true(has(r.out, ",borate_H2BO3_mmol_per_kgw\n"));
    const char *line = strchr(r.out, '\n') + 1;
    int cells = 1, digits = 0, most = 0;
    for (; *line && *line != '\n'; line++) {
        cells += *line == ',';
        digits = *line >= '0' && *line <= '9' ? digits + 1 : (*line == '.' ? digits : 0);
        most = digits > most ? digits : most;
    }
    assert_int_equal(cells, 25);
    assert_true(most >= 10);
}

static void a_row_without_solution_keeps_its_place_and_is_named(void **unused)
{
    (void)unused;
    const result r = run("equilibrium", "case_id," WATER "\nA,38,7.5,80,100,10,2000,30,0,0\nB,38,8.8,15,100,10,2000,30,0,50\n"
                                        "C,38,7.4,80,100,10,2000,30,0,0\n");
    assert_int_equal(r.code, 1);
    assert_int_equal(lines(r.out), 3);
    assert_true(has(r.out, "\nB,,,,,,,,,,,,,,,,,,,,,,,,\n"));
    assert_true(has(r.err, "B (line 3)"));
    assert_true(has(r.err, "borate"));
    assert_false(has(r.err, "A (line"));
}

static void what_is_missing_or_garbled_is_named(void **unused)
{
    (void)unused;
    result r = run("equilibrium", "case_id," WATER "\nA,38,7.5,8o,100,10,2000,30,0,0\nB,38,7.5,,100,10,2000,30,0,0\n"
                                  "C,38,nan,80,100,10,2000,30,0,0\nD,38,7.5,80\nE,38,7.5,80,100,10,2000,30,0,0\n");
    assert_int_equal(r.code, 3);
    assert_int_equal(lines(r.out), 5);
    assert_true(has(r.err, "A (line 2): total_alkalinity_mg_per_kgw_as_CaCO3 is '8o', which is no number"));
    assert_true(has(r.err, "B (line 3): total_alkalinity_mg_per_kgw_as_CaCO3 is empty"));
    assert_true(has(r.err, "C (line 4): pH is 'nan'"));
    assert_true(has(r.err, "D (line 5): calcium_hardness_mg_per_kgw_as_CaCO3 is empty"));
    assert_false(has(r.err, "E (line"));
    assert_true(has(r.out, "\nA,,,"));
    assert_false(has(r.out, "\nE,,,"));
    r = run("equilibrium", "case_id,temperature_C,pH\nA,38,7.5\n");
    assert_int_equal(r.code, 3);
    assert_string_equal(r.out, "");
    assert_true(has(r.err, "column total_alkalinity_mg_per_kgw_as_CaCO3 is missing"));
    assert_true(has(r.err, "column boron_mg_per_kgw_as_B is missing"));
    r = run("equilibrium", WATER "\n38,7.5,80,100,10,2000,30,0,0\n");
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "column case_id is missing"));
    r = run("equilibrium", "case_id,pH," WATER "\nA,7,38,7.5,80,100,10,2000,30,0,0\n");
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "column pH stands twice"));
}

static void what_is_no_table_is_refused(void **unused)
{
    (void)unused;
    assert_int_equal(run("equilibrium", "").code, 3);
    assert_int_equal(run("equilibrium", "\n\n  \n").code, 3);
    assert_int_equal(run_bytes("equilibrium", "case_id\0pH\n", 11).code, 3);
    const result open = run("equilibrium", "case_id," WATER "\nA,\"38,7.5,80,100\n");
    assert_int_equal(open.code, 3);
    assert_true(has(open.err, "never closed"));
    assert_true(has(run("equilibrium", "case_id," WATER "\nA,\"38\"x,7.5,80\n").err, "after a closing quote"));
    assert_int_equal(run("brew", "case_id\n").code, 2);
    const result empty = run("equilibrium", "case_id," WATER "\n");
    assert_int_equal(empty.code, 0);
    assert_int_equal(lines(empty.out), 0);
}

static void negative_and_out_of_range_values_are_named(void **unused)
{
    (void)unused;
    const result r = run("equilibrium", "case_id," WATER "\nA,38,7.5,80,-1,10,2000,30,0,0\nB,46,7.5,80,100,10,2000,30,0,0\n"
                                        "C,38,13,80,100,10,2000,30,0,0\nD,38,7.5,80,100,10,60000,30,0,0\n");
    assert_int_equal(r.code, 1);
    assert_true(has(r.err, "A (line 2)") && has(r.err, "(calcium)"));
    assert_true(has(r.err, "B (line 3)") && has(r.err, "temperature"));
    assert_true(has(r.err, "C (line 4)") && has(r.err, "pH is outside"));
    assert_true(has(r.err, "D (line 5)") && has(r.err, "salt"));
}

#define CHLORINE "case_id,model,temperature_C,pH,total_available_chlorine_mg_per_kgw_as_Cl2,cyanuric_acid_mg_per_kgw"

static void chlorine_rows_follow_their_model(void **unused)
{
    (void)unused;
    result r = run("chlorine", CHLORINE ",NaCl_background_mg_per_kgw\nA,obrien1974_25C,25,7.5,3,30,2000\n"
                               "B,wahman2019_simple_ideal,25,7.5,3,30,\nC,morris_no_CYA,38,7.5,3,0,1000\n");
    assert_int_equal(r.code, 0);
    assert_true(has(r.out, "activity_bound_fraction_of_total,pKa_HOCl,pK6_H3Cy")); /* both shapes */
    assert_true(has(r.out, "\nB,,,,,,,,,,,,,,,,,,,,,,7.53664430"));
    r = run("chlorine", CHLORINE "\nB,wahman2019_simple_ideal,25,7.5,3,30\n");
    assert_int_equal(r.code, 0);
    assert_false(has(r.out, "ideal_HOCl"));
    r = run("chlorine", CHLORINE "\nA,obrien1974_25C,25,7.5,3,30\nB,brewed,25,7.5,3,30\n");
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "A (line 2): NaCl_background_mg_per_kgw is missing"));
    assert_true(has(r.err, "B (line 3): model is 'brewed'"));
}

#define CHAIN                                                                                                     \
    "case_id,chain_id,step,kind,chemical,amount_mmol_per_kgw,temperature_C,imposed_log10_pCO2_atm,"               \
    "initial_temperature_C,initial_pH,initial_total_alkalinity_mg_per_kgw_as_CaCO3,"                              \
    "calcium_hardness_mg_per_kgw_as_CaCO3,magnesium_hardness_mg_per_kgw_as_CaCO3,NaCl_added_mg_per_kgw,"          \
    "sulfate_mg_per_kgw_as_SO4,potassium_mg_per_kgw,boron_mg_per_kgw_as_B\n"
#define START ",20,7.5,80,100,10,50,30,0,0\n"

static void chains_run_in_order_of_step_and_come_out_in_order_of_rows(void **unused)
{
    (void)unused;
    const result sorted = run("chain", CHAIN "a0,A,0,start,,,20," START "b0,B,0,start,,,20," START "a1,A,1,dose,HCl,0.5,20," START
                                             "b1,B,1,temperature,,,38," START "a2,A,2,outgas,,,20,-3.38" START);
    assert_int_equal(sorted.code, 0);
    char first[200], last[200];
    snprintf(first, sizeof first, "%.150s", strstr(sorted.out, "\na2,"));
    const result mixed = run("chain", CHAIN "a2,A,2,outgas,,,20,-3.38" START "b1,B,1,temperature,,,38," START
                                            "a1,A,1,dose,HCl,0.5,20," START "a0,A,0,start,,,20," START "b0,B,0,start,,,20," START);
    assert_int_equal(mixed.code, 0);
    snprintf(last, sizeof last, "%.150s", strstr(mixed.out, "\na2,"));
    assert_string_equal(first, last);
    assert_true(strstr(mixed.out, "\na2,") < strstr(mixed.out, "\na1,"));
    assert_true(has(sorted.out, ",-3.38,")); /* the pressure that was imposed */
}

static void a_chain_ends_where_a_step_has_no_solution(void **unused)
{
    (void)unused;
    result r = run("chain", CHAIN "a0,A,0,start,,,20," START "a1,A,1,dose,HCl,90,20," START "a2,A,2,temperature,,,30," START);
    assert_int_equal(r.code, 1);
    assert_true(has(r.out, "\na1,,,") && has(r.out, "\na2,,,") && !has(r.out, "\na0,,,"));
    assert_true(has(r.err, "a1 (line 3)") && has(r.err, "too much acid"));
    assert_true(has(r.err, "a2 (line 4): a step before it (a1) has no solution"));
    r = run("chain", CHAIN "a0,A,0,start,,,20," START "a1,A,1,dose,gin,1,20," START);
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "a1 (line 3): the chemical is not known"));
    r = run("chain", CHAIN "a0,A,0,start,,,20," START "a1,A,1,dose,HCl,,20," START);
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "amount_mmol_per_kgw is empty"));
    r = run("chain", CHAIN "a0,A,0,start,,,20," START "a1,A,1,dose,HCl,0.1,20," START "a2,A,1,dose,HCl,0.1,20," START);
    assert_int_equal(r.code, 3);
    assert_true(has(r.err, "step 1 of chain 'A' stands twice"));
}

/* 0.5 mmol HCl takes 25.02 mg/L off the alkalinity, whatever else is there. */
static void acid_takes_its_alkalinity(void **unused)
{
    (void)unused;
    const result r = run("chain", CHAIN "a0,A,0,start,,,20," START "a1,A,1,dose,HCl,0.5,20," START);
    double ph = 0.0, alk = 0.0;
    assert_int_equal(sscanf(strstr(r.out, "\na1,"), "\na1,%lf,%lf", &ph, &alk), 2);
    assert_near(alk, 80.0 - 0.5 * 100.0869 / 2.0, 1e-3);
    assert_true(ph < 7.5);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_and_dressed_up_tables_give_the_same),
        cmocka_unit_test(a_result_has_ten_digits_and_every_column),
        cmocka_unit_test(a_row_without_solution_keeps_its_place_and_is_named),
        cmocka_unit_test(what_is_missing_or_garbled_is_named),
        cmocka_unit_test(what_is_no_table_is_refused),
        cmocka_unit_test(negative_and_out_of_range_values_are_named),
        cmocka_unit_test(chlorine_rows_follow_their_model),
        cmocka_unit_test(chains_run_in_order_of_step_and_come_out_in_order_of_rows),
        cmocka_unit_test(a_chain_ends_where_a_step_has_no_solution),
        cmocka_unit_test(acid_takes_its_alkalinity),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
