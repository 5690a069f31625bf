/* answer/view_water.c: what is known of the water, as medians with 90 % intervals.
 *
 * Chemistry that needs the whole water (saturation, the share of chlorine that is free to act) is
 * solved for members evenly taken from the belief; each is a possible water. */
#include <math.h>
#include <string.h>

#include "answer/salt_rise.h"
#include "answer/views.h"
#include "estimate/events.h"
#include "estimate/explain.h"
#include "estimate/instrument.h"
#include "gen/scale_tables.h"
#include "num/elementary.h"
#include "num/sort.h"
#include "procedure/scene.h"
#include "water/ccpp.h"
#include "water/index.h"
#include "water/speciate.h"

#define SOLVED 128 /* members that are solved in full */

static void tell_spread(tw_sink *sink, tw_key key, tw_spread s)
{
    tw_answer_spread(sink, key, s.q05, s.q50, s.q95);
}

/* What a perfect instrument would read, one key each. */
static void tell_readings(const tw_belief *belief, tw_sink *sink)
{
    static const struct {
        tw_key key;
        int observed;
    } ROWS[] = {
        {TW_KEY_PH, TW_OBSERVED_PH},
        {TW_KEY_TOTAL_ALKALINITY, TW_OBSERVED_ALKALINITY},
        {TW_KEY_CALCIUM_HARDNESS, TW_OBSERVED_CALCIUM},
        {TW_KEY_TOTAL_HARDNESS, TW_OBSERVED_HARDNESS},
        {TW_KEY_SALT, TW_OBSERVED_CHLORIDE},
        {TW_KEY_CONDUCTIVITY, TW_OBSERVED_CONDUCTIVITY},
        {TW_KEY_CYANURIC_ACID, TW_OBSERVED_CYANURATE},
        {TW_KEY_PHOSPHATE, TW_OBSERVED_PHOSPHATE},
        {TW_KEY_SULFATE, TW_OBSERVED_SULFATE},
        {TW_KEY_BORON, TW_OBSERVED_BORATE},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++)
        tell_spread(sink, ROWS[i].key, tw_estimate_now(belief, ROWS[i].observed));
}

static tw_water member_water(const tw_belief *belief, size_t i)
{
    tw_water water;
    water.temp_k = belief->column[TW_COLUMN_TEMP_K][i];
    for (int t = 0; t < TW_TOTALS; t++)
        water.total_mol_per_kg[t] = belief->total[t][i];
    return water;
}

static void tell_quantiles(tw_sink *sink, tw_key key, double *value, size_t n)
{
    double scratch[SOLVED];
    if (n > 0)
        tell_spread(sink, key, tw_estimate_spread(value, n, scratch));
    else
        tw_answer_spread(sink, key, (double)NAN, (double)NAN, (double)NAN);
}

/* Grams of scale that form in a week if the water stays as it is; 0 under the index (estimate/scale.h). */
static double scale_a_week_g(const tw_water *water, double si, double kg, double per_h)
{
    tw_constants at;
    tw_ccpp fall;
    if (!(si > TW_SCALE_INDEX) || tw_water_constants_at(water->temp_k, &at) != TW_OK)
        return 0.0;
    at.ln_ksp_calcite += TW_LN10 * TW_SCALE_INDEX; /* what falls out until the index is down to there */
    if (tw_water_ccpp(&at, water, &fall) != TW_OK)
        return 0.0;
    return 100.0869 * kg * fall.ccpp_mol_per_kg * (1.0 - tw_exp(-168.0 * per_h));
}

/* Where more likely than not scale is forming: how much, and what stops it. */
static void tell_scale(const double *week_g, size_t n, tw_sink *sink)
{
    double scratch[SOLVED];
    size_t forms = 0;
    for (size_t i = 0; i < n; i++)
        forms += week_g[i] > 0.0;
    if (2 * forms <= n)
        return;
    tw_said said = tw_units_say(TW_SAY_SCALE_FORMS);
    tw_units_say_number(&said, "p", (double)forms / (double)n);
    tw_units_say_number(&said, "grams", tw_estimate_spread(week_g, n, scratch).q50);
    tw_answer_words(sink, TW_KEY_SCALE, &said);
}

/* Saturation with calcite, the same where the heater is 15 K hotter, what would fall out, and the
 * chlorine that is not bound. The trade's index stands beside, of the medians. */
