"""What a test takes: data/tests.csv -> gen/worth_tables.h, .c."""
from __future__ import annotations

from pathlib import Path

from _common import MARKS, c_string, read_csv

TOOLS = ("strip drops comparator photometer meter monitor display laboratory thermometer eye supplier").split()


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "tests.csv", ["instrument", "minutes", "strips", "cheap", "wait_h", "source", "mark"])
    lines = []
    for row in rows:
        if row["instrument"] not in TOOLS or row["mark"] not in MARKS or not row["source"] or row["cheap"] not in ("0", "1"):
            raise SystemExit(f"tests.csv: {row['instrument']}: a known instrument, a source, a mark, cheap 0 or 1")
        minutes, wait_h, strips = float(row["minutes"]), float(row["wait_h"]), int(row["strips"])
        if not 0 < minutes <= 120 or not 0 <= wait_h <= 1000 or not 0 <= strips <= 5:
            raise SystemExit(f"tests.csv: {row['instrument']}: minutes 0 to 120, strips 0 to 5, wait_h 0 to 1000")
        lines.append(f"    {{TW_TOOL_{row['instrument'].upper()}, {minutes!r}, {wait_h!r}, {strips}, {row['cheap']}, "
                     f"{c_string(row['source'])}, {c_string(row['mark'])}}},")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    head = "/* Made by tools/gen/worth.py of data/tests.csv. */\n"
    (gen / "worth_tables.h").write_text(
        head + "#ifndef TW_GEN_WORTH_TABLES_H\n#define TW_GEN_WORTH_TABLES_H\n\n#include \"estimate/instrument.h\"\n\n"
        "/* What a test by an instrument takes: minutes of a person, hours until it is known, strips. */\n"
        "typedef struct {\n    int instrument;\n    double minutes, wait_h;\n    int strips, cheap;\n"
        "    const char *source, *mark;\n} tw_test_row;\n\n"
        f"#define TW_TEST_ROWS {len(rows)} /* rows of data/tests.csv */\n\n"
        "extern const tw_test_row tw_answer_tests[TW_TEST_ROWS];\n\n#endif\n", encoding="utf-8")
    (gen / "worth_tables.c").write_text(
        "\n".join([head + '#include "gen/worth_tables.h"\n', "const tw_test_row tw_answer_tests[TW_TEST_ROWS] = {", *lines, "};"])
        + "\n", encoding="utf-8")
