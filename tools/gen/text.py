"""Sentences: data/text/<room>.en.csv -> gen/text_tables.h, gen/text_tables.c.

Each row is id,text. An argument stands in the text as {name:type}; the types are TYPES below. Rows
of all rooms together are sorted by id, so that an id can be found by halving.
"""
from __future__ import annotations

import re
from pathlib import Path

from _common import read_csv

TYPES = {"0", "1", "2", "3", "4", "mgl0", "mgl1", "mgl2", "g", "ml", "l", "amount", "pct", "share", "c0",
         "c1", "h", "time", "clock", "day", "text", "term", "words"}
ARGUMENT = re.compile(r"\{([a-z_]+):([a-z0-9]+)\}")
# What is never said to a person on a screen.
AVOID = re.compile(r"\b(safe|safely|perfect|score|programme|commissioning|exclusion|capful)\b", re.I)


def rows(data_dir: Path) -> list[dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for path in sorted(set((data_dir / "text").glob("*.en.csv")) - {data_dir / "text/app.en.csv"}):
        for row in read_csv(path, ["id", "text"]):
            where = f"{path.name}: {row['id']}"
            if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", row["id"]):
                raise SystemExit(f"{where}: an id is lower-case words with hyphens")
            if row["id"] in found:
                raise SystemExit(f"{where}: stands there twice")
            check(where, row["text"])
            found[row["id"]] = row
    return [found[key] for key in sorted(found)]


def check(where: str, text: str) -> None:
    if not text or text != text.strip() or "\n" in text:
        raise SystemExit(f"{where}: one line, no blanks around")
    names = [name for name, _ in ARGUMENT.findall(text)]
    for name, kind in ARGUMENT.findall(text):
        if kind not in TYPES:
            raise SystemExit(f"{where}: {{{name}:{kind}}} has no such type; there are {', '.join(sorted(TYPES))}")
    if len(set(names)) > 8:
        raise SystemExit(f"{where}: more than 8 arguments")
    if "{" in ARGUMENT.sub("", text) or "}" in ARGUMENT.sub("", text):
        raise SystemExit(f"{where}: braces hold {{name:type}} and nothing else")
    found = AVOID.search(text)
    if found and text != '"Met" is not "safe".':
        raise SystemExit(f"{where}: '{found[0]}' is not said on a screen")


def lines(numbers: list[int]) -> list[str]:
    return ["    " + ",".join(map(str, numbers[at:at + 32])) + "," for at in range(0, len(numbers), 32)]


def generate(data_dir: Path, out_dir: Path) -> None:
    table = rows(data_dir)
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    names = ["TW_SAY_" + row["id"].upper().replace("-", "_") for row in table]
    header = ["/* Made from data/text by tools/gen/text.py. */", "#ifndef TW_GEN_TEXT_TABLES_H",
              "#define TW_GEN_TEXT_TABLES_H", "", "/* Sentences, in the order of their ids. */",
              "typedef enum tw_message {", *(f"    {name}," for name in names),
              "    TW_MESSAGES /* how many there are; as an answer: none */", "} tw_message;", "",
              "/* Every id and its sentence, each ended by a zero, and where each id begins: half the bytes of pointers, on a phone. */",
              "extern const unsigned char tw_message_bytes[];", "extern const unsigned short tw_message_at[TW_MESSAGES];", "", "#endif", ""]
    begins, texts = [], b""
    for row in table:
        begins.append(len(texts))
        texts += f"{row['id']}\0{row['text']}\0".encode()
    if len(texts) > 65535:
        raise SystemExit("data/text: more than 65535 bytes; tw_message_at needs a wider type")
    source = ["/* Made from data/text by tools/gen/text.py. */", '#include "gen/text_tables.h"', "",
              "const unsigned char tw_message_bytes[] = {", *lines(list(texts)), "};", "",
              "const unsigned short tw_message_at[TW_MESSAGES] = {", *lines(begins), "};", ""]
    (gen / "text_tables.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "text_tables.c").write_text("\n".join(source), encoding="utf-8")