static void tell_balance(const tw_belief *belief, tw_sink *sink)
{
    double si[SOLVED];
    double si_hot[SOLVED];
    double ccpp[SOLVED];
    double hocl[SOLVED];
    double week_g[SOLVED];
    size_t n = 0;
    const size_t stride = belief->n > SOLVED ? belief->n / SOLVED : 1;
    for (size_t i = 0; i < belief->n && n < SOLVED; i += stride) {
        tw_water water = member_water(belief, i);
        tw_constants at;
        tw_speciation sp;
        tw_speciation hot_sp;
        tw_ccpp fall;
        if (tw_water_constants_at(water.temp_k, &at) != TW_OK || tw_water_speciate(&at, &water, &sp) != TW_OK ||
            tw_water_ccpp(&at, &water, &fall) != TW_OK)
            continue;
        tw_constants hot;
        tw_water heated = water;
        heated.temp_k = water.temp_k + 15.0 > 318.15 ? 318.15 : water.temp_k + 15.0;
        if (tw_water_constants_at(heated.temp_k, &hot) != TW_OK || tw_water_speciate(&hot, &heated, &hot_sp) != TW_OK)
            continue;
        si[n] = sp.si_calcite;
        si_hot[n] = hot_sp.si_calcite;
        ccpp[n] = fall.ccpp_mol_per_kg * 100086.9 * belief->density_kg_per_l;
        hocl[n] = sp.mol_per_kg[TW_SPECIES_HOCL] * 70906.0 * belief->density_kg_per_l;
        week_g[n] = scale_a_week_g(&water, si[n], belief->column[TW_COLUMN_WATER_KG][i], belief->column[TW_COLUMN_SCALE_PER_H][i]);
        n += (size_t)(si[n] > -20.0 && si_hot[n] > -20.0);
    }
    tell_quantiles(sink, TW_KEY_SATURATION_INDEX, si, n);
    tell_quantiles(sink, TW_KEY_SATURATION_INDEX_HEATER, si_hot, n);
    tell_quantiles(sink, TW_KEY_CCPP, ccpp, n);
    tell_quantiles(sink, TW_KEY_HYPOCHLOROUS_ACID, hocl, n);
    tell_scale(week_g, n, sink);
    const double tds = tw_estimate_now(belief, TW_OBSERVED_CONDUCTIVITY).q50 * 0.6;
    tw_answer_number(sink, TW_KEY_LANGELIER_TRADE,
                     tw_water_langelier(tw_estimate_now(belief, TW_OBSERVED_PH).q50,
                                        tw_estimate_column(belief, TW_COLUMN_TEMP_K).q50 - 273.15,
                                        tw_estimate_now(belief, TW_OBSERVED_CALCIUM).q50,
                                        tw_estimate_now(belief, TW_OBSERVED_ALKALINITY).q50, tds));
}

/* What the tub does with chlorine. */
static void tell_tub(const tw_belief *belief, tw_sink *sink)
{
    tell_spread(sink, TW_KEY_VOLUME, tw_estimate_volume_l(belief));
    tw_spread kelvin = tw_estimate_column(belief, TW_COLUMN_TEMP_K);
    tw_answer_spread(sink, TW_KEY_TEMPERATURE, kelvin.q05 - 273.15, kelvin.q50 - 273.15, kelvin.q95 - 273.15);
    const tw_spread loss = tw_estimate_column(belief, TW_COLUMN_LOSS_NOW_PER_H);
    tw_answer_spread(sink, TW_KEY_LOSS, 100.0 * loss.q05, 100.0 * loss.q50, 100.0 * loss.q95);
    tell_spread(sink, TW_KEY_DEMAND, tw_estimate_column_mg_per_l(belief, TW_COLUMN_DEMAND_MG_PER_KG));
    tell_spread(sink, TW_KEY_OUTPUT, tw_estimate_column(belief, TW_COLUMN_OUTPUT_G_PER_H));
    tell_spread(sink, TW_KEY_UNDISSOLVED, tw_estimate_column(belief, TW_COLUMN_UNDISSOLVED_G));
}

