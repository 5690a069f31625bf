/* estimate/explain.c: explanations weighed by what members would show after each act. */
#include "estimate/explain.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/conductivity.h"
#include "estimate/events.h"
#include "estimate/scale.h"
#include "gen/estimate_tables.h"
#include "gen/scale_tables.h"
#include "num/elementary.h"

#define MEMBERS 128 /* are enough for weights                          */
#define SIZES 48    /* of each act, even on ln: steps of a twelfth      */
#define RATES 12    /* of scale: each is walked through in PIECES      */
#define PIECES 12
#define LEAST 0.01  /* explanations under this are not told            */
#define WILL_DO 2.0 /* standard deviations that separate               */

/* What a retest can be. The order is that of trouble. */
static const struct {
    int observed;
    double sd_abs, sd_rel; /* inside units: drops for chlorine and alkalinity, meters for the others */
} RETEST[] = {{TW_OBSERVED_FREE_CHLORINE, 0.15, 0.03},
              {TW_OBSERVED_PH, 0.05, 0.0},
              {TW_OBSERVED_ALKALINITY, 0.12, 0.03},
              {TW_OBSERVED_CALCIUM, 0.1, 0.04},
              {TW_OBSERVED_CONDUCTIVITY, 5.0, 0.012},
              {TW_OBSERVED_CHLORIDE, 1.0, 0.05}};

enum { RETESTS = sizeof RETEST / sizeof *RETEST, COLUMNS = TW_OBSERVEDS };

/* Members before and after an act, by what is observed. */
typedef struct {
    const tw_belief *b;
    size_t n;
    size_t member[MEMBERS];
    tw_acid_constants acid;
    double value[COLUMNS][MEMBERS];  /* now, inside units */
    double after[COLUMNS][MEMBERS];
    double alk_by[MEMBERS], dic_by[MEMBERS]; /* how an act moves them, meq and mmol per kg */
} crowd;

/* One reading as a likelihood. */
typedef struct {
    tw_reading r;
    double wide;
} term;

/* Members that take the logbook as it is written: in the others the act is done already. */
static size_t as_written(const tw_belief *b)
{
    return b->chains == 0 ? b->n : b->n / b->chains * b->written_chains;
}

static size_t written_member(const tw_belief *b, size_t i)
{
    return b->chains == 0 ? i : i / b->written_chains * b->chains + i % b->written_chains;
}

static void gather(crowd *c, const tw_belief *b)
{
    const size_t n = as_written(b);
    c->b = b;
    c->n = n < MEMBERS ? n : MEMBERS;
    const size_t stride = n / c->n;
    for (size_t i = 0; i < c->n; i++) /* shifted by one each time round: kept states of all chains */
        c->member[i] = written_member(b, (i * stride + (i * stride) / 64 % stride) % n);
    for (int o = 0; o < TW_OBSERVED_WATER; o++)
        for (size_t i = 0; i < c->n; i++)
            c->value[o][i] = tw_estimate_inside(b, o, c->member[i]);
    tw_estimate_acid_constants(b->temp_set_c, b->ionic_mol_per_kg, &c->acid);
}

/* Members from first on, one to a lane, as the solver wants them. */
static void load(const crowd *c, size_t first, tw_acids *a, tw_lanes *alk, tw_lanes *dic)
{
    const tw_belief *b = c->b;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        const size_t at = first + (size_t)l < c->n ? first + (size_t)l : c->n - 1, i = c->member[at];
        a->active.v[l] = 1e3 * b->total[TW_TOTAL_ACTIVE_CHLORINE][i];
        a->borate.v[l] = 1e3 * b->total[TW_TOTAL_BORATE][i];
        a->cyanurate.v[l] = 1e3 * b->total[TW_TOTAL_CYANURATE][i];
        a->phosphate.v[l] = 1e3 * b->total[TW_TOTAL_PHOSPHATE][i];
        alk->v[l] = c->value[TW_OBSERVED_ALKALINITY][at] + a->phosphate.v[l] + c->alk_by[at];
        dic->v[l] = 1e3 * b->total[TW_TOTAL_DIC][i] + c->dic_by[at];
    }
}

