/* answer/bands.c: the bands that are asked of this tub, and how many of the possible waters lie in each. */
#include <math.h>

#include "answer/views.h"
#include "estimate/events.h"
#include "estimate/instrument.h"
#include "procedure/scene.h"

static void tell_band(const tw_belief *b, const char *of, int observed, double low, double high, tw_sink *sink)
{
    const double factor = 1.0 / tw_estimate_inside_factor(observed, b->density_kg_per_l);
    size_t inside = 0;
    for (size_t i = 0; i < b->n; i++) {
        const double value = factor * tw_estimate_inside(b, observed, i);
        inside += !(value < low) && !(value > high); /* an end that is not asked (NaN) is met */
    }
    tw_answer_item(sink);
    tw_answer_string(sink, TW_KEY_BAND_OF, of);
    tw_answer_number(sink, TW_KEY_BAND_LOW, low);
    tw_answer_number(sink, TW_KEY_BAND_HIGH, high);
    tw_answer_number(sink, TW_KEY_BAND_SHARE, (double)inside / (double)b->n);
    tw_answer_close(sink);
}

void tw_answer_tell_bands(tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *b, tw_sink *sink)
{
    static const struct {
        tw_key of;
        int observed;
        tw_band_id band;
    } ROWS[] = {
        {TW_KEY_TOTAL_ALKALINITY, TW_OBSERVED_ALKALINITY, TW_BAND_TA},
        {TW_KEY_CALCIUM_HARDNESS, TW_OBSERVED_CALCIUM, TW_BAND_CH},
        {TW_KEY_SALT, TW_OBSERVED_CHLORIDE, TW_BAND_SALT},
        {TW_KEY_PHOSPHATE, TW_OBSERVED_PHOSPHATE, TW_BAND_PO4},
    };
    tw_scene scene;
    const tw_profile *profile = tw_answer_profile(ask, tub);
    tw_procedure_scene(core->book, tub, ask->now, b, profile, core->work, core->work_bytes, &scene);
    tw_answer_open_list(sink, TW_KEY_BANDS);
    tell_band(b, "free_chlorine", TW_OBSERVED_FREE_CHLORINE, profile->fc_min_mg_per_l, profile->fc_max_mg_per_l, sink);
    tell_band(b, "combined_chlorine", TW_OBSERVED_COMBINED_CHLORINE, (double)NAN, profile->cc_max_mg_per_l, sink);
    tell_band(b, "ph", TW_OBSERVED_PH, profile->ph_min, profile->ph_max, sink);
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++) {
        const tw_band band = tw_procedure_band(&scene, ROWS[i].band);
        if (isfinite(band.low) && isfinite(band.high)) /* salt has none before the plate is known */
            tell_band(b, tw_key_rows[ROWS[i].of].name, ROWS[i].observed, band.low, band.high, sink);
    }
    tw_answer_close(sink);
}
