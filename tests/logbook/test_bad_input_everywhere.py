#!/usr/bin/env python3
"""Bad input made from the tables, through the command line, import and WebAssembly: one sentence.

For every field of every kind each violation that its type has. Each is imported as a canonical line
and added to the WebAssembly module; what a person can type is typed to `log` as well. All must refuse
with the same words, naming the field, and nothing may be written. A kind, field, word or unit that is
unknown, and nothing else wrong, is refused where it is typed and kept where it is imported.

The commands run in one process (tests/support/many.c), and every twentieth case in a process of its own
as well, from a file: the same exit code and sentence.
"""
from __future__ import annotations

import base64
import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import examples
from examples import COMMON, SRC, canonical, good_entries
from _entry import MEASURES, load

sys.path.insert(0, str(SRC / "tests/support"))
from many import Many  # noqa: E402

MODEL = load(SRC / "data")
PROGRAM = os.environ.get("TUBWRIGHT", "tubwright")
NOW = "2026-03-24T12:00:00+01:00"
BAD_BYTES = "a\udcc3("  # C3 28: no UTF-8 (carried as PEP 383 says)
MACHINE = {"id", "kind", "tub", "at", "entered", "writer", "n", "prev", "role", "by", "remark"}
ADD_ALL = """
const fs = require('fs');
const memory = new WebAssembly.Memory({ initial: 128, maximum: 16384, shared: true });
const core = new WebAssembly.Instance(new WebAssembly.Module(fs.readFileSync(process.argv[1])), { env: { memory } }).exports;
if (core._initialize) core._initialize();
const out = JSON.parse(fs.readFileSync(process.argv[2], 'utf8')).map((line) => {
  const bytes = Buffer.from(line, 'base64');
  new Uint8Array(memory.buffer).set(bytes, core.tw_wasm_buffer(bytes.length));
  const status = core.tw_wasm_add_line(bytes.length);
  const at = core.tw_wasm_answer();
  return status === 0 ? null : Buffer.from(memory.buffer, at, core.tw_wasm_length()).toString('utf8');
});
console.log(JSON.stringify(out));
"""


@dataclass
class Case:
    entry: dict[str, str]   # without the common fields that are not changed
    field: str              # the one that the sentence must name
    what: str
    kept: bool = False      # unknown only: the import keeps it

    def line(self) -> bytes:
        whole = {**COMMON, **self.entry}
        return canonical({k: v for k, v in whole.items() if v != "(gone)"})


def numbers(entry: dict[str, str], row: dict[str, str]) -> list[tuple[str, str]]:
    low, high = row["min"], row["max"]
    if row["quantity"] == "by-analyte":
        of = next(a for a in MODEL.analytes if a["analyte"] == entry["analyte"])
        low, high = of["min"], of["max"]
    if row["quantity"] == "by-setting":
        low, high = "0", "100"
    if row["unit"] == "stop_unit":  # the good entry is in minutes, the bounds are in hours
        low, high = str(float(low) * 60), str(float(high) * 60)
    out = [("abc", "not a number"), ("-", "a dash"), ("1,500", "two meanings"),
           ("1.0000000000000001", "too many digits"), ("1.00000000000000000000001", "too long")]
    if low:
        out.append((f"{float(low) - 0.001:.4f}", "below"))
    if high:
        out.append((f"{float(high) + 0.001:.4f}", "above"))
    return out


def violations(entry: dict[str, str], row: dict[str, str]) -> list[tuple[str, str, bool]]:
    """Values that may not stand in a field, what each of them is, and whether it is merely unknown."""
    long = "x" * (int(row["max_length"]) + 1)
    wrong = {"flow": "kW", "act-amount": "mV"}.get(row["quantity"], "L/min")
    words = row["type"] == "word" and row["words"] and int(row["max_length"]) >= 5 and row["field"] != "kind"
    known = {
        "decimal": [(v, w, False) for v, w in numbers(entry, row)] if row["type"] == "decimal" else [],
        "count": [("1.5", "not whole", False), ("0", "below", False), (str(int(row["max"] or 0) + 1), "above", False)],
        "text": [("a\x1bz", "a control character", False), (long, "too long", False)],
        "word": [("a b", "no word", False), *([("xyzzy", "unknown word", True)] if words else [])],
        "unit": [("hogshead", "unknown unit", True), (wrong, "unit of something else", False),
                 ("gal", "bare gal", False)],
        "uuid": [("x", "no id", False)],
        "time": [("2026-02-30T10:00:00+01:00", "no date", False), ("2026-03-24T10:40:00", "no offset", False)],
        "date": [("2026-02-30", "no date", False)],
        "hash": [("e3b0", "no hash", False)],
    }[row["type"]]
    return [*known, ("", "empty", False), (BAD_BYTES, "bad UTF-8", False)]


