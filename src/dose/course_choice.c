/* dose/course_choice.c: see course_choice.h. */
#include "dose/course_choice.h"

#include <math.h>
#include <string.h>

#include "dose/size.h"
#include "num/pick.h"

/* ------------------------------------------------------------------------------------ who may, and for what */

int tw_dose_visit_may(const tw_course_ask *ask, size_t j)
{
    const tw_course_stock *s = &ask->stock[j];
    if (s->barred || s->substance.who > ask->pours || s->substance.who == TW_WHO_CALCULATOR || s->left_g <= 0.0)
        return 0;
    for (size_t b = 0; b < ask->befores; b++) {
        const tw_dose_pair_verdict v = tw_dose_may_follow(ask->before[b].family, ask->before[b].minutes_ago, s->substance.family, 0);
        if (v.wait_left_min < 0.0)
            return 0; /* waiting does not help */
    }
    return 1;
}

int tw_dose_visit_meant(tw_effect effect, int q)
{
    switch (effect) {
    case TW_EFFECT_TA_UP: return q == TW_OF_ALKALINITY || q == TW_OF_PH;
    case TW_EFFECT_TA_DOWN: return q == TW_OF_ALKALINITY || q == TW_OF_PH ? -1 : 0;
    case TW_EFFECT_CH_UP: return q == TW_OF_CALCIUM;
    case TW_EFFECT_SALT_UP: return q == TW_OF_SALT;
    case TW_EFFECT_FC_UP: return q == TW_OF_CHLORINE;
    case TW_EFFECT_FC_DOWN: return q == TW_OF_CHLORINE ? -1 : 0;
    case TW_EFFECT_CYA_UP: return q == TW_OF_CYANURATE;
    case TW_EFFECT_PO4_DOWN: return q == TW_OF_PHOSPHATE ? -1 : 0;
    case TW_EFFECT_B_UP: case TW_EFFECT_OXIDISER: case TW_EFFECT_MGH_UP: case TW_EFFECTS: break;
    }
    return 0;
}

/* What a gram moves leads that way. */
static int leads(double each, int way)
{
    return way > 0 ? each > 0.0 : each < 0.0;
}

int tw_dose_visit_plainest(const tw_rows *r, int q, int way, int any)
{
    const int row = q == TW_OF_PH ? TW_ROW_PH_TARGET : q;
    int best = -1;
    for (size_t j = 0; j < r->ask->stocks; j++)
        if (tw_dose_visit_meant(r->ask->stock[j].substance.effect, q) == way && (any || tw_dose_visit_may(r->ask, j)) &&
            leads(r->per_g[row][j], way) && (best < 0 || fabs(r->per_g[row][j]) > fabs(r->per_g[row][best])))
            best = (int)j;
    return best;
}

/* What removes chlorine first; then acid, which makes room; calcium after alkalinity; salt; chlorine last, apart from
 * acid and at the pH that air left. */
int tw_dose_visit_rank(tw_effect effect, int *after)
{
    static const int RANK[TW_EFFECTS] = {
        [TW_EFFECT_FC_DOWN] = 0, [TW_EFFECT_TA_DOWN] = 1, [TW_EFFECT_TA_UP] = 2, [TW_EFFECT_PO4_DOWN] = 3,
        [TW_EFFECT_CYA_UP] = 4,  [TW_EFFECT_B_UP] = 5,    [TW_EFFECT_MGH_UP] = 6, [TW_EFFECT_CH_UP] = 7,
        [TW_EFFECT_SALT_UP] = 8, [TW_EFFECT_OXIDISER] = 9, [TW_EFFECT_FC_UP] = 10};
    *after = RANK[effect] >= 9;
    return RANK[effect];
}

size_t tw_dose_visit_before_air(const tw_rows *r, const tw_visit *v)
{
    size_t before = 0;
    for (size_t k = 0; k < v->additions; k++) {
        int after;
        (void)tw_dose_visit_rank(r->ask->stock[v->stock[k]].substance.effect, &after);
        before += !after;
    }
    return before;
}

