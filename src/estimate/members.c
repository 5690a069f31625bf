/* estimate/members.c: from kept states of the chains to the members of a belief. */
#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/hands.h"
#include "estimate/members.h"
#include "estimate/output.h"
#include "estimate/tails.h"
#include "estimate/teach.h"
#include "estimate/unseen.h"
#include "estimate/unwritten.h"
#include "num/elementary.h"
#include "num/philox.h"

/* Which of all members a kept state is: those of one state stand side by side, one a chain. */
static size_t among_all(const tw_sampler *s, size_t k)
{
    return k / s->options.chains * s->all_chains + s->first_chain + k % s->options.chains;
}

/* The kept states of a group of lanes. move: of each lane, in steps of s->last.shift; NULL: none. */
static void fill_x(tw_sampler *s, const size_t kept[], const tw_lanes *move)
{
    const tw_model *m = s->model;
    const size_t n = m->active;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        for (size_t i = 0; i < n; i++)
            s->y[i].v[l] = s->kept[kept[l] * n + i];
        tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_FREE, (uint32_t)among_all(s, kept[l]));
        for (size_t i = n; i < m->dims; i++)
            s->x[m->role[i]].v[l] = tw_stream_normal(&stream);
    }
    tw_estimate_frame_out(&s->frame, s->y, s->step);
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) s->x[m->role[i]].v[l] = s->map[i] + s->step[i].v[l];
    for (size_t i = 0; i < n && move != NULL; i++)
        TW_EACH_LANE(l) s->x[m->role[i]].v[l] += move->v[l] * s->last.shift[i];
    tw_estimate_bend(m, s->x, &s->bend);
}

static double water_ph(const tw_model *m, const tw_state *st, int lane)
{
    tw_acids a;
    tw_lanes alk, zero = tw_lanes_of(0.0);
    tw_acid_root root;
    tw_acid_guess guess;
    TW_EACH_LANE(l)
    {
        a.active.v[l] = st->chlorine.v[l] / TW_MG_PER_MMOL_CL2;
        alk.v[l] = st->total[TW_T_ALK].v[l] + a.active.v[l];
    }
    a.borate = st->total[TW_T_BORATE];
    a.cyanurate = st->total[TW_T_CYA];
    a.phosphate = st->total[TW_T_PO4];
    tw_estimate_acid_guess(&m->acid[m->now_acid], &guess);
    tw_estimate_acid_solve(&m->acid[m->now_acid], alk, st->total[TW_T_DIC], zero, &a, TW_NEWTON_STEPS, &guess, &root, NULL);
    return -tw_log10(root.h.v[lane]);
}

/* As they are in the water that stands there, which evaporation has concentrated; the sampler's own are over the line. */
static void write_totals(const tw_state *st, int l, size_t k, tw_belief *b)
{
    const double by = 1e-3 / (1.0 - st->low.v[l]);
    const double active = st->chlorine.v[l] / TW_MG_PER_MMOL_CL2;
    const double ca = st->total[TW_T_CA].v[l], mg = st->total[TW_T_MG].v[l];
    const double spent = st->total[TW_T_CL].v[l], so4 = st->total[TW_T_SO4].v[l];
    const double cl = spent > active ? spent - active : 0.0;
    const double alk = st->total[TW_T_ALK].v[l] + active;
    const double carbon = st->total[TW_T_DIC].v[l];
    const double na = alk - 2.0 * ca - 2.0 * mg + cl + 2.0 * so4;
    /* Sodium balances the charges; where the others already outweigh it, the rest is "other anion". */
    b->total[TW_TOTAL_NA][k] = by * (na > 0.0 ? na : 0.0);
    b->total[TW_TOTAL_OTHER][k] = by * (na > 0.0 ? 0.0 : -na);
    b->total[TW_TOTAL_K][k] = 0.0;
    b->total[TW_TOTAL_CA][k] = by * ca;
    b->total[TW_TOTAL_MG][k] = by * mg;
    b->total[TW_TOTAL_CL][k] = by * cl;
    b->total[TW_TOTAL_SO4][k] = by * so4;
    b->total[TW_TOTAL_DIC][k] = by * (carbon > 0.0 ? carbon : 0.0);
    b->total[TW_TOTAL_BORATE][k] = by * st->total[TW_T_BORATE].v[l];
    b->total[TW_TOTAL_CYANURATE][k] = by * st->total[TW_T_CYA].v[l];
    b->total[TW_TOTAL_ACTIVE_CHLORINE][k] = tw_estimate_active_mol_per_kg(st->chlorine.v[l]);
    b->total[TW_TOTAL_PHOSPHATE][k] = by * st->total[TW_T_PO4].v[l];
}

