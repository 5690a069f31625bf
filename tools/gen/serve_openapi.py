"""The OpenAPI 3.1 description of the server, of the same tables: gen/openapi.json, gen/serve_openapi.h, .c."""
from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import _routes
import answer
from _common import read_csv
from _schemas import BODIES, SCHEMAS

# What can be wrong with every request, with one that needs a right, with one that brings a body, with one that reads the logbook.
ALWAYS = ["request", "parameter", "address-long", "host", "origin", "wait", "internal", "busy"]
WITH_RIGHT = ["sign-in", "right"]
WITH_BODY = ["body", "media", "size", "token"]
OF_STORE = ["memory", "locked", "full", "read-only", "damaged", "io", "newer"]
TYPES = {"time": {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$"},
         "count": {"type": "integer", "minimum": 0}, "decimal": {"type": "number"}, "plain": {"type": "string"},
         "cursor": {"type": "string"}}
SITE = ["text/html", "text/plain", "text/javascript", "text/css", "application/wasm", "font/woff2", "application/manifest+json", "image/svg+xml"]
MEDIA = {"site": "text/plain", "page": "text/html", "openapi": "application/json", "answer": "application/json",
         "entries": "application/json", "lines": "application/jsonl", "events": "text/event-stream", "session": "application/json",
         "have": "application/json", "results": "application/json", "people": "application/json", "lids": "application/json",
         "new-lid": "application/json", "sensors": "application/json", "pushed": "application/json"}


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    described = description(data_dir)
    (gen / "openapi.json").write_text(json.dumps(described, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    text = json.dumps(described, separators=(",", ":"), ensure_ascii=True)
    note = "/* The OpenAPI description, made by tools/gen/serve_openapi.py. */"
    pieces = [text[at:at + 100] for at in range(0, len(text), 100)]
    (gen / "serve_openapi.h").write_text(f"{note}\n#ifndef TW_GEN_SERVE_OPENAPI_H\n#define TW_GEN_SERVE_OPENAPI_H\n\n"
                                         f"extern const char tw_serve_openapi[{len(text) + 1}];\n\n#endif\n", encoding="utf-8")
    # As numbers: the standard promises no string longer than 4095.
    rows = [", ".join(str(byte) for byte in piece.encode()) + "," for piece in pieces]
    (gen / "serve_openapi.c").write_text(f'{note}\n#include "gen/serve_openapi.h"\n\nconst char tw_serve_openapi[{len(text) + 1}] = {{\n'
                                         + "\n".join(rows) + "\n0};\n", encoding="utf-8")


def refs(value: Any) -> Any:
    """$defs of a schema become components."""
    if isinstance(value, dict):
        return {key: refs(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [refs(inner) for inner in value]
    return re.sub(r"^#/\$defs/", "#/components/schemas/answer-", value) if isinstance(value, str) else value


def description(data_dir: Path) -> dict[str, Any]:
    rows = read_csv(data_dir / "answer.csv", ["key", "type", "unit", "decimals", "show", "label", "meaning"])
    answers = refs(answer.schema(rows))
    del answers["$schema"]
    schemas = {f"answer-{name}": inner for name, inner in answers.pop("$defs").items()}
    schemas |= {"answer": answers, **SCHEMAS}
    paths: dict[str, Any] = {}
    for row in _routes.routes(data_dir):
        paths.setdefault(row["path"], {})[row["method"].lower()] = operation(row, data_dir)
    return {"openapi": "3.1.0",
            "info": {"title": "Tubwright", "version": "1", "license": {"name": "ISC", "identifier": "ISC"},
                     "description": "A logbook and adviser for starting up hot tubs. Every answer is the one that the command line "
                                    "gives with --json, byte by byte. See docs/api.md."},
            "paths": paths,
            "components": {"schemas": schemas,
                           "securitySchemes": {"cookie": {"type": "apiKey", "in": "cookie", "name": "tubwright",
                                                          "description": "with TLS its name is __Host-tubwright"},
                                               "token": {"type": "apiKey", "in": "header", "name": "Tubwright-Token"}}}}


def operation(row: dict[str, str], data_dir: Path) -> dict[str, Any]:
    known = {parameter["name"]: parameter for parameter in _routes.parameters(data_dir)}
    found = [{"name": name, "in": "path", "required": True, "schema": {"type": "string"},
              "description": "id or name" if name == "tub" else "as the list names it"}
             for name in re.findall(r"\{(\w+)\}", row["path"])]
    found += [{"name": name, "in": "query", "schema": TYPES[known[name]["type"]], "example": example(known[name]),
               "description": known[name]["meaning"]} for name in row["parameters"].split()]
    if row["gives"] == "events":
        found.append({"name": "Last-Event-ID", "in": "header", "schema": {"type": "string"}, "description": "go on behind this one"})
    described: dict[str, Any] = {"operationId": row["operation"], "summary": row["summary"]}
    if found:
        described["parameters"] = found
    if row["takes"]:
        described["requestBody"] = {"required": True, "content": BODIES[row["takes"]]}
    described["responses"] = responses(row, data_dir)
    if row["right"] != "none":
        described["security"] = [{}, {"cookie": []} if row["method"] == "GET" else {"cookie": [], "token": []}]
    return described


def example(parameter: dict[str, str]) -> Any:
    kind, text = parameter["type"], parameter["example"]
    return int(text) if kind == "count" else float(text) if kind == "decimal" else text


def responses(row: dict[str, str], data_dir: Path) -> dict[str, Any]:
    good: dict[str, Any] = {"description": row["summary"]}
    status = "204" if row["gives"] == "nothing" else "201" if row["operation"] == "add-lid" else "200"
    if row["gives"] != "nothing":
        media = MEDIA[row["gives"]]
        schema = {"type": "string"} if not media.endswith("/json") else (
            {"type": "object"} if row["gives"] == "openapi" else {"$ref": f"#/components/schemas/{row['gives']}"})
        good["content"] = {media: {"schema": schema}}
    if row["gives"] == "site":
        good["content"] = {media: {"schema": {"type": "string"}} for media in SITE}
    if row["gives"] == "answer":
        good["content"]["text/plain"] = {"schema": {"type": "string"}}
        good["headers"] = {"Tubwright-Outcome": {"schema": {"enum": ["answered", "asked-back", "stop", "newer"]}}}
    if row["gives"] == "entries":
        good["headers"] = {"Tubwright-Cursor": {"schema": {"type": "string"}, "description": "the next since"}}
        good["content"]["application/jsonl"] = {"schema": {"type": "string"}}
    described = {status: good}
    if row["gives"] in ("text", "page", "openapi", "answer"):
        described["304"] = {"description": "what If-None-Match names still holds"}
    names = [*ALWAYS, *row["problems"].split()]
    names += WITH_RIGHT if row["right"] != "none" else []
    names += WITH_BODY if row["takes"] else ["token"] if row["method"] != "GET" else []
    names += OF_STORE if row["gives"] not in ("text", "page", "openapi") else []
    names += ["path"] if "{" in row["path"] else []
    names += ["accept"] if row["gives"] in ("answer", "entries") else []
    by_status: dict[str, list[str]] = {}
    for problem in _routes.problems(data_dir):
        if problem["name"] in names:
            by_status.setdefault(problem["status"], []).append(problem["name"])
    for code, kinds in sorted(by_status.items()):
        kind = {"enum": [f"urn:tubwright:problem:{name}" for name in kinds]}
        described[code] = {"description": ", ".join(kinds), "content": {"application/problem+json": {"schema": {
            "allOf": [{"$ref": "#/components/schemas/problem"}, {"properties": {"type": kind}}]}}}}
    return described
