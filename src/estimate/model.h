/* estimate/model.h: a problem laid out for the sampler. Internal to this room.
 *
 * A model is the frozen part (which operations in which order, how finely each stretch is cut, which
 * coordinate plays which role); a path is what one group of lanes does along it. The density of the
 * coordinates is a smooth function of them because everything that decides is frozen. */
#ifndef TW_ESTIMATE_MODEL_H
#define TW_ESTIMATE_MODEL_H

#include "estimate/events.h"
#include "estimate/lanes.h"
#include "num/status.h"

#define TW_MAX_STEPS 768   /* stretches of constant settings          */
#define TW_MAX_OPS 2048
#define TW_MAX_SUBSTEPS 6144
#define TW_MAX_CLASSES 256 /* of (day, temperature)                   */
#define TW_MAX_MADE (TW_MAX_CELLS * TW_MAX_DAYS)
#define TW_MAX_OWN 12      /* doses with an error of their own        */
#define TW_MAX_CARBON 192  /* carbonate steps                         */
#define TW_MAX_DIMS                                                                       \
    (TW_X_FIXED + TW_MAX_CELLS + TW_MAX_BIASES + TW_MAX_PRODUCTS + TW_MAX_OWN + 2 * TW_MAX_DAYS + TW_CUTS)

#define TW_MG_PER_MMOL_CL2 70.906 /* cl2 of data/molar.csv, as a constant for the lanes */
#define TW_G_PER_MOL_NACL 58.443

/* Free chlorine as an amount, mol per kg. */
static inline double tw_estimate_active_mol_per_kg(double chlorine_mg_per_kg) { return 1e-3 * (chlorine_mg_per_kg / TW_MG_PER_MMOL_CL2); }
#define TW_DAY_RHO 0.8            /* AR(1) from one day to the next          */

/* Linear totals of the state, mmol (alkalinity: meq) per kg. Alkalinity is the strong-ion one
 * less the active chlorine, and chloride counts active chlorine as spent: so neither moves when
 * chlorine is made or lost. */
enum {
    TW_T_ALK,
    TW_T_DIC,
    TW_T_CA,
    TW_T_MG,
    TW_T_CL,
    TW_T_SO4,
    TW_T_CYA,
    TW_T_BORATE,
    TW_T_PO4,
    TW_T_COUNT
};

/* Conditional constants of the acids at one temperature and ionic strength: concentrations in
 * mmol/kg against the activity of H+ (mol/kg); see carbonate.h. */
typedef struct {
    double k1, k2;      /* CO2, HCO3-                                   */
    double kw;          /* OH- in mmol/kg times activity of H+          */
    double kocl, kb, kcy, kp2;
    double per_h;       /* mmol/kg of free H+ for each unit of activity */
    double co2_eq;      /* CO2 in balance with air, mmol/kg             */
    double scale;       /* calcium times CO3, (mmol/kg)^2, above which scale forms */
    double kcy2, one[3], two[2]; /* the rings' second proton; rings with chlorine as in water/reduced.h, mmol/kg */
} tw_acid_constants;

/* Charge a mmol of each acid and free base, meq, at the last pH found: where the next search starts. */
typedef struct {
    tw_lanes ocl, b, cy, p, free;
} tw_acid_guess;

/* What happens next on the way through the entries. */
enum tw_op_kind { TW_OP_STEP, TW_OP_CARBON, TW_OP_DISSOLVE, TW_OP_EXCHANGE, TW_OP_DOSE, TW_OP_BATHER, TW_OP_READ, TW_OP_LOOK, TW_OP_DRY };

typedef struct {
    int kind;
    int index;       /* of the step, carbon step, dose, ...                   */
    int acid;        /* READ, LOOK: index of the acid constants at its temperature */
    int newton;      /* READ, LOOK of a pH: steps of the carbonate root       */
    double amount;   /* DISSOLVE: gain of the root of the stirred hours; DRY: share of the water by the formula */
} tw_op;

