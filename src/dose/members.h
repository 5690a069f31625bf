/* dose/members.h: water that is known only as many possibilities.
 *
 * What is believed of a tub is a crowd of possible waters, each with its own mass, temperature and totals; a dose is
 * judged on all of them. Pure; memory from the caller. */
#ifndef TW_DOSE_MEMBERS_H
#define TW_DOSE_MEMBERS_H

#include <stddef.h>
#include <stdint.h>

#include "dose/quantity.h"
#include "num/status.h"
#include "water/reduced.h"

/* Possible waters: array of n for each quantity, equally likely unless weight says otherwise. The acids are
 * frozen once, at the middle water: members should be within some kelvin and a fifth of the salt of it
 * (then pH is within 0.009 of the full solve; within 0.002 at the middle's salt and below pH 7.8). */
typedef struct {
    size_t n;
    const double *water_kg;
    const double *temp_k;
    const double *total[TW_TOTALS]; /* mol per kg; sodium balances */
    const double *weight;           /* NULL: all the same          */
    const double *crossed;          /* NULL: none; 1: by an earlier pour this water has crossed a hard limit of this course, 0: not */
    double solvent_kg_per_l;        /* to speak in mg/L            */
} tw_waters;

/* Bytes of working memory for n possible waters. */
size_t tw_dose_waters_bytes(size_t n);

/* One of the waters. A total under zero, as members of a Gaussian have it where little is there, is taken as
 * zero and the alkalinity kept by the sodium. */
tw_water tw_dose_member(const tw_waters *waters, size_t member);

/* Kish's effective number of the waters: (sum w)^2 / sum w^2. */
double tw_dose_effective(const tw_waters *waters);

/* Share of a risk that may be worked at with so many members: the risk less 1.645 sqrt(risk (1 - risk)/members);
 * 0.039 of 0.05 with 1,000. */
double tw_dose_worked_at(double risk, double members);

/* 5, 50, 95 % quantiles of a quantity as the waters stand.
 *   TW_ERR_RANGE     no waters, one that is not a number or has no mass, weights that are negative or all 0
 *   TW_ERR_NO_ROOT   the middle water has no pH
 *   TW_ERR_CAPACITY  mem too small
 * The same of the two below; tw_dose_middle solves nothing. */
tw_status tw_dose_spread_of(const tw_waters *waters, tw_quantity_of_water of, void *mem, size_t bytes,
                            double out[3]);

/* The middle of the waters as one water (medians of the totals, sodium for the median alkalinity), and its
 * mass in kg. */
tw_status tw_dose_middle(const tw_waters *waters, void *mem, size_t bytes, tw_water *out, double *water_kg);

/* The same, with the acids frozen there (statuses of tw_water_speciate as well). */
tw_status tw_dose_frozen(const tw_waters *waters, void *mem, size_t bytes, tw_water *middle, double *water_kg,
                         tw_reduced *k);

#endif
