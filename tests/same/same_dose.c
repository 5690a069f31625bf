/* One hash of many doses: thresholds, steps, series, grams in a known water. See same_num.c. */
#include <stdint.h>
#include <stdio.h>

#include "dose/series.h"
#include "dose/size.h"
#include "num/elementary_inline.h"
#include "num/philox.h"
#include "num/sha256.h"

#define MEMBERS 64
#define TUBS 24

static tw_sha256_state hash;
static uint64_t results;
static double kg[MEMBERS], temp[MEMBERS], total[TW_TOTALS][MEMBERS];
static double room[MEMBERS * (TW_TOTALS + 8)];

static void add_word(uint64_t word)
{
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(word >> (8 * i));
    tw_sha256_update(&hash, bytes, sizeof bytes);
    results++;
}

static void add(double x)
{
    add_word(x == x ? tw_bits_of(x) : UINT64_C(0x7FF8000000000000));
}

static double between(tw_stream *stream, double low, double high)
{
    const double u = tw_stream_uniform(stream);
    return low + (high - low) * u;
}

static tw_waters draw(tw_stream *s)
{
    tw_waters w = {.n = MEMBERS, .water_kg = kg, .temp_k = temp, .solvent_kg_per_l = between(s, 0.99, 1.0)};
    const double cyanurate = tw_stream_below(s, 2) ? 2e-4 : 0.0, warm = between(s, 283.0, 312.0);
    const double alk = between(s, 1e-3, 4.5e-3);
    for (int t = 0; t < TW_TOTALS; t++)
        w.total[t] = total[t];
    for (size_t i = 0; i < MEMBERS; i++) {
        for (int t = 0; t < TW_TOTALS; t++)
            total[t][i] = 0.0;
        kg[i] = between(s, 900.0, 1300.0);
        temp[i] = warm;
        total[TW_TOTAL_CA][i] = between(s, 2e-4, 2e-3);
        total[TW_TOTAL_CL][i] = between(s, 1e-3, 3e-2);
        total[TW_TOTAL_ACTIVE_CHLORINE][i] = between(s, 0.0, 1e-4);
        total[TW_TOTAL_CYANURATE][i] = cyanurate;
        total[TW_TOTAL_PHOSPHATE][i] = between(s, 0.0, 3e-5);
        const double own = alk * between(s, 0.9, 1.1);
        total[TW_TOTAL_DIC][i] = own * between(s, 1.0, 1.1);
        total[TW_TOTAL_NA][i] = own + total[TW_TOTAL_CL][i] - 2.0 * total[TW_TOTAL_CA][i];
        if (total[TW_TOTAL_NA][i] < 0.0) {
            total[TW_TOTAL_CL][i] -= total[TW_TOTAL_NA][i];
            total[TW_TOTAL_NA][i] = 0.0;
        }
    }
    return w;
}

static void add_step(const tw_dose_step *step)
{
    add(step->grams);
    add(step->to_target_g);
    add(step->admissible_g);
    add(step->chance_any);
    add(step->single_ph);
    add_word((uint64_t)step->bound * 16u + step->steps);
    for (int of = 0; of < TW_OF_QUANTITIES; of++)
        for (int q = 0; q < 3; q++)
            add(step->after[of][q]);
}

static void one_tub(tw_stream *s)
{
    const tw_waters w = draw(s);
    for (int i = 0; i < TW_SUBSTANCES; i++) {
        tw_dose_ask ask = {.substance = &tw_dose_substances[i], .aim_quantile = 0.5, .risk = 0.05, .margin = 1,
                           .weighing_sd_ln = 0.01, .seed = 9, .limits = 3,
                           .limit = {{TW_OF_PH, 6.8, 1}, {TW_OF_PH, 8.2, 0}, {TW_OF_SALT, 2500.0, 0}}};
        const double targets[TW_OF_QUANTITIES] = {7.4, 100.0, 150.0, 2000.0, 5.0, 30.0, 100.0, 0.15};
        for (int aim = 0; aim < TW_OF_QUANTITIES; aim++) {
            tw_dose_step step;
            ask.aim = (tw_quantity_of_water)aim;
            ask.target = targets[aim];
            add_word((uint64_t)tw_dose_plan(&w, &ask, room, sizeof room, &step));
            add_step(&step);
            const tw_water one = tw_dose_member(&w, 3);
            double grams = 0.0;
            add_word((uint64_t)tw_dose_grams_to(&one, kg[3], ask.substance, ask.aim, ask.target, w.solvent_kg_per_l, &grams));
            add(grams);
        }
    }
    const tw_dose_ask acid = {.substance = &tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93], .aim = TW_OF_ALKALINITY,
                              .target = 60.0, .aim_quantile = 0.5, .seed = 9, .limits = 1, .limit = {{TW_OF_PH, 6.8, 1}}};
    tw_dose_series_step step[8];
    tw_dose_series_sum sum;
    add_word((uint64_t)tw_dose_series(&w, &acid, 0.05, 7.6, room, sizeof room, step, 8, &sum));
    add(sum.grams);
    add(sum.chance_ever);
    add(sum.left);
}

int main(void)
{
    tw_sha256_init(&hash);
    for (uint32_t tub = 0; tub < TUBS; tub++) {
        tw_stream s = tw_stream_make(77, 0, 1, tub);
        one_tub(&s);
    }
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    printf("dose %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