/* The solver once for all that ask here: it is long, and this is no hot path. */
static void solve(const crowd *c, const tw_lanes *alk, const tw_lanes *rhs, const tw_lanes *e, const tw_acids *a, tw_acid_root *root)
{
    tw_acid_guess guess;
    tw_estimate_acid_guess(&c->acid, &guess);
    tw_estimate_acid_solve(&c->acid, *alk, *rhs, *e, a, TW_NEWTON_STEPS, &guess, root, NULL);
}

/* pH after alkalinity and carbon were moved and CO2 went over an exposure to the air. */
static void move_ph(crowd *c, double air_h)
{
    const tw_belief *b = c->b;
    const double gas = tw_estimate_gas_factor(b->temp_set_c);
    for (size_t first = 0; first < c->n; first += TW_ESTIMATE_LANES) {
        tw_acids a;
        tw_acid_root root;
        tw_lanes alk, rhs, e, zero = tw_lanes_of(0.0);
        load(c, first, &a, &alk, &rhs);
        if (air_h > 0.0) {
            TW_EACH_LANE(l)
            {
                const size_t at = first + (size_t)l < c->n ? first + (size_t)l : c->n - 1;
                const double x = 0.9 * gas * b->column[TW_COLUMN_KLA_JETS_PER_H][c->member[at]] * air_h;
                e.v[l] = x > 10.8 ? 10.8 : x;
            }
            e = tw_lanes_exp(e);
            TW_EACH_LANE(l)
            {
                e.v[l] = (e.v[l] - 1.0) * (1.0 / 0.9);
                rhs.v[l] += e.v[l] * c->acid.co2_eq;
            }
            solve(c, &alk, &rhs, &e, &a, &root);
            TW_EACH_LANE(l) rhs.v[l] -= e.v[l] * root.co2.v[l];
        }
        solve(c, &alk, &rhs, &zero, &a, &root);
        for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < c->n; l++)
            c->after[TW_OBSERVED_PH][first + (size_t)l] = -tw_log10(root.h.v[l]);
    }
}

/* Scale at this rate (1/h) over so many hours with the cover on: calcium and carbon go as one, alkalinity as two, and between the
 * pieces carbon dioxide, which it sets free and which would soon stop it, goes over to the air. What each member's own rate let fall is in
 * its water already. */
static void fall_out(crowd *c, double per_h, double hours)
{
    const tw_belief *b = c->b;
    const double *ec = b->ec_fit, gas = tw_estimate_gas_factor(b->temp_set_c), piece_h = hours / PIECES;
    const tw_lanes rate = tw_lanes_of(per_h), none = tw_lanes_of(0.0);
    for (size_t first = 0; first < c->n; first += TW_ESTIMATE_LANES) {
        tw_acids a;
        tw_acid_root root;
        tw_lanes alk, dic, ca, near, above, gone, fell = none, e;
        load(c, first, &a, &alk, &dic);
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const size_t at = first + (size_t)l < c->n ? first + (size_t)l : c->n - 1;
            ca.v[l] = c->value[TW_OBSERVED_CALCIUM][at];
            const double x = 0.9 * gas * b->column[TW_COLUMN_KLA_STILL_PER_H][c->member[at]] * piece_h;
            e.v[l] = x > 10.8 ? 10.8 : x;
        }
        e = tw_lanes_exp(e);
        TW_EACH_LANE(l) e.v[l] = (e.v[l] - 1.0) * (1.0 / 0.9);
        solve(c, &alk, &dic, &none, &a, &root);
        for (int k = 0; k < PIECES && tw_estimate_scale_near(&c->acid, &ca, &root.h, &root.co2, &near, &above); k++) {
            tw_estimate_scale(&c->acid, piece_h, &rate, &ca, &alk, &dic, &a, &above, &root.h, &gone, NULL);
            TW_EACH_LANE(l)
            {
                fell.v[l] += gone.v[l];
                ca.v[l] -= gone.v[l];
                alk.v[l] -= 2.0 * gone.v[l];
                dic.v[l] += e.v[l] * c->acid.co2_eq - gone.v[l];
            }
            solve(c, &alk, &dic, &e, &a, &root);
            TW_EACH_LANE(l) dic.v[l] -= e.v[l] * root.co2.v[l];
        }
        for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < c->n; l++) {
            const size_t at = first + (size_t)l;
            if (!(fell.v[l] > 0.0))
                continue; /* this water stands over nothing */
            c->after[TW_OBSERVED_CALCIUM][at] -= fell.v[l];
            c->after[TW_OBSERVED_HARDNESS][at] -= fell.v[l];
            c->after[TW_OBSERVED_ALKALINITY][at] -= 2.0 * fell.v[l];
            c->after[TW_OBSERVED_CONDUCTIVITY][at] -= (2.0 * ec[1] + ec[2]) * fell.v[l];
            c->after[TW_OBSERVED_PH][at] = -tw_log10(root.h.v[l]);
        }
    }
}

