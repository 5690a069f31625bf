/* Writers' chains and the seal: what can be shown, and what cannot. */
#include "logbook/lines.h"

#include "logbook/chain.h"

#define LENGTH 8

/* A chain of one writer: entry i is number i + 1. */
typedef struct {
    test_line line[LENGTH];
} chain;

static void hash_of(const test_line *line, uint8_t out[TW_SHA256_BYTES])
{
    tw_sha256(line->bytes, line->n, out);
}

/* Make entries from number `from` on; those before must be there. */
static void make_chain(chain *c, const char *writer, const char *words, int from)
{
    for (int i = from; i < LENGTH; i++) {
        char id[64], text[64], of[64];
        test_line draft;
        uint8_t prev[TW_SHA256_BYTES];
        snprintf(id, sizeof id, "id=01890000-0000-7000-8000-%c%c%010d", writer[1], words[0], i);
        snprintf(text, sizeof text, "words=%s %d", words, i);
        snprintf(of, sizeof of, "writer=%s", writer);
        LINE(&draft, "kind=note", id, text, of);
        if (i > 0)
            hash_of(&c->line[i - 1], prev);
        assert_ok(tw_logbook_compose_chained(test_text(&draft), tw_units_text(writer), (uint32_t)i + 1,
                                             i > 0 ? prev : NULL, c->line[i].bytes, sizeof c->line[i].bytes,
                                             &c->line[i].n, NULL));
    }
}

static tw_book *new_book(void)
{
    tw_book *book = NULL;
    const size_t bytes = tw_logbook_book_bytes(100, 60000);
    void *mem = malloc(bytes);
    assert_non_null(mem);
    assert_ok(tw_logbook_book_init(mem, bytes, 100, 60000, &book));
    return book;
}

static void add(tw_book *book, const test_line *line)
{
    tw_fault fault;
    if (tw_logbook_book_add_line(book, test_text(line), NULL, &fault) != TW_OK) {
        print_error("# %s\n", test_sentence(&fault));
        fail();
    }
}

static void add_chain(tw_book *book, const chain *c, int without)
{
    for (int i = LENGTH; i > 0; i--) /* backwards: arrival does not matter */
        if (i - 1 != without)
            add(book, &c->line[i - 1]);
}

/* Change the text of an entry, keeping everything else. */
static void alter(test_line *line)
{
    line->bytes[line->n] = '\0';
    char *words = strstr(line->bytes, "\"words\":\"");
    assert_non_null(words);
    words[9] = (char)(words[9] == 'z' ? 'y' : 'z');
}

static size_t verify(const tw_book *book, tw_chain_trouble *out)
{
    size_t count;
    assert_ok(tw_logbook_chain_verify(book, out, 32, &count));
    return count;
}

static void a_whole_chain_has_no_trouble_and_one_head(void **state)
{
    (void)state;
    static chain a, b;
    tw_chain_trouble trouble[32];
    tw_chain_head head[4];
    size_t count;
    tw_book *book = new_book();
    make_chain(&a, WRITER_A, "a", 0);
    make_chain(&b, WRITER_B, "b", 0);
    add_chain(book, &b, -1);
    add_chain(book, &a, -1);
    assert_int_equal(verify(book, trouble), 0);
    assert_ok(tw_logbook_chain_heads(book, head, 4, &count));
    assert_int_equal(count, 2);
    assert_true(tw_units_text_is(head[0].writer, WRITER_A));
    assert_int_equal(head[0].n, LENGTH);
    assert_true(tw_units_text_is(head[1].writer, WRITER_B));
    uint8_t hash[TW_SHA256_BYTES];
    uint32_t n;
    tw_logbook_chain_last(book, tw_units_text(WRITER_A), &n, hash);
    assert_int_equal(n, LENGTH);
    assert_memory_equal(hash, head[0].hash, sizeof hash);
    tw_logbook_chain_last(book, tw_units_text("nobody"), &n, hash);
    assert_int_equal(n, 0);
    free(book);
}

/* The seal's bytes, made here by hand from the rule in the documentation. */
static void the_seal_is_the_digest_of_the_heads(void **state)
{
    (void)state;
    static chain a, b;
    char text[512], hex[TW_SHA256_HEX];
    uint8_t hash[TW_SHA256_BYTES], want[TW_SHA256_BYTES], got[TW_SHA256_BYTES];
    tw_book *book = new_book();
    tw_logbook_chain_seal(book, got);
    tw_sha256("", 0, want);
    assert_memory_equal(got, want, sizeof got);
    make_chain(&a, WRITER_A, "a", 0);
    make_chain(&b, WRITER_B, "b", 0);
    add_chain(book, &b, -1);
    add_chain(book, &a, -1);
    size_t n = 0;
    hash_of(&a.line[LENGTH - 1], hash);
    tw_sha256_hex(hash, hex);
    n += (size_t)snprintf(text + n, sizeof text - n, "%s %d %s\n", WRITER_A, LENGTH, hex);
    hash_of(&b.line[LENGTH - 1], hash);
    tw_sha256_hex(hash, hex);
    n += (size_t)snprintf(text + n, sizeof text - n, "%s %d %s\n", WRITER_B, LENGTH, hex);
    tw_sha256(text, n, want);
    tw_logbook_chain_seal(book, got);
    assert_memory_equal(got, want, sizeof got);
    free(book);
}

