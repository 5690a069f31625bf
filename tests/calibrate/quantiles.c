/* tests/calibrate/quantiles.c: the sampler against a long run of itself, and broken ones against both yardsticks,
 * because coverage hardly tells samplers apart. usage: quantiles [tubs [first seed [file [runs [sharp]]]]]
 *
 * The long run is `runs` times (2) 256 chains of 16 states after 40, each with random streams of its own: 4,096 states a run, 25 of them
 * 102,400. A JSON object by way of sampling: near, the share of 5 and 95 % quantiles within 0.15 posterior standard deviations of the long
 * run's; off, the share beyond 0.5; width and crps over those of the long run; coverage_90. "independent" is 1,024 independent
 * draws from the long run: as near as any sampler of that size may come. With "sharp" broken samplers are left out. A run takes about ten
 * folds' time. The file (- is standard output) is written after every tub. */
#include <stdio.h>
#include <stdlib.h>

#include "../estimate/calibration.h"

enum { VOLUME, LOSS, OUTPUT, DEMAND, CHLORINE, MADE, PH, LOG_LIKELIHOOD, ASKED };
enum { ITSELF, INDEPENDENT, PRIOR, TWICE, SHRINKAGE, TWO_MOVES, LOSS_OFF, WAYS };

static const char *const NAME[ASKED] = {"volume", "loss", "output", "demand", "free_chlorine_now", "made_now", "ph_now", "log_likelihood"};
static const int COLUMN[ASKED] = {TW_COLUMN_WATER_KG,           TW_COLUMN_LOSS_38_PER_H,    TW_COLUMN_OUTPUT_G_PER_H, TW_COLUMN_DEMAND_MG_PER_KG,
                                  TW_COLUMN_CHLORINE_MG_PER_KG, TW_COLUMN_MADE_MG_PER_KG, TW_COLUMN_PH, TW_COLUMN_LOG_LIKELIHOOD};
static const char *const WAY[WAYS] = {"itself", "independent", "prior", "data_twice", "shrinkage_without_moves", "two_moves", "loss_10_percent_off"};

#define RUN 4096 /* states */
#define RUNS 32
#define MOST (RUN * RUNS)

typedef struct {
    size_t n;
    double v[ASKED][MOST];
} answers;

typedef struct {
    double near[ASKED], off[ASKED], width[ASKED], crps[ASKED];
    size_t in[ASKED], asked[ASKED];
} tally;

static sim_tub tub;
static answers longer, some;
static tally found[WAYS];
static double long_width[ASKED], long_crps[ASKED], truth[ASKED], scratch[MOST];

static double sd_of(const double *v, size_t n)
{
    double sum = 0.0, square = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    for (size_t i = 0; i < n; i++)
        square += (v[i] - sum / (double)n) * (v[i] - sum / (double)n);
    return sqrt(square / (double)n);
}

/* Adds to what is there. */
static int sampled(const tw_problem *p, uint64_t seed, uint32_t segment, const tw_estimate_options *o, answers *out)
{
    const size_t bytes = tw_estimate_sample_bytes(o);
    void *mem = malloc(bytes);
    tw_belief b;
    const int good = mem && tw_estimate_sample(p, seed, segment, o, mem, bytes, &b) == TW_OK;
    for (int q = 0; good && q < ASKED; q++)
        memcpy(out->v[q] + out->n, b.column[COLUMN[q]], b.n * sizeof(double));
    out->n += good ? b.n : 0;
    free(mem);
    return good;
}

/* ---- a filter that resamples and shrinks (Liu and West 2001, a = 0.99), without a move: known to be wrong */

#define PARTICLES 1024
#define PORTIONS 12

static tw_model model;
static tw_path path;
static double particle[PARTICLES][TW_MAX_DIMS], other[PARTICLES][TW_MAX_DIMS];

static void load(size_t first, tw_lanes *x)
{
    for (size_t r = 0; r < model.dims; r++)
        for (size_t l = 0; l < TW_ESTIMATE_LANES; l++)
            x[r].v[l] = particle[first + l][r];
}

/* ln likelihood of the first `readings` at every particle, times sign, added to ln. */
static void add_likelihood(tw_problem *p, size_t readings, double sign, void *timeline, double *ln)
{
    static tw_lanes x[TW_MAX_DIMS];
    const size_t all = p->readings;
    p->readings = readings;
    if (tw_estimate_model_make(p, &model, timeline) == TW_OK)
        for (size_t i = 0; i < PARTICLES; i += TW_ESTIMATE_LANES) {
            tw_lanes u;
            load(i, x);
            tw_estimate_forward(&model, x, &path);
            tw_estimate_likelihood(&model, &path, 1.0, &u);
            for (size_t l = 0; l < TW_ESTIMATE_LANES; l++)
                ln[i + l] += sign * u.v[l];
        }
    p->readings = all;
}