static void move_chlorine(crowd *c, size_t at, double by)
{
    double free_mg = c->value[TW_OBSERVED_FREE_CHLORINE][at] + by;
    free_mg = free_mg > 0.0 ? free_mg : 0.0;
    c->after[TW_OBSERVED_FREE_CHLORINE][at] = free_mg;
    c->after[TW_OBSERVED_TOTAL_CHLORINE][at] = free_mg + c->value[TW_OBSERVED_COMBINED_CHLORINE][at];
}

/* Chlorine that the generator made in the last hours and that is still there, mg per kg. */
static double made_since(const tw_belief *b, size_t i, double hours)
{
    const double k = b->column[TW_COLUMN_LOSS_NOW_PER_H][i];
    const double per_h = 1e3 * b->column[TW_COLUMN_OUTPUT_G_PER_H][i] * b->duty / b->column[TW_COLUMN_WATER_KG][i];
    const double made = per_h * (k * hours > 1e-6 ? (1.0 - tw_exp(-k * hours)) / k : hours);
    return made < b->column[TW_COLUMN_MADE_MG_PER_KG][i] ? made : b->column[TW_COLUMN_MADE_MG_PER_KG][i];
}

/* Salt, in mmol per kg, moves chloride and conductivity. */
static void move_salt(crowd *c, size_t at, double by)
{
    const double *ec = &c->b->ec_fit[5], cl = c->value[TW_OBSERVED_CHLORIDE][at];
    c->after[TW_OBSERVED_CHLORIDE][at] = cl + by;
    c->after[TW_OBSERVED_CONDUCTIVITY][at] = c->value[TW_OBSERVED_CONDUCTIVITY][at] +
                                                tw_estimate_salt_us_per_cm(ec, cl + by) - tw_estimate_salt_us_per_cm(ec, cl);
}

