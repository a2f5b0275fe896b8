"""
JSON Schemas of the survey folder's files, made from its layout.

A table's schema describes its rows as objects of texts, as a CSV reader gives them with the empty cells left out; a
document's describes the TOML document as JSON. They hold what a single cell or key must look like; what files say of
each other (codes, units beside numbers, clock changes) only the reader checks.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapel.exchange.plan_folder.layout import HAND, PLAN, PLAN_TABLES
from lapel.exchange.survey_folder.cells import range_text
from lapel.exchange.survey_folder.columns import Column, Document, Table
from lapel.exchange.survey_folder.layout import LABORATORY, SURVEY, TABLES
from lapel.exchange.survey_folder.log_layout import log_tables
from lapel.fieldlog import KINDS

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_NUMBER = r"^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,2})?$"
_DAY = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_PATTERNS = {
    "code": r"^[^\s;,]{1,64}$",
    "number": _NUMBER,
    "quantity": _NUMBER,
    "whole number": r"^\+?[0-9]{1,9}(\.0*)?$",
    "date": f"^{_DAY}$",
    "date-time": rf"^{_DAY}[T ][0-9]{{2}}:[0-9]{{2}}(:[0-9]{{2}}(\.[0-9]{{1,6}})?)?(Z|[+-][0-9]{{2}}:[0-9]{{2}})?$",
    "port": "^[A-Z]$",
    "sha256": "^[0-9a-f]{64}$",
}


def schema_names() -> Mapping[str, Table | Document | None]:
    """Return the published schemas by file name, and what each describes; the device entry has no table."""
    named: dict[str, Table | Document | None] = {
        "survey.schema.json": SURVEY,
        "laboratory.schema.json": LABORATORY,
        "log-device-entry.schema.json": None,
        "plan.schema.json": PLAN,
        "plan-by-hand.schema.json": HAND,
    }
    for table in (*TABLES, *PLAN_TABLES, *log_tables().values()):
        named[table.file.removesuffix(".csv").replace("/", "-") + ".schema.json"] = table
    return dict(sorted(named.items()))


def schema_of(part: Table | Document | None) -> dict[str, Any]:
    """Return the schema of a table's rows, of a document, or (for None) of one line of a device file."""
    if isinstance(part, Table):
        return _table_schema(part)
    return _document_schema(part) if isinstance(part, Document) else _device_schema()


def _table_schema(table: Table) -> dict[str, Any]:
    row = {
        "type": "object",
        "properties": {column.name: _cell(column) for column in table.columns},
        "required": [column.name for column in table.columns if column.needed],
        "additionalProperties": False,
    }
    return {"$schema": DRAFT, "title": table.file, "description": table.about, "type": "array", "items": row}


def _cell(column: Column) -> dict[str, Any]:
    cell: dict[str, Any] = {"type": "string", "description": described(column)}
    if column.type == "yes or no":
        cell["enum"] = ["yes", "no"]
    elif column.type == "word":
        cell["enum"] = list(column.words)
    elif column.type in _PATTERNS:
        cell["pattern"] = _PATTERNS[column.type]
    else:
        cell["minLength"] = 1
    if column.default:
        cell["default"] = column.default
    return cell


def described(column: Column) -> str:
    """Say what a column holds, its plausible range, its unit and what it refers to, in one line."""
    parts = [column.about]
    if column.type in ("number", "whole number", "quantity") and range_text(column):
        parts.append(f"plausible: {range_text(column)}")
    if column.unit_in:
        parts.append(f"its unit stands in {column.unit_in}")
    if column.type == "unit" and column.words:
        parts.append("one of " + ", ".join(column.words))
    if column.refers:
        parts.append(f"stands in {column.refers}")
    return "; ".join(parts)


def _document_schema(document: Document) -> dict[str, Any]:
    top: dict[str, Any] = {}
    sections: dict[str, dict[str, Any]] = {}
    needed: list[str] = []
    for column in document.columns:
        section, dot, key = column.name.partition(".")
        if dot:
            inner = sections.setdefault(
                section, {"type": "object", "properties": {}, "required": [], "additionalProperties": False}
            )
            inner["properties"][key] = _value(column)
            if column.needed:
                inner["required"].append(key)
        else:
            top[column.name] = _value(column)
            if column.needed:
                needed.append(column.name)
    for section, inner in sections.items():
        top[section] = inner
        if inner["required"]:
            needed.append(section)
    for section in document.free:
        top[section] = {"type": "object"}
    return {
        "$schema": DRAFT,
        "title": document.file,
        "description": document.about,
        "type": "object",
        "properties": top,
        "required": needed,
        "additionalProperties": False,
    }


def _value(column: Column) -> dict[str, Any]:
    cell = _cell(column)
    if column.type in ("number", "whole number", "quantity"):
        cell["type"] = ["number", "string"]
        if column.type != "quantity" and column.high is not None:
            cell["maximum"] = column.high
        if column.type != "quantity" and column.low is not None:
            cell["exclusiveMinimum" if column.above else "minimum"] = column.low
    elif column.type in ("codes", "words"):
        cell = {
            "description": cell["description"],
            "oneOf": [{"type": "string", "minLength": 1}, {"type": "array", "items": {"type": "string"}}],
        }
    elif column.type == "yes or no":
        cell = {"description": cell["description"], "enum": ["yes", "no", True, False]}
    return cell


def _device_schema() -> dict[str, Any]:
    text = {"type": ["string", "null"]}
    return {
        "$schema": DRAFT,
        "title": "log/*.jsonl, one line",
        "description": "One entry as a device recorded it; its hash is over exactly these fields.",
        "type": "object",
        "properties": {
            "id": {"type": "string", "minLength": 1},
            "kind": {"enum": list(KINDS)},
            "at": {"type": "string", "description": "date and time with offset"},
            "device": {"type": "string", "minLength": 1},
            "sequence": {"type": "integer", "minimum": 0},
            "author": {"type": "string"},
            "fields": {"type": "object", "additionalProperties": text},
            "corrects": text,
            "reason": text,
            "received_at": text,
            "previous_hash": text,
            "hash": text,
        },
        "required": ["id", "kind", "at", "device", "fields"],
        "additionalProperties": False,
    }
