"""Priors, instrument models and unlogged acts of src/estimate/: data/priors.csv, instruments.csv,
unlogged.csv, carry.csv, buffers.csv."""
from __future__ import annotations

import math
from pathlib import Path

from _common import MARKS, c_string, read_csv

COORDINATES = ("water loss loss-ea film film-hours demand0 demand-rate inflow chlorine0 combined bather kla-still "
               "kla-jets dissolve alkalinity carbon hardness calcium-share chloride sulfate cyanurate borate phosphate ions "
               "evaporation hocl-part scale-rate").split()
OBSERVED = ("free-chlorine total-chlorine combined-chlorine ph alkalinity calcium hardness magnesium chloride "
            "conductivity cyanurate phosphate sulfate borate").split()
TOOLS = ("strip drops comparator photometer meter monitor display laboratory thermometer eye supplier "
         "unknown").split()
SCALES = ("ln", "plain", "soft", "share")
MODELS = ("blocks", "drops", "plain")


def fail(where: str, what: str) -> None:
    raise SystemExit(f"{where}: {what}")


def enum(prefix: str, word: str) -> str:
    return prefix + word.upper().replace("-", "_")


def priors(data_dir: Path) -> list[str]:
    rows = read_csv(data_dir / "priors.csv",
                    ["coordinate", "water", "scale", "middle", "sd", "unit", "meaning", "source", "mark"])
    table: dict[str, dict[str, dict[str, str]]] = {"running": {}, "fresh": {}, "found": {}}
    for row in rows:
        where = f"priors.csv, {row['coordinate']} {row['water']}"
        if row["coordinate"] not in COORDINATES or row["water"] not in table:
            fail(where, "unknown coordinate or water")
        if row["mark"] not in MARKS or not row["source"]:
            fail(where, "needs a source and one of the marks")
        if row["coordinate"] in table[row["water"]]:
            fail(where, "stands twice")
        if row["scale"] not in SCALES:
            fail(where, f"scale must be one of {', '.join(SCALES)}")
        if not float(row["sd"]) > 0 or not float(row["middle"]) > 0:
            fail(where, "middle and sd must be positive")
        table[row["water"]][row["coordinate"]] = row
    lines = []
    for water in table:
        lines.append(f"const tw_prior tw_estimate_priors_{water}[TW_X_FIXED] = {{")
        for coordinate in COORDINATES:
            row = table[water].get(coordinate) or table["fresh"].get(coordinate)
            if row is None:
                fail("priors.csv", f"{coordinate} has no row for fresh water")
            middle = float(row["middle"])
            if row["scale"] == "ln":
                middle = math.log(middle)
            elif row["scale"] == "share":
                middle = math.log(middle / (1.0 - middle))
            # Twelve decimals: the same double everywhere, whatever libm made it.
            lines.append(f"    [{enum('TW_X_', coordinate)}] = {{{round(middle, 12)!r}, {float(row['sd'])!r}, "
                         f"{enum('TW_PRIOR_', row['scale'])}}},")
        lines.append("};")
    return lines


def instrument_row(row: dict[str, str], blocks: list[str]) -> str:
    where = f"instruments.csv, {row['instrument']} {row['observed']}"
    if row["instrument"] not in TOOLS or row["observed"] not in OBSERVED or row["model"] not in MODELS:
        fail(where, "unknown instrument, analyte or model")
    if row["mark"] not in MARKS or not row["source"]:
        fail(where, "needs a source and one of the marks")
    number = {name: float(row[name]) for name in ("sd_abs", "sd_rel", "bias_sd", "step", "low", "high", "bleach")}
    if min(number.values()) < 0 or number["high"] <= number["low"]:
        fail(where, "numbers must not be negative and the range must not be empty")
    scale = [float(block) for block in row["blocks"].split()]
    if (row["model"] == "blocks") != bool(scale) or scale != sorted(set(scale)):
        fail(where, "blocks belong to the model blocks and must rise")
    if row["model"] != "drops" and number["sd_abs"] + number["sd_rel"] <= 0:
        fail(where, "needs an sd")
    if row["model"] == "drops" and number["step"] <= 0:
        fail(where, "needs a step")
    name = "NULL"
    if scale:
        name = f"BLOCKS_{len(blocks)}"
        blocks.append(f"static const double {name}[] = {{{', '.join(map(repr, scale))}}};")
    numbers = ", ".join(repr(value) for value in number.values())
    return (f"    {{{enum('TW_TOOL_', row['instrument'])}, {enum('TW_OBSERVED_', row['observed'])}, "
            f"{enum('TW_ERROR_', row['model'])}, {numbers},\n"
            f"     {name}, {len(scale)}, {c_string(row['source'])}, {c_string(row['mark'])}}},")


def instruments(data_dir: Path) -> list[str]:
    rows = read_csv(data_dir / "instruments.csv",
                    ["instrument", "observed", "model", "sd_abs", "sd_rel", "bias_sd", "step", "low", "high",
                     "bleach", "blocks", "source", "mark"])
    pairs = [(row["instrument"], row["observed"]) for row in rows]
    if len(set(pairs)) != len(pairs):
        fail("instruments.csv", "a pair of instrument and analyte stands twice")
    blocks: list[str] = []
    body = [instrument_row(row, blocks) for row in rows]
    return [*blocks, "const tw_instrument_row tw_estimate_instruments[] = {", *body, "};",
            f"const size_t tw_estimate_instrument_count = {len(rows)};"]


UNLOGGED = ("chlorine-poured chlorine-used generator-off acid-poured base-poured aired water-added salt-poured").split()


