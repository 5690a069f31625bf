/* answer/view_sheet.c: the handover sheet as text: the tub and its water, what was put in, what it holds
 * on, what to do each week, what never to add, when to stop. It stands by itself when printed. */
#include <math.h>
#include <string.h>

#include "answer/views.h"
#include "dose/substance.h"
#include "logbook/chain.h"

#define MOST_PRODUCTS 24
#define MOST_READINGS 12

typedef struct {
    tw_text substance;
    double g;
} product;

/* Everything that was put into this water since the last fill, summed by substance. */
static void tell_products(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    product list[MOST_PRODUCTS];
    size_t n = 0;
    size_t cursor = 0;
    const tw_entry *entry = NULL;
    while ((entry = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        if (entry->kind == TW_KIND_EXCHANGE && tw_logbook_word(entry, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_FILL)
            n = 0;
        if (entry->kind != TW_KIND_ADDITION)
            continue;
        const tw_text name = tw_logbook_text(entry, TW_FIELD_SUBSTANCE);
        size_t k = 0;
        while (k < n && !tw_units_text_equal(list[k].substance, name))
            k++;
        if (k == MOST_PRODUCTS)
            continue;
        if (k == n)
            list[n++] = (product){name, 0.0};
        list[k].g += tw_answer_addition_g(entry);
    }
    tw_answer_open_list(sink, TW_KEY_PRODUCTS);
    for (size_t k = 0; k < n; k++) {
        const tw_substance *substance = tw_dose_substance_find(list[k].substance);
        tw_answer_item(sink);
        tw_answer_text(sink, TW_KEY_SUBSTANCE, list[k].substance);
        tw_answer_number(sink, TW_KEY_AMOUNT_G, list[k].g);
        tw_said said = tw_units_say(list[k].g == list[k].g ? TW_SAY_SHEET_PRODUCT : TW_SAY_SHEET_PRODUCT_UNKNOWN);
        tw_units_say_text(&said, "name", substance != NULL ? tw_units_text(substance->plain) : list[k].substance);
        tw_units_say_number(&said, "g", list[k].g);
        tw_answer_words(sink, TW_KEY_SAID, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* The last readings of free chlorine: what the proof rests on. */
static void tell_hold_readings(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const tw_entry *last[MOST_READINGS];
    size_t n = 0;
    size_t cursor = 0;
    const tw_entry *entry = NULL;
    while ((entry = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        if (entry->kind != TW_KIND_READING || tw_logbook_word(entry, TW_FIELD_ANALYTE) != TW_ANALYTE_FREE_CHLORINE)
            continue;
        if (n == MOST_READINGS)
            memmove(last, last + 1, sizeof last - sizeof last[0]);
        else
            n++;
        last[n - 1] = entry;
    }
    tw_answer_open_list(sink, TW_KEY_HOLD_READINGS);
    for (size_t i = 0; i < n; i++) {
        tw_answer_item(sink);
        tw_answer_time(sink, TW_KEY_READ_AT, last[i]->at);
        tw_answer_text(sink, TW_KEY_ENTRY, last[i]->id);
        const tw_said read = tw_answer_describe(last[i]);
        tw_answer_words(sink, TW_KEY_SAID, &read);
        if (tw_logbook_has(last[i], TW_FIELD_LOT))
            tw_answer_text(sink, TW_KEY_LOT, tw_logbook_text(last[i], TW_FIELD_LOT));
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* What an owner needs for small corrections, for this much water. */
static void tell_amounts(const tw_belief *belief, tw_sink *sink)
{
    static const struct {
        const char *substance;
        tw_total total; /* which total it is for; TW_TOTALS: alkalinity */
        double mol_per_l;
        tw_message message;
    } ROWS[] = {
        {"sodium-hypochlorite-120", TW_TOTAL_ACTIVE_CHLORINE, 1.0 / 70906.0, TW_SAY_SHEET_CHLORINE_UP},
        {"sodium-bicarbonate", TW_TOTALS, 10.0 / 50043.0, TW_SAY_SHEET_ALKALINITY_UP},
        {"sodium-bisulfate-93", TW_TOTALS, -10.0 / 50043.0, TW_SAY_SHEET_ALKALINITY_DOWN},
    };
    const double volume_l = tw_estimate_volume_l(belief).q50;
    tw_answer_open_list(sink, TW_KEY_AMOUNTS);
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++) {
        const tw_substance *substance = tw_dose_substance_find(tw_units_text(ROWS[i].substance));
        if (substance == NULL)
            continue;
        const double per_g = ROWS[i].total < TW_TOTALS ? substance->total_mol_per_g[ROWS[i].total] : tw_dose_alk_eq_per_g(substance);
        const double g = volume_l * ROWS[i].mol_per_l / per_g;
        tw_answer_item(sink);
        tw_answer_string(sink, TW_KEY_SUBSTANCE, substance->id);
        tw_answer_number(sink, TW_KEY_AMOUNT_G, g);
        tw_said said = tw_units_say(ROWS[i].message);
        tw_units_say_text(&said, "name", tw_units_text(substance->plain));
        tw_units_say_number(&said, "g", g);
        tw_units_say_number(&said, "ml", substance->density_kg_per_l > 0.0 ? g / substance->density_kg_per_l : g);
        tw_answer_words(sink, TW_KEY_SAID, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

static void tell_list(tw_sink *sink, tw_key key, const tw_message *message, size_t n)
{
    tw_answer_open_list(sink, key);
    for (size_t i = 0; i < n; i++)
        tw_answer_message(sink, key, message[i]);
    tw_answer_close(sink);
}

static void tell_rules(tw_sink *sink)
{
    static const tw_message WEEKLY[] = {TW_SAY_SHEET_WEEKLY_TEST, TW_SAY_SHEET_WEEKLY_FILTER, TW_SAY_SHEET_WEEKLY_WRITE,
                                        TW_SAY_SHEET_TEN_DAYS, TW_SAY_SHEET_MONTHLY};
    static const tw_message NEVER[] = {TW_SAY_SHEET_NEVER_BROMIDE, TW_SAY_SHEET_NEVER_METALS, TW_SAY_SHEET_NEVER_OTHER,
                                       TW_SAY_SHEET_NEVER_MIX};
    static const tw_message STOP[] = {TW_SAY_SHEET_STOP_ILL, TW_SAY_SHEET_STOP_SEE, TW_SAY_SHEET_STOP_STOOL, TW_SAY_SHEET_STOP_TRIP,
                                      TW_SAY_SHEET_STOP_LIMITS};
    tell_list(sink, TW_KEY_WEEKLY, WEEKLY, sizeof WEEKLY / sizeof WEEKLY[0]);
    tell_list(sink, TW_KEY_NEVER, NEVER, sizeof NEVER / sizeof NEVER[0]);
    tell_list(sink, TW_KEY_STOP_RULES, STOP, sizeof STOP / sizeof STOP[0]);
}

static void tell_water(const tw_belief *belief, tw_sink *sink)
{
    const tw_spread volume = tw_estimate_volume_l(belief);
    const tw_spread salt = tw_estimate_now(belief, TW_OBSERVED_CHLORIDE);
    const tw_spread ta = tw_estimate_now(belief, TW_OBSERVED_ALKALINITY);
    const tw_spread ch = tw_estimate_now(belief, TW_OBSERVED_CALCIUM);
    const tw_spread cya = tw_estimate_now(belief, TW_OBSERVED_CYANURATE);
    const tw_spread ec = tw_estimate_now(belief, TW_OBSERVED_CONDUCTIVITY);
    const tw_spread loss = tw_estimate_column(belief, TW_COLUMN_LOSS_NOW_PER_H);
    const tw_spread output = tw_estimate_column(belief, TW_COLUMN_OUTPUT_G_PER_H);
    tw_answer_spread(sink, TW_KEY_VOLUME, volume.q05, volume.q50, volume.q95);
    tw_answer_spread(sink, TW_KEY_TOTAL_ALKALINITY, ta.q05, ta.q50, ta.q95);
    tw_answer_spread(sink, TW_KEY_CALCIUM_HARDNESS, ch.q05, ch.q50, ch.q95);
    tw_answer_spread(sink, TW_KEY_SALT, salt.q05, salt.q50, salt.q95);
    tw_answer_spread(sink, TW_KEY_CYANURIC_ACID, cya.q05, cya.q50, cya.q95);
    tw_answer_spread(sink, TW_KEY_CONDUCTIVITY, ec.q05, ec.q50, ec.q95);
    tw_answer_spread(sink, TW_KEY_LOSS, 100.0 * loss.q05, 100.0 * loss.q50, 100.0 * loss.q95);
    tw_answer_spread(sink, TW_KEY_OUTPUT, output.q05, output.q50, output.q95);
}

static void tell_proof(tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink)
{
    tw_answer_limits limits;
    tw_held held;
    tw_answer_limits_of(ask, tub, &limits);
    const tw_held_ask wanted = {.duty = -1.0, .floor_mg_per_l = limits.floor_mg_per_l, .ceiling_mg_per_l = limits.ceiling_mg_per_l};
    if (tw_estimate_held(belief, &wanted, core->work, core->work_bytes, &held) == TW_OK)
        tw_answer_tell_held(&held, ask->now, sink);
    tw_answer_tell_forecast(belief, NULL, TW_ANSWER_FAN_HOURS, 1, sink);
}

static void tell_seal(const tw_core *core, tw_sink *sink)
{
    uint8_t seal[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_logbook_chain_seal(core->book, seal);
    tw_sha256_hex(seal, hex);
    tw_said said = tw_units_say(TW_SAY_SHEET_SEAL);
    tw_units_say_text(&said, "seal", (tw_text){hex, 16});
    tw_answer_words(sink, TW_KEY_SEAL_LINE, &said);
    tw_answer_message(sink, TW_KEY_SIGN, TW_SAY_SHEET_SIGN);
}

void tw_answer_view_sheet(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    const tw_belief *belief = tw_answer_belief(core, tub, ask->now, &status);
    tw_answer_message(sink, TW_KEY_STAGE, TW_SAY_SHEET_TITLE);
    tw_answer_message(sink, TW_KEY_STATE, TW_SAY_SHEET_SUBTITLE);
    if (!tw_answer_tell_stop(core, ask, tub, sink))
        tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
    if (belief == NULL) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    tell_water(belief, sink);
    tell_products(core, ask, tub, sink);
    tell_hold_readings(core, ask, tub, sink);
    tell_proof(core, ask, tub, belief, sink);
    tell_amounts(belief, sink);
    tell_rules(sink);
    tw_answer_tell_doubts(core, ask, tub, sink);
    tell_seal(core, sink);
}
