/* estimate/sample.c: the whole sampler on plain events. */
#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/checkpoint.h"
#include "estimate/hands.h"
#include "estimate/sample.h"
#include "estimate/members.h"
#include "estimate/teach.h"
#include "estimate/sampler.h"
#include "estimate/timeline.h"
#include "estimate/unseen.h"
#include "estimate/unwritten.h"

tw_estimate_options tw_estimate_options_default(void)
{
    const tw_estimate_options o = {64, 16, 10, 6, 0.5, NULL};
    return o;
}

tw_estimate_options tw_estimate_options_quick(void)
{
    const tw_estimate_options o = {32, 8, 12, 6, 0.5, NULL};
    return o;
}

static int options_are_good(const tw_estimate_options *o)
{
    return o->chains >= 8 && o->chains <= TW_MOST_CHAINS && o->chains % 8 == 0 && o->keep >= 1 &&
           o->keep <= 16 && o->leapfrogs >= 1 && o->step > 0.0;
}

/* Twice as many starts as chains, at least enough to measure the need for substeps. */
static size_t starts_of(const tw_estimate_options *o)
{
    const size_t n = 2 * (size_t)o->chains;
    return n < 64 ? 64 : n;
}

size_t tw_estimate_sample_bytes(const tw_estimate_options *options)
{
    const tw_estimate_options o = options ? *options : tw_estimate_options_default();
    const size_t d = TW_MAX_DIMS, r = TW_MAX_SLOTS, chains = o.chains;
    const size_t members = chains * o.keep, starts = starts_of(&o);
    size_t bytes = sizeof(tw_model) + sizeof(tw_path) + tw_estimate_adjoint_bytes() +
                   tw_estimate_timeline_bytes();
    bytes += 8 * d * sizeof(tw_lanes) + TW_MOST_COLUMN_GROUPS * sizeof(tw_mark);
    bytes += (7 * d + 3 * d * d + d + TW_FRAME_POINTS * d + r * d + 4 * r) * sizeof(double) + r * sizeof(tw_lanes);
    bytes += (2 * chains * d + chains + members * d + starts * d + starts) * sizeof(double);
    bytes += TW_MAX_BIASES * members * sizeof(double);
    bytes += chains * sizeof(tw_stream);
    bytes += (2 * d * d + d + TW_MOST_PIVOTS * d) * sizeof(double) + sizeof(tw_guesses);
    return bytes + tw_estimate_belief_bytes(members) + 72 * TW_ARENA_ALIGN;
}

static double *doubles(tw_arena *a, size_t n) { return tw_arena_take(a, n * sizeof(double)); }
static tw_lanes *lanes(tw_arena *a, size_t n) { return tw_arena_take(a, n * sizeof(tw_lanes)); }

static int lay_out(tw_sampler *s, tw_arena *a)
{
    const size_t d = TW_MAX_DIMS, r = TW_MAX_SLOTS;
    const size_t chains = s->options.chains, members = chains * s->options.keep;
    s->starts = starts_of(&s->options);
    s->model = tw_arena_take(a, sizeof(tw_model));
    s->path = tw_arena_take(a, sizeof(tw_path));
    s->adjoint = tw_arena_take(a, tw_estimate_adjoint_bytes());
    s->timeline = tw_arena_take(a, tw_estimate_timeline_bytes());
    s->mark = tw_arena_take(a, TW_MOST_COLUMN_GROUPS * sizeof *s->mark);
    s->x = lanes(a, d);
    s->gradient = lanes(a, d);
    s->y = lanes(a, d);
    s->y_gradient = lanes(a, d);
    s->momentum = lanes(a, d);
    s->step = lanes(a, d);
    s->y_try = lanes(a, d);
    s->map = doubles(a, d);
    s->direction = doubles(a, d);
    s->score = doubles(a, d);
    s->weight_point = doubles(a, d);
    s->map_spare = doubles(a, d);
    s->last.shift = doubles(a, d);
    s->hessian = doubles(a, d * d);
    s->frame.l = doubles(a, d * d);
    s->frame.lt = doubles(a, d * d);
    s->frame.inverse = doubles(a, d);
    s->jacobian = doubles(a, r * d);
    s->spare_l = doubles(a, d * d);
    s->spare_lt = doubles(a, d * d);
    s->spare_inverse = doubles(a, d);
    for (size_t i = 0; i < TW_MOST_PIVOTS; i++)
        s->pivot[i].way = doubles(a, d);
    s->points = doubles(a, TW_FRAME_POINTS * d);
    s->stream = tw_arena_take(a, chains * sizeof(tw_stream));
    s->eta_at = lanes(a, r);
    s->weight = doubles(a, r);
    s->rubbish = doubles(a, r);
    s->eta_sum = doubles(a, r);
    s->eta_square = doubles(a, r);
    s->chain_y = doubles(a, chains * d);
    s->chain_gradient = doubles(a, chains * d);
    s->chain_u = doubles(a, chains);
    s->kept = doubles(a, members * d);
    s->bias = doubles(a, TW_MAX_BIASES * members);
    s->start_y = doubles(a, s->starts * d);
    s->start_lnw = doubles(a, s->starts);
    return s->start_lnw != NULL; /* the arena stays empty once a piece was missing */
}