static void write_member(const tw_sampler *s, int l, size_t k, tw_belief *b)
{
    const tw_model *m = s->model;
    const tw_problem *p = m->problem;
    const tw_path *path = s->path;
    const tw_state *st = &path->state;
    const tw_parameters *par = &path->par;
    double *const *c = b->column;
    const double age = m->now_film_h;
    const double film =
        age >= 0.0 ? par->fixed[TW_X_FILM].v[l] * tw_exp(-age / par->fixed[TW_X_FILM_HOURS].v[l])
                   : par->fixed[TW_X_FILM].v[l];
    const double loss_day = m->now_day >= 0 ? par->loss_day[m->now_day].v[l] : 0.0;
    const double made_day = m->now_day >= 0 ? par->made_day[m->now_day].v[l] : 0.0;
    double salt = 1.0;
    if (m->plate_salt_mmol_per_kg > 0.0) {
        tw_lanes share;
        tw_estimate_salt_share(&st->total[TW_T_CL], m->plate_salt_mmol_per_kg, &share, NULL);
        salt = share.v[l];
    }
    const double remnant = st->remnant.v[l] < st->chlorine.v[l] ? st->remnant.v[l] : st->chlorine.v[l];
    c[TW_COLUMN_WATER_KG][k] = st->water_kg.v[l];
    c[TW_COLUMN_TEMP_K][k] = m->now_temp_c + 273.15;
    c[TW_COLUMN_CHLORINE_MG_PER_KG][k] = st->chlorine.v[l];
    c[TW_COLUMN_REMNANT_MG_PER_KG][k] = remnant;
    c[TW_COLUMN_MADE_MG_PER_KG][k] = st->chlorine.v[l] - remnant;
    c[TW_COLUMN_DEMAND_MG_PER_KG][k] = st->demand.v[l];
    c[TW_COLUMN_COMBINED_MG_PER_KG][k] = st->combined.v[l];
    c[TW_COLUMN_UNDISSOLVED_G][k] = st->undissolved_g.v[l];
    c[TW_COLUMN_PH][k] = water_ph(m, st, l);
    c[TW_COLUMN_LOSS_38_PER_H][k] = par->fixed[TW_X_LOSS].v[l];
    c[TW_COLUMN_LOSS_NOW_PER_H][k] = path->loss[m->now_loss_class].v[l] * tw_estimate_follow_now(m, path).v[l] + (age >= 0.0 ? film : 0.0);
    c[TW_COLUMN_LOSS_EA_KJ_PER_MOL][k] = par->fixed[TW_X_LOSS_EA].v[l];
    c[TW_COLUMN_LOSS_DAY][k] = loss_day;
    c[TW_COLUMN_FILM_PER_H][k] = film;
    c[TW_COLUMN_FILM_HOURS][k] = par->fixed[TW_X_FILM_HOURS].v[l];
    c[TW_COLUMN_DEMAND_RATE][k] = par->fixed[TW_X_DEMAND_RATE].v[l];
    c[TW_COLUMN_DEMAND_INFLOW][k] = par->fixed[TW_X_INFLOW].v[l];
    c[TW_COLUMN_BATHER_G_PER_H][k] = par->fixed[TW_X_BATHER].v[l];
    c[TW_COLUMN_CELL_FACTOR][k] = par->cell[m->now_cell].v[l];
    c[TW_COLUMN_OUTPUT_G_PER_H][k] = p->plate_output_g_per_h * par->cell[m->now_cell].v[l] * tw_exp(p->day_sd * made_day) *
                                     tw_estimate_cold_share(m->now_temp_c) * salt;
    c[TW_COLUMN_OUTPUT_DAY][k] = made_day;
    c[TW_COLUMN_KLA_STILL_PER_H][k] = par->fixed[TW_X_KLA_STILL].v[l];
    c[TW_COLUMN_KLA_JETS_PER_H][k] = par->fixed[TW_X_KLA_JETS].v[l];
    c[TW_COLUMN_DISSOLVE_PER_H][k] = par->fixed[TW_X_DISSOLVE].v[l];
    c[TW_COLUMN_IONS_US_PER_CM][k] = par->fixed[TW_X_IONS].v[l];
    c[TW_COLUMN_HOCL_PART][k] = m->follows ? par->fixed[TW_X_HOCL_PART].v[l] : 0.0;
    c[TW_COLUMN_SCALE_PER_H][k] = par->fixed[TW_X_SCALE_RATE].v[l];
    write_totals(st, l, k, b);
}