static void every_altered_entry_but_the_last_is_named(void **state)
{
    (void)state;
    static chain whole, c;
    make_chain(&whole, WRITER_A, "a", 0);
    uint8_t seal[TW_SHA256_BYTES], other[TW_SHA256_BYTES];
    tw_book *book = new_book();
    add_chain(book, &whole, -1);
    tw_logbook_chain_seal(book, seal);
    free(book);
    for (int i = 0; i < LENGTH; i++) {
        tw_chain_trouble trouble[32];
        c = whole;
        alter(&c.line[i]);
        book = new_book();
        add_chain(book, &c, -1);
        const size_t count = verify(book, trouble);
        assert_int_equal(count, i < LENGTH - 1 ? 1 : 0);
        if (count == 1) {
            assert_int_equal(trouble[0].kind, TW_CHAIN_ALTERED);
            assert_int_equal(trouble[0].n, i + 1);
            assert_true(tw_units_text_equal(trouble[0].entry->line, test_text(&c.line[i])));
            assert_true(tw_units_text_equal(trouble[0].after->line, test_text(&c.line[i + 1])));
        }
        tw_logbook_chain_seal(book, other); /* the last one shows only against a kept seal */
        assert_memory_not_equal(seal, other, sizeof seal);
        free(book);
    }
}

static void every_missing_entry_but_the_last_is_named(void **state)
{
    (void)state;
    static chain c;
    make_chain(&c, WRITER_A, "a", 0);
    for (int i = 0; i < LENGTH; i++) {
        tw_chain_trouble trouble[32];
        tw_book *book = new_book();
        add_chain(book, &c, i);
        const size_t count = verify(book, trouble);
        assert_int_equal(count, i < LENGTH - 1 ? 1 : 0);
        if (count == 1) {
            assert_int_equal(trouble[0].kind, TW_CHAIN_MISSING);
            assert_int_equal(trouble[0].n, i + 1);
            assert_int_equal(trouble[0].last, i + 1);
            assert_null(trouble[0].entry);
            assert_true(tw_units_text_equal(trouble[0].after->line, test_text(&c.line[i + 1])));
        }
        /* It comes, and all is well. */
        add(book, &c.line[i]);
        assert_int_equal(verify(book, trouble), 0);
        free(book);
    }
    tw_chain_trouble trouble[32];
    tw_book *book = new_book();
    add(book, &c.line[1]);
    add(book, &c.line[6]);
    assert_int_equal(verify(book, trouble), 2);
    assert_int_equal(trouble[0].n, 1);
    assert_int_equal(trouble[1].n, 3);
    assert_int_equal(trouble[1].last, 6);
    free(book);
}

/* A copied installation went on: two entries with one number from the fork on, two heads. */
static void a_fork_is_named_and_has_two_heads(void **state)
{
    (void)state;
    static chain a, copy;
    tw_chain_trouble trouble[32];
    tw_chain_head head[4];
    size_t count;
    make_chain(&a, WRITER_A, "a", 0);
    copy = a;
    make_chain(&copy, WRITER_A, "copy", 5);
    tw_book *book = new_book();
    add_chain(book, &a, -1);
    add_chain(book, &copy, -1);
    assert_int_equal(tw_logbook_book_count(book), LENGTH + 3);
    assert_int_equal(verify(book, trouble), 6);
    for (int i = 0; i < 6; i++) {
        assert_int_equal(trouble[i].kind, TW_CHAIN_FORKED);
        assert_int_equal(trouble[i].n, 6 + i / 2);
        assert_non_null(trouble[i].entry);
    }
    assert_ok(tw_logbook_chain_heads(book, head, 4, &count));
    assert_int_equal(count, 2);
    assert_int_equal(head[0].n, LENGTH);
    assert_int_equal(head[1].n, LENGTH);
    assert_true(memcmp(head[0].hash, head[1].hash, TW_SHA256_BYTES) < 0);
    free(book);
    /* One branch went on further than the other: both ends are heads. */
    book = new_book();
    add_chain(book, &a, -1);
    add(book, &copy.line[5]);
    assert_ok(tw_logbook_chain_heads(book, head, 4, &count));
    assert_int_equal(count, 2);
    assert_int_equal(head[0].n, 6);
    assert_int_equal(head[1].n, LENGTH);
    assert_status(tw_logbook_chain_heads(book, head, 1, &count), TW_ERR_CAPACITY);
    assert_int_equal(count, 2);
    free(book);
}

/* What no chain can show: the end cut off, or everything after a point written anew. */
static void a_cut_end_and_a_rewritten_chain_show_only_against_a_kept_seal(void **state)
{
    (void)state;
    static chain a, rewritten;
    uint8_t kept[TW_SHA256_BYTES], now[TW_SHA256_BYTES];
    tw_chain_trouble trouble[32];
    make_chain(&a, WRITER_A, "a", 0);
    tw_book *book = new_book();
    add_chain(book, &a, -1);
    tw_logbook_chain_seal(book, kept);
    free(book);

    book = new_book();
    for (int i = 0; i < LENGTH - 2; i++)
        add(book, &a.line[i]);
    assert_int_equal(verify(book, trouble), 0);
    tw_logbook_chain_seal(book, now);
    assert_memory_not_equal(kept, now, sizeof kept);
    free(book);

    rewritten = a;
    make_chain(&rewritten, WRITER_A, "else", 3);
    book = new_book();
    add_chain(book, &rewritten, -1);
    assert_int_equal(verify(book, trouble), 0);
    tw_logbook_chain_seal(book, now);
    assert_memory_not_equal(kept, now, sizeof kept);
    free(book);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_chain_has_no_trouble_and_one_head),
        cmocka_unit_test(the_seal_is_the_digest_of_the_heads),
        cmocka_unit_test(every_altered_entry_but_the_last_is_named),
        cmocka_unit_test(every_missing_entry_but_the_last_is_named),
        cmocka_unit_test(a_fork_is_named_and_has_two_heads),
        cmocka_unit_test(a_cut_end_and_a_rewritten_chain_show_only_against_a_kept_seal),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