/* What rests on the usual and not on this tub's readings. */
static void tell_assumed(const tw_belief *belief, int no_temperature, tw_sink *sink)
{
    static const struct {
        tw_known known;
        tw_message name;
    } ROWS[] = {
        {TW_KNOWN_WATER, TW_SAY_KNOWN_VOLUME},       {TW_KNOWN_ALKALINITY, TW_SAY_KNOWN_ALKALINITY},
        {TW_KNOWN_HARDNESS, TW_SAY_KNOWN_CALCIUM},   {TW_KNOWN_CHLORIDE, TW_SAY_KNOWN_SALT},
        {TW_KNOWN_CYANURATE, TW_SAY_KNOWN_CYANURATE}, {TW_KNOWN_LOSS, TW_SAY_KNOWN_LOSS},
        {TW_KNOWN_CELL, TW_SAY_KNOWN_CELL},          {TW_KNOWN_DEMAND0, TW_SAY_KNOWN_DEMAND},
    };
    tw_answer_open_list(sink, TW_KEY_ASSUMED);
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++)
        if (belief->learned[ROWS[i].known] < 0.2)
            tw_answer_message(sink, TW_KEY_ASSUMED, ROWS[i].name);
    if (no_temperature)
        tw_answer_message(sink, TW_KEY_ASSUMED, TW_SAY_KNOWN_TEMPERATURE);
    tw_answer_close(sink);
}

