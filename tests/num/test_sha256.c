/* SHA-256 against the examples of FIPS 180-4 and of NIST's example files. */
#include "num/sha256.h"
#include "support/check.h"

static void check_digest(const void *data, size_t n, const char *want)
{
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256(data, n, digest);
    tw_sha256_hex(digest, hex);
    assert_string_equal(hex, want);
}

static void published_examples(void **state)
{
    (void)state;
    check_digest("abc", 3, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    check_digest("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 56,
                 "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    check_digest("abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmno"
                 "ijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu", 112,
                 "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1");
    check_digest(NULL, 0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    check_digest("\xbd", 1, "68325720aabd7c82f30f554b313d0570c95accbb7dc4b5aae11204c08ffe732b");
}

static void a_million_a(void **state)
{
    (void)state;
    static char text[1000];
    memset(text, 'a', sizeof text);
    tw_sha256_state hash;
    tw_sha256_init(&hash);
    for (int i = 0; i < 1000; i++)
        tw_sha256_update(&hash, text, sizeof text);
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    assert_string_equal(hex, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

static void zeros_around_the_block_length(void **state)
{
    (void)state;
    /* NIST's additional examples: 55, 56, 57, 64 zero bytes, 1,000 zeros, 1,000 'A' and 1,005 'U'. */
    static char text[1005];
    memset(text, 0, sizeof text);
    check_digest(text, 55, "02779466cdec163811d078815c633f21901413081449002f24aa3e80f0b88ef7");
    check_digest(text, 56, "d4817aa5497628e7c77e6b606107042bbba3130888c5f47a375e6179be789fbb");
    check_digest(text, 57, "65a16cb7861335d5ace3c60718b5052e44660726da4cd13bb745381b235a1785");
    check_digest(text, 64, "f5a5fd42d16a20302798ef6ed309979b43003d2320d9f0e8ea9831a92759fb4b");
    check_digest(text, 1000, "541b3e9daa09b20bf85fa273e5cbd3e80185aa4ec298e765db87742b70138a53");
    memset(text, 'A', sizeof text);
    check_digest(text, 1000, "c2e686823489ced2017f6059b8b239318b6364f6dcd835d0a519105a1eadd6e4");
    memset(text, 'U', sizeof text);
    check_digest(text, 1005, "f4d62ddec0f3dd90ea1380fa16a5ff8dc4c54b21740650f24afc4120903552b0");
}

static void pieces_of_any_size_give_the_same(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    uint8_t data[400];
    for (size_t i = 0; i < sizeof data; i++)
        data[i] = (uint8_t)random_bits(&random);
    for (int round = 0; round < 500; round++) {
        const size_t n = (size_t)(random_bits(&random) % (sizeof data + 1));
        uint8_t whole[TW_SHA256_BYTES], pieces[TW_SHA256_BYTES];
        tw_sha256(data, n, whole);
        tw_sha256_state hash;
        tw_sha256_init(&hash);
        for (size_t at = 0; at < n;) {
            size_t take = (size_t)(random_bits(&random) % 150);
            take = take < n - at ? take : n - at;
            tw_sha256_update(&hash, data + at, take);
            at += take;
        }
        tw_sha256_final(&hash, pieces);
        assert_memory_equal(whole, pieces, sizeof whole);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_examples),
        cmocka_unit_test(a_million_a),
        cmocka_unit_test(zeros_around_the_block_length),
        cmocka_unit_test(pieces_of_any_size_give_the_same),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