/* What is seen of the water: every reading at its hour, then the looks of tw_problem.look. */
#define TW_MAX_SLOTS (TW_MAX_READINGS + TW_MAX_LOOKS)

typedef struct {
    double from_h, h;
    double duty;                /* of a warm cell: cold water makes less    */
    int loss_class, made_class; /* -1: nothing is made              */
    double film_h;              /* age of the film at mid; < 0: none */
    int root;                   /* carbon step whose pH holds; -1: none */
    double drift;               /* of HOCl's share from that pH to mid; frozen with the cut */
    double before;              /* share of a substep's inflow that goes in before its demand part; frozen as well */
    int substeps, first_substep;
} tw_step;

#define TW_CARBON_PARTS 4 /* pieces of one exchange with the air, at most */

typedef struct {
    double hours;
    double at_h;                /* end of the exchange              */
    double still_h, jets_h;     /* exposure at 20 C                 */
    int parts, acid;            /* parts: pieces; acid: index of constants */
    double share[TW_CARBON_PARTS]; /* of each piece: of the time and the exposure */
    double scale_h[TW_CARBON_PARTS]; /* hours of scale that come before it; 0: none */
    int first_part;
    int newton;                 /* steps of the carbonate root      */
    double stretch[TW_CARBON_PARTS]; /* of each piece: mmol of CO2 that go with a mmol of carbon, by which its exposure
                                        is stretched; frozen with the cut (freeze.c) */
} tw_carbon;

typedef struct {
    int day;
    double ea_factor;           /* (1/T - 1/T38)/R in mol/kJ        */
} tw_loss_class;

/* Steps that share an output: of one cell on one day. */
typedef struct {
    int cell, day;
} tw_made_class;

/* Most temperatures with acid constants, carbon parts and dissolving hours of one water. */
#define TW_MAX_ACIDS 48
#define TW_MAX_PARTS 512
#define TW_MAX_DISSOLVES 128
#define TW_MAX_DRIES 128    /* stretches of evaporation of one water     */

typedef struct {
    const tw_problem *problem;
    size_t dims;                           /* all coordinates                                */
    size_t active;                         /* of them, those that some reading depends on    */
    int place[TW_MAX_DIMS];                /* role -> position; active ones come first       */
    int role[TW_MAX_DIMS];                 /* position -> role                               */
    size_t x_cell, x_bias, x_product, x_own, x_loss_day, x_made_day, x_cut; /* first role of each */
    size_t owns, days;
    int carried_role[TW_MAX_CARRIED];      /* roles of the problem's carry                   */
    unsigned char carried[TW_MAX_DIMS];    /* by role: 1 + its place in the carry, 0: not    */
    double day_h;                          /* length of a "day"                              */
    int own_of_dose[TW_MAX_DOSES];         /* -1 none                                        */
    double film_h_max;
    size_t ops, steps, carbons, loss_classes, made_classes, acids, substeps, parts,
        dissolves, dries;
    int ph_read;                           /* 1: some pH of the tub was read                 */
    int follows;                           /* 1: its pH is told, and part of the loss follows HOCl */
    double usual_over;                     /* HOCl's share over the reference, less 1, by the pH that was read: for bend.c */
    int rings;                             /* 1: it may have cyanuric acid that counts there */
    int scales;                            /* 1: by what was read it may stand at the index of scale */
    double plate_salt_mmol_per_kg;         /* of the problem; 0 where nothing tells the water's salt */
    int now_day, now_cell, now_acid, now_loss_class;
    int cut_acid;                          /* constants of the pH at a cut                   */
    int now_heap;                          /* 1: solid salt was poured                       */
    double now_film_h;
    double now_duty, now_temp_c;
    size_t column[TW_MAX_DIMS];            /* active places, in the order in which they first move something (jacobian.h) */
    size_t column_op[TW_MAX_DIMS];         /* and the operation with which each of them does */
    tw_op op[TW_MAX_OPS];
    tw_step step[TW_MAX_STEPS];
    tw_carbon carbon[TW_MAX_CARBON];
    tw_loss_class loss_class[TW_MAX_CLASSES];
    tw_made_class made_class[TW_MAX_MADE];
    tw_acid_constants acid[TW_MAX_ACIDS];
    double acid_temp_c[TW_MAX_ACIDS], acid_ionic[TW_MAX_ACIDS];
    double now_ionic;                      /* mol/kg, by the ledger of what was poured       */
    double now_stirred_h;                  /* of the salt's heap, as the clock of DISSOLVE   */
} tw_model;