double tw_dose_visit_cap(const tw_rows *r, size_t j, int serves, tw_course_bound *by)
{
    const tw_course_stock *s = &r->ask->stock[j];
    const int of = serves == TW_OF_PH ? TW_OF_ALKALINITY : serves; /* of a trim it is one of alkalinity: a straight line */
    const double kg = r->ask->rough_water_kg > 0.0 ? r->ask->rough_water_kg : r->middle_kg, change = r->ask->largest_change[of];
    double cap = TW_DOSE_NEVER;
    *by = TW_COURSE_BOUND_NOTHING;
    if (change > 0.0) {
        cap = tw_dose_grams_for_change(kg, &s->substance, (tw_quantity_of_water)of, change, r->ask->waters->solvent_kg_per_l);
        *by = TW_COURSE_BOUND_CAP;
    }
    if (s->single_g > 0.0 && s->single_g < cap) {
        cap = s->single_g;
        *by = TW_COURSE_BOUND_CAP;
    }
    if (s->left_g < cap) { /* not when NaN */
        cap = s->left_g;
        *by = TW_COURSE_BOUND_STOCK;
    }
    return cap;
}

/* ------------------------------------------------------------------------------------ grams to the targets */

/* Grams of one pour that bring the row to its target, the others as they are. */
static double to_target(const tw_rows *r, const double row[TW_ROWS], double kg, const tw_pour *p)
{
    const int at = p->serves == TW_OF_PH ? TW_ROW_PH_TARGET : p->serves;
    const double target = p->serves == TW_OF_PH ? 0.0 : r->ask->band[p->serves].target;
    const double each = r->per_g[at][p->stock] / kg;
    const double missing = (target - row[at]) / each;
    const double practice = r->ask->stock[p->stock].substance.effect == TW_EFFECT_PO4_DOWN ? TW_DOSE_LANTHANUM_PRACTICE : 1.0;
    return missing > 0.0 ? practice * missing : 0.0; /* not when each is 0 either: NaN or infinite the wrong way */
}

/* All pours together: each sees what the others bring; later ones correct for earlier ones, three times over. Lanthanum
 * acts only as far as phosphate goes: its practice is no side effect to be corrected. */
static void aim(const tw_rows *r, const double middle[TW_ROWS], double kg, tw_pour *p, size_t n)
{
    for (int turn = 0; turn < 3; turn++)
        for (size_t a = 0; a < n; a++) {
            double row[TW_ROWS];
            memcpy(row, middle, sizeof row);
            for (size_t b = 0; b < n; b++)
                for (int i = 0; b != a && i < TW_ROWS; i++)
                    row[i] += r->per_g[i][p[b].stock] / kg * p[b].grams;
            p[a].grams = to_target(r, row, kg, &p[a]);
            if (!(p[a].grams < 20.0 * kg)) /* 20 g/kg is no dose */
                p[a].grams = 0.0;
        }
}

double tw_dose_visit_whole(const tw_rows *r, uint32_t stock, int serves)
{
    tw_pour p = {stock, serves, 0.0};
    aim(r, r->middle, r->middle_kg, &p, 1);
    return p.grams;
}

int tw_dose_visit_air(const tw_rows *r, const double after[TW_ROWS], const int way[TW_OF_QUANTITIES])
{
    if (!(r->ask->air_hours > 0.0))
        return 0;
    const int banded = tw_dose_rows_banded(r, TW_OF_PH);
    if (!banded && way[TW_OF_ALKALINITY] >= 0)
        return 0; /* no acid, and nobody asked about pH */
    if (banded && !(after[TW_ROW_PH_IN_LOW] < 0.0))
        return 0; /* about its target or above: air would only lift it */
    const tw_course_band *ta = &r->ask->band[TW_OF_ALKALINITY];
    const int goes_on = way[TW_OF_ALKALINITY] < 0 && after[TW_OF_ALKALINITY] > ta->high; /* more acid follows */
    const int to = goes_on || !banded ? TW_ROW_PH_AIR : TW_ROW_PH_TARGET;
    return after[to] < 0.0 ? to : 0;
}

/* ------------------------------------------------------------------------------------ which products */

static const int ORDER[TW_OF_QUANTITIES] = {TW_OF_ALKALINITY, TW_OF_PH,   TW_OF_PHOSPHATE, TW_OF_CYANURATE,
                                            TW_OF_CALCIUM,    TW_OF_SALT, TW_OF_SULFATE,   TW_OF_CHLORINE};