static void do_act(crowd *c, int act, double x, double hours)
{
    static const double SOURCE_CL = 0.8; /* mmol per kg of fill water: the middle of its prior */
    memcpy(c->after, c->value, sizeof c->after);
    for (size_t i = 0; i < c->n; i++) { /* soda ash: half a mole of carbonate an equivalent */
        c->alk_by[i] = act == TW_UNLOGGED_BASE_POURED ? x : act == TW_UNLOGGED_ACID_POURED ? -x : 0.0;
        c->dic_by[i] = act == TW_UNLOGGED_BASE_POURED ? 0.5 * x : 0.0;
        switch (act) {
        case TW_UNLOGGED_CHLORINE_POURED: move_chlorine(c, i, x); break;
        case TW_UNLOGGED_CHLORINE_USED: move_chlorine(c, i, -x); break;
        case TW_UNLOGGED_GENERATOR_OFF: move_chlorine(c, i, -made_since(c->b, c->member[i], x)); break;
        case TW_UNLOGGED_ACID_POURED: c->after[TW_OBSERVED_ALKALINITY][i] -= x; break;
        case TW_UNLOGGED_BASE_POURED: c->after[TW_OBSERVED_ALKALINITY][i] += x; break;
        case TW_UNLOGGED_WATER_ADDED:
            move_chlorine(c, i, -x * c->value[TW_OBSERVED_FREE_CHLORINE][i]);
            move_salt(c, i, -x * (c->value[TW_OBSERVED_CHLORIDE][i] - SOURCE_CL));
            c->after[TW_OBSERVED_CYANURATE][i] *= 1.0 - x;
            c->after[TW_OBSERVED_BORATE][i] *= 1.0 - x;
            break;
        case TW_UNLOGGED_SALT_POURED: move_salt(c, i, x); break;
        default: break;
        }
    }
    if (act == TW_UNLOGGED_ACID_POURED || act == TW_UNLOGGED_BASE_POURED || act == TW_UNLOGGED_AIRED)
        move_ph(c, act == TW_UNLOGGED_AIRED ? x : 0.0);
    if (act == TW_EXPLAINED_SCALE)
        fall_out(c, x, hours);
}

static double factor_at(const term *t, double inside)
{
    return tw_estimate_factor(&t->r, t->wide, tw_estimate_on_scale(&t->r, inside));
}

static int term_of(const tw_written_reading *w, term *out)
{
    double bias_sd = 0.0;
    if (tw_estimate_reading(w, &out->r, &bias_sd) != TW_OK || w->observed == TW_OBSERVED_WATER)
        return 0;
    out->wide = sqrt(out->r.sd * out->r.sd + bias_sd * bias_sd);
    return 1;
}

/* Likelihood of the readings beside it at one member: each may be rubbish. */
static double beside_at(const term *beside, size_t n, double value[COLUMNS][MEMBERS], size_t i)
{
    double product = 1.0;
    for (size_t k = 0; k < n; k++)
        product *= (1.0 - beside[k].r.rubbish) * factor_at(&beside[k], value[beside[k].r.observed][i]) +
                   tw_estimate_rubbish_floor(&beside[k].r, beside[k].r.sd);
    return product;
}

/* Weighted sums of what each retest would show under an explanation. */
typedef struct {
    double weight, size, sum[RETESTS], square[RETESTS];
} tally;

static void count(tally *t, double weight, double size, double value[COLUMNS][MEMBERS], size_t i)
{
    t->weight += weight;
    t->size += weight * size;
    for (int k = 0; k < RETESTS; k++) {
        const double x = value[RETEST[k].observed][i];
        t->sum[k] += weight * x;
        t->square[k] += weight * x * x;
    }
}

static double apart(const tally *a, const tally *b, int k)
{
    const double ma = a->sum[k] / a->weight, mb = b->sum[k] / b->weight;
    const double va = a->square[k] / a->weight - ma * ma, vb = b->square[k] / b->weight - mb * mb;
    const double sd = RETEST[k].sd_abs + RETEST[k].sd_rel * 0.5 * (ma + mb);
    return fabs(ma - mb) / sqrt((va > 0.0 ? va : 0.0) + (vb > 0.0 ? vb : 0.0) + sd * sd);
}

/* The retest that separates the two likeliest: the same analyte if that will do, else the one that does it best. */
static void choose_retest(const tally *all, int same, tw_explained *out)
{
    out->retest = -1;
    out->apart = 0.0;
    if (out->count < 2)
        return;
    const tally *a = &all[out->why[0].act], *b = &all[out->why[1].act];
    for (int k = 0; k < RETESTS; k++) {
        const double z = apart(a, b, k);
        const int better = RETEST[k].observed == same ? z >= WILL_DO || z > out->apart : z > out->apart;
        if (better) {
            out->retest = RETEST[k].observed;
            out->apart = z;
        }
        if (RETEST[k].observed == same && z >= WILL_DO)
            return;
    }
}

