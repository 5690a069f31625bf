/* tests/estimate/test_adjoint.c: the hand-written gradient against central differences, on a problem
 * that holds everything the model knows. */
#include "support/check.h"

#include "estimate/model.h"
#include "estimate/timeline.h"
#include "plain.h"

static tw_model model;
static tw_path path;
static tw_lanes x[TW_MAX_DIMS], gradient[TW_MAX_DIMS];
static uint64_t random_state;

static double normal(void)
{
    return random_rough_normal(&random_state);
}

static void add_interval(tw_problem *p, double at_h, int observed, int link, double low, double high, int bias)
{
    tw_reading *r = plain_reading(p, at_h, observed);
    r->form = TW_FORM_INTERVAL;
    r->link = link;
    r->low = low;
    r->high = high;
    r->sd = 0.25;
    r->offset = link == TW_LINK_LN ? 0.1 : 0.0;
    r->bias = bias;
    r->rubbish = 0.02;
}

static void add_ln(tw_problem *p, double at_h, int observed, double value, double sd, int bias, int source)
{
    tw_reading *r = plain_value(p, at_h, observed, log(value + 0.1), sd);
    r->link = TW_LINK_LN;
    r->offset = 0.1;
    r->bias = bias;
    r->source = source;
    r->rubbish = 0.02;
}

/* Heating, salt, acid that may have been given, chlorine, sulfite, bathers, exchanges, two cells. */
static tw_problem *everything(void)
{
    tw_problem *p = plain_start(336.0);
    p->film_from_h = p->days_from_h = 30.0;
    p->soft_fraction = 0.3;
    p->plate_salt_mmol_per_kg = 45.0; /* more than this water has */
    p->cells = 3;
    p->part_of[2] = 2; /* the second cell, for a share of the time */
    p->biases = 3;
    p->bias_sd[0] = p->bias_sd[1] = 0.15;
    p->bias_sd[2] = 0.1;
    p->products = 2;
    p->product_sd[0] = 0.08;
    p->product_sd[1] = 0.05;
    const double at[8] = {0, 2, 20, 60, 100, 150, 151, 250}, duty[8] = {0, 0, 0, 1, 0.5, 0, 0.7, 0.6};
    const double temp[9] = {12, 12, 37, 38, 38, 38, 38, 38, 38};
    for (int i = 0; i < 8; i++) {
        tw_setting_event *s = plain_setting(p, at[i], duty[i]);
        s->jets = i == 1 ? 0.3 : 0.02;
        s->temp_c = temp[i];
        s->temp_end_c = temp[i + 1];
        s->cell = i == 6 ? 2 : i > 4;
        s->dries = i == 1 ? 1.0 : 0.3;
    }
    for (int i = 0; i < 5; i++) {
        tw_dose_event *d = plain_chlorine(p, 30.0 + 40.0 * i, i == 3 ? -2000.0 : 6000.0);
        d->product = i % 2;
        d->amount_sd = i == 2 ? 0.2 : i >= 4 ? 1.06 : 0.0; /* as of an act that nobody wrote: from a sixth to six times */
        d->demand_mg = i == 4 ? 100.0 : 0.0;
    }
    tw_dose_event *salt = plain_chlorine(p, 10.0, 0.0);
    salt->mmol[TW_TOTAL_CL] = salt->mmol[TW_TOTAL_NA] = 34000.0;
    salt->solid_salt = 1;
    tw_dose_event *acid = plain_chlorine(p, 8.0, 0.0);
    acid->mmol[TW_TOTAL_CL] = 900.0;
    acid->alk_meq = -900.0;
    acid->form = TW_AMOUNT_POSSIBLE;
    tw_dose_event *lanthanum = plain_chlorine(p, 9.0, 0.0);
    lanthanum->mmol[TW_TOTAL_PHOSPHATE] = -6.0;
    lanthanum->mmol[TW_TOTAL_CL] = 18.0;
    lanthanum->alk_meq = -18.0;
    p->exchanges = 4;
    p->exchange[0].at_h = 130.0;
    p->exchange[0].out_kg = 200.0;
    p->exchange[0].in_kg = 190.0;
    p->exchange[1].at_h = 180.0;
    p->exchange[1].in_kg = -20.0;
    p->exchange[1].pure = 1;
    p->exchange[2].at_h = p->exchange[3].at_h = 44.0; /* filled up, nobody knows why */
    p->exchange[2].in_kg = -15.0;
    p->exchange[3].in_kg = 15.0;
    p->exchange[2].pure = 1;
    p->exchange[2].level = TW_LEVEL_UNSAID;
    p->bathers = 1;
    p->bather[0].at_h = 140.0;
    p->bather[0].person_h = 2.0;
    for (int i = 0; i < 84; i++)
        add_interval(p, 31.0 + 3.6 * i, TW_OBSERVED_FREE_CHLORINE, TW_LINK_LN, log(2.0), log(4.5), i % 2);
    p->reading[3].bleach_low = log(14.0);
    p->reading[3].low = -1e308;
    for (int i = 0; i < 7; i++)
        add_interval(p, 40.0 + 40.0 * i, TW_OBSERVED_FREE_CHLORINE, TW_LINK_PLAIN, 2.75, 3.25, -1);
    for (int i = 0; i < 12; i++) {
        tw_reading *r = plain_value(p, 1.0 + 10.0 * i, TW_OBSERVED_PH, 7.5, 0.15);
        r->bias = 2;
    }
    plain_value(p, 0.0, TW_OBSERVED_PH, 7.6, 0.1)->source = 1;
    tw_reading *standard = plain_value(p, 20.0, TW_OBSERVED_PH, 6.9, 0.05);
    standard->standard = 1;
    standard->nominal = 7.0;
    standard->bias = 2;
    for (int i = 0; i < 4; i++)
        plain_value(p, 1.0 + 10.0 * i, TW_OBSERVED_ALKALINITY, 1.6, 0.15);
    for (int i = 0; i < 5; i++)
        add_ln(p, 15.0 + 50.0 * i, TW_OBSERVED_CONDUCTIVITY, 3000.0, 0.02, -1, 0);
    add_ln(p, 0.0, TW_OBSERVED_HARDNESS, 2.0, 0.1, -1, 1);
    add_ln(p, 5.0, TW_OBSERVED_CALCIUM, 1.0, 0.1, -1, 0);
    add_ln(p, 5.0, TW_OBSERVED_MAGNESIUM, 0.3, 0.1, -1, 0);
    add_ln(p, 5.0, TW_OBSERVED_WATER, 1200.0, 0.08, -1, 0);
    add_ln(p, 50.0, TW_OBSERVED_TOTAL_CHLORINE, 3.0, 0.08, -1, 0);
    add_ln(p, 50.0, TW_OBSERVED_COMBINED_CHLORINE, 0.3, 0.2, -1, 0);
    add_ln(p, 60.0, TW_OBSERVED_CHLORIDE, 30.0, 0.05, -1, 0);
    add_ln(p, 60.0, TW_OBSERVED_SULFATE, 0.3, 0.05, -1, 0);
    add_ln(p, 60.0, TW_OBSERVED_BORATE, 0.1, 0.3, -1, 0);
    add_ln(p, 60.0, TW_OBSERVED_PHOSPHATE, 0.01, 0.3, -1, 0);
    add_ln(p, 50.0, TW_OBSERVED_CYANURATE, 0.01, 0.3, -1, 0);
    /* Three of unsure hour, the first of them of three hours: chlorine, pH, conductivity. */
    const struct {
        int observed;
        double at_h, share;
    } look[4] = {{TW_OBSERVED_FREE_CHLORINE, 29.5, 0.2}, {TW_OBSERVED_FREE_CHLORINE, 70.5, 0.3}, {TW_OBSERVED_PH, 7.5, 0.4},
                 {TW_OBSERVED_CONDUCTIVITY, 9.0, 0.5}};
    for (int i = 0; i < 4; i++) {
        int r = i == 0 ? 1 : i == 1 ? 1 : 0;
        while (p->reading[r].observed != look[i].observed || p->reading[r].source)
            r++;
        p->look[p->looks++] = (tw_look){look[i].at_h, look[i].share, r};
        p->reading[r].own_share = i < 2 ? 0.5 : 1.0 - look[i].share;
    }
    return p;
}