/* Where an operation of kind READ or LOOK puts what it sees. */
static inline size_t tw_estimate_slot(const tw_problem *p, const tw_op *op)
{
    return op->kind == TW_OP_LOOK ? p->readings + (size_t)op->index : (size_t)op->index;
}

/* The reading that a slot is of. */
static inline size_t tw_estimate_reading_of(const tw_problem *p, size_t slot)
{
    return slot < p->readings ? slot : (size_t)p->look[slot - p->readings].reading;
}

/* Parameters of one group of lanes, after their priors. */
typedef struct {
    tw_lanes fixed[TW_X_FIXED];            /* in natural units; hardness and calcium's share
                                              stand as calcium and magnesium, CO2 over bicarbonate
                                              as all carbon, mmol/kg                         */
    tw_lanes slope[TW_X_FIXED];            /* d parameter / dx (of hardness and share themselves;
                                              of carbon at this alkalinity)                  */
    tw_lanes co2_part;                     /* CO2 over bicarbonate: H/K1                     */
    tw_lanes cell[TW_MAX_CELLS];           /* factor of the plate's output                   */
    tw_lanes cell_slope[TW_MAX_CELLS];     /* d ln factor / dx                               */
    tw_lanes bias[TW_MAX_BIASES];          /* in its standard deviations                     */
    tw_lanes bias_slope[TW_MAX_BIASES];    /* d bias / dx                                    */
    tw_lanes product[TW_MAX_PRODUCTS];     /* its strength                                   */
    tw_lanes product_slope[TW_MAX_PRODUCTS]; /* d strength / dx                              */
    tw_lanes own[TW_MAX_OWN];              /* factor, or share of a possible dose            */
    tw_lanes own_slope[TW_MAX_OWN];        /* d factor / dx                                  */
    tw_lanes loss_day[TW_MAX_DAYS];        /* AR(1) values                                   */
    tw_lanes made_day[TW_MAX_DAYS];
    tw_lanes cut[TW_CUTS];                 /* after a cut: natural units                     */
    tw_lanes cut_slope[TW_CUTS];
} tw_parameters;

/* The scales of TW_CUT_... */
extern const tw_prior tw_estimate_cut_scale[TW_CUTS];

/* State of one group of lanes. */
typedef struct {
    tw_lanes water_kg, chlorine, demand, combined, undissolved_g, remnant;
    tw_lanes total[TW_T_COUNT];
    tw_lanes low;                          /* share of the water that is missing to the line     */
    tw_lanes made_g;                       /* what the generator made so far                 */
    tw_acid_guess guess;
    tw_lanes before;                       /* chlorine at the last root of the carbonate, or after what was poured since */
    tw_lanes near_scale, formed;           /* 1: stood near the index of scale at the last pH; some fell out the last time it was looked */
    tw_lanes h;                            /* activity of H+, there or at the index: where the next search begins */
} tw_state;

/* Of what falls out as scale, mmol/kg (scale.h): by calcium, alkalinity, carbon and the rate; and the charge
 * that a mmol of each acid holds where the index is down. */
typedef struct {
    tw_lanes by_ca, by_alk, by_dic, by_rate;
    tw_lanes share_ocl, share_b, share_cy, share_p;
} tw_scale_slope;

