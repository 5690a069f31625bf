/* estimate/checkpoint.c: a belief to bytes and back. */
#include "estimate/checkpoint.h"

#include <string.h>

#include "estimate/arena.h"
#include "estimate/model.h"
#include "num/bytes.h"
#include "num/print.h"

/* Raised whenever the layout below or the meaning of a number changes. */
#define FORMAT_VERSION 14u
#define HEAD_BYTES (8 + 32 + 32 + 32 + 8 + 8)
#define DOUBLES 25
#define WHOLES 9
#define CONTRADICTION_DOUBLES 6
#define BIAS_DOUBLES 9
#define BEFORE_DOUBLES 10
#define UNWRITTEN_DOUBLES 10

/* What members say alike or twice: potassium is none (sodium stands for it), the temperature is one, active chlorine is the free
 * chlorine (members.c). */
#define KEPT_NOT (TW_COLUMNS + TW_TOTAL_K)
#define KEPT_ONCE TW_COLUMN_TEMP_K
#define KEPT_AS_CHLORINE (TW_COLUMNS + TW_TOTAL_ACTIVE_CHLORINE)

static size_t kept_of(int column, size_t n)
{
    return column == KEPT_NOT || column == KEPT_AS_CHLORINE ? 0 : column == KEPT_ONCE ? 1 : n;
}

static const uint8_t MAGIC[4] = {'T', 'W', 'b', '1'};

typedef struct {
    uint8_t *out;
    const uint8_t *in;
    size_t at, cap;
} cursor;

static void put_u64(cursor *c, uint64_t x)
{
    (void)tw_put_u64(c->out + c->at, x);
    c->at += 8;
}

static uint64_t get_u64(cursor *c)
{
    c->at += 8;
    return tw_get_u64(c->in + c->at - 8);
}

static void put_double(cursor *c, double x)
{
    put_u64(c, tw_bits_of(x));
}

static double get_double(cursor *c)
{
    return tw_of_bits(get_u64(c));
}

size_t tw_estimate_checkpoint_bytes(size_t n)
{
    return HEAD_BYTES +
           8 * ((size_t)(TW_COLUMNS + TW_TOTALS - 3) * n + 1 + TW_KNOWNS + DOUBLES + WHOLES +
                TW_CONTRADICTIONS * CONTRADICTION_DOUBLES + 1 + TW_SHARED_BIASES * BIAS_DOUBLES + BEFORE_DOUBLES +
                3 + TW_UNWRITTENS * UNWRITTEN_DOUBLES) +
           32 + 32;
}

/* What shows damage. Bytes of a checkpoint are whole words. */
static void print_of(const uint8_t *bytes, size_t n, uint8_t out[TW_SHA256_BYTES])
{
    tw_print print;
    tw_print_init(&print);
    tw_print_bytes(&print, bytes, n / 8);
    tw_print_final(&print, out);
}

static void write_head(cursor *c, const tw_checkpoint_key *key)
{
    memcpy(c->out, MAGIC, 4);
    c->out[4] = (uint8_t)FORMAT_VERSION;
    c->out[5] = c->out[6] = c->out[7] = 0;
    memcpy(c->out + 8, key->core, 32);
    memcpy(c->out + 40, key->tables, 32);
    memcpy(c->out + 72, key->entries, 32);
    c->at = 104;
    put_u64(c, (uint64_t)key->at_utc_s);
    put_u64(c, key->members);
}

/* The plain numbers of a belief, in one order for both ways. */
static void scalars_of(tw_belief *b, double *list[DOUBLES])
{
    double *const all[DOUBLES] = {
        &b->density_kg_per_l, &b->plate_output_g_per_h, &b->duty, &b->hours_since_dose,
        &b->hours_since_any_dose, &b->hours_since_bathers, &b->film_age_h, &b->temp_set_c,
        &b->day_sd, &b->day_h, &b->day_left_h, &b->ec_fit[0], &b->ec_fit[1], &b->ec_fit[2],
        &b->ec_fit[3], &b->ec_fit[4], &b->ec_fit[5], &b->ec_fit[6], &b->log_evidence_floor,
        &b->acceptance, &b->lag1, &b->ionic_mol_per_kg, &b->stirred_h, &b->since_h, &b->plate_salt_mmol_per_kg};
    for (int i = 0; i < DOUBLES; i++)
        list[i] = all[i];
}

static double *before_number(tw_before *b, int i)
{
    return i < 3 ? &b->water_kg[i] : i < 6 ? &b->loss_per_h[i - 3] : &b->cell[i - 6];
}

