/* tests/estimate/test_bend.c: the change of variables in which chains walk: its Jacobian is that of its own
 * differences, and a gradient goes the same way back. */
#include "support/check.h"

#include "estimate/bend.h"
#include "estimate/timeline.h"
#include "plain.h"

#define STEP 1e-6

static tw_model model;
static tw_lanes x[TW_MAX_DIMS];
static double z[TW_MAX_DIMS], by[TW_MAX_DIMS][TW_MAX_DIMS];
static uint64_t random_state;

static double normal(void)
{
    return random_rough_normal(&random_state);
}

/* Two cells, chlorine, and a meter that knows the ions of the water let in. */
static const tw_problem *start_up(void)
{
    tw_problem *p = plain_start(100.0);
    p->film_from_h = p->days_from_h = 10.0;
    p->cells = 2;
    for (int i = 0; i < 2; i++) {
        tw_setting_event *s = plain_setting(p, 10.0 + 40.0 * i, 1.0);
        s->cell = i;
    }
    plain_chlorine(p, 10.0, 6000.0);
    for (int i = 0; i < 20; i++) {
        tw_reading *r = plain_value(p, 1.0 + 5.0 * i, TW_OBSERVED_FREE_CHLORINE, log(3.1), 0.1);
        r->link = TW_LINK_LN;
        r->offset = 0.1;
    }
    tw_reading *ec = plain_value(p, 0.5, TW_OBSERVED_CONDUCTIVITY, log(400.0), 0.01);
    ec->link = TW_LINK_LN;
    for (int o = 0; o < 3; o++)
        plain_value(p, 0.5, o == 0 ? TW_OBSERVED_ALKALINITY : o == 1 ? TW_OBSERVED_HARDNESS : TW_OBSERVED_SULFATE, 1.5, 0.5);
    return p;
}

static void at(const double *point, tw_bend *out)
{
    for (size_t r = 0; r < model.dims; r++)
        x[r] = tw_lanes_of(point[r]);
    tw_estimate_bend(&model, x, out);
}

/* ln |det| by elimination with the largest pivot. */
static double ln_det(size_t n)
{
    double sum = 0.0;
    for (size_t k = 0; k < n; k++) {
        size_t p = k;
        for (size_t i = k; i < n; i++)
            p = fabs(by[i][k]) > fabs(by[p][k]) ? i : p;
        for (size_t j = 0; j < n; j++) {
            const double keep = by[k][j];
            by[k][j] = by[p][j];
            by[p][j] = keep;
        }
        sum += log(fabs(by[k][k]));
        for (size_t i = k + 1; i < n; i++) {
            const double f = by[i][k] / by[k][k];
            for (size_t j = k; j < n; j++)
                by[i][j] -= f * by[k][j];
        }
    }
    return sum;
}

static void jacobian_and_gradient_are_of_the_same_map(void **state)
{
    (void)state;
    void *mem = malloc(tw_estimate_timeline_bytes());
    assert_int_equal(tw_estimate_model_make(start_up(), &model, mem), TW_OK);
    static tw_lanes gradient[TW_MAX_DIMS];
    static double weight[TW_MAX_DIMS];
    random_state = check_seed;
    double worst_det = 0.0, worst_gradient = 0.0;
    for (int trial = 0; trial < 20; trial++) {
        tw_bend here, up, down;
        for (size_t r = 0; r < model.dims; r++) {
            z[r] = (trial < 10 ? 1.0 : 2.5) * normal();
            weight[r] = normal();
        }
        at(z, &here);
        assert_true(here.loss && here.ions && here.amount[0] && here.amount[1]);
        for (size_t r = 0; r < model.dims; r++)
            gradient[r] = tw_lanes_of(weight[r]);
        tw_estimate_bend_gradient(&model, &here, gradient);
        for (size_t r = 0; r < model.dims; r++) {
            const double kept = z[r];
            double slope = 0.0;
            z[r] = kept + STEP;
            at(z, &up);
            for (size_t i = 0; i < model.dims; i++)
                by[i][r] = x[i].v[0];
            z[r] = kept - STEP;
            at(z, &down);
            z[r] = kept;
            for (size_t i = 0; i < model.dims; i++) {
                by[i][r] = (by[i][r] - x[i].v[0]) / (2.0 * STEP);
                slope += weight[i] * by[i][r];
            }
            slope += (up.ln_jacobian.v[0] - down.ln_jacobian.v[0]) / (2.0 * STEP);
            const double off = fabs(slope - gradient[r].v[0]) / (1.0 + fabs(slope));
            worst_gradient = off > worst_gradient ? off : worst_gradient;
        }
        const double off = fabs(ln_det(model.dims) - here.ln_jacobian.v[0]);
        worst_det = off > worst_det ? off : worst_det;
    }
    print_message("# %zu coordinates: ln Jacobian within %.1e, gradient within %.1e\n", model.dims, worst_det, worst_gradient);
    assert_true(worst_det < 1e-6);
    assert_true(worst_gradient < 1e-6);
    free(mem);
}

/* Amounts keep their order and their prior's middle, and nothing runs over however far out. */
static void amounts_rise_from_the_middle(void **state)
{
    (void)state;
    void *mem = malloc(tw_estimate_timeline_bytes());
    assert_int_equal(tw_estimate_model_make(start_up(), &model, mem), TW_OK);
    for (int i = 0; i < TW_BEND_AMOUNTS; i++) {
        const int role = tw_estimate_bend_amount[i];
        double before = -1e300;
        for (int step = -200; step <= 200; step++) {
            tw_bend b;
            memset(z, 0, sizeof z);
            z[role] = 0.2 * step;
            at(z, &b);
            assert_true(x[role].v[0] > before && x[role].v[0] < 1e300 && b.amount_by[i].v[0] > 0.0);
            before = x[role].v[0];
            if (step == 0) {
                assert_near(before, 0.0, 1e-12);
                assert_near(b.amount_by[i].v[0], 1.0, 1e-12);
            }
        }
    }
    free(mem);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jacobian_and_gradient_are_of_the_same_map),
        cmocka_unit_test(amounts_rise_from_the_middle),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
