/* One hash of many doses: courses of visits, grams in a known water. See same_num.c. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "dose/course.h"
#include "dose/size.h"
#include "num/elementary_inline.h"
#include "num/philox.h"
#include "num/sha256.h"

#define MEMBERS 64
#define TUBS 24

static tw_sha256_state hash;
static uint64_t results;
static double kg[MEMBERS], temp[MEMBERS], total[TW_TOTALS][MEMBERS];
static double room[1u << 16];

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

static void add_spread(const tw_course_spread *spread)
{
    for (int of = 0; of < TW_OF_QUANTITIES; of++)
        for (int q = 0; q < 3; q++)
            add(spread->of[of][q]);
}

static void add_visit(const tw_course_visit *v)
{
    for (size_t k = 0; k < v->additions; k++) {
        add_word(v->addition[k].stock);
        add(v->addition[k].grams);
        add(v->addition[k].start_min);
        add_spread(&v->addition[k].after);
    }
    add(v->moves.exchange_share);
    add(v->moves.air_hours);
    add(v->moves.wait_hours);
    add(v->chance_any);
    add(v->risk_left);
    add(v->retest_min);
    add_spread(&v->after);
}

/* Four products of the table for each tub, so that all have their turn. */
static void one_course(const tw_waters *w, uint32_t tub, tw_stream *s)
{
    static tw_course_ask ask;
    static tw_course course;
    static const double TARGET[TW_OF_QUANTITIES] = {7.4, 90.0, 150.0, 1200.0, 4.0, 20.0, 100.0, 0.3};
    tw_dose_course_defaults(&ask);
    ask.waters = w;
    ask.pours = TW_WHO_TRAINED;
    ask.seed = tub;
    ask.air_hours = tub % 2 ? 2.0 : 0.0;
    ask.exchange_most = tub % 3 ? 0.0 : 0.4;
    ask.loss_per_h = tub % 5 ? 0.0 : 0.05;
    ask.source = tw_dose_member(w, 0);
    ask.si_high = tub % 4 ? (double)NAN : 0.5;
    for (int of = 0; of < TW_OF_QUANTITIES; of++)
        if (of < 2 || tw_stream_below(s, 2)) {
            const double t = TARGET[of], half = of == TW_OF_PH ? 0.3 : 0.4 * t;
            ask.band[of] = (tw_course_band){t - half, t, t + half, t - 2.0 * half, t + 2.0 * half};
        }
    for (int k = 0; k < 4; k++) {
        const uint32_t id = tw_stream_below(s, TW_SUBSTANCES);
        ask.stock[ask.stocks].substance = tw_dose_substances[id];
        ask.stock[ask.stocks++].grid_g = k % 2 ? 1.0 : 0.0;
    }
    add_word((uint64_t)tw_dose_course(&ask, room, sizeof room, &course));
    add_word((uint64_t)course.stands * 64u + course.visits);
    for (size_t i = 0; i < course.visits; i++)
        add_visit(&course.visit[i]);
    add(course.expected_visits);
    add(course.chance_ever);
    add_word((uint64_t)course.free.by);
    add(course.free.grams);
    add(course.free.value);
}

static void one_tub(uint32_t tub, tw_stream *s)
{
    const tw_waters w = draw(s);
    const double targets[TW_OF_QUANTITIES] = {7.4, 100.0, 150.0, 2000.0, 5.0, 30.0, 100.0, 0.15};
    const tw_water one = tw_dose_member(&w, 3);
    for (int i = 0; i < TW_SUBSTANCES; i++)
        for (int aim = 0; aim < TW_OF_QUANTITIES; aim++) {
            double grams = 0.0;
            add_word((uint64_t)tw_dose_grams_to(&one, kg[3], &tw_dose_substances[i], (tw_quantity_of_water)aim, targets[aim],
                                                w.solvent_kg_per_l, &grams));
            add(grams);
        }
    one_course(&w, tub, s);
}

int main(void)
{
    tw_sha256_init(&hash);
    for (uint32_t tub = 0; tub < TUBS; tub++) {
        tw_stream s = tw_stream_make(77, 0, 1, tub);
        one_tub(tub, &s);
    }
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    printf("dose %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
