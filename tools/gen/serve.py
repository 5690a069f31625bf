"""Tables of the server: data/routes.csv and its company, problems.csv, roles.csv -> gen/serve_tables.h, .c."""
from __future__ import annotations

from pathlib import Path

import _routes
from _common import c_string


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "serve_tables.h").write_text(header(data_dir), encoding="utf-8")
    (gen / "serve_tables.c").write_text(source(data_dir), encoding="utf-8")


def constant(word: str) -> str:
    return word.upper().replace("-", "_").replace(".", "_")


def served(data_dir: Path) -> list[dict[str, str]]:
    """Problems that a server tells; the others belong to the terminal alone."""
    return [row for row in _routes.problems(data_dir) if row["status"]]


def enum(name: str, prefix: str, words: list[str], end: str, meaning: str) -> list[str]:
    return [f"/* {meaning} */", f"typedef enum {name} {{", *(f"    {prefix}{constant(word)}," for word in words),
            f"    {end}", f"}} {name};", ""]


def header(data_dir: Path) -> str:
    routes, parameters = _routes.routes(data_dir), _routes.parameters(data_dir)
    lines = ["/* Made from data/routes.csv, route_parameters.csv, problems.csv and roles.csv, sensors.csv by tools/gen/serve.py. */",
             "#ifndef TW_GEN_SERVE_TABLES_H", "#define TW_GEN_SERVE_TABLES_H", "",
             *enum("tw_serve_route", "TW_ROUTE_", [row["operation"] for row in routes], "TW_ROUTES", "What can be asked for."),
             *enum("tw_serve_right", "TW_RIGHT_", _routes.RIGHTS, "TW_RIGHTS", "What one may do, each with what is before it."),
             *enum("tw_serve_takes", "TW_TAKES_", [name or "nothing" for name in _routes.TAKES], "TW_TAKES_END",
                   "What a body holds."),
             *enum("tw_serve_gives", "TW_GIVES_", _routes.GIVES, "TW_GIVES_END", "What an answer holds."),
             *enum("tw_serve_parameter", "TW_PARAMETER_", [row["name"] for row in parameters], "TW_PARAMETERS",
                   "What may stand behind the ? of an address."),
             *enum("tw_serve_type", "TW_WRITTEN_", _routes.TYPES, "TW_WRITTEN_END", "How a parameter is written."),
             *enum("tw_serve_problem", "TW_PROBLEM_", [row["name"] for row in served(data_dir)], "TW_PROBLEMS",
                   "What can be wrong."),
             *enum("tw_serve_role", "TW_SERVE_", [row["role"] for row in _routes.roles(data_dir)], "TW_SERVE_ROLES",
                   "Who may sign in, the least first."),
             "/* A row of data/routes.csv. */", "typedef struct {", "    const char *operation;", "    const char *method;",
             "    const char *path;    /* {tub} and the like stand for one piece of the address */",
             "    const char *word;    /* the question to the core, \"\": none */", "    tw_serve_right right;",
             "    tw_serve_takes takes;", "    tw_serve_gives gives;", "    unsigned parameters; /* a bit for each tw_serve_parameter */",
             "} tw_serve_route_row;", "",
             "/* A row of data/route_parameters.csv. */", "typedef struct {", "    const char *name;", "    tw_serve_type type;",
             "    const char *example;", "} tw_serve_parameter_row;", "",
             "/* A row of data/problems.csv. */", "typedef struct {", "    const char *name;", "    unsigned status;",
             "    const char *title;", "} tw_serve_problem_row;", "",
             "/* A row of data/roles.csv. writes: kinds of entries, a blank before and behind each; \"*\": all. */",
             "typedef struct {", "    const char *name;", "    const char *writes;", "    int reads, relays, manages;",
             "    int person, lid; /* who may have it: somebody who signs in, a lid link */", "} tw_serve_role_row;", "",
             "/* A row of data/sensors.csv: what a monitor may push, and how long it stands for now. */", "typedef struct {",
             "    const char *quantity, *unit;", "    int expires_min;", "} tw_serve_sensor_row;", "",
             f"#define TW_SERVE_SENSORS {len(_routes.sensors(data_dir))} /* quantities of that table */", "",
             "extern const tw_serve_sensor_row tw_serve_sensors[TW_SERVE_SENSORS];",
             "extern const tw_serve_route_row tw_serve_routes[TW_ROUTES];",
             "extern const tw_serve_parameter_row tw_serve_parameters[TW_PARAMETERS];",
             "extern const tw_serve_problem_row tw_serve_problems[TW_PROBLEMS];",
             "extern const tw_serve_role_row tw_serve_roles[TW_SERVE_ROLES];", "", "#endif", ""]
    return "\n".join(lines)


def source(data_dir: Path) -> str:
    lines = ["/* Made from data/routes.csv, route_parameters.csv, problems.csv and roles.csv, sensors.csv by tools/gen/serve.py. */",
             '#include "gen/serve_tables.h"', "", "const tw_serve_route_row tw_serve_routes[TW_ROUTES] = {"]
    names = [row["name"] for row in _routes.parameters(data_dir)]
    for row in _routes.routes(data_dir):
        bits = sum(1 << names.index(name) for name in row["parameters"].split())
        lines.append(f"    {{{c_string(row['operation'])}, {c_string(row['method'])}, {c_string(row['path'])}, "
                     f"{c_string(row['word'])}, TW_RIGHT_{constant(row['right'])}, "
                     f"TW_TAKES_{constant(row['takes'] or 'nothing')}, TW_GIVES_{constant(row['gives'])}, {bits}u}},")
    lines += ["};", "", "const tw_serve_parameter_row tw_serve_parameters[TW_PARAMETERS] = {",
              *(f"    {{{c_string(row['name'])}, TW_WRITTEN_{constant(row['type'])}, {c_string(row['example'])}}},"
                for row in _routes.parameters(data_dir)),
              "};", "", "const tw_serve_problem_row tw_serve_problems[TW_PROBLEMS] = {",
              *(f"    {{{c_string(row['name'])}, {row['status']}, {c_string(row['title'])}}}," for row in served(data_dir)),
              "};", "", "const tw_serve_role_row tw_serve_roles[TW_SERVE_ROLES] = {"]
    for row in _routes.roles(data_dir):
        writes = row["writes"] if row["writes"] in ("", "*") else f" {row['writes']} "
        flags = ", ".join(str(int(row[name] == "yes")) for name in ("reads", "relays", "manages", "person", "lid"))
        lines.append(f"    {{{c_string(row['role'])}, {c_string(writes)}, {flags}}},")
    lines += ["};", "", "const tw_serve_sensor_row tw_serve_sensors[TW_SERVE_SENSORS] = {",
              *(f"    {{{c_string(row['quantity'])}, {c_string(row['unit'])}, {row['expires_min']}}},"
                for row in _routes.sensors(data_dir))]
    return "\n".join([*lines, "};", ""])
