"""A small validator for the part of JSON Schema 2020-12 that gen/answer.schema.json and gen/openapi.json use."""
from __future__ import annotations

import re
from typing import Any

KNOWN = {"$schema", "$ref", "$defs", "title", "description", "type", "properties", "required",
         "additionalProperties", "items", "pattern", "enum", "allOf", "minimum"}
TYPES = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}


def is_type(value: Any, name: str) -> bool:
    if name == "number":
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    if name == "integer":
        return isinstance(value, int) and not isinstance(value, bool)
    return isinstance(value, TYPES[name])


def faults(value: Any, schema: dict[str, Any], root: dict[str, Any], where: str = "answer") -> list[str]:
    """Everything in value that the schema does not allow."""
    unknown = set(schema) - KNOWN
    if unknown:
        return [f"{where}: the schema uses {sorted(unknown)}, which this validator does not know"]
    found: list[str] = []
    if "$ref" in schema:
        target: Any = root
        for part in schema["$ref"].removeprefix("#/").split("/"):
            target = target[part]
        found += faults(value, target, root, where)
    if "type" in schema:
        names = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        if not any(is_type(value, name) for name in names):
            return found + [f"{where}: {value!r} is no {' or '.join(names)}"]
    for inner in schema.get("allOf", []):
        found += faults(value, inner, root, where)
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{where}: {value!r} is none of {schema['enum']}")
    if "minimum" in schema and is_type(value, "number") and value < schema["minimum"]:
        found.append(f"{where}: {value!r} is less than {schema['minimum']}")
    if isinstance(value, dict):
        found += [f"{where}: {name} is missing" for name in schema.get("required", []) if name not in value]
        properties = schema.get("properties", {})
        for name, inner in value.items():
            if name in properties:
                found += faults(inner, properties[name], root, f"{where}.{name}")
            elif schema.get("additionalProperties") is False:
                found.append(f"{where}: {name} is not listed")
    if isinstance(value, list) and "items" in schema:
        for number, inner in enumerate(value):
            found += faults(inner, schema["items"], root, f"{where}[{number}]")
    if isinstance(value, str) and "pattern" in schema and not re.search(schema["pattern"], value):
        found.append(f"{where}: {value!r} does not match {schema['pattern']}")
    return found


def no_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """For json.loads(object_pairs_hook=...): a name that stands twice is an error."""
    names = [name for name, _ in pairs]
    if len(set(names)) != len(names):
        raise ValueError(f"a name stands twice: {names}")
    return dict(pairs)