/* Only what paths read before they write needs a value; the model is cleared by its maker. */
static void clear(tw_sampler *s)
{
    memset(s->x, 0, TW_MAX_DIMS * sizeof(tw_lanes));
    memset(s->y, 0, TW_MAX_DIMS * sizeof(tw_lanes));
    s->path->measuring = 0;
    s->accepted = s->tried = s->lag_up = s->lag_down = 0.0;
}

/* Walk the chains of one water and add its members. */
static uint32_t walk_water(tw_sampler *s, uint32_t chains, tw_belief *out, tw_member_sums *sums)
{
    const double share = (double)chains / (double)s->all_chains;
    s->options.chains = chains;
    s->starts = starts_of(&s->options);
    const uint32_t flags = tw_estimate_chains(s);
    out->acceptance += share * (s->tried > 0.0 ? s->accepted / s->tried : 1.0);
    out->lag1 += share * (s->lag_down > 0.0 ? s->lag_up / s->lag_down : 0.0);
    tw_estimate_members_add(s, out, sums);
    s->first_chain += chains;
    return flags;
}

/* What the belief says of an act whose members have just been added; likeliest first. */
static void tell_unwritten(const tw_sampler *s, const tw_water_guess *g, const tw_problem *written, tw_belief *out)
{
    const size_t members = (size_t)s->options.chains * s->options.keep;
    uint32_t at = out->unwrittens++;
    for (; at > 0 && out->unwritten[at - 1].probability < g->weight; at--)
        out->unwritten[at] = out->unwritten[at - 1];
    tw_unwritten *u = &out->unwritten[at];
    u->act = g->act;
    u->probability = g->weight;
    u->from_h = written->now_h - g->from_h;
    u->until_h = written->now_h - g->until_h;
    u->entry = written->reading[g->reading].entry;
    u->size = tw_estimate_spread(s->sizes, members, s->sizes + out->n);
}

/* The water as written; with acts that nobody wrote beside it where readings ask for them. */
static uint32_t walk_waters(tw_sampler *s, const tw_problem *written, tw_guesses *guesses, uint32_t flags, tw_belief *out)
{
    tw_member_sums sums;
    tw_estimate_unseen_begin(s);
    const size_t count = flags & TW_BELIEF_PRIOR_FRAME || s->model->active == 0 ? 1 : tw_estimate_guess(s, written, guesses);
    s->told_h = -1.0;
    for (size_t i = 1; i < count; i++)
        if (guesses->guess[i].chains > 0 && tw_estimate_is_a_pour(guesses->guess[i].act) && guesses->guess[i].until_h > s->told_h)
            s->told_h = guesses->guess[i].until_h;
    tw_estimate_members_begin(s, &sums);
    out->chains = s->all_chains;
    out->written_chains = count == 1 ? s->all_chains : guesses->guess[0].chains;
    if (count == 1)
        flags |= walk_water(s, s->all_chains, out, &sums);
    for (size_t i = 0; count > 1 && i < count; i++) {
        const uint32_t chains = guesses->guess[i].chains;
        clear(s);
        s->guess = (uint32_t)i;
        s->act = i > 0 ? &guesses->guess[i] : NULL;
        s->sizes = out->scratch;
        if (chains == 0 || !tw_estimate_guess_take(s, written, guesses, i))
            continue;
        flags |= walk_water(s, chains, out, &sums);
        if (i > 0)
            tell_unwritten(s, &guesses->guess[i], written, out);
    }
    tw_estimate_members_end(s, out, &sums);
    return flags;
}

