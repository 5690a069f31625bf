"""The procedure's tables: stages, conditions, acts, bands, profiles -> gen/procedure_tables.h, .c."""
from __future__ import annotations

from pathlib import Path

from _common import c_string, read_csv

STAGE = ["id", "title", "source", "mark"]
PROFILE = ["id", "title", "date", "fc_min", "fc_max", "ph_min", "ph_max", "cc_max", "temp_max", "read_every_h", "stabilised", "source", "mark"]
BAND = ["id", "low", "target", "high", "hard_low", "hard_high", "source", "mark"]
CONDITION = ["id", "stage", "predicate", "subject", "low", "high", "hours", "waivable", "in_care", "act", "source", "mark"]
ACT = ["id", "verb", "head", "first", "how", "then", "why", "tests", "next_min", "aim", "effect", "source", "mark"]
VERBS = ["add", "air", "test", "wait", "set", "ask", "do", "stop", "none"]
AIMS = ["", "alkalinity", "ph", "calcium", "phosphate", "salt", "chlorine", "hold"]
LIST = 5  # most messages of one kind in an act's row


def _id(text: str) -> str:
    return text.upper().replace("-", "_").replace("+", "_UP")


def _number(text: str) -> str:
    return "(double)NAN" if text == "" else repr(float(text))


def _need(known: set[str], value: str, where: str, what: str) -> None:
    if value not in known:
        raise SystemExit(f"{where}: {what} {value!r} is not known")


def _enum(prefix: str, comment: str, name: str, ids: list[str], last: str) -> list[str]:
    return [f"/* {comment} */", f"typedef enum {name} {{", *[f"    {prefix}_{_id(i)}," for i in ids], f"    {last}", f"}} {name};", ""]


def _messages(cell: str, messages: set[str], where: str) -> str:
    ids = cell.split()
    if len(ids) > LIST:
        raise SystemExit(f"{where}: more than {LIST} messages in one list")
    for i in ids:
        _need(messages, i, where, "message")
    cells = [f"TW_SAY_{_id(i)}" for i in ids] + ["TW_MESSAGES"] * (LIST - len(ids))
    return f"{{{', '.join(cells)}}}"


