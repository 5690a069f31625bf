"""Schemas of what the server takes and gives beside answers."""
from __future__ import annotations

from typing import Any

HEX = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
ID = {"type": "string", "pattern": "^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"}
COUNT = {"type": "integer", "minimum": 0}
ROLE = {"enum": ["device", "reader", "tester", "technician", "owner"]}
TIME = {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$"}
NUMBER = {"type": "string", "pattern": r"^-?\d+([.,]\d+)?$", "description": "decimal text: its digits tell its resolution"}
QUANTITY = {"type": "string", "description": "of data/sensors.csv"}


def closed(needed: dict[str, Any], maybe: dict[str, Any] | None = None) -> dict[str, Any]:
    """An object with these members and no others."""
    return {"type": "object", "additionalProperties": False, "required": list(needed), "properties": {**needed, **(maybe or {})}}


LID = {"id": {"type": "string", "pattern": "^[0-9a-f]{16}$"}, "tub": ID, "role": ROLE, "until": {"type": "string"}}
LINE = {"type": "string", "description": "the canonical line of an entry, as it is hashed (docs/logbook-format.md)"}
RESULT = closed({"taken": {"enum": ["stored", "had", "refused"]}, "hash": HEX},
                {"writer": ID, "n": COUNT, "newer": {"type": "boolean"}, "ahead_ms": COUNT, "gap": {"type": "boolean"},
                 "forks": {"type": "boolean"}, "other": HEX, "reason": {"type": "string"}, "sentence": {"type": "string"}})

SCHEMAS: dict[str, Any] = {
    "entries": closed({"entries": {"type": "array", "items": closed({"hash": HEX, "line": LINE})}, "next": {"type": "string"},
                       "more": {"type": "boolean"}}),
    "have": closed({"writer": {"type": "string"}, "now_ms": COUNT, "lines": COUNT, "seal": HEX, "cursor": {"type": "string"},
                    "runs": {"type": "array", "items": closed({"writer": ID, "from": COUNT, "n": COUNT, "hash": HEX})}}),
    "results": closed({"stored": COUNT, "had": COUNT, "refused": COUNT, "results": {"type": "array", "items": RESULT}}),
    "session": closed({"needed": {"type": "boolean"}, "signed_in": {"type": "boolean"}},
                      {"role": ROLE, "name": {"type": "string"}, "tub": ID, "token": {"type": "string", "pattern": "^[0-9a-f]{32}$"}}),
    "people": closed({"people": {"type": "array", "items": closed({"name": {"type": "string"}, "role": ROLE})}}),
    "lids": closed({"lids": {"type": "array", "items": closed(LID)}}),
    "new-lid": closed({**LID, "link": {"type": "string", "pattern": "^https?://[^/]+/lid#[0-9a-f]{64}$"}}),
    "sensors": closed({"at": TIME, "sensors": {"type": "array", "items": closed(
        {"device": {"type": "string"}, "quantity": QUANTITY, "at": TIME, "median": NUMBER, "age_s": COUNT, "expires": TIME, "stale": {"type": "boolean"}},
        {"unit": {"type": "string"}, "low": NUMBER, "high": NUMBER, "count": {"type": "string"},
         "now": {**NUMBER, "description": "the median, where it still stands for now"}})}}),
    "pushed": closed({"stored": COUNT, "had": COUNT, "refused": COUNT, "results": {"type": "array", "items": closed(
        {"taken": {"enum": ["stored", "had", "refused"]}},
        {"id": ID, "expires": TIME, "stale": {"type": "boolean"}, "reason": {"type": "string"}, "sentence": {"type": "string"}})}}),
    "problem": {"type": "object", "required": ["type", "title", "status"], "properties": {
        "type": {"type": "string", "pattern": "^urn:tubwright:problem:[a-z-]+$"}, "title": {"type": "string"},
        "status": {"type": "integer"}, "detail": {"type": "string"}}},
}

BODIES: dict[str, Any] = {
    "lines": {"application/jsonl": {"schema": {"type": "string"}},
              "application/json": {"schema": {"type": "object", "required": ["entries"], "properties": {
                  "entries": {"type": "array", "items": {"type": "object", "required": ["line"], "properties": {"line": LINE, "hash": HEX}}},
                  "writer": ID, "now_ms": COUNT}}}},
    "credentials": {"application/json": {"schema": {"oneOf": [
        closed({"name": {"type": "string"}, "passphrase": {"type": "string"}}), closed({"lid": HEX})]}}},
    "person": {"application/json": {"schema": closed({"name": {"type": "string"}, "role": ROLE,
                                                      "passphrase": {"type": "string", "minLength": 10, "maxLength": 200}})}},
    "lid": {"application/json": {"schema": closed({"tub": ID, "role": {"enum": ["device", "reader", "tester", "technician"]}},
                                                  {"hours": {"type": "integer", "minimum": 1, "maximum": 8760}})}},
    "hours": {"application/json": {"schema": closed({"device": {"type": "string", "minLength": 1, "maxLength": 40},
                                                     "hours": {"type": "array", "maxItems": 200, "items": closed(
        {"quantity": QUANTITY, "at": {**TIME, "description": "the full hour"}, "median": NUMBER},
        {"low": NUMBER, "high": NUMBER, "count": {"type": "string"}, "unit": {"type": "string"}})}})}},
}
