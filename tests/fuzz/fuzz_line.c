/* The canonical reader on any bytes: what it takes it writes back byte by byte; what passes as typed
 * passes as imported; and what can be composed from the bytes is a line that the reader takes. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/compose.h"
#include "logbook/line.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

/* A refusal has a sentence that says something. */
static void must_speak(const tw_fault *fault)
{
    char text[TW_FAULT_TEXT_BYTES];
    must(fault->id != TW_FAULT_NONE);
    must(tw_logbook_fault_text(fault, NULL, text, sizeof text) > 10);
}

static void form(tw_text line)
{
    tw_entry_room room;
    tw_entry entry;
    tw_fault fault;
    char again[TW_LINE_BYTES];
    size_t n;
    if (tw_logbook_line_split(line, &room, &entry, &fault) != TW_OK) {
        must_speak(&fault);
        return;
    }
    must(tw_logbook_line_write(&entry, again, sizeof again, &n) == TW_OK);
    must(n == line.n && memcmp(again, line.at, n) == 0);
}

static void fields(tw_text line)
{
    tw_entry_room room, other;
    tw_entry imported, typed;
    tw_fault fault;
    const tw_status as_typed = tw_logbook_line_read(line, TW_CHECK_TYPED, &other, &typed, &fault);
    if (as_typed != TW_OK)
        must_speak(&fault);
    if (tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &imported, &fault) != TW_OK) {
        must_speak(&fault);
        must(as_typed != TW_OK);
        return;
    }
    must((as_typed == TW_OK) == !imported.newer);
    double number;
    for (int f = 0; f < TW_FIELDS; f++) { /* every look into an entry ends well */
        (void)tw_logbook_si(&imported, (tw_field)f, &number);
        (void)tw_logbook_word(&imported, (tw_field)f);
        (void)tw_logbook_decimals(&imported, (tw_field)f);
    }
}

/* Lines "field=value": what a person might have typed. */
static void compose(tw_text text)
{
    tw_typed typed[TW_ENTRY_FIELDS + 2];
    size_t n = 0;
    for (size_t at = 0; at < text.n && n < sizeof typed / sizeof *typed;) {
        size_t end = at, equals;
        while (end < text.n && text.at[end] != '\n')
            end++;
        for (equals = at; equals < end && text.at[equals] != '='; equals++)
            ;
        typed[n].field = tw_units_text_part(text, at, equals - at);
        typed[n].value = tw_units_text_part(text, equals < end ? equals + 1 : end, end - equals - (equals < end));
        n++;
        at = end + 1;
    }
    for (int mode = 0; mode <= TW_CHECK_DRAFT; mode++) {
        char line[TW_LINE_BYTES];
        size_t length;
        tw_fault fault;
        tw_entry_room room;
        tw_entry entry;
        if (tw_logbook_compose(typed, n, (tw_check_mode)mode, line, sizeof line, &length, &fault) != TW_OK) {
            must_speak(&fault);
            continue;
        }
        const tw_text made = {line, length};
        must(tw_logbook_line_read(made, (tw_check_mode)mode, &room, &entry, NULL) == TW_OK);
        form(made);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const tw_text text = {(const char *)data, size};
    form(text);
    fields(text);
    compose(text);
    return 0;
}
