/* store/fault.c: names, sentences and statuses of what can be wrong with a logbook file. */
#include "store/fault.h"

#include <stdio.h>
#include <string.h>

typedef struct {
    tw_status status;
    const char *name, *text, *remedy;
} trouble_row;

static const trouble_row ROWS[TW_STORE_TROUBLES] = {
    [TW_STORE_FINE] = {TW_OK, "fine", "nothing is wrong", ""},
    [TW_STORE_NO_FILE] = {TW_ERR_MISSING, "no-file", "there is no such logbook",
                          "Look at the name, or start one with: tubwright tub new NAME"},
    [TW_STORE_NO_FOLDER] = {TW_ERR_MISSING, "no-folder", "the folder of the logbook is not there",
                            "Look at the name, or make the folder first."},
    [TW_STORE_IS_FOLDER] = {TW_ERR_DAMAGED, "is-folder", "this is a folder, not a logbook",
                            "Name the file in it."},
    [TW_STORE_NO_FILE_KIND] = {TW_ERR_DAMAGED, "no-plain-file", "this is a device or a pipe, not a logbook",
                               "A logbook is a plain file. To read lines from a pipe use: tubwright import -"},
    [TW_STORE_LINK_LOOP] = {TW_ERR_MISSING, "link-loop", "the links to the logbook lead in a circle",
                            "Name the file itself, or mend the links."},
    [TW_STORE_NAME_LONG] = {TW_ERR_MISSING, "name-long", "the name of the logbook is too long",
                            "Choose a shorter name."},
    [TW_STORE_FORBIDDEN] = {TW_ERR_IO, "forbidden", "you may not open the logbook",
                            "Its owner can allow it, or name another one with --logbook FILE."},
    [TW_STORE_READ_ONLY] = {TW_ERR_READ_ONLY, "read-only", "the logbook can only be read here",
                            "Nothing was written. Make the file and its folder writable, or work on a copy."},
    [TW_STORE_NO_DATABASE] = {TW_ERR_DAMAGED, "no-database", "the file is no logbook",
                              "It was left as it is. Lines of JSON are taken in with: tubwright import FILE"},
    [TW_STORE_FOREIGN] = {TW_ERR_DAMAGED, "foreign", "the file is a database of another program",
                          "It was left as it is. Name a logbook."},
    [TW_STORE_NEWER] = {TW_ERR_NEWER, "newer", "a newer version made this logbook",
                        "Nothing was changed. Update this program to go on."},
    [TW_STORE_CUT] = {TW_ERR_DAMAGED, "cut-off", "the file of the logbook is cut off",
                      "It was left as it is. Put a backup back with tubwright restore FILE, or import an export."},
    [TW_STORE_DAMAGED] = {TW_ERR_DAMAGED, "damaged", "the logbook is damaged",
                          "Nothing was changed. Keep the file; put a backup back with tubwright restore FILE, or import an export."},
    [TW_STORE_SCHEMA_ODD] = {TW_ERR_DAMAGED, "odd-tables", "the tables of the logbook are not as they were made",
                             "Something else changed the file. Put a backup back with tubwright restore FILE, or import an export."},
    [TW_STORE_LOCKED] = {TW_ERR_LOCKED, "locked", "another program holds the logbook",
                         "Nothing was written. Close the other program and try again."},
    [TW_STORE_FULL] = {TW_ERR_FULL, "full", "no space is left for the logbook",
                       "Nothing was written. Make space and try again."},
    [TW_STORE_IO] = {TW_ERR_IO, "io", "the disk reports an error",
                     "What was to be written is not acknowledged. Look at the disk, make a copy of the logbook."},
    [TW_STORE_NO_MEMORY] = {TW_ERR_CAPACITY, "memory", "there is not enough memory",
                            "Nothing was written. Close other programs and try again."},
    [TW_STORE_ENTRY] = {TW_ERR_FORMAT, "entry", "a line is not as it must be", "Nothing was written."},
};

static const trouble_row *row_of(tw_store_trouble id)
{
    return &ROWS[(unsigned)id < (unsigned)TW_STORE_TROUBLES ? id : TW_STORE_IO];
}

const char *tw_store_trouble_name(tw_store_trouble id)
{
    return row_of(id)->name;
}

const char *tw_store_trouble_text(tw_store_trouble id)
{
    return row_of(id)->text;
}

const char *tw_store_trouble_remedy(tw_store_trouble id)
{
    return row_of(id)->remedy;
}

tw_status tw_store_trouble_status(tw_store_trouble id)
{
    return row_of(id)->status;
}

tw_status tw_store_fault_set(tw_store_fault *fault, tw_store_trouble id, const char *detail)
{
    const tw_status status = tw_store_trouble_status(id);
    if (fault != NULL) {
        fault->id = id;
        fault->status = status;
        (void)snprintf(fault->detail, sizeof fault->detail, "%s", detail != NULL ? detail : "");
    }
    return status;
}
