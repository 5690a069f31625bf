"""SQL views over the canonical text of entries -> gen/store_views.h, .c and gen/entry_views.sql.

One view for each kind (entry_reading, ...) and one of all entries (entry): every field a column, a
number also as it stands, `instant` in seconds since 1970, `voided` 1 when a void takes it back. They
are for looking with an SQL shell: the program itself reads lines.
"""
from __future__ import annotations

from pathlib import Path

from _common import c_string
from _entry import Model, load

MADE = "Made by tools/gen/entry_views.py from the tables of data/entry."
VOIDED = ("fact.kind <> 'void' and exists (select 1 from fact as taker where taker.kind = 'void'"
          " and json_extract(taker.body, '$.target') = fact.id and taker.tub = fact.tub)")


def column(row: dict[str, str]) -> str:
    """Numbers by value; everything else is the text itself."""
    text = f"json_extract(fact.body, '$.{row['field']}')"
    if row["type"] == "decimal":
        text = f"cast({text} as real)"
    elif row["type"] == "count":
        text = f"cast({text} as integer)"
    return f'{text} as "{row["field"]}"'


def view(model: Model, kind: str | None) -> tuple[str, str]:
    """Name and statement of a view; None: of all entries, with the common fields."""
    rows = model.of_kind(kind) if kind else [row for row in model.rows if row["kind"] == "*"]
    name = "entry_" + kind.replace("-", "_") if kind else "entry"
    columns = ["fact.arrival as arrival", "unixepoch(json_extract(fact.body, '$.at')) as instant",
               f"{VOIDED} as voided", *(column(row) for row in rows)]
    where = f" where fact.kind = '{kind}'" if kind else ""
    return name, f"create view {name} as select {', '.join(columns)} from fact{where}"


def generate(data_dir: Path, out_dir: Path) -> None:
    model = load(data_dir)
    views = [view(model, None), *(view(model, kind["kind"]) for kind in model.kinds)]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "store_views.h").write_text("\n".join([
        f"/* {MADE} */", "#ifndef TW_GEN_STORE_VIEWS_H", "#define TW_GEN_STORE_VIEWS_H", "",
        "/* Views over the table fact (arrival, body, id, tub, kind), for people with an SQL shell. */",
        "typedef struct {", "    const char *name, *sql;", "} tw_store_view;", "",
        f"#define TW_STORE_VIEWS {len(views)}", "", "extern const tw_store_view tw_store_views[TW_STORE_VIEWS];", "",
        "#endif", ""]), encoding="utf-8")
    # A literal has at most 4095 characters in C17; adjacent ones would join to more. So the text of
    # a view is an array of characters.
    arrays = []
    for name, sql in views:
        codes = ",".join(str(byte) for byte in sql.encode() + b"\0")
        arrays.append(f"static const char {name.upper()}[] = {{{codes}}};")
    (gen / "store_views.c").write_text("\n".join([
        f"/* {MADE} */", '#include "gen/store_views.h"', "", *arrays, "",
        "const tw_store_view tw_store_views[TW_STORE_VIEWS] = {",
        *(f"    {{{c_string(name)}, {name.upper()}}}," for name, _ in views), "};", ""]), encoding="utf-8")
    (gen / "entry_views.sql").write_text(
        f"-- {MADE}\n" + "".join(f"{sql};\n" for _, sql in views), encoding="utf-8")