static void agrees(const tw_problem *problem)
{
    void *mem = malloc(tw_estimate_timeline_bytes()), *adjoint = malloc(tw_estimate_adjoint_bytes());
    assert_int_equal(tw_estimate_model_make(problem, &model, mem), TW_OK);
    random_state = check_seed;
    double worst = 0.0;
    for (int trial = 0; trial < 4; trial++) {
        for (size_t r = 0; r < model.dims; r++) {
            const double v = 0.5 * normal();
            TW_EACH_LANE(l) x[r].v[l] = v;
        }
        tw_lanes ln;
        tw_estimate_forward(&model, x, &path);
        tw_estimate_likelihood(&model, &path, 1.0, &ln);
        tw_estimate_backward(&model, &path, adjoint, gradient);
        for (size_t r = 0; r < model.dims; r++) {
            const double h = 1e-5, kept = x[r].v[0];
            x[r].v[0] = kept + h;
            x[r].v[1] = kept - h;
            tw_estimate_forward(&model, x, &path);
            tw_estimate_likelihood(&model, &path, 1.0, &ln);
            const double slope = (ln.v[0] - ln.v[1]) / (2.0 * h);
            x[r].v[0] = x[r].v[1] = kept;
            const double off = fabs(slope - gradient[r].v[0]) / (0.1 + fabs(slope));
            if (off > 1e-4)
                print_message("# role %zu: %.9g by hand, %.9g by differences\n", r, gradient[r].v[0], slope);
            worst = off > worst ? off : worst;
        }
    }
    print_message("# %zu coordinates, largest difference %.2g of the slope\n", model.dims, worst);
    assert_true(worst < 1e-4);
    free(mem);
    free(adjoint);
}

static void gradient_agrees_with_central_differences(void **state)
{
    (void)state;
    agrees(everything());
}

