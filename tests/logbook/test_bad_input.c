/* Bad input made from the tables: for every field of every kind each violation that its type has, as
 * a canonical line through the reader, typed and imported, and composed as typed. All must refuse,
 * with one sentence that names the field and what is allowed. A new field is tested by itself. */
#include "logbook/lines.h"

#define MAX_FIELDS 64
#define ROOM 2600

/* A good entry, and the same with one field changed. */
typedef struct {
    char name[MAX_FIELDS][40];
    char value[MAX_FIELDS][ROOM];
    size_t fields;
} example;

static example good[64];
static size_t goods;

static void set(example *e, const char *name, const char *value)
{
    size_t i = 0;
    while (i < e->fields && strcmp(e->name[i], name) != 0)
        i++;
    assert_true(i < MAX_FIELDS);
    snprintf(e->name[i], sizeof e->name[i], "%s", name);
    snprintf(e->value[i], sizeof e->value[i], "%s", value);
    e->fields += i == e->fields;
}

static const char *get(const example *e, const char *name)
{
    for (size_t i = 0; i < e->fields; i++)
        if (strcmp(e->name[i], name) == 0)
            return e->value[i];
    return NULL;
}

static void drop(example *e, const char *name)
{
    for (size_t i = 0; i < e->fields; i++)
        if (strcmp(e->name[i], name) == 0) {
            e->fields--;
            memmove(e->name + i, e->name + i + 1, (e->fields - i) * sizeof *e->name);
            memmove(e->value + i, e->value + i + 1, (e->fields - i) * sizeof *e->value);
            return;
        }
}