static void resample_and_shrink(const double *ln, sim_random *random)
{
    const double a = 0.99, h = sqrt(1.0 - a * a);
    double top = -1e300, sum = 0.0, up = 0.0;
    for (size_t i = 0; i < PARTICLES; i++)
        top = ln[i] > top ? ln[i] : top;
    for (size_t i = 0; i < PARTICLES; i++)
        sum += exp(ln[i] - top);
    const double step = sum / PARTICLES;
    double at = step * sim_uniform(random);
    size_t k = 0;
    for (size_t i = 0; i < PARTICLES; i++) { /* systematic */
        while (k + 1 < PARTICLES && up + exp(ln[k] - top) < at)
            up += exp(ln[k++] - top);
        memcpy(other[i], particle[k], sizeof other[i]);
        at += step;
    }
    for (size_t r = 0; r < model.dims; r++) {
        for (size_t i = 0; i < PARTICLES; i++)
            scratch[i] = other[i][r];
        double mean = 0.0;
        for (size_t i = 0; i < PARTICLES; i++)
            mean += scratch[i] / PARTICLES;
        const double sd = sd_of(scratch, PARTICLES);
        for (size_t i = 0; i < PARTICLES; i++)
            particle[i][r] = a * scratch[i] + (1.0 - a) * mean + h * sd * sim_normal(random);
    }
}

static void shrinkage(tw_problem *p, uint64_t seed, answers *out)
{
    static double ln[PARTICLES];
    static tw_lanes x[TW_MAX_DIMS];
    void *timeline = malloc(tw_estimate_timeline_bytes());
    sim_random random = {seed};
    if (timeline == NULL)
        return;
    for (size_t i = 0; i < PARTICLES; i++)
        for (size_t r = 0; r < TW_MAX_DIMS; r++)
            particle[i][r] = sim_normal(&random);
    for (size_t k = 0; k < PORTIONS; k++) {
        memset(ln, 0, sizeof ln);
        add_likelihood(p, p->readings * k / PORTIONS, -1.0, timeline, ln);
        add_likelihood(p, p->readings * (k + 1) / PORTIONS, 1.0, timeline, ln);
        resample_and_shrink(ln, &random);
    }
    out->n = PARTICLES;
    for (size_t i = 0; i < PARTICLES; i += TW_ESTIMATE_LANES) {
        load(i, x);
        tw_estimate_forward_tagged(&model, x, &path);
        for (size_t l = 0; l < TW_ESTIMATE_LANES; l++) {
            const tw_state *s = &path.state;
            out->v[VOLUME][i + l] = s->water_kg.v[l];
            out->v[LOSS][i + l] = path.par.fixed[TW_X_LOSS].v[l];
            out->v[OUTPUT][i + l] =
                p->plate_output_g_per_h * path.par.cell[0].v[l] * exp(p->day_sd * path.par.made_day[model.now_day].v[l]) *
                tw_estimate_salt_left(&path, model.steps - 1, (int)l);
            out->v[DEMAND][i + l] = s->demand.v[l];
            out->v[CHLORINE][i + l] = s->chlorine.v[l];
            out->v[MADE][i + l] = s->chlorine.v[l] - s->remnant.v[l];
        }
    }
    free(timeline);
}

/* ---- */

/* As many independent draws of the long run as the sampler keeps members. */
static void independent(uint64_t seed, answers *out)
{
    sim_random random = {seed ^ UINT64_C(0x1D)};
    out->n = 1024;
    for (size_t i = 0; i < out->n; i++) {
        const size_t from = (size_t)(sim_uniform(&random) * (double)longer.n);
        for (int q = 0; q < ASKED; q++)
            out->v[q][i] = longer.v[q][from];
    }
}

static int ask(int way, uint64_t seed, answers *out)
{
    static tw_problem p;
    const tw_estimate_options usual = tw_estimate_options_default(), two = {256, 2, 0, 1, 0.25};
    p = tub.problem;
    out->n = 0;
    const size_t n = p.readings;
    switch (way) {
    case INDEPENDENT:
        independent(seed, out);
        return 1;
    case PRIOR:
        p.readings = 0;
        break;
    case TWICE:
        for (size_t i = 0; i < n && p.readings < TW_MAX_READINGS; i++)
            p.reading[p.readings++] = p.reading[i];
        break;
    case SHRINKAGE:
        shrinkage(&p, seed, out);
        return out->n > 0;
    default: break;
    }
    if (!sampled(&p, seed, 0, way == TWO_MOVES ? &two : &usual, out))
        return 0;
    if (way == LOSS_OFF)
        for (size_t i = 0; i < out->n; i++)
            out->v[LOSS][i] *= 1.1;
    return 1;
}

