#!/usr/bin/env python3
"""What is made from the tables of entries beside the C: documentation, schema, views."""
from __future__ import annotations

import hashlib
import json
import re
import sqlite3
import tempfile
import uuid
from pathlib import Path
from typing import Any

import examples
from examples import COMMON, SRC, canonical, good_entries
import entry_markdown
import entry_schema
import entry_views

FOLDER = tempfile.TemporaryDirectory()


def made() -> Path:
    """What the generators of entries write, in a folder that goes with this program."""
    folder = Path(FOLDER.name)
    for module in (entry_markdown, entry_schema, entry_views):
        module.generate(SRC / "data", folder)
    return folder / "gen"


def fits(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    """The few keywords of JSON schema that ours uses; any other is an error."""
    for key, want in schema.items():
        if key == "$ref":
            good = fits(value, root["$defs"][want.rsplit("/", 1)[1]], root)
        elif key == "type":
            good = isinstance(value, {"object": dict, "string": str}[want])
        elif key == "enum":
            good = value in want
        elif key == "const":
            good = value == want
        elif key == "pattern":
            good = re.search(want, value) is not None
        elif key == "minLength":
            good = len(value) >= want
        elif key == "maxLength":
            good = len(value) <= want
        elif key == "required":
            good = all(name in value for name in want)
        elif key == "properties":
            good = all(fits(value[name], sub, root) for name, sub in want.items() if name in value)
        elif key == "additionalProperties":
            good = want is not False or set(value) <= set(schema["properties"])
        elif key == "allOf":
            good = all(fits(value, sub, root) for sub in want)
        elif key == "anyOf":
            good = any(fits(value, sub, root) for sub in want)
        elif key == "oneOf":
            good = sum(fits(value, sub, root) for sub in want) == 1
        elif key == "not":
            good = not fits(value, want, root)
        elif key == "if":
            branch = schema.get("then" if fits(value, want, root) else "else", {})
            good = fits(value, branch, root)
        elif key in ("then", "else", "description", "title", "$schema", "$defs"):
            good = True
        else:
            raise SystemExit(f"the schema uses {key}, which this test does not know")
        if not good:
            return False
    return True


BAD = [  # kind, what is changed (None: taken away)
    ("reading", {"analyte": "xyzzy"}), ("reading", {"value": "7,4"}), ("reading", {"form": None}),
    ("reading", {"colour": "blue"}), ("setting", {"value": None}), ("setting", {"state": "on"}),
    ("volume", {"volume_unit": None}), ("volume", {"volume_unit": "mg/L"}), ("note", {"words": ""}),
    ("note", {"id": "x"}), ("note", {"n": "1"}), ("note", {"prev": None}), ("tub", {"kind": "cocktail"}),
    ("void", {"target": None}), ("response", {"intent": None, "act": None}), ("bathers", {"count": "two"}),
]


def schema_claims(gen: Path) -> list[tuple[bool, str, str]]:
    schema = json.loads((gen / "entry.schema.json").read_text(encoding="utf-8"))
    good = [{**COMMON, **entry} for entry in good_entries()]
    odd = [entry for entry in good if not fits(entry, schema, schema)]
    taken = []
    for kind, change in BAD:
        entry = {**next(e for e in good if e["kind"] == kind), **{k: v for k, v in change.items() if v is not None}}
        entry = {k: v for k, v in entry.items() if k not in change or change[k] is not None}
        if fits(entry, schema, schema):
            taken.append((kind, change))
    return [(not odd, "the schema takes every good entry", str(odd)),
            (not taken, "the schema refuses entries that are wrong in form", str(taken))]


def view_claims(gen: Path) -> list[tuple[bool, str, str]]:
    db = sqlite3.connect(":memory:")
    db.execute("create table fact (arrival integer primary key, body text, id text as (json_extract(body, '$.id')) virtual,"
               " tub text as (json_extract(body, '$.tub')) virtual, kind text as (json_extract(body, '$.kind')) virtual)")
    db.executescript((gen / "entry_views.sql").read_text(encoding="utf-8"))
    entries = good_entries()
    for number, entry in enumerate(entries, 1):
        whole = {**COMMON, **entry, "id": f"01890000-0000-7000-8000-{number:012x}"}
        if entry["kind"] == "void":
            whole["target"] = "01890000-0000-7000-8000-000000000001"
        db.execute("insert into fact (body) values (?)", (canonical(whole).decode(),))
    db.row_factory = sqlite3.Row
    odd = []
    for entry in entries:
        rows = db.execute(f"select * from entry_{entry['kind'].replace('-', '_')}").fetchall()
        same = [row for row in rows if all(
            str(row[k]) == v or (isinstance(row[k], float) and row[k] == float(v)) or k == "target"
            for k, v in entry.items())]
        if not same:
            odd.append(entry)
    voided = [row["id"][-4:] for row in db.execute("select id from entry where voided")]
    instants = {row["instant"] for row in db.execute("select instant from entry")}
    return [(not odd, "every entry stands in the view of its kind with every field", str(odd)),
            (voided == ["0001"], "a voided entry is marked", str(voided)),
            (instants == {1774345200}, "the instant is in seconds since 1970", str(instants))]


def name_based(namespace: str, name: bytes) -> str:
    """A UUID of version 8 from SHA-256, as RFC 9562 B.2 makes it."""
    digest = bytearray(hashlib.sha256(uuid.UUID(namespace).bytes + name).digest()[:16])
    digest[6] = digest[6] & 0x0F | 0x80
    digest[8] = digest[8] & 0x3F | 0x80
    return str(uuid.UUID(bytes=bytes(digest)))


def id_claims() -> list[tuple[bool, str, str]]:
    example = name_based("6ba7b810-9dad-11d1-80b4-00c04fd430c8", b"www.example.com")
    doc = (SRC / "docs/logbook-format.md").read_text(encoding="utf-8")
    namespace = re.search(r"namespace `([0-9a-f-]{36})`", doc)
    ours = name_based(namespace.group(1), b"M-17\nfree-chlorine\n1774342800") if namespace else "?"
    tested = (SRC / "tests/logbook/test_identity.c").read_text(encoding="utf-8")
    return [(example == "5c146b14-3c52-8afd-938a-375d0df1fbf6", "ids by name are made as the example of the standard",
             example),
            (f'"{ours}"' in tested, "the id that the C test expects follows from the documentation", ours)]


def doc_claims(gen: Path) -> list[tuple[bool, str, str]]:
    doc = (SRC / "docs/logbook-format.md").read_text(encoding="utf-8")
    tables = (gen / "entry_tables.md").read_text(encoding="utf-8")
    namespace = re.search(r"NAMESPACE\[16\] = \{(.*?)\}", (SRC / "src/logbook/identity.c").read_text(), re.S)
    digits = "".join(re.findall(r"0x(..)", namespace.group(1))) if namespace else "?"
    return [(tables in doc, "the tables of docs/logbook-format.md are those of the data",
             "run python3 tools/gen/entry_markdown.py"),
            (digits in doc.replace("-", ""), "the namespace of device ids is the one in the code", digits)]


if __name__ == "__main__":
    folder = made()
    examples.tell([*schema_claims(folder), *view_claims(folder), *doc_claims(folder), *id_claims()])