/* The coordinate of what may be learned. */
static size_t known_role(const tw_model *m, int known)
{
    static const int ROLE[TW_KNOWNS] = {
        [TW_KNOWN_WATER] = TW_X_WATER,
        [TW_KNOWN_LOSS] = TW_X_LOSS,
        [TW_KNOWN_LOSS_EA] = TW_X_LOSS_EA,
        [TW_KNOWN_FILM] = TW_X_FILM,
        [TW_KNOWN_DEMAND0] = TW_X_DEMAND0,
        [TW_KNOWN_DEMAND_RATE] = TW_X_DEMAND_RATE,
        [TW_KNOWN_INFLOW] = TW_X_INFLOW,
        [TW_KNOWN_KLA_STILL] = TW_X_KLA_STILL,
        [TW_KNOWN_KLA_JETS] = TW_X_KLA_JETS,
        [TW_KNOWN_ALKALINITY] = TW_X_ALKALINITY,
        [TW_KNOWN_CARBON] = TW_X_CARBON,
        [TW_KNOWN_HARDNESS] = TW_X_HARDNESS,
        [TW_KNOWN_CHLORIDE] = TW_X_CHLORIDE,
        [TW_KNOWN_CYANURATE] = TW_X_CYANURATE,
        [TW_KNOWN_PHOSPHATE] = TW_X_PHOSPHATE,
        [TW_KNOWN_DISSOLVE] = TW_X_DISSOLVE,
    };
    static const int CUT[TW_KNOWNS] = { /* after a cut the water as it was there: 1 + its place */
        [TW_KNOWN_ALKALINITY] = 1 + TW_CUT_ALKALINITY, [TW_KNOWN_CARBON] = 1 + TW_CUT_PH,
        [TW_KNOWN_HARDNESS] = 1 + TW_CUT_CALCIUM,      [TW_KNOWN_CHLORIDE] = 1 + TW_CUT_CHLORIDE,
        [TW_KNOWN_CYANURATE] = 1 + TW_CUT_CYANURATE,   [TW_KNOWN_PHOSPHATE] = 1 + TW_CUT_PHOSPHATE,
    };
    if (known == TW_KNOWN_CELL)
        return m->x_cell + (size_t)m->now_cell;
    return m->problem->goes_on && CUT[known] > 0 ? m->x_cut + (size_t)CUT[known] - 1 : (size_t)ROLE[known];
}

/* Share of the prior variance (1, in every coordinate) that the readings took away. */
static void write_learned(const tw_sampler *s, const double *sum, const double *square, size_t members,
                          tw_belief *b)
{
    const tw_model *m = s->model;
    const double n = (double)members;
    for (int i = 0; i < TW_KNOWNS; i++) {
        const double mean = sum[i] / n;
        const double learned = 1.0 - (square[i] / n - mean * mean);
        b->learned[i] = (size_t)m->place[known_role(m, i)] < m->active ? (learned < 0.0 ? 0.0 : learned) : 0.0;
    }
}

static void write_contradictions(const tw_sampler *s, size_t members, tw_belief *b)
{
    const tw_problem *p = s->model->problem;
    b->contradictions = 0;
    for (size_t r = 0; r < p->readings; r++) {
        const double chance = s->rubbish[r] / (double)members;
        if (chance < TW_DOUBTFUL || p->reading[r].rubbish > 0.25 || p->reading[r].standard)
            continue;
        uint32_t at = b->contradictions; /* the most doubtful first; ties keep their order */
        while (at > 0 && b->contradiction[at - 1].probability < chance) {
            if (at < TW_CONTRADICTIONS)
                b->contradiction[at] = b->contradiction[at - 1];
            at--;
        }
        if (at >= TW_CONTRADICTIONS)
            continue;
        tw_contradiction *c = &b->contradiction[at];
        c->entry = p->reading[r].entry;
        c->probability = chance;
        c->observed = p->reading[r].observed;
        const double mean = s->eta_sum[r] / s->rubbish[r];
        const double variance = s->eta_square[r] / s->rubbish[r] - mean * mean;
        const double wide = 1.645 * sqrt((variance > 0.0 ? variance : 0.0) +
                                         p->reading[r].sd * p->reading[r].sd);
        for (int i = 0; i < 3; i++) {
            const double at_scale = mean + (double)(i - 1) * wide;
            const double back = p->reading[r].link == TW_LINK_LN
                                    ? tw_exp(at_scale) - p->reading[r].offset
                                    : at_scale;
            c->expected[i] = back;
        }
        if (b->contradictions < TW_CONTRADICTIONS)
            b->contradictions++;
    }
}