static void add_common(example *e)
{
    set(e, "id", "01890000-0000-7000-8000-000000000001");
    set(e, "tub", TUB_A);
    set(e, "at", "2026-03-24T10:40:00+01:00");
    set(e, "entered", "2026-03-24T10:41:00+01:00");
    set(e, "writer", WRITER_A);
    set(e, "n", "2");
    set(e, "prev", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    set(e, "role", "technician");
    set(e, "by", "M.R.");
    set(e, "remark", "windy");
}

static int read_examples(void **state)
{
    (void)state;
    FILE *file = check_open("tests/logbook/good_entries.txt");
    char text[ROOM];
    goods = 0;
    memset(good, 0, sizeof good);
    while (fgets(text, sizeof text, file)) {
        text[strcspn(text, "\n")] = '\0';
        char *equals = strchr(text, '=');
        if (text[0] == '#' || !equals) {
            if (text[0] == '\0' && good[goods].fields > 0)
                add_common(&good[goods++]);
            continue;
        }
        *equals = '\0';
        set(&good[goods], text, equals + 1);
    }
    if (good[goods].fields > 0)
        add_common(&good[goods++]);
    fclose(file);
    return goods > 0 ? 0 : -1;
}

static size_t pairs_of(const example *e, tw_typed *typed)
{
    for (size_t i = 0; i < e->fields; i++) {
        typed[i].field = tw_units_text(e->name[i]);
        typed[i].value = tw_units_text(e->value[i]);
    }
    return e->fields;
}

/* The canonical line with nothing checked. */
static void write_raw(const example *e, test_line *out)
{
    tw_pair pair[MAX_FIELDS];
    for (size_t i = 0; i < e->fields; i++) {
        pair[i].name = tw_units_text(e->name[i]);
        pair[i].value = tw_units_text(e->value[i]);
        pair[i].field = TW_FIELDS;
    }
    tw_entry entry = {0};
    entry.pair = pair;
    entry.pairs = (uint32_t)e->fields;
    assert_ok(tw_logbook_line_write(&entry, out->bytes, sizeof out->bytes, &out->n));
}

static size_t cases;

/* The three ways: each must refuse with this fault, about this field, in the same words. With
 * newer set the import must keep it, flagged. */
static void refused(const example *e, const char *field, tw_fault_id want, int newer)
{
    tw_typed typed[MAX_FIELDS];
    test_line line, composed;
    tw_entry_room room;
    tw_entry entry;
    tw_fault fault[3];
    char sentence[3][TW_FAULT_TEXT_BYTES];
    tw_status status[3];
    write_raw(e, &line);
    status[0] = tw_logbook_compose(typed, pairs_of(e, typed), TW_CHECK_TYPED, composed.bytes, sizeof composed.bytes,
                                   &composed.n, &fault[0]);
    status[1] = tw_logbook_line_read(test_text(&line), TW_CHECK_TYPED, &room, &entry, &fault[1]);
    status[2] = tw_logbook_line_read(test_text(&line), TW_CHECK_IMPORTED, &room, &entry, &fault[2]);
    cases++;
    for (int way = 0; way < 3; way++) {
        tw_logbook_fault_text(&fault[way], NULL, sentence[way], sizeof sentence[way]);
        if (way == 2 && newer) {
            if (status[way] != TW_OK)
                print_error("# %s of %s: not kept: %s\n", field, get(e, "kind"), sentence[way]);
            assert_ok(status[way]);
            assert_int_equal(entry.newer, 1);
            continue;
        }
        if (status[way] == TW_OK || fault[way].id != want || strcmp(fault[way].field, field) != 0
            || !strstr(sentence[way], field) || strcmp(sentence[way], sentence[0]) != 0
            || status[way] != tw_logbook_fault_status(want)) {
            print_error("# way %d, %s of %s = \"%.60s\": wanted %s, got %s: %s\n", way, field, get(e, "kind"),
                        get(e, field) ? get(e, field) : "(missing)", tw_logbook_fault_name(want),
                        tw_logbook_fault_name(fault[way].id), sentence[way]);
            fail();
        }
    }
}

/* One field of one good entry with another value. */
static void value_refused(const example *base, const char *field, const char *value, tw_fault_id want, int newer)
{
    static example changed;
    changed = *base;
    set(&changed, field, value);
    refused(&changed, field, want, newer);
}

static void good_entries_pass_and_cover_every_field(void **state)
{
    (void)state;
    for (size_t i = 0; i < goods; i++) {
        tw_typed typed[MAX_FIELDS];
        test_line line, raw;
        tw_fault fault;
        if (tw_logbook_compose(typed, pairs_of(&good[i], typed), TW_CHECK_TYPED, line.bytes, sizeof line.bytes,
                               &line.n, &fault)
            != TW_OK) {
            print_error("# %s: %s\n", get(&good[i], "kind"), test_sentence(&fault));
            fail();
        }
        write_raw(&good[i], &raw);
        assert_int_equal(line.n, raw.n); /* canonical values stay as they are */
        assert_memory_equal(line.bytes, raw.bytes, raw.n);
    }
    for (int r = 0; r < TW_FIELD_ROWS; r++) {
        const tw_field_row *row = &tw_logbook_field_rows[r];
        int there = 0;
        for (size_t i = 0; i < goods; i++)
            there |= (row->kind == TW_KINDS || strcmp(get(&good[i], "kind"), tw_logbook_kind_name(row->kind)) == 0)
                     && get(&good[i], tw_logbook_field_name(row->field)) != NULL;
        if (!there)
            print_error("# no good entry has %s of %s\n", tw_logbook_field_name(row->field),
                        row->kind == TW_KINDS ? "every kind" : tw_logbook_kind_name(row->kind));
        assert_true(there);
    }
}

/* The range that holds for a decimal in this entry; 0 when nothing bounds that side. */
static void range_of(const example *e, const tw_field_row *row, double *min, double *max, int *has_min, int *has_max)
{
    *min = row->min, *max = row->max, *has_min = row->has_min, *has_max = row->has_max;
    if (row->measure == TW_MEASURE_BY_ANALYTE) {
        const tw_analyte_row *of = tw_logbook_analyte(tw_logbook_find_word(TW_SET_ANALYTE, tw_units_text(get(e, "analyte"))));
        *min = of->min, *max = of->max, *has_min = *has_max = 1;
    }
    if (row->measure == TW_MEASURE_BY_SETTING)
        *min = 0.0, *max = 100.0, *has_min = *has_max = 1; /* the good entry is in percent */
    if (row->unit != TW_FIELDS && strcmp(tw_logbook_field_name(row->unit), "stop_unit") == 0)
        *min *= 60.0, *max *= 60.0; /* the good entry is in minutes */
}

static void number_violations(const example *base, const tw_field_row *row, const char *field)
{
    static const char *const NONE[] = {"abc", "-", "--1", "1.2.3", ".", "1e3", "0x10", "NaN", "1 000", "7.4 mg/L"};
    char text[40];
    double min, max;
    int has_min, has_max;
    for (size_t i = 0; i < sizeof NONE / sizeof *NONE; i++)
        value_refused(base, field, NONE[i], TW_FAULT_DECIMAL, 0);
    value_refused(base, field, "1,500", TW_FAULT_WHICH_NUMBER, 0);
    value_refused(base, field, "1.0000000000000001", TW_FAULT_DIGITS, 0);
    value_refused(base, field, "1.00000000000000000000001", TW_FAULT_LONG, 0);
    range_of(base, row, &min, &max, &has_min, &has_max);
    if (has_min) {
        snprintf(text, sizeof text, "%.6f", min - 0.001);
        value_refused(base, field, text, TW_FAULT_BELOW, 0);
    }
    if (has_max) {
        snprintf(text, sizeof text, "%.6f", max + 0.001);
        value_refused(base, field, text, TW_FAULT_ABOVE, 0);
    }
    if (row->unit != TW_FIELDS && get(base, tw_logbook_field_name(row->unit))) {
        static example changed;
        changed = *base;
        drop(&changed, tw_logbook_field_name(row->unit));
        /* Of several numbers with one unit the first in the line is named. */
        const char *first = field;
        for (size_t i = 0; i < changed.fields; i++) {
            const tw_field_row *other = tw_logbook_field_row(
                row->kind, tw_logbook_find_field(tw_units_text(changed.name[i])));
            if (other && other->unit == row->unit && other->type == TW_TYPE_DECIMAL && strcmp(changed.name[i], first) < 0)
                first = changed.name[i];
        }
        refused(&changed, first, TW_FAULT_NEEDS, 0);
    }
}

static void unit_violations(const example *base, const tw_field_row *row, const char *field)
{
    const int flow = row->measure == TW_MEASURE_FLOW;
    value_refused(base, field, "hogshead", TW_FAULT_UNIT, 1);
    /* A unit of another quantity: one of these is, for every field. */
    value_refused(base, field, row->measure == TW_MEASURE_ACT_AMOUNT ? "mV" : flow ? "kW" : "L/min",
                  TW_FAULT_WRONG_UNIT, 0);
    if (row->measure == TW_MEASURE_VOLUME || row->measure == TW_MEASURE_PORTION || row->measure == TW_MEASURE_AMOUNT
        || row->measure == TW_MEASURE_ACT_AMOUNT)
        value_refused(base, field, "gal", TW_FAULT_WHICH_UNIT, 0);
    else
        value_refused(base, field, "gal", TW_FAULT_WRONG_UNIT, 0);
}

static void text_violations(const example *base, const tw_field_row *row, const char *field)
{
    char text[ROOM];
    const size_t most = (size_t)row->max_length;
    assert_true(most + 10 < sizeof text);
    value_refused(base, field, "a\x07z", TW_FAULT_CONTROL, 0);
    value_refused(base, field, "a\x1b[31mz", TW_FAULT_CONTROL, 0);
    value_refused(base, field, "a\xe2\x80\xae z", TW_FAULT_CONTROL, 0);
    if (most < 200)
        value_refused(base, field, "a\nz", TW_FAULT_CONTROL, 0);
    memset(text, 'x', most + 1);
    text[most + 1] = '\0';
    value_refused(base, field, text, TW_FAULT_LONG, 0);
}

static void word_violations(const example *base, const tw_field_row *row, const char *field)
{
    const int set = row->set != TW_SETS || (row->substance && TW_SUBSTANCE_NAMES > 0);
    value_refused(base, field, "a b", TW_FAULT_WORD_FORM, 0);
    value_refused(base, field, "-a", TW_FAULT_WORD_FORM, 0);
    value_refused(base, field, "\xc3\xa9", TW_FAULT_WORD_FORM, 0);
    if (set && row->field != TW_FIELD_KIND && row->max_length >= 5)
        value_refused(base, field, "xyzzy", TW_FAULT_WORD, 1);
}

static void count_violations(const example *base, const tw_field_row *row, const char *field)
{
    char text[40];
    value_refused(base, field, "1.5", TW_FAULT_COUNT, 0);
    value_refused(base, field, "-1", TW_FAULT_COUNT, 0);
    value_refused(base, field, "x", TW_FAULT_COUNT, 0);
    value_refused(base, field, "0", TW_FAULT_BELOW, 0);
    snprintf(text, sizeof text, "%.0f", row->max + 1.0);
    value_refused(base, field, text, TW_FAULT_ABOVE, 0);
}

static void id_violations(const example *base, const char *field)
{
    value_refused(base, field, "x", TW_FAULT_UUID, 0);
    value_refused(base, field, "01890000-0000-7000-c000-000000000001", TW_FAULT_UUID, 0);
    value_refused(base, field, "01890000-0000-7000-8000-0000000000011", TW_FAULT_LONG, 0);
    if (strcmp(field, "id") == 0)
        value_refused(base, field, "01890000-0000-4000-8000-000000000001", TW_FAULT_VERSION, 0);
}

static void time_violations(const example *base, const char *field)
{
    static const char *const NONE[] = {"yesterday", "2026-03-24T10:40:00Z", "2026-03-24 10:40:00+01:00", "2026-02-29T10:40:00+01:00",
                                       "2026-03-24T24:00:00+01:00", "2026-03-24T10:40:60+01:00", "2026-03-24T10:40+01:00",
                                       "2026-03-24T10:40:00+15:00", "1969-03-24T10:40:00+01:00", "2026-03-24T10:40:00-00:00"};
    for (size_t i = 0; i < sizeof NONE / sizeof *NONE; i++)
        value_refused(base, field, NONE[i], TW_FAULT_TIME, 0);
}

static void hash_violations(const example *base, const char *field)
{
    value_refused(base, field, "e3b0c442", TW_FAULT_HASH, 0);
    value_refused(base, field, "g3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", TW_FAULT_HASH, 0);
    value_refused(base, field, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b8550", TW_FAULT_LONG, 0);
}

/* Every violation of the type of a row, on an entry that has the field. */
static void violations(const example *base, const tw_field_row *row)
{
    const char *field = tw_logbook_field_name(row->field);
    value_refused(base, field, "", TW_FAULT_EMPTY, 0);
    value_refused(base, field, "a\xc3(", TW_FAULT_UTF8, 0);
    value_refused(base, field, "\xed\xa0\x80", TW_FAULT_UTF8, 0);
    switch (row->type) {
    case TW_TYPE_DECIMAL:
        number_violations(base, row, field);
        break;
    case TW_TYPE_UNIT:
        unit_violations(base, row, field);
        break;
    case TW_TYPE_TEXT:
        text_violations(base, row, field);
        break;
    case TW_TYPE_WORD:
        word_violations(base, row, field);
        break;
    case TW_TYPE_COUNT:
        count_violations(base, row, field);
        break;
    case TW_TYPE_UUID:
        id_violations(base, field);
        break;
    case TW_TYPE_TIME:
        time_violations(base, field);
        break;
    case TW_TYPE_DATE:
        value_refused(base, field, "soon", TW_FAULT_DATE, 0);
        value_refused(base, field, "2026-02-30", TW_FAULT_DATE, 0);
        value_refused(base, field, "24.03.2026", TW_FAULT_DATE, 0);
        break;
    case TW_TYPE_HASH:
        hash_violations(base, field);
        break;
    case TW_TYPES:
        fail();
    }
    /* A missing unit is told at its number (number_violations). */
    if (row->required && row->field != TW_FIELD_KIND && row->type != TW_TYPE_UNIT) {
        static example changed;
        changed = *base;
        drop(&changed, field);
        /* A number loses the word that its unit hangs on: still it is the word that is missing. */
        refused(&changed, field, TW_FAULT_MISSING, 0);
    }
}

static void every_violation_of_every_field_is_refused_in_the_same_words(void **state)
{
    (void)state;
    cases = 0;
    for (int r = 0; r < TW_FIELD_ROWS; r++) {
        const tw_field_row *row = &tw_logbook_field_rows[r];
        int tried = 0;
        for (size_t i = 0; i < goods; i++) {
            const int of_kind = row->kind == TW_KINDS || strcmp(get(&good[i], "kind"), tw_logbook_kind_name(row->kind)) == 0;
            if (!of_kind || !get(&good[i], tw_logbook_field_name(row->field)))
                continue;
            if (row->kind == TW_KINDS && tried) /* common fields: one kind is enough */
                break;
            violations(&good[i], row);
            tried = 1;
        }
        assert_true(tried);
    }
    print_message("# %zu entries were refused\n", cases);
    assert_true(cases > 1500);
}

static void an_unknown_kind_and_field_are_refused_when_typed_only(void **state)
{
    (void)state;
    static example changed;
    for (size_t i = 0; i < goods; i++) {
        changed = good[i];
        set(&changed, "kind", "cocktail");
        refused(&changed, "kind", TW_FAULT_KIND, 1);
        changed = good[i];
        set(&changed, "colour", "blue");
        refused(&changed, "colour", TW_FAULT_FIELD, 1);
    }
    changed = good[0];
    drop(&changed, "kind");
    refused(&changed, "kind", TW_FAULT_MISSING, 0);
}

/* What is absent, empty, a dash and zero are four things. */
static void nothing_empty_dash_and_zero_are_told_apart(void **state)
{
    (void)state;
    test_line line;
    tw_fault fault;
    assert_status(COMPOSE(&line, &fault, "kind=reading", "analyte=fc", "form=value", "unit=ppm"), TW_ERR_MISSING);
    assert_status(COMPOSE(&line, &fault, "kind=reading", "analyte=fc", "form=value", "unit=ppm", "value="), TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_FAULT_EMPTY);
    assert_status(COMPOSE(&line, &fault, "kind=reading", "analyte=fc", "form=value", "unit=ppm", "value=-"), TW_ERR_FORMAT);
    assert_int_equal(fault.id, TW_FAULT_DECIMAL);
    LINE(&line, "kind=reading", "analyte=fc", "form=value", "unit=ppm", "value=0");
    LINE(&line, "kind=reading", "analyte=fc", "form=below", "unit=ppm", "value=0.5");
    LINE(&line, "kind=reading", "analyte=fc", "form=unreadable");
    LINE(&line, "kind=reading", "analyte=fc", "form=not-done");
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(good_entries_pass_and_cover_every_field, read_examples),
        cmocka_unit_test(every_violation_of_every_field_is_refused_in_the_same_words),
        cmocka_unit_test(an_unknown_kind_and_field_are_refused_when_typed_only),
        cmocka_unit_test(nothing_empty_dash_and_zero_are_told_apart),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
