/* water/index.c: see index.h. */
#include "water/index.h"

#include <math.h>
#include <stdbool.h>

#include "num/elementary.h"
#include "water/constants.h"

double tw_water_langelier(double ph, double temp_c, double ca_hardness_mg_per_l, double alk_mg_per_l,
                          double tds_mg_per_l)
{
    if (!(temp_c > -273.0 && ca_hardness_mg_per_l > 0.0 && alk_mg_per_l > 0.0 && tds_mg_per_l > 0.0))
        return TW_WATER_NAN;
    const double a = (tw_log10(tds_mg_per_l) - 1.0) / 10.0;
    const double b = -13.12 * tw_log10(temp_c + 273.0) + 34.55;
    const double c = tw_log10(ca_hardness_mg_per_l) - 0.4;
    const double d = tw_log10(alk_mg_per_l);
    return ph - ((9.3 + a + b) - (c + d));
}

typedef struct {
    double at, factor;
} printed;

static bool is_number(double x)
{
    return x - x == 0.0;
}

/* The row nearest to x; halfway, the one before. */
static double nearest(const printed *rows, int n, double x)
{
    int best = 0;
    for (int i = 1; i < n; i++)
        if (fabs(x - rows[i].at) < fabs(x - rows[best].at))
            best = i;
    return rows[best].factor;
}

double tw_water_table_index(double ph, double temp_f, double ca_hardness_mg_per_l, double alk_mg_per_l,
                            double tds_mg_per_l)
{
    static const printed temperature[] = {{32, 0.0}, {37, 0.1}, {46, 0.2}, {53, 0.3}, {60, 0.4}, {66, 0.5},
                                          {76, 0.6}, {84, 0.7}, {94, 0.8}, {105, 0.9}, {128, 1.0}};
    static const printed calcium[] = {{5, 0.3}, {25, 1.0}, {50, 1.3}, {75, 1.5}, {100, 1.6},
                                      {150, 1.8}, {200, 1.9}, {300, 2.1}, {400, 2.2}, {800, 2.5}};
    static const printed alkalinity[] = {{5, 0.7}, {25, 1.4}, {50, 1.7}, {75, 1.9}, {100, 2.0},
                                         {150, 2.2}, {200, 2.3}, {300, 2.5}, {400, 2.6}, {800, 2.9}};
    if (!is_number(ph) || !is_number(temp_f) || !is_number(ca_hardness_mg_per_l) || !is_number(alk_mg_per_l) ||
        !is_number(tds_mg_per_l))
        return TW_WATER_NAN;
    return ph + nearest(temperature, 11, temp_f) + nearest(calcium, 10, ca_hardness_mg_per_l) +
           nearest(alkalinity, 10, alk_mg_per_l) - (tds_mg_per_l < 1000.0 ? 12.1 : 12.2);
}