def all_cases() -> list[Case]:
    out: list[Case] = []
    entries = good_entries()
    for row in MODEL.rows:
        fitting = [e for e in entries if row["kind"] in ("*", e["kind"]) and row["field"] in {**COMMON, **e}]
        for entry in fitting[:1] if row["kind"] == "*" else fitting:
            for value, what, kept in violations({**COMMON, **entry}, row):
                out.append(Case({**entry, row["field"]: value}, row["field"], what, kept))
            if row["required"] == "yes" and row["type"] != "unit":
                out.append(Case({**entry, row["field"]: "(gone)"}, row["field"], "missing"))
            if row["type"] == "decimal" and row["unit"] in entry and MEASURES[row["quantity"] or "none"] is not None:
                sharing = sorted(r["field"] for r in MODEL.of_kind(entry["kind"])
                                 if r["unit"] == row["unit"] and r["field"] in entry and r["type"] == "decimal")
                out.append(Case({**entry, row["unit"]: "(gone)"}, sharing[0], "no unit"))
    for entry in entries:
        out.append(Case({**entry, "kind": "cocktail"}, "kind", "unknown kind", True))
        out.append(Case({**entry, "colour": "blue"}, "colour", "unknown field", True))
    return out


# ---- the three ways ------------------------------------------------------------------------------