/* What the backward sweep needs of the forward one. */
typedef struct {
    int measuring;                                   /* 1: fill the two lists of needs           */
    tw_lanes part_need[TW_MAX_PARTS];                /* Newton steps that a root needs           */
    tw_lanes ph_need[TW_MAX_SLOTS];
    tw_lanes part_fall[TW_MAX_PARTS][2];             /* of CO2 and of carbon in a piece, mmol/kg */
    tw_parameters par;
    tw_state state;                                  /* at the end                           */
    tw_lanes loss[TW_MAX_CLASSES];                   /* 1/h                                  */
    tw_lanes made[TW_MAX_MADE];                      /* g/h at full duty                     */
    tw_lanes film[TW_MAX_STEPS];                     /* 1/h                                  */
    tw_lanes step_water[TW_MAX_STEPS];
    tw_lanes step_hocl[TW_MAX_STEPS];                /* HOCl's share over the reference, less 1 */
    tw_lanes step_left[TW_MAX_STEPS][5];             /* with rings: what they leave of it, slopes */
    tw_lanes root[TW_MAX_CARBON][5];                 /* TW_ROOTS of hocl.h                   */
    tw_lanes root_slope[TW_MAX_CARBON][3];           /* of ln H: alk, dic, exposure          */
    unsigned char step_short[TW_MAX_STEPS];          /* 1: in some lane chlorine is made with less salt than the plate's */
    tw_lanes step_salt[TW_MAX_STEPS][2];             /* then: share of the output that salt leaves, its slope by chloride */
    tw_lanes step_decay[TW_MAX_STEPS][3];            /* e, f, f' of half a substep's loss    */
    tw_lanes c[TW_MAX_SUBSTEPS], d[TW_MAX_SUBSTEPS]; /* before each demand part              */
    tw_lanes demand_decay[TW_MAX_SUBSTEPS][4];       /* its e, f, f' and 1/G                 */
    tw_lanes after[TW_MAX_SUBSTEPS + TW_MAX_STEPS];  /* chlorine after each linear part      */
    tw_lanes carbon_fell[TW_MAX_CARBON];             /* chlorine in this exchange, mmol/kg   */
    tw_lanes part_slope[TW_MAX_PARTS][8];            /* of DIC: alk, dic, exposure, shares; of its right side: bases that chlorine held */
    unsigned char scales[TW_MAX_PARTS];              /* 1: scale may form in some lane before this piece */
    tw_scale_slope scale_slope[TW_MAX_PARTS];        /* then                                 */
    tw_lanes cut_slope[6];                           /* of DIC at a cut: pH, alk, shares     */
    tw_lanes before_exchange[TW_MAX_EXCHANGES][TW_T_COUNT + 5]; /* totals, water, chlorine, demand, combined, level */
    tw_lanes before_dose[TW_MAX_DOSES][3];           /* water, chlorine, phosphate           */
    tw_lanes before_dissolve[TW_MAX_DISSOLVES][3];  /* heap, share that stays, water        */
    tw_lanes dried[TW_MAX_DRIES][2];                 /* as level.h keeps it                  */
    tw_lanes bather_water[TW_MAX_BATHERS];
    tw_lanes eta[TW_MAX_SLOTS];                      /* on the reading's scale, bias included */
    tw_lanes slope[TW_MAX_SLOTS];                    /* d eta / d quantity                   */
    tw_lanes ph_slope[TW_MAX_SLOTS][6];              /* of pH: alk, dic; shares of acids     */
    tw_lanes read_water[TW_MAX_SLOTS], read_cl[TW_MAX_SLOTS];
    tw_lanes read_low[TW_MAX_SLOTS], read_at_line[TW_MAX_SLOTS]; /* level; what would be read at the line */
    tw_lanes factor_slope[TW_MAX_SLOTS];             /* d ln likelihood / d eta              */
    tw_lanes says[TW_MAX_SLOTS];                     /* of a reading with looks: its share of the likelihood */
    tw_lanes rubbish[TW_MAX_READINGS];               /* share of the likelihood that is rubbish */
} tw_path;

