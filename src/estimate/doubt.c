/* estimate/doubt.c: how hard a reading would be to believe, before it is entered.
 *
 * The chance that a reading is rubbish once it is entered is floor/E[whole], with the mean over what is
 * believed without it: the mean over the posterior of floor/whole (what the fold lists as a contradiction)
 * is the same number. So what would be doubted is asked back, and nothing else. Believed is here what was written: members that did
 * what nobody wrote since the last entry would find a number natural that wants to be asked back, so they have no say. */
#include <math.h>

#include "estimate/belief.h"
#include "estimate/instrument.h"
#include "estimate/later.h"
#include "num/require.h"

#define COUNTED 3.0 /* members that fit, to be believed as a count */
#define LEAST_SHARE 0.1 /* of members that did nothing; fewer after a month without entries: all have a say */

/* Who has a say: 1.0 each, in memory that questions may overwrite. Returns how many. */
static double who_counts(const tw_belief *b, double *counts)
{
    double n = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        counts[i] = tw_estimate_did_something(b, i) ? 0.0 : 1.0;
        n += counts[i];
    }
    const int all = n < LEAST_SHARE * (double)b->n;
    for (size_t i = 0; all && i < b->n; i++)
        counts[i] = 1.0;
    return all ? (double)b->n : n;
}

static double doubt_by(const tw_belief *b, const tw_written_reading *w, const double *counts, double n)
{
    tw_reading r;
    double bias_sd = 0.0, sum = 0.0, square = 0.0, factor = 0.0;
    if (tw_estimate_reading(w, &r, &bias_sd) != TW_OK)
        return -1.0;
    /* The bias of a bottle that is new widens it. */
    const double wide = sqrt(r.sd * r.sd + bias_sd * bias_sd);
    for (size_t i = 0; i < b->n; i++) {
        if (!(counts[i] > 0.0))
            continue;
        const double eta = tw_estimate_on_scale(&r, tw_estimate_inside(b, w->observed, i));
        sum += eta;
        square += eta * eta;
        factor += tw_estimate_factor(&r, wide, eta);
    }
    /* Where few members fit, they count for less (one of a thousand is there by chance), and two normals of the members' mean and
     * variance stand for them, one of them twice as wide as all: their true tails are longer than a normal's, and a thousand
     * members do not show them. */
    double expected = factor / n;
    if (factor < COUNTED) {
        expected *= factor / COUNTED;
        const double mean = sum / n, variance = square / n - mean * mean, own = variance > 0.0 ? variance : 0.0;
        const double tails = 0.9 * tw_estimate_factor(&r, sqrt(wide * wide + own * (0.6 / 0.9)), mean) +
                             0.1 * tw_estimate_factor(&r, sqrt(wide * wide + own * 4.0), mean);
        expected = tails > expected ? tails : expected;
    }
    const double floor_at = tw_estimate_rubbish_floor(&r, r.sd);
    return floor_at / (floor_at + (1.0 - r.rubbish) * expected);
}

double tw_estimate_doubt(const tw_belief *b, const tw_written_reading *w)
{
    double *counts = b->scratch + b->n;
    return doubt_by(b, w, counts, who_counts(b, counts));
}

/* The question, and who has a say in its answer. */
typedef struct {
    const tw_belief *b;
    tw_written_reading w;
    const double *counts;
    double n;
} asked;

static int believed(asked *a, double value)
{
    a->w.value = value;
    const double doubt = doubt_by(a->b, &a->w, a->counts, a->n);
    return doubt >= 0.0 && doubt < TW_DOUBTFUL;
}

/* The last believed value on the way from one that is to one that is not. */
static double edge(asked *a, double in, double out)
{
    for (int i = 0; i < 20; i++) { /* to a millionth of the way */
        const double mid = 0.5 * (in + out);
        if (believed(a, mid))
            in = mid;
        else
            out = mid;
    }
    return in;
}

void tw_estimate_plausible(const tw_belief *b, const tw_written_reading *like, double likely[3])
{
    TW_REQUIRE(like->observed >= 0 && like->observed < TW_OBSERVEDS);
    double *counts = b->scratch + b->n;
    asked a = {b, *like, counts, 0.0};
    tw_written_reading *w = &a.w;
    w->written = TW_WRITTEN_VALUE;
    w->density_kg_per_l = b->density_kg_per_l;
    w->dilution = 1.0;
    if (tw_estimate_instrument(w->instrument, w->observed) == NULL) {
        w->instrument = TW_TOOL_UNKNOWN;
        w->blocks = 0;
    }
    const tw_spread now = tw_estimate_now(b, w->observed);
    const tw_instrument_row *row = tw_estimate_instrument(w->instrument, w->observed);
    likely[0] = likely[1] = likely[2] = now.q50;
    if (row == NULL)
        return;
    a.n = who_counts(b, counts);
    if (row->model == TW_ERROR_BLOCKS) { /* only what the scale has can be read off it */
        const double *block = w->blocks >= 2 ? like->block : row->block;
        const size_t n = w->blocks >= 2 ? w->blocks : row->blocks;
        int any = 0;
        for (size_t i = 0; i < n; i++)
            if (believed(&a, block[i])) {
                likely[0] = any ? likely[0] : block[i];
                likely[2] = block[i];
                any = 1;
            }
        return;
    }
    const double top = row->high > 3.0 * now.q95 ? row->high : 3.0 * now.q95;
    double middle = now.q50 < row->low ? row->low : now.q50;
    if (row->model == TW_ERROR_DROPS) { /* the count that would be read: at the end of its step */
        w->step = tw_estimate_drop_step(row, like);
        middle = ceil(middle / w->step) * w->step;
    }
    if (!believed(&a, middle))
        return;
    likely[0] = believed(&a, row->low) ? row->low : edge(&a, middle, row->low);
    likely[2] = believed(&a, top) ? top : edge(&a, middle, top);
}
