/* store/schema.c: the tables of a logbook file, their guards, and the steps from older versions.
 *
 * A fact is its bytes. Everything else in its row is made from them: the generated columns read the
 * canonical text, so they cannot say anything else than it does. json_extract in generated columns
 * and checks needs trusted_schema, which is therefore left on; what another program might have put
 * into the file is met by comparing the schema with this one whenever a file is opened. */
#include <stdio.h>
#include <string.h>

#include "store/internal.h"

/* The guards hold for every connection, also an SQL shell: an update or a delete is refused; so is an
 * insert in the place of a line that is there, because REPLACE deletes without asking the guard of
 * deletes where recursive_triggers is off. */
static const char STEP_1[] =
    "create table fact ("
    "  arrival integer primary key,"
    "  body text not null check (json_valid(body)),"
    "  hash blob not null check (length(hash) = 32),"
    "  id text not null as (json_extract(body, '$.id')) virtual,"
    "  tub text not null as (json_extract(body, '$.tub')) virtual,"
    "  kind text not null as (json_extract(body, '$.kind')) virtual,"
    "  writer text not null as (json_extract(body, '$.writer')) virtual,"
    "  n integer not null as (cast(json_extract(body, '$.n') as integer)) virtual,"
    "  prev text as (json_extract(body, '$.prev')) virtual"
    ") strict;"
    "create unique index fact_hash on fact (hash);"
    "create index fact_id on fact (id);"
    "create index fact_tub on fact (tub, arrival);"
    "create index fact_chain on fact (writer, n, hash);"
    "create trigger fact_no_update before update on fact begin"
    "  select raise(abort, 'append-only: a line is never changed');"
    "end;"
    "create trigger fact_no_delete before delete on fact begin"
    "  select raise(abort, 'append-only: a line is never removed');"
    "end;"
    "create trigger fact_no_replace before insert on fact"
    "  when exists (select 1 from fact where arrival = new.arrival or hash = new.hash) begin"
    "  select raise(abort, 'append-only: a line is never replaced');"
    "end;"
    /* What belongs to this installation and is never exported. */
    "create table own (name text primary key, value text not null) strict, without rowid;"
    /* What is made from the facts and may be deleted at any time. */
    "create table cache ("
    "  key text primary key,"
    "  digest blob not null check (length(digest) = 32),"
    "  value blob not null"
    ") strict, without rowid;"
    "create table due ("
    "  tub text primary key,"
    "  due_s integer not null,"
    "  holder text,"
    "  until_s integer,"
    "  check ((holder is null) = (until_s is null))"
    ") strict, without rowid;"
    "create index due_time on due (due_s);";

/* What is known beside a line: when it arrived, by whom, and a digest of all that arrived until then. What another side
 * refused, and how its clock went. The index holds whole links, so that chains are read without the lines. */
static const char STEP_2[] =
    "drop index fact_chain;"
    "create index fact_chain on fact (writer, n, hash, prev);"
    "create table arrived ("
    "  arrival integer primary key references fact (arrival),"
    "  at_ms integer," /* null: it came before this was noted */
    "  via text not null,"
    "  digest blob not null check (length(digest) = 32)"
    ") strict;"
    "create trigger arrived_no_update before update on arrived begin"
    "  select raise(abort, 'append-only: an arrival is never changed');"
    "end;"
    "create trigger arrived_no_delete before delete on arrived begin"
    "  select raise(abort, 'append-only: an arrival is never removed');"
    "end;"
    "create trigger arrived_no_replace before insert on arrived"
    "  when exists (select 1 from arrived where arrival = new.arrival) begin"
    "  select raise(abort, 'append-only: an arrival is never replaced');"
    "end;"
    "create table refused ("
    "  peer text not null,"
    "  hash blob not null check (length(hash) = 32),"
    "  reason text not null,"
    "  sentence text not null,"
    "  at_ms integer not null,"
    "  primary key (peer, hash)"
    ") strict, without rowid;"
    "create table clock ("
    "  writer text primary key,"
    "  ahead_ms integer not null,"
    "  doubt_ms integer not null,"
    "  at_ms integer not null"
    ") strict, without rowid;";

void tw_store_digest_on(uint8_t digest[TW_SHA256_BYTES], const uint8_t hash[TW_SHA256_BYTES])
{
    uint8_t both[2 * TW_SHA256_BYTES];
    memcpy(both, digest, TW_SHA256_BYTES);
    memcpy(both + TW_SHA256_BYTES, hash, TW_SHA256_BYTES);
    tw_sha256(both, sizeof both, digest);
}

