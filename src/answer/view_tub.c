/* answer/view_tub.c: one tub as it was described: what its latest entries of the describing kinds say. */
#include "answer/views.h"

/* Kinds that describe a tub, in the order in which they are shown. */
static const tw_kind DESCRIBING[] = {TW_KIND_TUB, TW_KIND_PLATE, TW_KIND_VOLUME, TW_KIND_SOURCE, TW_KIND_PART,
                                     TW_KIND_STOCK, TW_KIND_DEFINITION, TW_KIND_READY_BY, TW_KIND_WAIVER};

/* The entry's own fields, as typed; the unit stands behind its number. */
static void tell_fields(const tw_entry *entry, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_FIELDS);
    for (uint32_t i = 0; i < entry->pairs; i++) {
        const tw_field_row *row = entry->pair[i].field < TW_FIELDS ? tw_logbook_field_row(entry->kind, entry->pair[i].field) : NULL;
        if (row == NULL || row->kind != entry->kind || row->type == TW_TYPE_UNIT)
            continue;
        tw_answer_item(sink);
        tw_said said = tw_units_say(row->unit < TW_FIELDS ? TW_SAY_FIELD_UNIT : TW_SAY_FIELD);
        tw_units_say_text(&said, "name", tw_units_text(row->meaning));
        tw_units_say_text(&said, "value", entry->pair[i].value);
        if (row->unit < TW_FIELDS)
            tw_units_say_text(&said, "unit", tw_logbook_text(entry, row->unit));
        tw_answer_text(sink, TW_KEY_FIELD, entry->pair[i].name);
        tw_answer_text(sink, TW_KEY_VALUE, entry->pair[i].value);
        tw_answer_words(sink, TW_KEY_FIELD_SAID, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

void tw_answer_tell_described(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_DESCRIBED);
    for (size_t k = 0; k < sizeof DESCRIBING / sizeof DESCRIBING[0]; k++) {
        size_t cursor = 0;
        const tw_entry *entry = NULL;
        while ((entry = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
            if (entry->kind != DESCRIBING[k])
                continue;
            tw_answer_item(sink);
            tw_answer_string(sink, TW_KEY_KIND_LINE, tw_logbook_kind_name(entry->kind));
            tw_answer_time(sink, TW_KEY_WRITTEN_AT, entry->at);
            tw_answer_text(sink, TW_KEY_ENTRY, entry->id);
            tell_fields(entry, sink);
            tw_answer_close(sink);
        }
    }
    tw_answer_close(sink);
}

void tw_answer_view_tub(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
    tw_answer_number(sink, TW_KEY_COUNT, (double)tub->entries);
    tw_answer_tell_described(core, ask, tub, sink);
}