def generate(data_dir: Path, out_dir: Path) -> None:
    stages = read_csv(data_dir / "stages.csv", STAGE)
    profiles = read_csv(data_dir / "profiles.csv", PROFILE)
    bands = read_csv(data_dir / "bands.csv", BAND)
    conditions = read_csv(data_dir / "conditions.csv", CONDITION)
    acts = read_csv(data_dir / "acts.csv", ACT)
    messages = {r["id"] for path in sorted((data_dir / "text").glob("*.en.csv")) for r in read_csv(path, ["id", "text"])}
    analytes = {r["word"] for r in read_csv(data_dir / "entry" / "words.csv", ["set", "word", "short", "meaning"]) if r["set"] == "analyte"}
    stage_ids, act_ids = {s["id"] for s in stages}, {a["id"] for a in acts}
    for table in (stages, profiles, bands, conditions, acts):
        for row in table:
            if not row["mark"]:
                raise SystemExit(f"{row['id']}: a row needs its mark")
    predicates = sorted({c["predicate"] for c in conditions})
    for c in conditions:
        _need(stage_ids, c["stage"], f"conditions.csv, {c['id']}", "stage")
        _need(act_ids, c["act"], f"conditions.csv, {c['id']}", "act")
    order = [s["id"] for s in stages]
    if [order.index(c["stage"]) for c in conditions] != sorted(order.index(c["stage"]) for c in conditions):
        raise SystemExit("conditions.csv: rows must stand in the order of the stages")
    head = ["/* Made from data/stages.csv and its fellows by tools/gen/procedure.py. */", "#ifndef TW_GEN_PROCEDURE_TABLES_H",
            "#define TW_GEN_PROCEDURE_TABLES_H", "",
            *_enum("TW_STAGE", "Stages of the start-up, in order.", "tw_stage", [s["id"] for s in stages], "TW_STAGES"),
            *_enum("TW_CONDITION", "Conditions, in the order in which they are asked.", "tw_condition", [c["id"] for c in conditions], "TW_CONDITIONS"),
            *_enum("TW_ACT", "Acts.", "tw_act_id", [a["id"] for a in acts], "TW_ACTS"),
            *_enum("TW_PROFILE", "Guidance profiles.", "tw_profile_id", [p["id"] for p in profiles], "TW_PROFILES"),
            *_enum("TW_BAND", "Bands of the water.", "tw_band_id", [b["id"] for b in bands], "TW_BANDS"),
            *_enum("TW_PREDICATE", "Ways to ask whether a condition is met.", "tw_predicate", predicates, "TW_PREDICATES"),
            *_enum("TW_AIM", "What a dose is for.", "tw_aim", [a or "none" for a in AIMS], "TW_AIMS"),
            "/* Most messages in one list of an act's row. */", f"#define TW_ACT_LIST {LIST}", "", "#endif", ""]
    body = ["/* Made from data/stages.csv and its fellows by tools/gen/procedure.py. */", '#include "procedure/tables.h"', "",
            "#include <math.h>", "", "const tw_stage_row tw_procedure_stages[TW_STAGES] = {"]
    for s in stages:
        _need(messages, f"stage-{s['id']}", "stages.csv", "message")
        body.append(f"    {{{c_string(s['id'])}, TW_SAY_STAGE_{_id(s['id'])}}},")
    body += ["};", "", "const tw_profile tw_procedure_profiles[TW_PROFILES] = {"]
    for p in profiles:
        body.append(f"    {{{', '.join(c_string(p[k]) for k in ('id', 'title', 'date', 'mark'))}, "
                    + ", ".join(_number(p[k]) for k in PROFILE[3:11]) + "},")
    body += ["};", "", "const tw_band tw_procedure_bands[TW_BANDS] = {"]
    for b in bands:
        body.append("    {" + ", ".join(_number(b[k]) for k in BAND[1:6]) + f", {c_string(b['source'])}, {c_string(b['mark'])}}},")
    body += ["};", "", "const tw_condition_row tw_procedure_conditions[TW_CONDITIONS] = {"]
    for c in conditions:
        body.append(f"    {{{c_string(c['id'])}, TW_STAGE_{_id(c['stage'])}, TW_PREDICATE_{_id(c['predicate'])}, {c_string(c['subject'])}, "
                    f"{_number(c['high'])}, {_number(c['hours'])}, {int(c['waivable'])}, {int(c['in_care'])}, TW_ACT_{_id(c['act'])}, {c_string(c['source'])}, {c_string(c['mark'])}}},")
    body += ["};", "", "const tw_act_row tw_procedure_acts[TW_ACTS] = {"]
    for a in acts:
        where = f"acts.csv, {a['id']}"
        _need(set(VERBS), a["verb"], where, "verb")
        _need(set(AIMS), a["aim"], where, "aim")
        _need(messages, a["head"], where, "message")
        for t in a["tests"].split():
            _need(analytes, t, where, "analyte")
        tests = [f"TW_ANALYTE_{_id(t)}" for t in a["tests"].split()] + ["-1"] * 8
        lists = ", ".join(_messages(a[k], messages, where) for k in ("first", "how", "then", "why"))
        body.append(f"    {{{c_string(a['id'])}, TW_VERB_{_id(a['verb'])}, TW_SAY_{_id(a['head'])}, {lists}, "
                    f"{{{', '.join(tests[:8])}}}, {_number(a['next_min'])}, TW_AIM_{_id(a['aim'] or 'none')}}},")
    body += ["};", ""]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "procedure_tables.h").write_text("\n".join(head), encoding="utf-8")
    (gen / "procedure_tables.c").write_text("\n".join(body), encoding="utf-8")