/* By how much each bottle and instrument is off. */
static void write_biases(const tw_sampler *s, size_t members, tw_belief *b)
{
    const tw_problem *p = s->model->problem;
    memset(b->bias, 0, sizeof b->bias);
    b->biases = 0;
    for (size_t i = 0; i < p->biases && i < TW_SHARED_BIASES; i++) {
        tw_shared_bias *out = &b->bias[b->biases];
        int read = 0;
        for (size_t r = p->readings; r-- > 0;)
            if (p->reading[r].bias == (int)i && !p->reading[r].standard) {
                read = 1;
                out->entry = p->reading[r].entry;
                out->observed = p->reading[r].observed;
                out->by_factor = p->reading[r].link == TW_LINK_LN;
            }
        if (!read) /* carried over a cut and not used since, or read in standards only: no reading names it */
            continue;
        b->biases++;
        out->sd = p->bias_sd[i];
        out->shift = tw_estimate_spread(&s->bias[i * members], members, b->scratch);
    }
}

static size_t all_members(const tw_sampler *s) { return (size_t)s->all_chains * s->options.keep; }

void tw_estimate_members_begin(tw_sampler *s, tw_member_sums *sums)
{
    memset(sums, 0, sizeof *sums);
    for (size_t r = 0; r < s->model->problem->readings; r++)
        s->rubbish[r] = s->eta_sum[r] = s->eta_square[r] = 0.0;
    if (s->taught != NULL)
        tw_estimate_teach_begin(s->model, s->taught);
}

static void add_member(tw_sampler *s, int l, size_t k, double ln, tw_belief *b, tw_member_sums *sums)
{
    const tw_model *m = s->model;
    write_member(s, l, k, b);
    b->column[TW_COLUMN_LOG_LIKELIHOOD][k] = ln;
    sums->ln_sum += ln;
    const tw_left left = {b->column[TW_COLUMN_FILM_PER_H][k], b->column[TW_COLUMN_PH][k]};
    if (s->taught != NULL)
        tw_estimate_teach_add(m, s->x, s->path, l, &left, s->taught);
    for (size_t i = 0; i < m->problem->biases; i++)
        s->bias[i * all_members(s) + k] = m->problem->bias_sd[i] * tw_estimate_bias_in_sd(s->x[m->x_bias + i].v[l]);
    for (int i = 0; i < TW_KNOWNS; i++) {
        const double x = s->x[known_role(m, i)].v[l];
        sums->sum[i] += x;
        sums->square[i] += x * x;
    }
    for (size_t r = 0; r < m->problem->readings; r++) {
        s->rubbish[r] += s->path->rubbish[r].v[l];
        /* What was to be expected is said by the waters to which the reading is rubbish. */
        s->eta_sum[r] += s->path->rubbish[r].v[l] * s->path->eta[r].v[l];
        s->eta_square[r] += s->path->rubbish[r].v[l] * s->path->eta[r].v[l] * s->path->eta[r].v[l];
    }
}

/* A group of lanes on its way to members. */
typedef struct {
    size_t kept[TW_ESTIMATE_LANES], n;
    tw_unseen unseen;
    tw_lanes ln, prior; /* ln likelihood, minus ln prior */
} group;

/* The next of a list of kept states (NULL: of all), with what each of them may do. */
static void next_group(const tw_sampler *s, const double *list, size_t first, size_t count, group *g)
{
    uint32_t member[TW_ESTIMATE_LANES];
    g->n = count - first < TW_ESTIMATE_LANES ? count - first : TW_ESTIMATE_LANES;
    for (size_t l = 0; l < TW_ESTIMATE_LANES; l++) {
        const size_t at = first + (l < g->n ? l : g->n - 1);
        g->kept[l] = list != NULL ? (size_t)list[at] : at;
        member[l] = (uint32_t)among_all(s, g->kept[l]);
    }
    tw_estimate_unseen_draw(s, member, &g->unseen);
}

