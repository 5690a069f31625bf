/* dose/course_rows.h: what a visit moves, as straight lines in the grams. Advanced: the search of dose/course.h.
 *
 * Every quantity but pH is a sum over the totals. "pH is above p" is one too: with the acids frozen, the alkalinity
 * that a water needs at p is linear in its totals, so alkalinity less that need is a row that doses move in a
 * straight line, and air too, for the carbon that brings a water to p follows from its row. So a member is a column of
 * numbers, a product a vector, and to try a visit on a thousand members costs some microseconds. Only chlorine on
 * cyanurate bends a row; there the vector is a chord through the middle water, and dose/course_set.h, which judges
 * what the search chose, follows every member exactly. */
#ifndef TW_DOSE_COURSE_ROWS_H
#define TW_DOSE_COURSE_ROWS_H

#include "dose/course.h"

/* Rows: the straight quantities by their own number (0, pH, is unused), then alkalinity over the need at a pH,
 * mol/kg: above 0 when pH is above it. IN: the middle third of the band about the target. */
enum {
    TW_ROW_PH_FLOOR = TW_OF_QUANTITIES,
    TW_ROW_PH_LOW,
    TW_ROW_PH_IN_LOW,
    TW_ROW_PH_TARGET,
    TW_ROW_PH_IN_HIGH,
    TW_ROW_PH_HIGH,
    TW_ROW_PH_CEILING,
    TW_ROW_PH_AIR,
    TW_ROWS
};

#define TW_DOSE_NEVER 1e12 /* a factor, grams: nothing forbids it */

/* A quantity is about its target when it is within this share of the way to the edge of its band. */
#define TW_COURSE_ABOUT 0.35

/* The alkalinity that acids need at one pH: a sum over what a water holds, unless chlorine sits on cyanurate. */
typedef struct {
    double ph, none, dic, borate, cyanurate, chlorine, phosphate;
} tw_ph_need;

/* A limit on a row: sign (row - value) below 0 has crossed it. */
typedef struct {
    int row, quantity, is_floor;
    double sign, value;
} tw_row_limit;

typedef struct {
    const tw_course_ask *ask;
    tw_constants at;                              /* of its temperature                            */
    tw_reduced acids;                             /* frozen at the middle water                    */
    double has[TW_ROWS];                          /* 1: the row is followed                        */
    double ph[TW_ROWS];                           /* of the pH rows                                */
    tw_ph_need need[TW_ROWS];                     /* of the pH rows, at `acids`                    */
    double per_g[TW_ROWS][TW_COURSE_STOCK];       /* what a gram in a kg moves; 0 under rounding   */
    double source[TW_ROWS];                       /* of the water it is refilled with              */
    double charge[TW_ROWS];                       /* of pH rows: need for each mol of carbon       */
    double middle[TW_ROWS], middle_kg;            /* of the middle water                           */
    tw_water middle_water;
    size_t limits;
    tw_row_limit limit[TW_COURSE_LIMITS];
} tw_rows;

/* Members as columns. */
typedef struct {
    size_t n;
    double *row[TW_ROWS];
    double *rate[TW_COURSE_STOCK]; /* grams that act for each gram meant, in a kg */
    double *per_kg;
    double *weight;                /* sum 1 */
    double *crossed;               /* 1: has crossed a limit before: nothing makes it do so for the first time */
} tw_columns;

/* Doubles that the columns of n members take. */
#define TW_COLUMNS_DOUBLES(n) ((size_t)(n) * (TW_ROWS + TW_COURSE_STOCK + 3))

/* Lay columns of n members into room. Returns the room behind them. */
double *tw_dose_columns_in(double *room, size_t n, tw_columns *out);

/* A visit as it is searched. */
typedef struct {
    size_t additions;
    uint32_t stock[TW_COURSE_ADDITIONS];
    int serves[TW_COURSE_ADDITIONS];      /* quantity that its grams are for */
    double grams[TW_COURSE_ADDITIONS];
    double share;                         /* of the water changed first      */
    int air;                              /* row to which air brings, or 0   */
    double keeps;                         /* share of chlorine left by waiting; 1: no wait */
} tw_visit;

/* The sum of a pH, and what a water has over it: mol/kg, below 0 when its pH is lower. */
tw_ph_need tw_dose_ph_need(const tw_reduced *acids, double ph);
double tw_dose_over_need(const tw_reduced *acids, const tw_ph_need *need, const tw_reduced_water *water);

/* Rows of the pH band, limits, products' vectors, at the middle water. bands of *ask may lack a target. */
void tw_dose_rows_init(const tw_course_ask *ask, const tw_reduced *acids, const tw_water *middle, double middle_kg,
                       tw_rows *out);

/* One water's rows. */
void tw_dose_rows_of(const tw_rows *rows, const tw_water *water, double row[TW_ROWS]);

/* The rows of the middle water after a visit. */
void tw_dose_rows_middle(const tw_rows *rows, const tw_visit *visit, double row[TW_ROWS]);

/* The acids as frozen at the middle water before, after the exchange, after each addition: salt moves them (2,000 mg/L
 * lowers pH by some hundredths), so each moment is judged by its own. */
void tw_dose_rows_acids(const tw_rows *rows, const tw_visit *visit, tw_reduced acids[TW_COURSE_ADDITIONS + 1]);

/* Carry out a visit on the columns. */
void tw_dose_rows_move(const tw_rows *rows, const tw_visit *visit, tw_columns *columns);

/* The largest factor (0..1) of a visit's grams that crosses no limit in a member, at any moment of the visit; a limit
 * that is crossed already forbids only what leads further, and nothing a member that crossed one in this course. bound: which limit it is, or rows->limits. */
double tw_dose_rows_factor(const tw_rows *rows, const tw_visit *visit, const tw_columns *columns, size_t member,
                           size_t *bound);

/* The same for every member. */
void tw_dose_rows_factors(const tw_rows *rows, const tw_visit *visit, const tw_columns *columns, double *factor);

/* Share of the members that cross a limit, the first of this course. room: n doubles. */
double tw_dose_rows_chance(const tw_rows *rows, const tw_visit *visit, const tw_columns *columns, double *room);

/* A visit is not begun for a quantity whose median is in its band with this much of `reach`: readings scatter and carbon
 * dioxide leaves between visits, and a trim for that at every visit is the see-saw. */
#define TW_COURSE_STAY 0.78

/* How a quantity stands. */
typedef struct {
    double in;          /* share of the members in the band                                           */
    int way;            /* +1: is to rise, -1: to fall, 0: about its target, or sure enough in its band */
    int needed;         /* 1: worth a visit of its own                                                */
    double low_share;   /* below the target's middle part                                             */
} tw_standing;

/* Of one quantity with a band. in the columns as they are. */
tw_standing tw_dose_rows_standing(const tw_rows *rows, const tw_columns *columns, int quantity);

/* Share of the members that lie in every band, or in every one but that of `without` (TW_OF_QUANTITIES: none left out). */
double tw_dose_rows_in_all(const tw_rows *rows, const tw_columns *columns, int without);

/* 1 when the quantity has a target. */
int tw_dose_rows_banded(const tw_rows *rows, int quantity);

/* How far the middle water is from its targets, in half bands, summed: what is settled counts only past its middle
 * part. way[q]: as the quantities stand before. */
double tw_dose_rows_distance(const tw_rows *rows, const double row[TW_ROWS], const int way[TW_OF_QUANTITIES]);

#endif
