"""The tables of the server, read and checked: routes, their parameters, problems and roles."""
from __future__ import annotations

import re
from pathlib import Path

from _common import read_csv

RIGHTS = ["none", "read", "write", "manage"]
METHODS = ["GET", "POST", "DELETE"]
TAKES = ["", "lines", "credentials", "person", "lid", "hours"]
GIVES = ["site", "page", "openapi", "answer", "entries", "lines", "events", "session", "have", "results", "people", "lids",
         "new-lid", "sensors", "pushed", "nothing"]
TYPES = ["time", "count", "decimal", "plain", "cursor"]


def routes(data_dir: Path) -> list[dict[str, str]]:
    rows = read_csv(data_dir / "routes.csv", ["operation", "method", "path", "right", "word", "takes", "gives",
                                              "parameters", "problems", "summary"])
    names = {row["name"] for row in parameters(data_dir)}
    problems_known = {row["name"] for row in problems(data_dir) if row["status"]}
    seen: set[tuple[str, str]] = set()
    for row in rows:
        where = f"routes.csv: {row['operation']}"
        if not re.fullmatch(r"[a-z]+(-[a-z]+)*", row["operation"]):
            raise SystemExit(f"{where}: an operation is lower-case words with hyphens")
        if (row["method"], row["path"]) in seen or not re.fullmatch(r"/|(/[a-z.]+|/\{[a-z]+\})+", row["path"]):
            raise SystemExit(f"{where}: a path is lower-case words, once for each method")
        seen.add((row["method"], row["path"]))
        for column, known in (("right", RIGHTS), ("method", METHODS), ("takes", TAKES), ("gives", GIVES)):
            if row[column] not in known:
                raise SystemExit(f"{where}: {column} is one of {known}")
        if set(row["parameters"].split()) - names or set(row["problems"].split()) - problems_known:
            raise SystemExit(f"{where}: a parameter or a problem is not in its table")
        if (row["gives"] == "answer") != (row["word"] != "") or (row["takes"] != "") != (row["method"] == "POST"):
            raise SystemExit(f"{where}: answers have a word, and every POST takes something")
    return rows


def parameters(data_dir: Path) -> list[dict[str, str]]:
    rows = read_csv(data_dir / "route_parameters.csv", ["name", "type", "example", "meaning"])
    for row in rows:
        if row["type"] not in TYPES:
            raise SystemExit(f"route_parameters.csv: {row['name']}: the type is one of {TYPES}")
    return rows


def problems(data_dir: Path) -> list[dict[str, str]]:
    rows = read_csv(data_dir / "problems.csv", ["name", "status", "title"])
    if len({row["name"] for row in rows}) != len(rows):
        raise SystemExit("problems.csv: a name stands twice")
    for row in rows:
        if not re.fullmatch(r"([45]\d\d)?", row["status"]) or not row["title"]:
            raise SystemExit(f"problems.csv: {row['name']}: a status from 400 on, or none; and a title")
    return rows


def roles(data_dir: Path) -> list[dict[str, str]]:
    rows = read_csv(data_dir / "roles.csv", ["role", "rank", "reads", "writes", "relays", "manages", "person", "lid", "meaning"])
    kinds = {row["kind"] for row in read_csv(data_dir / "entry/kinds.csv", ["kind", "summary"])}
    for row in rows:
        if row["writes"] != "*" and set(row["writes"].split()) - kinds:
            raise SystemExit(f"roles.csv: {row['role']}: a kind of entry is not known")
    return rows


def sensors(data_dir: Path) -> list[dict[str, str]]:
    rows = read_csv(data_dir / "sensors.csv", ["quantity", "unit", "expires_min", "why", "source", "mark"])
    known = read_csv(data_dir / "analytes.csv", ["analyte", "short", "quantity", "basis", "default_unit", "min", "max", "decimals", "source", "mark"])
    analytes = {row["analyte"] for row in known}
    for row in rows:
        if row["quantity"] not in analytes or not re.fullmatch(r"[1-9]\d*", row["expires_min"]) or int(row["expires_min"]) < 60:
            raise SystemExit(f"sensors.csv: {row['quantity']}: a quantity of analytes.csv, and at least the hour that it is of")
    return rows