static double *unwritten_number(tw_unwritten *u, int i)
{
    double *const all[] = {&u->probability, &u->from_h, &u->until_h, &u->size.q05, &u->size.q25, &u->size.q50, &u->size.q75,
                           &u->size.q95};
    return all[i];
}

tw_status tw_estimate_checkpoint_write(const tw_belief *belief, const tw_checkpoint_key *key,
                                       uint8_t *out, size_t cap, size_t *length)
{
    const size_t need = tw_estimate_checkpoint_bytes(belief->n);
    *length = 0;
    if (cap < need)
        return TW_ERR_CAPACITY;
    cursor c = {out, NULL, 0, cap};
    tw_belief b = *belief;
    double *scalar[DOUBLES];
    scalars_of(&b, scalar);
    write_head(&c, key);
    for (int k = 0; k < TW_COLUMNS + TW_TOTALS; k++)
        for (size_t i = 0; i < kept_of(k, b.n); i++)
            put_double(&c, b.block[(size_t)k * b.n + i]);
    for (int i = 0; i < TW_KNOWNS; i++)
        put_double(&c, b.learned[i]);
    for (int i = 0; i < DOUBLES; i++)
        put_double(&c, *scalar[i]);
    put_u64(&c, (uint64_t)b.at_utc_s);
    put_u64(&c, b.seed);
    put_u64(&c, b.segment);
    put_u64(&c, b.days_drawn);
    put_u64(&c, b.most_entries);
    put_u64(&c, b.readings);
    put_u64(&c, b.chlorine_readings);
    put_u64(&c, b.flags);
    put_u64(&c, b.contradictions);
    for (uint32_t i = 0; i < TW_CONTRADICTIONS; i++) {
        const int used = i < b.contradictions;
        put_u64(&c, used ? b.contradiction[i].entry : 0);
        put_u64(&c, used ? (uint64_t)(int64_t)b.contradiction[i].observed : 0);
        put_double(&c, used ? b.contradiction[i].probability : 0.0);
        for (int j = 0; j < 3; j++)
            put_double(&c, used ? b.contradiction[i].expected[j] : 0.0);
    }
    put_u64(&c, b.biases);
    for (int i = 0; i < TW_SHARED_BIASES; i++) {
        const tw_shared_bias *x = &b.bias[i];
        const double number[6] = {x->sd, x->shift.q05, x->shift.q25, x->shift.q50, x->shift.q75, x->shift.q95};
        put_u64(&c, x->entry);
        put_u64(&c, (uint64_t)(int64_t)x->observed);
        put_u64(&c, x->by_factor != 0);
        for (int j = 0; j < 6; j++)
            put_double(&c, number[j]);
    }
    put_u64(&c, b.before.waters);
    for (int i = 0; i < 9; i++)
        put_double(&c, *before_number(&b.before, i));
    put_u64(&c, b.chains);
    put_u64(&c, b.written_chains);
    put_u64(&c, b.unwrittens);
    for (int i = 0; i < TW_UNWRITTENS; i++) {
        put_u64(&c, (uint64_t)(int64_t)b.unwritten[i].act);
        put_u64(&c, b.unwritten[i].entry);
        for (int j = 0; j < UNWRITTEN_DOUBLES - 2; j++)
            put_double(&c, *unwritten_number(&b.unwritten[i], j));
    }
    memcpy(c.out + c.at, b.digest, 32);
    c.at += 32;
    print_of(out, c.at, out + c.at);
    *length = c.at + 32;
    return TW_OK;
}

tw_status tw_estimate_checkpoint_key(const uint8_t *in, size_t length, tw_checkpoint_key *out)
{
    memset(out, 0, sizeof *out);
    if (length < HEAD_BYTES || memcmp(in, MAGIC, 4) != 0 || in[4] != FORMAT_VERSION)
        return TW_ERR_DAMAGED;
    memcpy(out->core, in + 8, 32);
    memcpy(out->tables, in + 40, 32);
    memcpy(out->entries, in + 72, 32);
    out->at_utc_s = (int64_t)tw_get_u64(in + 104);
    out->members = (uint32_t)tw_get_u64(in + 112);
    return TW_OK;
}

static void read_column(cursor *c, int column, size_t n, double *block)
{
    double *to = &block[(size_t)column * n];
    for (size_t i = 0; i < kept_of(column, n); i++)
        to[i] = get_double(c);
    for (size_t i = kept_of(column, n); i < n; i++)
        to[i] = column == KEPT_ONCE ? to[0] : column == KEPT_NOT ? 0.0 : tw_estimate_active_mol_per_kg(block[TW_COLUMN_CHLORINE_MG_PER_KG * n + i]);
}

