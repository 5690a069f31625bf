/* tests/estimate/test_checkpoint.c: a belief as bytes is the belief, and any damage shows. */
#include "support/check.h"

#include "estimate/checkpoint.h"
#include "plain.h"

static tw_checkpoint_key key_of(const tw_belief *b)
{
    tw_checkpoint_key k;
    memset(&k, 0, sizeof k);
    memset(k.core, 1, sizeof k.core);
    memset(k.tables, 2, sizeof k.tables);
    memset(k.entries, 3, sizeof k.entries);
    k.at_utc_s = b->at_utc_s;
    k.members = (uint32_t)b->n;
    return k;
}

static tw_belief a_belief(void)
{
    tw_problem *p = plain_start(20.0);
    tw_belief b;
    const tw_estimate_options quick = tw_estimate_options_quick();
    plain_setting(p, 0.0, 1.0);
    plain_chlorine(p, 0.0, 6000.0);
    plain_value(p, 5.0, TW_OBSERVED_FREE_CHLORINE, 4.0, 0.2);
    plain_value(p, 15.0, TW_OBSERVED_FREE_CHLORINE, 19.0, 0.05);
    assert_int_equal(plain_sample(p, 21, &quick, &b), TW_OK);
    b.at_utc_s = 1774000000;
    tw_estimate_seal(&b);
    return b;
}

static void written_and_read_back_it_is_the_same(void **state)
{
    (void)state;
    const tw_belief b = a_belief();
    const tw_checkpoint_key key = key_of(&b);
    const size_t cap = tw_estimate_checkpoint_bytes(b.n), bytes = tw_estimate_belief_bytes(b.n);
    uint8_t *out = malloc(cap);
    void *mem = malloc(bytes);
    size_t length = 0;
    assert_int_equal(tw_estimate_checkpoint_write(&b, &key, out, cap - 1, &length), TW_ERR_CAPACITY);
    assert_int_equal(tw_estimate_checkpoint_write(&b, &key, out, cap, &length), TW_OK);
    assert_int_equal(length, cap);
    tw_belief back;
    assert_int_equal(tw_estimate_checkpoint_read(out, length, &key, mem, 16, &back), TW_ERR_CAPACITY);
    assert_int_equal(tw_estimate_checkpoint_read(out, length, &key, mem, bytes, &back), TW_OK);
    assert_memory_equal(back.block, b.block, (TW_COLUMNS + TW_TOTALS) * b.n * sizeof(double));
    uint8_t digest[32];
    memcpy(digest, b.digest, sizeof digest);
    assert_memory_equal(back.digest, digest, sizeof digest);
    tw_estimate_seal(&back);
    assert_memory_equal(back.digest, digest, sizeof digest);
    assert_int_equal(back.contradictions, b.contradictions);
    assert_true(b.unwrittens > 0); /* 19 mg/L where 4 were: something was poured, or it is wrong */
    assert_int_equal(back.unwrittens, b.unwrittens);
    assert_memory_equal(&back.unwritten[0].size, &b.unwritten[0].size, sizeof b.unwritten[0].size);
    assert_int_equal(back.unwritten[0].entry, b.unwritten[0].entry);
    assert_int_equal(back.written_chains, b.written_chains);
    assert_true(back.seed == b.seed && back.flags == b.flags);
    free(mem);
    free(out);
}

static void another_key_or_a_flipped_bit_throws_it_away(void **state)
{
    (void)state;
    const tw_belief b = a_belief();
    tw_checkpoint_key key = key_of(&b);
    const size_t cap = tw_estimate_checkpoint_bytes(b.n), bytes = tw_estimate_belief_bytes(b.n);
    uint8_t *out = malloc(cap);
    void *mem = malloc(bytes);
    size_t length = 0;
    tw_belief back;
    assert_int_equal(tw_estimate_checkpoint_write(&b, &key, out, cap, &length), TW_OK);
    for (size_t at = 0; at < length; at += 1 + at / 7) {
        out[at] ^= 0x10;
        const tw_status s = tw_estimate_checkpoint_read(out, length, &key, mem, bytes, &back);
        assert_true(s == TW_ERR_DAMAGED || s == TW_ERR_MISSING);
        out[at] ^= 0x10;
    }
    assert_int_equal(tw_estimate_checkpoint_read(out, length - 1, &key, mem, bytes, &back), TW_ERR_DAMAGED);
    assert_int_equal(tw_estimate_checkpoint_read(out, 3, &key, mem, bytes, &back), TW_ERR_DAMAGED);
    key.entries[5] ^= 1;
    assert_int_equal(tw_estimate_checkpoint_read(out, length, &key, mem, bytes, &back), TW_ERR_MISSING);
    free(mem);
    free(out);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(written_and_read_back_it_is_the_same),
        cmocka_unit_test(another_key_or_a_flipped_bit_throws_it_away),
    };
    const int failed = check_run(argc, argv, tests, sizeof tests / sizeof *tests);
    free(plain_memory);
    return failed;
}
