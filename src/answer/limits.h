/* answer/limits.h: the limits of the guidance profile by which an answer judges. */
#ifndef TW_ANSWER_LIMITS_H
#define TW_ANSWER_LIMITS_H

#include "answer/core.h"
#include "procedure/tables.h"

typedef struct {
    tw_text profile;         /* id of the profile                      */
    double floor_mg_per_l;   /* of free chlorine                       */
    double ceiling_mg_per_l; /* 0: none                                */
} tw_answer_limits;

/* The profile that was asked for, or the tub's, or the first of the table. Never NULL. */
const tw_profile *tw_answer_profile(const tw_ask *ask, const tw_tub *tub);

/* The limits of the profile that was asked for, or of the tub's, or of the default one. */
void tw_answer_limits_of(const tw_ask *ask, const tw_tub *tub, tw_answer_limits *out);

#endif