static void add_option(const tw_rows *r, tw_need *q, uint32_t j, size_t most)
{
    const int row = q->q == TW_OF_PH ? TW_ROW_PH_TARGET : q->q;
    if (!leads(r->per_g[row][j], q->way))
        return;
    tw_pour p = {j, q->q, 0.0};
    aim(r, r->middle, r->middle_kg, &p, 1);
    if (!(p.grams > 0.0))
        return;
    size_t at = q->options < most ? q->options++ : most;
    while (at > 0 && q->option[at - 1].grams > p.grams) { /* the least mass first; equal ones as listed */
        if (at < most)
            q->option[at] = q->option[at - 1];
        at--;
    }
    if (at < most)
        q->option[at] = p;
}

static double swap_share(const tw_rows *r, const tw_need *q)
{
    double share = 0.0;
    if (q->way > 0 || q->q == TW_OF_PH || q->q == TW_OF_CHLORINE || !(r->ask->exchange_most > 0.0))
        return 0.0;
    if (tw_dose_swap_fraction(r->middle[q->q], r->source[q->q], r->ask->band[q->q].target, &share) != TW_OK) {
        if (!(r->source[q->q] < r->middle[q->q]))
            return 0.0;
        share = 1.0; /* never to the target, but nearer */
    }
    share = tw_min(share, r->ask->exchange_most);
    return share >= TW_COURSE_SWAP_FINEST ? ceil(share / TW_COURSE_SWAP_FINEST - 1e-9) * TW_COURSE_SWAP_FINEST : 0.0;
}

static void need_of(const tw_rows *r, int q, int way, size_t most, tw_need *out)
{
    memset(out, 0, sizeof *out);
    out->q = q;
    out->way = way;
    if (q == TW_OF_PH && way > 0 && r->ask->air_hours > 0.0)
        return; /* too much carbon dioxide: air, and nothing added */
    for (size_t j = 0; j < r->ask->stocks; j++)
        if (tw_dose_visit_may(r->ask, j) && tw_dose_visit_meant(r->ask->stock[j].substance.effect, q) == way)
            add_option(r, out, (uint32_t)j, most);
    out->share = swap_share(r, out);
    if (out->share > r->ask->exchange_most)
        out->share = floor(r->ask->exchange_most / TW_COURSE_SWAP_FINEST + 1e-9) * TW_COURSE_SWAP_FINEST;
    out->waits = q == TW_OF_CHLORINE && way < 0 && r->ask->loss_per_h > 0.0;
}

void tw_dose_choice_look(const tw_rows *r, const tw_columns *c, size_t most, int acid_first, tw_needs *out)
{
    memset(out, 0, sizeof *out);
    for (int a = 0; a < TW_OF_QUANTITIES; a++) {
        const int q = ORDER[a];
        if (!tw_dose_rows_banded(r, q))
            continue;
        out->way[q] = tw_dose_rows_standing(r, c, q).way;
        if (out->way[q] == 0)
            continue;
        tw_need *now = &out->of[out->n++];
        need_of(r, q, out->way[q], most, now);
        /* One number at a time: what moves alkalinity moves pH, and the rest of pH is for later. */
        if (q == TW_OF_PH && out->way[TW_OF_ALKALINITY] != 0 && out->of[0].options > 0)
            out->of[acid_first ? 0 : out->n - 1].options = 0;
    }
}

/* A choice: for each need which option, or none (-1), or the exchange (TW_COURSE_OPTIONS), or waiting (TW_COURSE_OPTIONS + 1). */
typedef struct {
    int pick[TW_OF_QUANTITIES];
} choice;

/* Grams for the choice. What is not served now will be later, so its side effects are reckoned with already: the
 * chloride of acid that is still to come is part of the salt. */
static void grams_of(const tw_rows *r, const tw_needs *w, tw_visit *v)
{
    tw_pour p[TW_OF_QUANTITIES + TW_COURSE_ADDITIONS];
    size_t n = 0;
    double row[TW_ROWS];
    for (int i = 0; i < TW_ROWS; i++)
        row[i] = (1.0 - v->share) * r->middle[i] + v->share * r->source[i];
    for (size_t k = 0; k < v->additions; k++)
        p[n++] = (tw_pour){v->stock[k], v->serves[k], 0.0};
    for (size_t a = 0; a < w->n; a++) {
        int served = w->of[a].options == 0;
        for (size_t k = 0; k < n; k++)
            served = served || p[k].serves == w->of[a].q || p[k].stock == w->of[a].option[0].stock;
        /* pH by acid where alkalinity is brought down: one acid for both. */
        served = served || (w->of[a].q == TW_OF_PH && w->way[TW_OF_ALKALINITY] != 0);
        if (!served)
            p[n++] = (tw_pour){w->of[a].option[0].stock, w->of[a].q, 0.0};
    }
    aim(r, row, r->middle_kg, p, n);
    for (size_t k = 0; k < v->additions; k++)
        v->grams[k] = p[k].grams;
}