def unlogged(data_dir: Path) -> list[str]:
    rows = {row["act"]: row for row in
            read_csv(data_dir / "unlogged.csv", ["act", "per_day", "low", "high", "unit", "meaning", "source", "mark"])}
    if sorted(rows) != sorted(UNLOGGED):
        fail("unlogged.csv", f"must have these rows: {', '.join(UNLOGGED)}")
    lines = ["const tw_unlogged_row tw_estimate_unlogged[TW_UNLOGGED_ACTS] = {"]
    for act in UNLOGGED:
        row = rows[act]
        rate, low, high = (float(row[name]) for name in ("per_day", "low", "high"))
        if row["mark"] not in MARKS or not row["source"] or not 0 < rate < 1 or not 0 < low < high:
            fail(f"unlogged.csv, {act}", "needs a source, a mark, a rate under 1 and sizes that rise")
        lines.append(f"    [{enum('TW_UNLOGGED_', act)}] = {{{rate!r}, {low!r}, {high!r}}},")
    return [*lines, "};"]


CARRIED = {"water": "ln", "loss": "ln", "loss-ea": "kJ/mol", "film": "coordinate", "film-hours": "ln", "bather": "ln",
           "kla-still": "ln", "kla-jets": "ln", "hocl-part": "coordinate", "scale-rate": "coordinate", "cell": "ln", "bias": "sd", "demand-rate": "ln", "inflow": "coordinate"}
OF_THE_WATER = ("demand-rate", "inflow")  # not handed over at a fill
DRIFT_UNITS = {"ln": "TW_DRIFT_LN", "kJ/mol": "TW_DRIFT_KJ", "coordinate": "TW_DRIFT_COORDINATE", "sd": "TW_DRIFT_SD"}


def drifts(data_dir: Path) -> list[str]:
    rows = {row["coordinate"]: row for row in
            read_csv(data_dir / "carry.csv", ["coordinate", "at_fill", "a_month", "unit", "meaning", "source", "mark"])}
    if set(rows) != set(CARRIED):
        fail("carry.csv", f"must have these rows: {', '.join(CARRIED)}")
    lines = ["const tw_drift tw_estimate_drifts[TW_CARRIED_BIAS + 1] = {"]
    for coordinate, row in rows.items():
        at_fill, a_month = float(row["at_fill"]), float(row["a_month"])
        if row["mark"] not in MARKS or not row["source"] or (at_fill > 0) == (coordinate in OF_THE_WATER) or a_month < 0:
            fail(f"carry.csv, {coordinate}", "needs a source, a mark and a drift above nothing")
        if row["unit"] != CARRIED[coordinate]:
            fail(f"carry.csv, {coordinate}", f"unit must be {CARRIED[coordinate]}")
        what = enum("TW_CARRIED_" if coordinate in ("cell", "bias") else "TW_X_", coordinate)
        lines.append(f"    [{what}] = {{{what}, {DRIFT_UNITS[row['unit']]}, {at_fill!r}, {a_month!r}}},")
    return [*lines, "};"]


def buffers(data_dir: Path) -> list[str]:
    rows = read_csv(data_dir / "buffers.csv", ["named", "temp_c", "ph", "source", "mark"])
    number = [tuple(float(row[name]) for name in ("named", "temp_c", "ph")) for row in rows]
    if number != sorted(set(number)) or any(row["mark"] not in MARKS or not row["source"] for row in rows):
        fail("buffers.csv", "rows must rise by name and temperature, each with a source and a mark")
    return ["const tw_buffer_row tw_estimate_buffers[] = {",
            *(f"    {{{named!r}, {temp_c!r}, {ph!r}}}," for named, temp_c, ph in number), "};",
            f"const size_t tw_estimate_buffer_count = {len(rows)};"]


def generate(data_dir: Path, out_dir: Path) -> None:
    (out_dir / "gen").mkdir(parents=True, exist_ok=True)
    head = "/* Made by tools/gen/estimate.py of data/priors.csv, instruments.csv, unlogged.csv, carry.csv and buffers.csv. */\n"
    (out_dir / "gen" / "estimate_tables.h").write_text(
        head + "#ifndef TW_GEN_ESTIMATE_TABLES_H\n#define TW_GEN_ESTIMATE_TABLES_H\n\n"
        '#include <stddef.h>\n\n#include "estimate/events.h"\n#include "estimate/explain.h"\n#include "estimate/from_entry.h"\n#include "estimate/instrument.h"\n#include "estimate/segment.h"\n\n'
        "extern const tw_prior tw_estimate_priors_fresh[TW_X_FIXED];\n"
        "extern const tw_prior tw_estimate_priors_running[TW_X_FIXED];\n"
        "extern const tw_prior tw_estimate_priors_found[TW_X_FIXED];\n"
        "extern const tw_instrument_row tw_estimate_instruments[];\n"
        "extern const size_t tw_estimate_instrument_count;\n"
        "extern const tw_unlogged_row tw_estimate_unlogged[TW_UNLOGGED_ACTS];\n"
        "extern const tw_drift tw_estimate_drifts[TW_CARRIED_BIAS + 1];\n"
        "extern const tw_buffer_row tw_estimate_buffers[];\n"
        "extern const size_t tw_estimate_buffer_count;\n\n#endif\n", encoding="utf-8")
    (out_dir / "gen" / "estimate_tables.c").write_text(
        "\n".join([head + '#include "gen/estimate_tables.h"\n', *priors(data_dir), *instruments(data_dir), *unlogged(data_dir), *drifts(data_dir),
                   *buffers(data_dir)]) + "\n",
        encoding="utf-8")
