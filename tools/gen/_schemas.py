"""Schemas of what the server takes and gives beside answers."""
from __future__ import annotations

from typing import Any

HEX = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
ID = {"type": "string", "pattern": "^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"}
COUNT = {"type": "integer", "minimum": 0}
ROLE = {"enum": ["reader", "tester", "technician", "owner"]}


def closed(needed: dict[str, Any], maybe: dict[str, Any] | None = None) -> dict[str, Any]:
    """An object with these members and no others."""
    return {"type": "object", "additionalProperties": False, "required": list(needed), "properties": {**needed, **(maybe or {})}}


SCHEMAS: dict[str, Any] = {
    "problem": {"type": "object", "required": ["type", "title", "status"], "properties": {
        "type": {"type": "string", "pattern": "^urn:tubwright:problem:[a-z-]+$"}, "title": {"type": "string"},
        "status": {"type": "integer"}, "detail": {"type": "string"}}},
}

BODIES: dict[str, Any] = {
    "lines": {"application/jsonl": {"schema": {"type": "string"}}},
    "credentials": {"application/json": {"schema": {"type": "object"}}},
    "person": {"application/json": {"schema": {"type": "object"}}},
    "lid": {"application/json": {"schema": {"type": "object"}}},
}
