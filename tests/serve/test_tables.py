#!/usr/bin/env python3
"""What the documents and tables of the server say about the rest: threats name claims that exist, problems of the terminal and of the
store stand in the table of problems."""
import csv
import os
import re
import sys
from pathlib import Path

SRC = Path(os.environ["SRC"])
sys.path.insert(0, str(SRC / "tests/support"))
from claims import Claims  # noqa: E402

claims = Claims()
table = {row["name"]: row for row in csv.DictReader((SRC / "data/problems.csv").open(encoding="utf-8", newline=""))}

threats = (SRC / "docs/threats.md").read_text(encoding="utf-8").split("## What it does not")[0]
missing, named = [], 0
for row in threats.splitlines():
    if not row.startswith("| ") or row.startswith("| threat") or row.startswith("| ---"):
        continue
    found = [(part.split(":")[0].strip(), name) for part in row.split("|")[3].split(";") for name in re.findall(r"`(\w+)`", part)]
    missing += [row[:60]] if not found else []
    for file, name in found:
        named += 1
        told = "".join(path.read_text(encoding="utf-8") for path in (SRC / "tests/serve").glob(f"*_{file}.py"))
        if f'"{name}"' not in told:
            missing.append(f"{file}: {name}")
claims.add(named > 30 and not missing, "each_threat_names_claims_that_are_tested", "\n".join(missing))

used: set[str] = set()
for path in (SRC / "src/cli").glob("*.c"):
    text = path.read_text(encoding="utf-8")
    used |= set(re.findall(r'tw_cli_problem(?:_with)?\(\s*cli,\s*[^";]*?"([a-z-]+)"', text))
    used |= set(re.findall(r"\{TW_ERR_\w+, TW_EXIT_\w+, \"([a-z-]+)\"", text))
pairs = re.findall(r'\{"([a-z-]+)", "([^"]+)"\},\n', (SRC / "src/sync/told.c").read_text(encoding="utf-8"))
claims.add(len(pairs) == 10 and all(name in table and table[name]["title"] == title for name, title in pairs),
           "troubles_of_a_client_stand_in_the_table", [pair for pair in pairs if pair[0] not in table or table[pair[0]]["title"] != pair[1]])
claims.add(len(used) > 30 and used <= set(table), "problems_of_the_terminal_stand_in_the_table", sorted(used - set(table)))

store = dict(re.findall(r'\{TW_(?:ERR_)?\w+, "([a-z-]+)", "([^"]+)"', (SRC / "src/store/fault.c").read_text(encoding="utf-8")))
del store["fine"]
wrong = [f"{name}: {title}" for name, title in store.items() if name not in table or not table[name]["status"] or table[name]["title"] != title]
claims.add(len(store) > 15 and not wrong, "those_of_the_store_stand_there_with_their_sentences", "\n".join(wrong))

served = {row["name"].upper().replace("-", "_") for row in table.values() if row["status"]}
told = set(re.findall(r"TW_PROBLEM_(\w+)", "".join(path.read_text(encoding="utf-8") for path in (SRC / "src/serve").glob("*.c"))))
by_store = {name.upper().replace("-", "_") for name in store}
claims.add(served <= told | by_store, "each_problem_of_the_server_is_told_somewhere", sorted(served - told - by_store))
claims.report()
