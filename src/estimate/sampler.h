/* estimate/sampler.h: working memory and parts of the sampler. Internal. */
#ifndef TW_ESTIMATE_SAMPLER_H
#define TW_ESTIMATE_SAMPLER_H

#include "estimate/bend.h"
#include "estimate/carry.h"
#include "estimate/segment.h"
#include "estimate/sample.h"
#include "estimate/matrix.h"
#include "estimate/model.h"
#include "num/philox.h"

/* What the random streams are for. Numbers never change meaning. */
enum {
    TW_PURPOSE_START = 1,    /* Student-t start            */
    TW_PURPOSE_RESAMPLE = 2,
    TW_PURPOSE_CHAIN = 3,    /* momenta, steps, acceptance */
    TW_PURPOSE_FREE = 4,     /* coordinates nothing informs */
    TW_PURPOSE_FORECAST = 5,
    TW_PURPOSE_DRAIN = 6,
    TW_PURPOSE_CELL = 7,
    TW_PURPOSE_WORTH = 8,
    TW_PURPOSE_UNSEEN = 9,   /* acts that no reading shows   */
    TW_PURPOSE_UNSEEN_LATER = 10
};

#define TW_MOST_CHAINS 256 /* of one sampler */
#define TW_FRAME_POINTS 8 /* over which the frame is averaged */
#define TW_MOST_COLUMN_GROUPS ((size_t)(TW_MAX_DIMS + TW_ESTIMATE_LANES - 1) / TW_ESTIMATE_LANES)

#define TW_MOST_PIVOTS 8  /* readings on which much hangs (pivots.h) */

/* The mode in which such a reading is wrong, in the frame's coordinates: the best point moves by push*way, and along the
 * way the spread is added to the frame's own. */
typedef struct {
    size_t reading;
    double weight;               /* of the whole                                      */
    double push, spread, length; /* length: of the way, squared                       */
    double *way;                 /* dims                                              */
} tw_pivot;

/* Chlorine used up, or poured, before its last reading, of which nobody wrote: odds against none; by size (cells equally likely
 * before any reading) what it changes at that reading, mg per kg, by how much likelier ln says the readings then are, and the odds
 * up to there. */
#define TW_LAST_SIZES 24
typedef struct {
    double odds, move[TW_LAST_SIZES], ln[TW_LAST_SIZES], up_to[TW_LAST_SIZES];
} tw_last_act;

typedef struct {
    tw_last_act act[2];
    double *shift; /* by place: how the best point moves with a mg per kg more at that reading */
} tw_last_gap;