static void sort_additions(const tw_rows *r, tw_visit *v)
{
    for (size_t a = 1; a < v->additions; a++)
        for (size_t b = a; b > 0; b--) {
            int after;
            const int now = tw_dose_visit_rank(r->ask->stock[v->stock[b]].substance.effect, &after);
            const int before = tw_dose_visit_rank(r->ask->stock[v->stock[b - 1]].substance.effect, &after);
            if (now >= before)
                break;
            const uint32_t stock = v->stock[b];
            const int serves = v->serves[b];
            v->stock[b] = v->stock[b - 1];
            v->serves[b] = v->serves[b - 1];
            v->stock[b - 1] = stock;
            v->serves[b - 1] = serves;
        }
}

/* Two products that one visit must not have together. What moves a quantity up never meets what moves it down: a need has
 * one way, and pH waits for alkalinity. */
static int clash(const tw_rows *r, uint32_t a, uint32_t b)
{
    const tw_substance *x = &r->ask->stock[a].substance, *y = &r->ask->stock[b].substance;
    const tw_dose_pair *pair = tw_dose_pair_of(x->family, y->family);
    return x->effect == y->effect || (pair != NULL && pair->wait_min < 0.0);
}

static int add(const tw_rows *r, const tw_needs *w, size_t a, int pick, tw_visit *v)
{
    const tw_need *q = &w->of[a];
    if (pick == TW_COURSE_OPTIONS) {
        v->share = tw_max(q->share, v->share);
        return q->share > 0.0;
    }
    if (pick == TW_COURSE_OPTIONS + 1) {
        v->keeps = r->ask->band[TW_OF_CHLORINE].target / r->middle[TW_OF_CHLORINE];
        return q->waits && v->keeps > 0.0 && v->keeps < 1.0;
    }
    const uint32_t j = q->option[pick].stock;
    for (size_t k = 0; k < v->additions; k++) {
        if (v->stock[k] == j)
            return 1; /* one product for two tw_needs */
        if (clash(r, v->stock[k], j))
            return 0;
    }
    if (v->additions == TW_COURSE_ADDITIONS)
        return 0;
    v->stock[v->additions] = j;
    v->serves[v->additions++] = q->q;
    return 1;
}

/* What must be true before: lanthanum once alkalinity is final, calcium and chlorine at a pH within its band. */
static int may_now(const tw_rows *r, const tw_needs *w, const tw_visit *v)
{
    double row[TW_ROWS];
    tw_dose_rows_middle(r, v, row);
    int solvable = r->ask->air_hours > 0.0 && w->way[TW_OF_PH] > 0;
    for (size_t a = 0; a < w->n; a++)
        solvable = solvable || (w->of[a].q == TW_OF_PH && w->of[a].options > 0);
    if (v->additions == 1 && r->ask->stock[v->stock[0]].substance.effect == TW_EFFECT_FC_UP)
        for (size_t a = 0; a < w->n; a++) /* chlorine is the last */
            if (w->of[a].q != TW_OF_CHLORINE && w->of[a].options > 0)
                return 0;
    const int banded = tw_dose_rows_banded(r, TW_OF_PH), high = banded && row[TW_ROW_PH_HIGH] > 0.0,
              low = banded && row[TW_ROW_PH_LOW] < 0.0;
    for (size_t k = 0; k < v->additions; k++)
        switch (r->ask->stock[v->stock[k]].substance.effect) {
        case TW_EFFECT_PO4_DOWN:
            if (w->way[TW_OF_ALKALINITY] < 0)
                return 0;
            break;
        case TW_EFFECT_CH_UP:
            if (high && solvable)
                return 0;
            break;
        case TW_EFFECT_FC_UP: case TW_EFFECT_OXIDISER:
            if ((high || low) && solvable)
                return 0;
            break;
        case TW_EFFECT_TA_UP: case TW_EFFECT_TA_DOWN: case TW_EFFECT_SALT_UP: case TW_EFFECT_CYA_UP:
        case TW_EFFECT_B_UP: case TW_EFFECT_FC_DOWN: case TW_EFFECT_MGH_UP: case TW_EFFECTS: break;
        }
    return 1;
}