/* How much of each was learned from this tub's readings; for programs. */
static void tell_learned(const tw_belief *belief, tw_sink *sink)
{
    static const char *const NAME[TW_KNOWNS] = {"volume", "loss", "loss-by-temperature", "film", "demand-at-start", "demand-rate",
                                                "continuing-demand", "cell", "co2-still", "co2-jets", "alkalinity-let-in", "co2-let-in",
                                                "hardness-let-in", "chloride-let-in", "cyanurate-let-in", "phosphate-let-in", "dissolving"};
    tw_answer_open_list(sink, TW_KEY_LEARNED);
    for (int i = 0; i < TW_KNOWNS; i++) {
        tw_answer_item(sink);
        tw_answer_string(sink, TW_KEY_LEARNED_OF, NAME[i]);
        tw_answer_number(sink, TW_KEY_LEARNED_SHARE, belief->learned[i]);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* What each way of getting the volume says by itself, the latest of each, beside what all of it says together. */
static void tell_volumes(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink)
{
    const tw_entry *last[TW_VOLUME_METHOD_WORDS] = {NULL};
    const tw_entry *e;
    size_t cursor = 0;
    const double all = tw_estimate_volume_l(belief).q50;
    while ((e = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        const int method = e->kind == TW_KIND_VOLUME ? tw_logbook_word(e, TW_FIELD_METHOD)
                           : e->kind == TW_KIND_PLATE && tw_logbook_has(e, TW_FIELD_VOLUME) ? (int)TW_VOLUME_METHOD_PLATE : -1;
        if (method >= 0 && method < TW_VOLUME_METHOD_WORDS)
            last[method] = e;
    }
    static const tw_message BY[TW_VOLUME_METHOD_WORDS] = {TW_SAY_VOLUME_METER, TW_SAY_VOLUME_CLOCK, TW_SAY_VOLUME_GEOMETRY,
                                                          TW_SAY_VOLUME_PLATE, TW_SAY_VOLUME_GUESS, TW_SAY_VOLUME_TRACER};
    tw_answer_open_list(sink, TW_KEY_VOLUMES);
    for (int m = 0; m < TW_VOLUME_METHOD_WORDS; m++) {
        double litres = 0.0;
        if (last[m] != NULL)
            (void)tw_logbook_si(last[m], TW_FIELD_VOLUME, &litres);
        else if (m == TW_VOLUME_METHOD_TRACER)
            litres = tw_answer_salt_rise_l(core, ask, tub, belief);
        if (!(litres > 0.0))
            continue;
        const double off = litres / all - 1.0;
        tw_said said = tw_units_say(off >= 0.0 ? TW_SAY_VOLUME_OVER : TW_SAY_VOLUME_UNDER);
        tw_units_say_message(&said, "by", BY[m]);
        tw_units_say_number(&said, "litres", litres);
        tw_units_say_number(&said, "off", fabs(off));
        tw_answer_item(sink);
        tw_answer_number(sink, TW_KEY_VOLUME_SAID_L, litres);
        tw_answer_words(sink, TW_KEY_VOLUME_SAID, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

#define WORTH_SAYING 0.5 /* wider than this, nothing was learned that helps anybody */

static void tell_before_one(tw_sink *sink, tw_message message, const char *name, const double q[3], double factor)
{
    const double half = q[1] > 0.0 ? 0.5 * (q[2] - q[0]) / q[1] : 1.0;
    if (half > WORTH_SAYING)
        return;
    tw_said said = tw_units_say(message);
    tw_units_say_number(&said, name, factor * q[1]);
    tw_units_say_number(&said, "p", half);
    tw_answer_words(sink, TW_KEY_BEFORE, &said);
}

/* What this water began with, because an earlier one taught it. */
static void tell_before(const tw_belief *belief, tw_sink *sink)
{
    const tw_before *b = &belief->before;
    if (b->waters == 0)
        return;
    tw_answer_open_list(sink, TW_KEY_BEFORE);
    tell_before_one(sink, TW_SAY_BEFORE_VOLUME, "litres", b->water_kg, 1.0 / belief->density_kg_per_l);
    tell_before_one(sink, TW_SAY_BEFORE_LOSS, "rate", b->loss_per_h, 100.0);
    tell_before_one(sink, TW_SAY_BEFORE_CELL, "share", b->cell, 1.0);
    tw_answer_close(sink);
}

/* Nobody has read the water's temperature, said it at the fill or set it. */
static int temperature_is_assumed(const tw_book *book, const tw_tub *tub, tw_time now)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(book, tub->id, now, &cursor)) != NULL)
        if ((e->kind == TW_KIND_READING && tw_logbook_word(e, TW_FIELD_ANALYTE) == TW_ANALYTE_TEMPERATURE &&
             !tw_logbook_has(e, TW_FIELD_SOURCE)) ||
            (e->kind == TW_KIND_EXCHANGE && tw_logbook_has(e, TW_FIELD_TEMPERATURE)) ||
            (e->kind == TW_KIND_SETTING && tw_logbook_word(e, TW_FIELD_WHAT) == TW_SETTING_TEMPERATURE))
            return 0;
    return 1;
}

/* What may stand behind a doubtful reading, and what settles it. */
static void tell_explanations(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief,
                              const tw_contradiction *odd, tw_sink *sink)
{
    static const tw_message ACT[TW_EXPLANATIONS] = {
        [TW_UNLOGGED_CHLORINE_POURED] = TW_SAY_UNLOGGED_CHLORINE_POURED,
        [TW_UNLOGGED_CHLORINE_USED] = TW_SAY_UNLOGGED_CHLORINE_USED,
        [TW_UNLOGGED_GENERATOR_OFF] = TW_SAY_UNLOGGED_GENERATOR_OFF,
        [TW_UNLOGGED_ACID_POURED] = TW_SAY_UNLOGGED_ACID_POURED,
        [TW_UNLOGGED_BASE_POURED] = TW_SAY_UNLOGGED_BASE_POURED,
        [TW_UNLOGGED_AIRED] = TW_SAY_UNLOGGED_AIRED,
        [TW_UNLOGGED_WATER_ADDED] = TW_SAY_UNLOGGED_WATER_ADDED,
        [TW_UNLOGGED_SALT_POURED] = TW_SAY_UNLOGGED_SALT_POURED,
        [TW_UNLOGGED_NONE] = TW_SAY_UNLOGGED_NONE,
        [TW_EXPLAINED_SCALE] = TW_SAY_UNLOGGED_SCALE};
    static const tw_message RETEST[TW_OBSERVEDS] = {
        [TW_OBSERVED_FREE_CHLORINE] = TW_SAY_ANALYTE_FREE_CHLORINE,
        [TW_OBSERVED_PH] = TW_SAY_ANALYTE_PH,
        [TW_OBSERVED_ALKALINITY] = TW_SAY_ANALYTE_TOTAL_ALKALINITY,
        [TW_OBSERVED_CALCIUM] = TW_SAY_ANALYTE_CALCIUM_HARDNESS,
        [TW_OBSERVED_CONDUCTIVITY] = TW_SAY_ANALYTE_CONDUCTIVITY,
        [TW_OBSERVED_CHLORIDE] = TW_SAY_ANALYTE_SALT};
    tw_explained why;
    for (uint32_t i = 0; i < belief->unwrittens; i++)
        if (belief->unwritten[i].entry == odd->entry)
            return; /* what the members believe of it is told below */
    if (tw_estimate_explain_entry(belief, core->book, tub->id, ask->now, odd, &why) != TW_OK)
        return;
    tw_answer_open_list(sink, TW_KEY_EXPLANATIONS);
    for (size_t i = 0; i < why.count; i++) {
        tw_said may = tw_units_say(TW_SAY_MAY_BE);
        tw_units_say_message(&may, "what", ACT[why.why[i].act]);
        tw_units_say_number(&may, "p", why.why[i].probability);
        tw_answer_words(sink, TW_KEY_EXPLANATIONS, &may);
    }
    tw_answer_close(sink);
    if (why.retest < 0)
        return;
    tw_time since = tw_logbook_book_at(core->book, odd->entry)->at;
    since.utc_s -= (int64_t)(why.hours * 3600.0);
    tw_said settle = tw_units_say(TW_SAY_SETTLE_BY);
    tw_units_say_message(&settle, "what", RETEST[why.retest]);
    tw_units_say_time(&settle, "at", since);
    tw_answer_words(sink, TW_KEY_SETTLE, &settle);
}

static void tell_contradictions(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief,
                                tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_CONTRADICTIONS);
    for (uint32_t i = 0; i < belief->contradictions; i++) {
        const tw_contradiction *c = &belief->contradiction[i];
        const tw_entry *entry = tw_logbook_book_at(core->book, c->entry);
        tw_answer_item(sink);
        tw_answer_time(sink, TW_KEY_ENTRY_AT, entry->at);
        tw_answer_text(sink, TW_KEY_ENTRY, entry->id);
        const tw_said said = tw_answer_describe(entry);
        tw_answer_words(sink, TW_KEY_SAID, &said);
        tw_said odd = tw_units_say(c->observed == TW_OBSERVED_PH ? TW_SAY_HARD_TO_BELIEVE_PH : TW_SAY_HARD_TO_BELIEVE);
        tw_units_say_number(&odd, "p", c->probability);
        const tw_spread expected = tw_estimate_expected(belief, c);
        tw_units_say_number(&odd, "low", expected.q05);
        tw_units_say_number(&odd, "high", expected.q95);
        tw_answer_words(sink, TW_KEY_DOUBT, &odd);
        tell_explanations(core, ask, tub, belief, c, sink);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

void tw_answer_view_water(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const tw_belief *belief = tw_answer_tell_belief(core, ask, tub, sink);
    if (belief == NULL)
        return;
    if (belief->flags & TW_BELIEF_NOT_STARTED)
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_STARTED);
    tw_scene scene;
    tw_procedure_scene(core->book, tub, ask->now, belief, tw_answer_profile(ask, tub), core->work, core->work_bytes, &scene);
    const int empty = scene.drained_l > 0.0;
    if (empty) {
        tw_said said = tw_units_say(TW_SAY_DRAINED);
        tw_units_say_number(&said, "litres", tw_estimate_volume_l(belief).q50);
        tw_answer_words(sink, TW_KEY_HINT, &said);
    }
    tw_answer_open(sink, TW_KEY_WATER);
    tell_spread(sink, TW_KEY_FREE_CHLORINE, tw_estimate_column_mg_per_l(belief, TW_COLUMN_CHLORINE_MG_PER_KG));
    tell_spread(sink, TW_KEY_MADE, tw_estimate_column_mg_per_l(belief, TW_COLUMN_MADE_MG_PER_KG));
    tell_spread(sink, TW_KEY_REMNANT, tw_estimate_column_mg_per_l(belief, TW_COLUMN_REMNANT_MG_PER_KG));
    tell_spread(sink, TW_KEY_TOTAL_CHLORINE, tw_estimate_now(belief, TW_OBSERVED_TOTAL_CHLORINE));
    tell_spread(sink, TW_KEY_COMBINED_CHLORINE, tw_estimate_column_mg_per_l(belief, TW_COLUMN_COMBINED_MG_PER_KG));
    tell_readings(belief, sink);
    tell_balance(belief, sink);
    tell_tub(belief, sink);
    tw_answer_close(sink);
    if (!empty) {
        tell_volumes(core, ask, tub, belief, sink);
        tw_answer_tell_bands(core, ask, tub, belief, sink);
    }
    tell_assumed(belief, temperature_is_assumed(core->book, tub, ask->now), sink);
    tell_learned(belief, sink);
    tell_before(belief, sink);
    tw_answer_tell_reads_off(core, ask, tub, belief, sink);
    tell_contradictions(core, ask, tub, belief, sink);
    tw_answer_tell_unwritten(core, ask, tub, belief, sink);
    tw_answer_number(sink, TW_KEY_READINGS, (double)belief->readings);
    tw_answer_digest(sink, TW_KEY_BELIEF, belief->digest);
}
