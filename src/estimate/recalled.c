/* estimate/recalled.c: see recalled.h. */
#include "estimate/recalled.h"

#include <math.h>

#include "num/normal.h"

#define LEAST_SHARE 0.01 /* a piece with less is left out */
#define MOST_LOOKS 8     /* of one reading                */

/* Another piece: its probability and mean hour. */
static tw_look piece(double at_h, double sd_h, double from_h, double until_h)
{
    const double a = (from_h - at_h) / sd_h, b = (until_h - at_h) / sd_h;
    const double share = tw_normal_interval(a, b);
    const double by = share > 1e-9 ? (tw_normal_pdf(a) - tw_normal_pdf(b)) / share : 0.5 * (a + b);
    return (tw_look){at_h + sd_h * (by < a ? a : (by > b ? b : by)), share, 0};
}

/* Half of the own piece, from the written hour to end_h: half of its probability stays at that hour, the rest goes as far out as
 * gives the half its spread (second moment of a normal cut at both ends), and not to its very end. */
static tw_look half(double at_h, double sd_h, double end_h)
{
    const double z = fabs(end_h - at_h) / sd_h, share = tw_normal_interval(0.0, z);
    const double square = share > 1e-9 ? 1.0 - z * tw_normal_pdf(z) / share : 0.0;
    const double far = sqrt(square > 0.0 ? 2.0 * square : 0.0), by = sd_h * (far < 0.95 * z ? far : 0.95 * z);
    return (tw_look){end_h < at_h ? at_h - by : at_h + by, 0.5 * share, 0};
}

void tw_estimate_recalled(tw_problem *p, size_t reading, double sd_h, const double *cut_h, size_t cuts, double from_h, double until_h)
{
    const double at_h = p->reading[reading].at_h;
    tw_look look[MOST_LOOKS];
    size_t n = 0;
    double own = 0.0, whole = 0.0;
    for (size_t i = 0; i <= cuts && n + 2 <= MOST_LOOKS; i++) {
        const double from = i == 0 ? from_h : cut_h[i - 1], until = i == cuts ? until_h : cut_h[i];
        const int is_own = own <= 0.0 && from <= at_h && at_h <= until && from < until;
        if (is_own) {
            look[n] = half(at_h, sd_h, from);
            look[n + 1] = half(at_h, sd_h, until);
            own = look[n].share + look[n + 1].share;
            n += 2;
        } else {
            look[n] = piece(at_h, sd_h, from, until);
            n += look[n].share > LEAST_SHARE;
        }
    }
    if (n < 3 || !(own > 0.0) || p->looks + n > TW_MAX_LOOKS)
        return;
    for (size_t i = 0; i < n; i++)
        whole += look[i].share;
    whole += own;
    p->reading[reading].own_share = own / whole;
    for (size_t i = 0; i < n; i++) {
        look[i].share /= whole;
        look[i].reading = (int)reading;
        p->look[p->looks++] = look[i];
    }
}