tw_status tw_estimate_sample(const tw_problem *problem, uint64_t seed, uint32_t segment,
                             const tw_estimate_options *options, void *mem, size_t bytes,
                             tw_belief *out)
{
    return tw_estimate_sample_teach(problem, seed, segment, options, mem, bytes, out, NULL);
}

tw_status tw_estimate_sample_teach(const tw_problem *problem, uint64_t seed, uint32_t segment,
                                   const tw_estimate_options *options, void *mem, size_t bytes,
                                   tw_belief *out, tw_taught *taught)
{
    tw_arena arena = {mem, bytes};
    tw_sampler s;
    memset(&s, 0, sizeof s);
    s.taught = taught;
    s.options = options ? *options : tw_estimate_options_default();
    if (!options_are_good(&s.options))
        return TW_ERR_RANGE;
    s.seed = seed;
    s.segment = segment;
    tw_estimate_belief_lay(out, (size_t)s.options.chains * s.options.keep, &arena);
    tw_guesses *guesses = tw_arena_take(&arena, sizeof *guesses);
    if (out->block == NULL || guesses == NULL || !lay_out(&s, &arena) || !tw_estimate_hands_lay(&s))
        return TW_ERR_CAPACITY;
    const tw_status status = tw_estimate_model_make(problem, s.model, s.timeline);
    if (status != TW_OK)
        return status;
    clear(&s);
    s.frame.n = s.model->active;
    s.all_chains = s.options.chains;
    const uint32_t flags = tw_estimate_map(&s);
    s.found = !(flags & TW_BELIEF_PRIOR_FRAME);
    out->flags = walk_waters(&s, problem, guesses, flags, out);
    out->seed = seed;
    out->segment = segment;
    out->density_kg_per_l = 1.0;
    out->plate_output_g_per_h = problem->plate_output_g_per_h;
    out->plate_salt_mmol_per_kg = s.model->plate_salt_mmol_per_kg;
    out->duty = s.model->now_duty;
    out->temp_set_c = s.model->now_temp_c;
    out->film_age_h = s.model->now_film_h;
    out->ionic_mol_per_kg = s.model->now_ionic;
    out->stirred_h = s.model->now_stirred_h;
    out->day_sd = problem->day_sd;
    out->day_h = s.model->day_h;
    out->day_left_h = s.model->day_h;
    if (s.model->days > 0) {
        const double into = problem->now_h - problem->days_from_h;
        const double gone = into - floor(into / s.model->day_h) * s.model->day_h;
        /* On the stroke of a new day nothing is left of the last one. */
        out->day_left_h = gone > 1e-6 && gone < s.model->day_h - 1e-6 ? s.model->day_h - gone : 0.0;
    }
    tw_unseen_gap gap[2];
    tw_estimate_unseen_gaps(problem, gap);
    out->since_h = gap[1].until_h - gap[1].from_h;
    const tw_conductivity_fit *ec = &problem->conductivity;
    const double fit[7] = {ec->base, ec->per_alk, ec->per_ca, ec->per_mg, ec->per_so4, ec->cl[0], ec->cl[1]};
    memcpy(out->ec_fit, fit, sizeof fit);
    tw_cut since;
    tw_estimate_since(problem, &since);
    out->readings = since.readings;
    out->chlorine_readings = since.chlorine_readings;
    out->hours_since_dose = since.dose_h;
    out->hours_since_any_dose = since.any_dose_h;
    out->hours_since_bathers = since.bathers_h;
    tw_estimate_seal(out);
    return TW_OK;
}