/* The visit of a choice, with grams to the targets; 0 when it cannot be. */
static int visit_of(const tw_rows *r, const tw_needs *w, const choice *c, tw_visit *v)
{
    memset(v, 0, sizeof *v);
    v->keeps = 1.0;
    for (size_t a = 0; a < w->n; a++)
        if (c->pick[a] >= 0 && !add(r, w, a, c->pick[a], v))
            return 0;
    sort_additions(r, v);
    grams_of(r, w, v);
    double row[TW_ROWS];
    tw_dose_rows_middle(r, v, row);
    v->air = tw_dose_visit_air(r, row, w->way);
    for (size_t k = 0; k < v->additions; k++)
        if (!(v->grams[k] > 0.0))
            return 0;
    return (v->additions > 0 || v->share > 0.0 || v->air != 0 || v->keeps < 1.0) && may_now(r, w, v);
}

int tw_dose_choice_can_move(const tw_rows *r, int q, int way)
{
    tw_need one;
    need_of(r, q, way, 1, &one);
    return one.options > 0 || one.share > 0.0 || (q == TW_OF_PH && way > 0 && r->ask->air_hours > 0.0);
}

static int next_choice(const tw_needs *w, choice *c)
{
    for (size_t a = 0; a < w->n; a++) {
        const tw_need *q = &w->of[a];
        do
            c->pick[a]++;
        while ((c->pick[a] >= (int)q->options && c->pick[a] < TW_COURSE_OPTIONS) || (c->pick[a] == TW_COURSE_OPTIONS && !(q->share > 0.0)) ||
               (c->pick[a] == TW_COURSE_OPTIONS + 1 && !q->waits));
        if (c->pick[a] <= TW_COURSE_OPTIONS + 1)
            return 1;
        c->pick[a] = -1;
    }
    return 0;
}

/* A rough price of a choice: half bands left open where nothing serves, less where something does. */
static double rough(const tw_rows *r, const tw_needs *w, const tw_visit *v)
{
    double row[TW_ROWS];
    tw_dose_rows_middle(r, v, row);
    return tw_dose_rows_distance(r, row, w->way);
}

/* The same products and moves serve in more than one way (acid for alkalinity and for pH): once is enough. */
static int is_listed(const tw_candidate *list, size_t n, const tw_visit *v)
{
    for (size_t a = 0; a < n; a++) {
        const tw_visit *u = &list[a].visit;
        int same = u->additions == v->additions && u->share == v->share && u->keeps == v->keeps && u->air == v->air;
        for (size_t k = 0; k < v->additions && same; k++)
            same = u->stock[k] == v->stock[k] && u->serves[k] == v->serves[k];
        if (same)
            return 1;
    }
    return 0;
}

size_t tw_dose_choice_list(const tw_rows *r, const tw_needs *w, size_t most, tw_candidate out[TW_COURSE_SHORTLIST])
{
    choice c;
    size_t n = 0;
    double served[TW_COURSE_SHORTLIST] = {0.0};
    for (int a = 0; a < TW_OF_QUANTITIES; a++)
        c.pick[a] = -1;
    do {
        tw_visit v;
        if (!visit_of(r, w, &c, &v))
            continue;
        if (is_listed(out, n, &v))
            continue;
        /* A product more is worth its minutes: 0.02 of a half band. */
        const double price = rough(r, w, &v) + 0.02 * (double)v.additions + (v.share > 0.0 ? 0.5 : 0.0);
        size_t at = n < most ? n++ : most;
        while (at > 0 && served[at - 1] > price) {
            if (at < most) {
                served[at] = served[at - 1];
                out[at] = out[at - 1];
            }
            at--;
        }
        if (at < most) {
            memset(&out[at], 0, sizeof out[at]);
            out[at].visit = v;
            served[at] = price;
        }
    } while (next_choice(w, &c));
    return n;
}
