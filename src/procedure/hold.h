/* procedure/hold.h: the proof that the residual holds on the generator alone. */
#ifndef TW_PROCEDURE_HOLD_H
#define TW_PROCEDURE_HOLD_H

#include "procedure/scene.h"

/* The stage "hold proof": test, wait, duty, cell or demand. */
tw_status tw_procedure_make_hold(const tw_scene *scene, tw_act *out);

#endif