static void rank(const tally *all, tw_explained *out)
{
    double sum = 0.0;
    for (int a = 0; a < TW_EXPLANATIONS; a++)
        sum += all[a].weight;
    out->count = 0;
    for (int a = 0; a < TW_EXPLANATIONS; a++) {
        const double p = sum > 0.0 ? all[a].weight / sum : 0.0;
        if (p < LEAST)
            continue;
        size_t at = out->count++;
        for (; at > 0 && out->why[at - 1].probability < p; at--)
            out->why[at] = out->why[at - 1];
        out->why[at].act = a;
        out->why[at].probability = p;
        out->why[at].size = all[a].size / all[a].weight;
    }
}

static void weigh_act(crowd *c, int act, const term *odd, const term *beside, size_t n, double hours, tally *t)
{
    static const tw_unlogged_row FELL = {TW_SCALE_FELL_PER_DAY, TW_SCALE_FELL_LOW, TW_SCALE_FELL_HIGH};
    const tw_unlogged_row *row = act == TW_EXPLAINED_SCALE ? &FELL : &tw_estimate_unlogged[act];
    const int sizes = act == TW_EXPLAINED_SCALE ? RATES : SIZES;
    const double step = tw_log(row->high / row->low) / sizes;
    const double each = (1.0 - tw_exp(-row->per_day * hours / 24.0)) / sizes * (1.0 - odd->r.rubbish);
    for (int k = 0; k < sizes; k++) {
        const double x = row->low * tw_exp(step * ((double)k + 0.5));
        if (act == TW_UNLOGGED_GENERATOR_OFF && x > hours)
            break;
        do_act(c, act, x, hours);
        for (size_t i = 0; i < c->n; i++) {
            if (!(fabs(c->after[odd->r.observed][i] - c->value[odd->r.observed][i]) > 0.0))
                continue; /* what leaves it as it was explains nothing, however well the member fits */
            const double seen = factor_at(odd, c->after[odd->r.observed][i]);
            if (seen > 1e-30)
                count(t, each * seen * beside_at(beside, n, c->after, i), x, c->after, i);
        }
    }
}

tw_status tw_estimate_explain(const tw_belief *b, const tw_written_reading *odd, const tw_written_reading *beside,
                              size_t n_beside, double hours_open, tw_explained *out)
{
    crowd c;
    term what, with[TW_BESIDE];
    tally all[TW_EXPLANATIONS];
    size_t n = 0;
    memset(out, 0, sizeof *out);
    memset(all, 0, sizeof all);
    out->retest = -1;
    out->hours = hours_open < 1.0 ? 1.0 : (hours_open > 336.0 ? 336.0 : hours_open);
    if (!term_of(odd, &what))
        return TW_ERR_UNKNOWN;
    if (as_written(b) == 0)
        return TW_ERR_RANGE;
    for (size_t i = 0; i < n_beside && n < TW_BESIDE; i++)
        n += (size_t)term_of(&beside[i], &with[n]);
    memset(&c, 0, sizeof c);
    gather(&c, b);
    const double wrong = tw_estimate_rubbish_floor(&what.r, what.r.sd);
    for (size_t i = 0; i < c.n; i++)
        count(&all[TW_UNLOGGED_NONE], wrong * beside_at(with, n, c.value, i), 0.0, c.value, i);
    for (int a = 0; a < TW_UNLOGGED_ACTS; a++)
        weigh_act(&c, a, &what, with, n, out->hours, &all[a]);
    weigh_act(&c, TW_EXPLAINED_SCALE, &what, with, n, out->hours, &all[TW_EXPLAINED_SCALE]);
    rank(all, out);
    choose_retest(all, what.r.observed, out);
    return TW_OK;
}
