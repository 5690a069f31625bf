/* tests/calibrate/quantiles.c: 5 and 95 % quantiles against a long run of the same sampler, because coverage
 * hardly tells samplers apart. usage: quantiles [tubs [first seed]]
 *
 * Prints the share within 0.15 posterior standard deviations (two exact samples of 1,024 would give
 * about 88 %) and how many are off by more than 0.5. A tub takes about ten folds' time. */
#include <stdio.h>
#include <stdlib.h>

#include "../estimate/sim_tub.h"
#include "estimate/sample.h"

static const struct {
    const char *name;
    int column;
} ASKED[] = {
    {"volume", TW_COLUMN_WATER_KG},
    {"loss", TW_COLUMN_LOSS_38_PER_H},
    {"output", TW_COLUMN_OUTPUT_G_PER_H},
    {"demand", TW_COLUMN_DEMAND_MG_PER_KG},
    {"free_chlorine_now", TW_COLUMN_CHLORINE_MG_PER_KG},
    {"made_now", TW_COLUMN_MADE_MG_PER_KG},
    {"ph_now", TW_COLUMN_PH},
};

enum { N_ASKED = sizeof ASKED / sizeof *ASKED };

static sim_tub tub;

static double sd_of(const double *v, size_t n)
{
    double sum = 0.0, square = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    for (size_t i = 0; i < n; i++)
        square += (v[i] - sum / (double)n) * (v[i] - sum / (double)n);
    return sqrt(square / (double)n);
}

int main(int argc, char **argv)
{
    const unsigned long n = argc > 1 ? strtoul(argv[1], NULL, 10) : 20;
    const unsigned long first = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    const tw_estimate_options usual = tw_estimate_options_default();
    tw_estimate_options longer = usual;
    longer.drop = 60;
    longer.keep = 8;
    const size_t a_bytes = tw_estimate_sample_bytes(&usual), b_bytes = tw_estimate_sample_bytes(&longer);
    void *a_mem = malloc(a_bytes), *b_mem = malloc(b_bytes);
    double near[N_ASKED] = {0}, off[N_ASKED] = {0}, all = 0.0;
    if (a_mem == NULL || b_mem == NULL)
        return 2;
    for (unsigned long k = 0; k < n; k++) {
        tw_belief a, b;
        sim_start_up(&tub, first + k, 2.0 + (double)((first + k) % 9));
        if (tw_estimate_sample(&tub.problem, first + k, 0, &usual, a_mem, a_bytes, &a) != TW_OK ||
            tw_estimate_sample(&tub.problem, first + k, 1, &longer, b_mem, b_bytes, &b) != TW_OK)
            return 1;
        for (int q = 0; q < N_ASKED; q++) {
            const tw_column column = (tw_column)ASKED[q].column;
            const tw_spread x = tw_estimate_column(&a, column), y = tw_estimate_column(&b, column);
            const double sd = sd_of(b.column[column], b.n);
            const double low = fabs(x.q05 - y.q05) / sd, high = fabs(x.q95 - y.q95) / sd;
            near[q] += (low < 0.15) + (high < 0.15);
            off[q] += (low > 0.5) + (high > 0.5);
        }
        all += 2.0;
    }
    for (int q = 0; q < N_ASKED; q++)
        printf("%-18s within 0.15 sd: %.3f, off by more than 0.5: %.0f of %.0f\n", ASKED[q].name, near[q] / all, off[q],
               all);
    free(a_mem);
    free(b_mem);
    return 0;
}