/* Share of the output that salt leaves in a stretch of a path. */
static inline double tw_estimate_salt_left(const tw_path *path, size_t step, int lane)
{
    return path->step_short[step] ? path->step_salt[step][0].v[lane] : 1.0;
}

/* Amount of a dose over its nominal amount, and its linear totals in mmol (active chlorine counted
 * as spent). */
tw_lanes tw_estimate_dose_factor(const tw_model *model, int dose, const tw_parameters *par);
void tw_estimate_dose_totals(const tw_dose_event *dose, double out[TW_T_COUNT]);

/* Lay out a problem: sort, cut, give roles. mem: tw_estimate_timeline_bytes(). TW_ERR_CAPACITY when
 * it does not fit. */
tw_status tw_estimate_model_make(const tw_problem *problem, tw_model *model, void *mem);

/* Number of substeps from the demand for them along a path (see kinetics.c), for one lane group:
 * need[i] for every step and lane. */
void tw_estimate_model_cut(tw_model *model, const int *substeps);

/* From one coordinate to its parameter and d parameter / dx. */
void tw_estimate_prior(const tw_prior *prior, const tw_lanes *x, tw_lanes *value, tw_lanes *slope);

/* From the cell's coordinate to its factor and d ln factor / dx; extra_sd: tw_problem.output_sd. */
void tw_estimate_cell_factor(const tw_lanes *x, double extra_sd, tw_lanes *factor, tw_lanes *slope);

/* x: values of all dims roles. Sets path->par. */
void tw_estimate_parameters(const tw_model *model, const tw_lanes *x, tw_parameters *out);

/* The coordinate that says what source water holds of a total; -1: it holds none. */
extern const int tw_estimate_source_role[TW_T_COUNT];

/* Loss at the end of a path over that at the reference: what HOCl's share makes of it. */
tw_lanes tw_estimate_follow_now(const tw_model *model, const tw_path *path);

/* Forward: parameters are made of x, every reading's eta is computed. */
void tw_estimate_forward(const tw_model *model, const tw_lanes *x, tw_path *path);

/* Forward with the remnant tracked, to the end; for members. */
void tw_estimate_forward_tagged(const tw_model *model, const tw_lanes *x, tw_path *path);

/* How far a path has come: the next operation, and how many of some kinds lie behind. */
typedef struct {
    size_t op, dissolved, dried, carbons;
} tw_way;

/* All that the rest of a way needs of what lies behind, beside the parameters. */
typedef struct {
    tw_way way;
    tw_state state;
    tw_lanes root[5]; /* the last of tw_path.root */
} tw_mark;

/* Forward; each mark is filled where its way.op, which rises from one to the next, is the next operation. */
void tw_estimate_forward_marking(const tw_model *model, const tw_lanes *x, tw_path *path, tw_mark *mark, size_t marks);

/* Forward from a mark on, all lanes from where one lane of it stood: x may differ from what it was in coordinates that move
 * nothing before. Etas of readings before stay as they are on the path. */
void tw_estimate_forward_from(const tw_model *model, const tw_lanes *x, tw_path *path, const tw_mark *mark, int lane);

/* ln likelihood of the readings on the path; inflate multiplies every sd (1 for the truth). Fills
 * factor_slope and rubbish. */
void tw_estimate_likelihood(const tw_model *model, tw_path *path, double inflate, tw_lanes *out);

/* For the search only: every reading as a Student-t of four degrees around the middle of what it
 * says. It pulls from any distance, which the real likelihood, flat where a reading is surely
 * rubbish, does not. rubbish gets 1 - weight. */
void tw_estimate_soft_likelihood(const tw_model *model, tw_path *path, double inflate, tw_lanes *out);

/* Backward: gradient of ln likelihood by every role (prior not included), after forward and
 * likelihood on the same path. mem: tw_estimate_adjoint_bytes(). */
size_t tw_estimate_adjoint_bytes(void);
void tw_estimate_backward(const tw_model *model, const tw_path *path, void *mem, tw_lanes *gradient);

#endif