/* Digests of the lines that are there already. */
static int fill_2(sqlite3 *db)
{
    sqlite3_stmt *read = NULL;
    sqlite3_stmt *write = NULL;
    uint8_t digest[TW_SHA256_BYTES] = {0};
    int rc = sqlite3_prepare_v2(db, "select arrival, hash from fact order by arrival", -1, &read, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_prepare_v2(db, "insert into arrived values (?1, null, '', ?2)", -1, &write, NULL);
    while (rc == SQLITE_OK && (rc = sqlite3_step(read)) == SQLITE_ROW) {
        tw_store_digest_on(digest, sqlite3_column_blob(read, 1));
        (void)sqlite3_bind_int64(write, 1, sqlite3_column_int64(read, 0));
        (void)sqlite3_bind_blob(write, 2, digest, TW_SHA256_BYTES, SQLITE_STATIC);
        rc = sqlite3_step(write);
        (void)sqlite3_reset(write);
        rc = rc == SQLITE_DONE ? SQLITE_OK : rc;
    }
    (void)sqlite3_finalize(read);
    (void)sqlite3_finalize(write);
    return rc == SQLITE_DONE ? SQLITE_OK : rc;
}

const tw_store_step tw_store_steps[TW_STORE_SCHEMA] = {{1, STEP_1, NULL}, {2, STEP_2, fill_2}};

int tw_store_number_of(sqlite3 *db, const char *sql, int *out)
{
    sqlite3_stmt *statement = NULL;
    int rc = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    if (rc == SQLITE_OK && (rc = sqlite3_step(statement)) == SQLITE_ROW) {
        *out = sqlite3_column_int(statement, 0);
        rc = SQLITE_OK;
    }
    (void)sqlite3_finalize(statement);
    return rc;
}

int tw_store_migrate(sqlite3 *db, const tw_store_step *step, size_t steps)
{
    int version = 0;
    int rc = sqlite3_exec(db, "begin immediate", NULL, NULL, NULL);
    if (rc != SQLITE_OK)
        return rc;
    /* Asked inside the transaction: another process may have done it meanwhile. */
    rc = tw_store_number_of(db, "pragma user_version", &version);
    for (size_t i = 0; rc == SQLITE_OK && i < steps; i++) {
        char pragma[48];
        if (step[i].version <= version)
            continue;
        (void)snprintf(pragma, sizeof pragma, "pragma user_version = %d", step[i].version);
        rc = sqlite3_exec(db, step[i].sql, NULL, NULL, NULL);
        if (rc == SQLITE_OK && step[i].fill != NULL)
            rc = step[i].fill(db);
        if (rc == SQLITE_OK)
            rc = sqlite3_exec(db, pragma, NULL, NULL, NULL);
    }
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(db, "commit", NULL, NULL, NULL);
    if (rc != SQLITE_OK)
        (void)sqlite3_exec(db, "rollback", NULL, NULL, NULL);
    return rc;
}

/* Is this object of the reference in the file, to the letter? */
static int object_there(sqlite3_stmt *wanted, sqlite3 *db)
{
    sqlite3_stmt *look = NULL;
    int there = 0;
    if (sqlite3_prepare_v2(db, "select 1 from sqlite_schema where type = ?1 and name = ?2 and sql = ?3", -1, &look,
                           NULL) == SQLITE_OK) {
        for (int i = 0; i < 3; i++)
            (void)sqlite3_bind_value(look, i + 1, sqlite3_column_value(wanted, i));
        there = sqlite3_step(look) == SQLITE_ROW;
    }
    (void)sqlite3_finalize(look);
    return there;
}

int tw_store_schema_whole(sqlite3 *db, int version, char *odd, size_t cap)
{
    sqlite3 *reference = NULL;
    sqlite3_stmt *wanted = NULL;
    int whole = 0;
    int wanted_triggers = 0;
    int triggers = 0;
    odd[0] = '\0';
    if (sqlite3_open(":memory:", &reference) == SQLITE_OK
        && tw_store_migrate(reference, tw_store_steps, (size_t)version) == SQLITE_OK
        && sqlite3_prepare_v2(reference, "select type, name, sql from sqlite_schema where sql is not null", -1, &wanted,
                              NULL) == SQLITE_OK) {
        whole = 1;
        while (whole && sqlite3_step(wanted) == SQLITE_ROW) {
            whole = object_there(wanted, db);
            if (!whole)
                (void)snprintf(odd, cap, "the %s %s", (const char *)sqlite3_column_text(wanted, 0),
                               (const char *)sqlite3_column_text(wanted, 1));
        }
        /* A guard more would act on what is written. */
        if (whole && tw_store_number_of(reference, "select count(*) from sqlite_schema where type = 'trigger'", &wanted_triggers)
            == SQLITE_OK && tw_store_number_of(db, "select count(*) from sqlite_schema where type = 'trigger'", &triggers)
            == SQLITE_OK && triggers != wanted_triggers) {
            whole = 0;
            (void)snprintf(odd, cap, "a trigger of another program");
        }
    }
    (void)sqlite3_finalize(wanted);
    (void)sqlite3_close(reference);
    return whole;
}