static void compare(tally *t, const answers *a, int way)
{
    for (int q = 0; q < ASKED; q++) {
        if (way == SHRINKAGE && (q == PH || q == LOG_LIKELIHOOD))
            continue;
        const tw_spread x = tw_estimate_spread(a->v[q], a->n, scratch), y = tw_estimate_spread(longer.v[q], longer.n, scratch);
        const double sd = sd_of(longer.v[q], longer.n);
        const double low = fabs(x.q05 - y.q05) / sd, high = fabs(x.q95 - y.q95) / sd;
        t->near[q] += 0.5 * ((low < 0.15) + (high < 0.15));
        t->off[q] += 0.5 * ((low > 0.5) + (high > 0.5));
        t->width[q] += x.q95 - x.q05;
        t->asked[q]++;
        if (q == LOG_LIKELIHOOD) { /* that of the truth is calibrate's to know */
            long_width[q] += way == ITSELF ? y.q95 - y.q05 : 0.0;
            continue;
        }
        t->in[q] += truth[q] >= x.q05 && truth[q] <= x.q95;
        memcpy(scratch, a->v[q], a->n * sizeof(double));
        tw_sort(scratch, a->n);
        t->crps[q] += cal_crps(scratch, a->n, truth[q]);
        if (way == ITSELF) {
            long_width[q] += y.q95 - y.q05;
            memcpy(scratch, longer.v[q], longer.n * sizeof(double));
            tw_sort(scratch, longer.n);
            long_crps[q] += cal_crps(scratch, longer.n, truth[q]);
        }
    }
}

static void tell_truth(void)
{
    const int day = (int)floor((tub.t - tub.problem.days_from_h - 1e-9) / 24.0);
    truth[VOLUME] = tub.water;
    truth[LOSS] = tub.loss38;
    truth[OUTPUT] = tub.problem.plate_output_g_per_h * tub.factor * sim_makes(&tub) * exp(tub.problem.day_sd * tub.made_day[day]);
    truth[DEMAND] = tub.d;
    truth[CHLORINE] = tub.c;
    truth[MADE] = tub.c - tub.remnant;
    truth[PH] = sim_ph(&tub, tub.temp, tub.dic, tub.alk, tub.c);
}

static void write_way(FILE *to, int way)
{
    const tally *t = &found[way];
    double near = 0.0, cover = 0.0, off = 0.0;
    int n = 0, covers = 0;
    fprintf(to, "%s  \"%s\": {", way ? ",\n" : "", WAY[way]);
    for (int q = 0; q < ASKED; q++) {
        const double all = (double)t->asked[q];
        if (t->asked[q] == 0)
            continue;
        near += t->near[q] / all;
        off += t->off[q] / all;
        n++;
        if (q == LOG_LIKELIHOOD) {
            fprintf(to, "\"%s\": {\"near\": %.3f, \"off\": %.3f, \"width\": %.3f},\n    ", NAME[q], t->near[q] / all, t->off[q] / all,
                    t->width[q] / long_width[q]);
            continue;
        }
        cover += (double)t->in[q] / all;
        covers++;
        fprintf(to, "\"%s\": {\"near\": %.3f, \"off\": %.3f, \"width\": %.3f, \"crps\": %.3f, \"coverage_90\": %.3f},\n    ", NAME[q], t->near[q] / all,
                t->off[q] / all, t->width[q] / long_width[q], t->crps[q] / long_crps[q], (double)t->in[q] / all);
    }
    fprintf(to, "\"mean\": {\"near\": %.3f, \"off\": %.3f, \"coverage_90\": %.3f}}", near / n, off / n, cover / covers);
}

static void write_all(FILE *to, unsigned long tubs, unsigned long runs, int ways)
{
    fprintf(to, "{\"tubs\": %lu, \"states_of_the_long_run\": %lu, \"ways\": {\n", tubs, runs * RUN);
    for (int way = 0; way < ways; way++)
        write_way(to, way);
    fprintf(to, "\n }}\n");
}

int main(int argc, char **argv)
{
    const unsigned long n = argc > 1 ? strtoul(argv[1], NULL, 10) : 20;
    const unsigned long first = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    const char *file = argc > 3 && strcmp(argv[3], "-") != 0 ? argv[3] : NULL;
    const unsigned long runs = argc > 4 ? strtoul(argv[4], NULL, 10) : 2;
    const int ways = argc > 5 && strcmp(argv[5], "sharp") == 0 ? INDEPENDENT + 1 : WAYS;
    const tw_estimate_options patient = {256, 16, 40, 6, 0.5, NULL};
    if (runs < 1 || runs > RUNS)
        return 2;
    for (unsigned long k = 0; k < n; k++) {
        sim_start_up(&tub, first + k, 2.0 + (double)((first + k) % 9));
        tell_truth();
        longer.n = 0;
        for (unsigned long run = 0; run < runs; run++)
            if (!sampled(&tub.problem, first + k, 1 + (uint32_t)run, &patient, &longer))
                return 1;
        for (int way = 0; way < ways; way++) {
            if (!ask(way, first + k, &some))
                return 1;
            compare(&found[way], &some, way);
        }
        FILE *to = file != NULL ? fopen(file, "w") : NULL;
        if (file != NULL && to == NULL)
            return 2;
        if (to != NULL)
            write_all(to, k + 1, runs, ways);
        if (to != NULL)
            (void)fclose(to);
    }
    if (file == NULL)
        write_all(stdout, n, runs, ways);
    return 0;
}