/* The same entries from a cut on: the water's own coordinates, the carbon of its pH, the rest of a heap. */
static void gradient_agrees_after_a_cut(void **state)
{
    (void)state;
    tw_problem *p = everything();
    p->goes_on = 1;
    p->cut.acid_temp_c = 37.0;
    p->cut.ionic_mol_per_kg = 0.03;
    p->cut.heap = 1;
    p->cut.stirred_h = 5.0;
    p->cut.low = 0.01;
    p->film_from_h = p->days_from_h = 0.0;
    agrees(p);
    assert_int_equal(model.dims, model.x_cut + TW_CUTS);
}

/* The same in a tub that stood full, with cyanurate and borate beside the carbonate of its pH. */
static void gradient_agrees_in_a_found_tub(void **state)
{
    (void)state;
    tw_problem *p = everything();
    p->filled = 0;
    p->film_from_h = p->days_from_h = 0.0;
    plain_ln(p, TW_X_CYANURATE, 0.4, 0.5);
    plain_ln(p, TW_X_BORATE, 1.0, 0.5);
    agrees(p);
}

/* A coordinate moves nothing before the operation with which its column of the Jacobian begins, and from the mark there everything
 * goes on as on the whole way, whichever lane stood at the point: to the bit. */
static void columns_begin_where(const tw_problem *p)
{
    static tw_mark mark[TW_MAX_DIMS];
    static tw_path moved;
    void *mem = malloc(tw_estimate_timeline_bytes());
    size_t later = 0;
    assert_int_equal(tw_estimate_model_make(p, &model, mem), TW_OK);
    random_state = check_seed;
    for (size_t r = 0; r < model.dims; r++)
        TW_EACH_LANE(l) x[r].v[l] = 0.5 * normal();
    for (size_t c = 0; c < model.active; c++)
        mark[c].way.op = model.column_op[c];
    tw_estimate_forward_marking(&model, x, &path, mark, model.active);
    for (size_t c = 0; c < model.active; c++) {
        const int lane = (int)(c % TW_ESTIMATE_LANES);
        tw_lanes at[TW_MAX_DIMS];
        for (size_t r = 0; r < model.dims; r++)
            at[r] = tw_lanes_of(x[r].v[lane]);
        TW_EACH_LANE(l) at[model.role[model.column[c]]].v[l] += 0.3 * l;
        tw_estimate_forward(&model, at, &moved);
        for (size_t r = 0; model.column_op[c] > 0 && r < p->readings + p->looks; r++)
            path.eta[r] = tw_lanes_of(path.eta[r].v[lane]);
        if (model.column_op[c] > 0)
            tw_estimate_forward_from(&model, at, &path, &mark[c], lane);
        for (size_t r = 0; model.column_op[c] > 0 && r < p->readings + p->looks; r++)
            assert_memory_equal(&path.eta[r], &moved.eta[r], sizeof moved.eta[r]);
        later += model.column_op[c] > 0;
        tw_estimate_forward(&model, x, &path);
    }
    assert_true(later >= 20);
    free(mem);
}

static void columns_begin_where_something_moves(void **state)
{
    (void)state;
    tw_problem *p = everything();
    columns_begin_where(p);
    p->goes_on = 1;
    p->cut.acid_temp_c = 37.0;
    p->cut.ionic_mol_per_kg = 0.03;
    p->film_from_h = p->days_from_h = 0.0;
    columns_begin_where(p);
}

/* A coordinate that the layout calls free must not move any reading. */
static void free_coordinates_move_no_reading(void **state)
{
    (void)state;
    void *mem = malloc(tw_estimate_timeline_bytes());
    tw_problem *p = plain_start(100.0);
    p->film_from_h = p->days_from_h = 30.0;
    plain_setting(p, 0.0, 0.0);
    add_ln(p, 20.0, TW_OBSERVED_CALCIUM, 1.0, 0.1, -1, 0);
    add_ln(p, 20.0, TW_OBSERVED_CHLORIDE, 2.0, 0.1, -1, 0);
    assert_int_equal(tw_estimate_model_make(p, &model, mem), TW_OK);
    assert_true(model.active < 8);
    assert_true(model.active > 2);
    for (size_t r = 0; r < model.dims; r++)
        x[r] = tw_lanes_of(0.3);
    tw_estimate_forward(&model, x, &path);
    const double before[2] = {path.eta[0].v[0], path.eta[1].v[0]};
    for (size_t i = model.active; i < model.dims; i++)
        x[model.role[i]] = tw_lanes_of(1.7);
    tw_estimate_forward(&model, x, &path);
    assert_near(path.eta[0].v[0], before[0], 0.0);
    /* Chloride sees chlorine as less than a part in a thousand: left out on purpose. */
    assert_near(path.eta[1].v[0], before[1], 0.02);
    free(mem);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gradient_agrees_with_central_differences),
        cmocka_unit_test(gradient_agrees_after_a_cut),
        cmocka_unit_test(gradient_agrees_in_a_found_tub),
        cmocka_unit_test(columns_begin_where_something_moves),
        cmocka_unit_test(free_coordinates_move_no_reading),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