tw_status tw_estimate_checkpoint_read(const uint8_t *in, size_t length, const tw_checkpoint_key *key,
                                      void *mem, size_t bytes, tw_belief *out)
{
    uint8_t head[HEAD_BYTES], digest[32];
    cursor want = {head, NULL, 0, sizeof head};
    write_head(&want, key);
    memset(out, 0, sizeof *out);
    if (length < HEAD_BYTES)
        return TW_ERR_DAMAGED;
    if (memcmp(in, head, HEAD_BYTES) != 0)
        return memcmp(in, MAGIC, 4) == 0 ? TW_ERR_MISSING : TW_ERR_DAMAGED;
    if (length != tw_estimate_checkpoint_bytes(key->members))
        return TW_ERR_DAMAGED;
    print_of(in, length - 32, digest);
    if (memcmp(digest, in + length - 32, 32) != 0)
        return TW_ERR_DAMAGED;
    tw_arena arena = {mem, bytes};
    tw_belief b;
    tw_estimate_belief_lay(&b, key->members, &arena);
    if (b.block == NULL || b.scratch == NULL)
        return TW_ERR_CAPACITY;
    cursor c = {NULL, in, HEAD_BYTES, length};
    double *scalar[DOUBLES];
    scalars_of(&b, scalar);
    for (int k = 0; k < TW_COLUMNS + TW_TOTALS; k++)
        read_column(&c, k, b.n, b.block);
    for (int i = 0; i < TW_KNOWNS; i++)
        b.learned[i] = get_double(&c);
    for (int i = 0; i < DOUBLES; i++)
        *scalar[i] = get_double(&c);
    b.at_utc_s = (int64_t)get_u64(&c);
    b.seed = get_u64(&c);
    b.segment = (uint32_t)get_u64(&c);
    b.days_drawn = (uint32_t)get_u64(&c);
    b.most_entries = (uint32_t)get_u64(&c);
    b.readings = (uint32_t)get_u64(&c);
    b.chlorine_readings = (uint32_t)get_u64(&c);
    b.flags = (uint32_t)get_u64(&c);
    b.contradictions = (uint32_t)get_u64(&c);
    if (b.contradictions > TW_CONTRADICTIONS)
        return TW_ERR_DAMAGED;
    for (uint32_t i = 0; i < TW_CONTRADICTIONS; i++) {
        tw_contradiction *x = &b.contradiction[i];
        x->entry = (uint32_t)get_u64(&c);
        x->observed = (int)(int64_t)get_u64(&c);
        x->probability = get_double(&c);
        for (int j = 0; j < 3; j++)
            x->expected[j] = get_double(&c);
    }
    b.biases = (uint32_t)get_u64(&c);
    if (b.biases > TW_SHARED_BIASES)
        return TW_ERR_DAMAGED;
    for (int i = 0; i < TW_SHARED_BIASES; i++) {
        tw_shared_bias *x = &b.bias[i];
        x->entry = (uint32_t)get_u64(&c);
        x->observed = (int)(int64_t)get_u64(&c);
        x->by_factor = get_u64(&c) != 0;
        double *const number[6] = {&x->sd, &x->shift.q05, &x->shift.q25, &x->shift.q50, &x->shift.q75, &x->shift.q95};
        for (int j = 0; j < 6; j++)
            *number[j] = get_double(&c);
    }
    b.before.waters = (uint32_t)get_u64(&c);
    for (int i = 0; i < 9; i++)
        *before_number(&b.before, i) = get_double(&c);
    b.chains = (uint32_t)get_u64(&c);
    b.written_chains = (uint32_t)get_u64(&c);
    b.unwrittens = (uint32_t)get_u64(&c);
    if (b.unwrittens > TW_UNWRITTENS)
        return TW_ERR_DAMAGED;
    for (int i = 0; i < TW_UNWRITTENS; i++) {
        b.unwritten[i].act = (int)(int64_t)get_u64(&c);
        b.unwritten[i].entry = (uint32_t)get_u64(&c);
        for (int j = 0; j < UNWRITTEN_DOUBLES - 2; j++)
            *unwritten_number(&b.unwritten[i], j) = get_double(&c);
    }
    memcpy(b.digest, in + c.at, 32);
    *out = b;
    return TW_OK;
}