typedef struct tw_sampler {
    tw_model *model;
    tw_path *path;
    void *adjoint;
    void *timeline;
    tw_lanes *x, *gradient;          /* by role, TW_MAX_DIMS                                     */
    tw_lanes *y, *y_gradient, *momentum, *step; /* by place                                      */
    tw_lanes *y_try;
    double *map, *direction, *score; /* one vector by place each                                 */
    double *hessian, *jacobian;      /* dims^2; readings * dims                                  */
    double *weight_point, *map_spare; /* by place */
    tw_lanes *eta_at;                /* readings: where lanes stood whose weights are asked for  */
    double *weight;                  /* readings                                                 */
    tw_bend bend, bend_at;           /* of the last potential; of the point that score_at() saw  */
    int bend_lane;                   /* in which lane of bend_at that point stands               */
    tw_mark *mark;                   /* of the last run at a point: jacobian.h                   */
    tw_carry_pull pull;              /* at the last ln prior                                     */
    tw_frame frame;
    double *spare_l, *spare_lt, *spare_inverse; /* of a second frame: dims^2 twice, dims            */
    double mass;                     /* ln of the probability around the best point              */
    uint32_t guess;                  /* which of the waters that are weighed; 0: as written      */
    const struct tw_water_guess *act; /* that nobody wrote, in which the chains walk; NULL: as written */
    double told_h;                   /* until when the waters that share the chains hold one; -1: none do */
    tw_last_gap last;                /* estimate/unseen.h                                        */
    double *sizes;                   /* of it, by member                                         */
    uint32_t first_chain, all_chains; /* where its chains stand among all                        */
    double *points;                  /* a few points by place, for the average frame             */
    tw_stream *stream;               /* one a chain                                              */
    double *chain_y, *chain_gradient, *chain_u; /* chains * dims, chains                         */
    double *kept;                    /* (chains*keep) * dims: x by place                         */
    double *start_y, *start_lnw;     /* starts * dims, starts                                    */
    double *rubbish, *eta_sum, *eta_square; /* readings                                          */
    double *bias;                    /* TW_MAX_BIASES * members                                  */
    size_t starts;
    tw_estimate_options options;
    uint64_t seed;
    uint32_t segment;
    double carry_weight;             /* of the carried prior's precision at the last score   */
    tw_taught *taught;               /* NULL: nobody asks what this water taught             */
    double accepted, tried, lag_up, lag_down;
    double covered;                  /* states in the sums of the covariance */
    int found;                       /* 1: the search ended; map, frame and Jacobian hold    */
    size_t pivots;
    tw_pivot pivot[TW_MOST_PIVOTS];
    unsigned char apart[TW_MOST_CHAINS]; /* by chain: it began where such a reading is wrong */
    size_t hands;                    /* of the crew, this one among them; 1: there is none       */
    struct tw_sampler *hand;         /* the others: estimate/hands.h                             */
    struct tw_desk *desk;            /* what is their own                                        */
} tw_sampler;

/* Minus ln posterior (readings and prior) of TW_ESTIMATE_LANES points given by their offsets from the
 * best point along the frame: z = map + L^-T y, x = bend(z). With gradient: its gradient by y to
 * y_gradient. Points, chains and kept states are in z; s->x is x. */
void tw_estimate_potential(tw_sampler *s, const tw_lanes *y, int with_gradient, tw_lanes *u);

/* Minus ln prior of the points in sampler->x, which sampler->bend has just bent, by z; fills sampler->pull. */
tw_lanes tw_estimate_minus_ln_prior(tw_sampler *s);

/* `count` vectors of n numbers, from the one called `first`, into lanes (the last one fills up). */
void tw_estimate_load(const double *from, size_t n, size_t first, size_t count, tw_lanes *to);

/* Cut the stretches by what the first start members need. */
void tw_estimate_freeze(tw_sampler *s);

/* The steps of the carbonate roots again, by what the chains need where they begin: draws far out, which none takes up, need
 * the most. */
void tw_estimate_freeze_roots(tw_sampler *s);

/* The same by the needs of one point (the first lane) alone: how likely a known truth is, as exactly as a member's. */
void tw_estimate_freeze_for(tw_model *m, const tw_lanes *x, tw_path *path);

/* Find the best point and the frame around it, and mass. Returns flags (TW_BELIEF_PRIOR_FRAME). */
uint32_t tw_estimate_map(tw_sampler *s);

/* The frame and mass at s->map, without a search. 0: it failed. */
int tw_estimate_map_here(tw_sampler *s);

/* Straight after these two, or later where no other Jacobian was made: score, weights and path at s->map. */
void tw_estimate_weights_here(tw_sampler *s);

/* Straight after these two: score, weights, path and a frame of the soft likelihood (every reading counts, the
 * less the further off) at the same point, in z. The sampler's own frame stays. 0: it failed. */
int tw_estimate_soft_frame(tw_sampler *s, tw_frame *out);

/* A new frame from the information averaged over `count` points (by place, `stride` apart): where
 * the likelihood has walls, the best point alone does not feel them. 0: it failed; the frame is then
 * not to be used. */
int tw_estimate_frame_average(tw_sampler *s, const double *points, size_t stride, size_t count);

/* Chains to kept states. Returns flags. */
uint32_t tw_estimate_chains(tw_sampler *s);

#endif