class Ways:
    """The program on a logbook in a scratch folder, in one process or in one for each command."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.env = {"TUBWRIGHT_NOW": NOW, "XDG_DATA_HOME": str(folder), "XDG_STATE_HOME": str(folder),
                    "XDG_CONFIG_HOME": str(folder), "TUBWRIGHT_LOGBOOK": str(folder / "l.db")}
        self.many = Many(self.env)

    def run(self, *words: str | bytes, stdin: bytes = b"", alone: bool = False) -> tuple[int, dict[str, str]]:
        if alone:
            done = subprocess.run([PROGRAM, "--json", *words], env={**os.environ, **self.env}, input=stdin,
                                  capture_output=True, check=False)
            code, err = done.returncode, done.stderr
        else:
            code, _, err = self.many.run("--json", *words, stdin=stdin)
        try:
            return code, json.loads(err.decode("utf-8")) if err.strip() else {}
        except ValueError:
            return code, {"title": f"not a problem object: {err!r}"}

    def imported(self, case: Case, alone: bool = False) -> tuple[int, str]:
        path = self.folder / "bad.jsonl"
        if alone:
            path.write_bytes(case.line() + b"\n")
            code, problem = self.run("import", str(path), alone=True)
        else:
            code, problem = self.run("import", "-", stdin=case.line() + b"\n")
        detail = problem.get("detail", problem.get("title", ""))
        head, tail = f"{path if alone else 'standard input'}, line 1: ", "\nNothing was taken in."
        good = detail.startswith(head) and detail.endswith(tail)
        return code, detail[len(head):-len(tail)] if good else detail

    def typed(self, case: Case, alone: bool = False) -> tuple[int, str] | None:
        words = typed_words(case)
        if words is None:
            return None
        code, problem = self.run(*(os.fsencode(word) for word in words), alone=alone)
        return code, problem.get("title", "")

    def exported(self) -> bytes:
        return self.many.run("export")[1]


# How a kind begins in `log` where its name alone is not its word: the fields that stand in front.
BEGIN = {"volume": ["volume={volume}"], "bathers": ["bathers={count}"], "care": ["care", "{job}", "{state}"],
         "part": ["part", "{part}", "{act}"], "standard": ["standard", "{analyte}", "{nominal}", "{value}"], "waiver": ["waiver"], "note": ["note", "{words}"],
         "symptom": ["symptom", "{words}"], "reply": ["reply", "{question}={reply}"]}
# Not typed this way: `log void` looks the target up, and `log stock` and `log ready` have a grammar
# of their own; tests/cli shows them.
UNTYPED = {"void", "stock", "power-cut", "ready-by"}
# What `log` knows by itself when it is not said: the name of the tub, what an intent is.
FILLED_IN = {("tub", "name"), ("intent", "act")}


def typed_words(case: Case) -> list[str] | None:
    """The words of `log` for a case; None when a person does not type this."""
    entry = case.entry
    kind = entry["kind"]
    if kind in UNTYPED or kind == "cocktail" or case.field in MACHINE or case.field not in entry:
        return None
    if case.what == "missing" and (kind, case.field) in FILLED_IN:
        return None
    if len(entry) > 24 or case.what in ("empty", "unknown field", "no unit"):
        return None  # an empty value and a name that is no field are met by the words, before any entry
    front = BEGIN.get(kind, [kind])
    leading = [name for name in entry if any("{" + name + "}" in word for word in front)]
    if any(entry[name] in ("(gone)", BAD_BYTES, "a b") or entry[name].startswith("-") for name in leading):
        return None  # what begins with a dash is an option that is not known
    words = [word.format(**entry) for word in front]
    rest = [f"{name}={value}" for name, value in entry.items()
            if name not in ("kind", *leading) and value != "(gone)"]
    return ["log", *words, *rest]


def in_wasm(lines: list[bytes]) -> list[str | None]:
    with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
        json.dump([base64.b64encode(line).decode() for line in lines], file)
        file.flush()
        done = subprocess.run(["node", "-e", ADD_ALL, os.environ.get("WASM", ""), file.name], capture_output=True,
                              text=True, check=False)
    if done.returncode:
        raise SystemExit(f"Bail out! {done.stderr}")
    return json.loads(done.stdout)


def main() -> None:
    cases = all_cases()
    wrong = [c for c in cases if not c.kept]
    unknown = [c for c in cases if c.kept]
    odd: dict[str, list[str]] = {"import": [], "wasm": [], "log": [], "alone": [], "kept": [], "refused": []}
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "kept").mkdir()
        ways, keeper = Ways(Path(name)), Ways(Path(name) / "kept")
        begun, problem = ways.run("tub", "new", "Barn", "volume=1300L")
        before = ways.exported()
        said = [ways.imported(case) for case in wrong]
        answers = [ways.typed(case) for case in wrong]
        sentences = in_wasm([case.line() for case in wrong])
        for case, (code, sentence), answer, in_module in zip(wrong, said, answers, sentences):
            about = f"{case.entry.get('kind')}.{case.field}, {case.what}:"
            if code != 3 or case.field not in sentence:
                odd["import"].append(f"{about} {code} {sentence}")
            if in_module != sentence:
                odd["wasm"].append(f"{about} import: {sentence} / module: {in_module}")
            if answer is not None and answer != (3, sentence):
                odd["log"].append(f"{about} import: {sentence} / log: {answer}")
        sample = list(zip(wrong, said, answers))[::20]
        for case, by_import, by_log in sample:
            alone = ways.imported(case, alone=True), ways.typed(case, alone=True)
            if alone != (by_import, by_log):
                odd["alone"].append(f"{by_import} {by_log} / alone: {alone}")
        refusals = [(case, answer) for case in unknown if (answer := ways.typed(case)) is not None]
        odd["refused"] = [f"{case.field}: {answer}" for case, answer in refusals
                          if answer[0] != 3 or case.field not in answer[1] or case.entry[case.field] not in answer[1]]
        unchanged = ways.exported() == before and before.count(b"\n") == 1
        keeper.run("tub", "new", "Barn", "volume=1300L")
        many = keeper.folder / "all.jsonl"
        lines = [Case({**case.entry, "id": f"01890000-0000-7000-8000-{number:012x}"}, case.field, case.what).line()
                 for number, case in enumerate(unknown)]
        many.write_bytes(b"\n".join(lines) + b"\n")
        code, problem = keeper.run("import", str(many), alone=True)
        there = set(keeper.exported().splitlines())
        odd["kept"] = [f"{code} {problem}"] if code else [repr(line) for line in lines if line not in there]
        odd["kept"] += [f"module: {text}" for text in in_wasm(lines) if text is not None]
        ends = ways.many.end(), keeper.many.end()
    typed_count = sum(answer is not None for answer in answers)
    print(f"# {len(wrong)} wrong entries, {typed_count} of them typed too; {len(unknown)} with something unknown,"
          f" {len(refusals)} of them typed")
    examples.tell([
        (begun == 0 and len(wrong) > 800 and typed_count > 300 and len(unknown) > 60, "there are enough cases", str(problem)),
        (not odd["import"], "import refuses every wrong entry and names the field", "\n".join(odd["import"])),
        (not odd["wasm"], "the module says the same sentence as import", "\n".join(odd["wasm"])),
        (not odd["log"], "log says the same sentence as import", "\n".join(odd["log"])),
        (not odd["alone"] and len(sample) > 40, "a process of its own says the same", "\n".join(odd["alone"])),
        (unchanged and ends == (0, 0), "nothing was written, nothing was left behind", str(ends)),
        (not odd["refused"], "what is unknown is refused where it is typed", "\n".join(odd["refused"])),
        (not odd["kept"], "what is unknown is kept where it is imported", "\n".join(odd["kept"]))])


if __name__ == "__main__":
    main()