static void run_group(tw_sampler *s, group *g, int with_act)
{
    fill_x(s, g->kept, with_act ? &g->unseen.move : NULL);
    tw_estimate_forward_tagged(s->model, s->x, s->path);
    if (with_act)
        tw_estimate_unseen_show(s, &g->unseen);
    tw_estimate_likelihood(s->model, s->path, 1.0, &g->ln);
    g->prior = tw_estimate_minus_ln_prior(s);
}

/* Groups of a list, run as many at a time as there are hands. */
typedef struct {
    const double *list; /* NULL: all kept states */
    size_t count, from; /* of these, those from `from` on are run */
    int with_act;
    group run[TW_MOST_HANDS];
} runs;

static void run_one(tw_sampler *hand, size_t first, void *how)
{
    runs *r = how;
    group *g = &r->run[first / TW_ESTIMATE_LANES];
    next_group(hand, r->list, r->from + first, r->count, g);
    run_group(hand, g, r->with_act);
}

/* The group that begins at `first`; *hand has its path. Groups are asked for one after another. */
static group *next_run(tw_sampler *s, runs *r, size_t first, tw_sampler **hand)
{
    const size_t at = first / TW_ESTIMATE_LANES % s->hands, most = s->hands * TW_ESTIMATE_LANES, left = r->count - first;
    if (at == 0) {
        r->from = first;
        tw_estimate_each_group(s, left < most ? left : most, run_one, r);
    }
    *hand = tw_estimate_hand(s, at);
    return &r->run[at];
}

static void add_lane(tw_sampler *s, const group *g, int l, tw_belief *b, tw_member_sums *sums)
{
    add_member(s, l, among_all(s, g->kept[l]), g->ln.v[l], b, sums);
    if (s->act != NULL)
        s->sizes[g->kept[l]] = tw_estimate_guess_size(s, s->act, l);
}

/* Members that may have done something before the last reading come after the others, those that let go of it last: in lists, so
 * that the sums do not know how wide the lanes are. (Where s->sizes lies in the same memory nobody may have: unseen.h.) */
void tw_estimate_members_add(tw_sampler *s, tw_belief *b, tw_member_sums *sums)
{
    const size_t members = (size_t)s->options.chains * s->options.keep;
    double *who = b->scratch, *without = b->scratch + b->n;
    size_t may = 0, gone = 0;
    tw_sampler *hand;
    runs all = {.count = members};
    for (size_t first = 0; first < members; first += TW_ESTIMATE_LANES) {
        group *g = next_run(s, &all, first, &hand);
        tw_estimate_unseen_do(hand, &g->unseen, 0);
        for (int l = 0; l < (int)g->n; l++)
            if (g->unseen.before[l].act == TW_UNLOGGED_NONE) {
                add_lane(hand, g, l, b, sums);
            } else {
                who[may] = (double)g->kept[l];
                without[may++] = g->ln.v[l] - g->prior.v[l];
            }
    }
    runs acting = {.list = who, .count = may, .with_act = 1};
    for (size_t first = 0; first < may; first += TW_ESTIMATE_LANES) {
        tw_lanes over = tw_lanes_of(0.0);
        group *g = next_run(s, &acting, first, &hand);
        for (int l = 0; l < (int)g->n; l++)
            over.v[l] = g->ln.v[l] - g->prior.v[l] - without[first + (size_t)l];
        tw_estimate_unseen_keep(hand, &g->unseen, &over);
        tw_estimate_unseen_do(hand, &g->unseen, 1);
        for (int l = 0; l < (int)g->n; l++)
            if (g->unseen.before[l].act != TW_UNLOGGED_NONE)
                add_lane(hand, g, l, b, sums);
            else
                who[gone++] = (double)g->kept[l];
    }
    runs left = {.list = who, .count = gone};
    for (size_t first = 0; first < gone; first += TW_ESTIMATE_LANES) {
        group *g = next_run(s, &left, first, &hand);
        tw_estimate_unseen_do(hand, &g->unseen, 0);
        for (int l = 0; l < (int)g->n; l++)
            add_lane(hand, g, l, b, sums);
    }
}

void tw_estimate_members_end(tw_sampler *s, tw_belief *b, const tw_member_sums *sums)
{
    const size_t members = all_members(s);
    if (s->taught != NULL)
        tw_estimate_teach_end(members, s->taught);
    b->log_evidence_floor = sums->ln_sum / (double)members;
    write_learned(s, sums->sum, sums->square, members, b);
    write_contradictions(s, members, b);
    write_biases(s, members, b);
}
