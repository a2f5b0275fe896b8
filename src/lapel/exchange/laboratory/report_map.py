"""
The map of a laboratory's reports: what a person has decided about how they are read, kept as data.

One part holds for every report of that laboratory and is remembered; the part `report` holds for one report alone.
Every question has a key that names its place in this map, such as ``decimal_mark`` or ``units.mass``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from copy import deepcopy
from typing import Any, get_args

from lapel.exchange.laboratory.role_words import Role
from lapel.exchange.problems import InputProblem, InputProblems, Place, did_you_mean, quoted

FORMAT = "lapel laboratory map 1"

_TEXT: dict[str, Any] = {"type": "string"}
_TEXTS: dict[str, Any] = {"type": "object", "additionalProperties": {"type": "string"}}
_DAY: dict[str, Any] = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
_CORRECTOR: dict[str, Any] = {"enum": ["laboratory", "nobody"]}
_ROLES = list(get_args(Role))

SCHEMA: dict[str, Any] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "Map of a laboratory's reports",
    "description": "How one laboratory's files are read, as a person confirmed it. Written and read by `lapel "
    "results`.",
    "type": "object",
    "required": ["format"],
    "additionalProperties": False,
    "properties": {
        "format": {"const": FORMAT},
        "laboratory": {**_TEXT, "description": "who analysed"},
        "columns": {
            "type": "object",
            "description": "by heading, as joined from all its lines with “ | ”: what the column holds",
            "additionalProperties": {
                "type": "object",
                "additionalProperties": False,
                "properties": {
                    "role": {"enum": _ROLES},
                    "agent": {**_TEXT, "description": "key of the agent the column is about"},
                    "section": {"enum": ["", "front", "back"]},
                    "unit": {**_TEXT, "description": "unit of the column where its heading states none"},
                },
            },
        },
        "units": {
            **_TEXTS,
            "description": "by kind (mass, concentration, volume, recovery, uncertainty): unit where none is stated",
            "propertyNames": {"enum": ["mass", "concentration", "volume", "recovery", "uncertainty"]},
        },
        "decimal_mark": {"enum": ["point", "comma"], "description": "the other mark then stands between thousands"},
        "day_order": {"enum": ["day first", "month first", "year first"]},
        "words": {
            "type": "object",
            "description": "words in result cells that are not the trade's, in lower case, and what they mean",
            "additionalProperties": {"enum": ["not detected", "trace", "not analysed", "absent"]},
        },
        "agents": {**_TEXTS, "description": "names as printed, and the survey's key; empty for one that is not used"},
        "table_agents": {**_TEXTS, "description": "by sheet: the agent a whole sheet is about, by key"},
        "sections": {
            "type": "object",
            "description": "marks of sections, such as A and B",
            "additionalProperties": {"enum": ["front", "back", "none"]},
        },
        "reporting_limits": {**_TEXTS, "description": "by agent, with unit: limit meant by “not detected”"},
        "ignored_sheets": {"type": "array", "items": _TEXT},
        "uncertainty_factor": {"type": "number", "minimum": 1, "maximum": 4},
        "mass_from_concentration": {
            "enum": ["yes", "no"],
            "description": "whether mass is concentration times the laboratory's volume where no mass is printed",
        },
        "recovery_corrected_by": {**_CORRECTOR, "description": "who divided by the recovery"},
        "blank_corrected_by": {**_CORRECTOR, "description": "who took the blank off"},
        "report": {
            "type": "object",
            "description": "what holds for one report alone; not remembered",
            "additionalProperties": False,
            "properties": {
                "code": {**_TEXT, "description": "the report's number"},
                "received_on": _DAY,
                "samples_received_on": _DAY,
                "receipt_temperature": {"type": "number"},
                "receipt_temperature_unit": {"enum": ["°C", "°F", "K"]},
                "samplers": {**_TEXTS, "description": "names as printed, and our code as a person confirmed it"},
                "ignored_samplers": {"type": "array", "items": _TEXT},
                "cells": {**_TEXTS, "description": "by address: what a person says a doubtful cell holds"},
                "file": _TEXT,
                "sha256": _TEXT,
            },
        },
    },
}
"""JSON Schema of a map; published as docs/reference/laboratory-map.schema.json."""

NOT_REMEMBERED = ("report",)
_NUMBERS = ("uncertainty_factor", "report.receipt_temperature")
_LISTS = ("ignored_sheets", "report.ignored_samplers")

ReportMap = dict[str, Any]


def empty_map() -> ReportMap:
    """Return a map in which nothing is decided."""
    return {"format": FORMAT}


def checked_map(data: object, name: str) -> ReportMap:
    """
    Check a map against its schema.

    Raises
    ------
    InputProblems
        Every place where it is not one.
    """
    import jsonschema  # only those who bring a map pay for it

    faults = []
    for problem in jsonschema.Draft202012Validator(SCHEMA).iter_errors(data):
        where = ".".join(map(str, problem.absolute_path))
        faults.append(
            InputProblem(
                Place(name, None, where),
                problem.message[:200],
                "a map as docs/reference/laboratory-map.md describes it",
                "Correct it there.",
            )
        )
    if faults:
        raise InputProblems(faults)
    checked: ReportMap = deepcopy(data) if isinstance(data, dict) else {}
    return checked


def map_from_text(text: str, name: str) -> ReportMap:
    """
    Read a map.

    Raises
    ------
    InputProblems
        It is no JSON, or no map.
    """
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise InputProblems(
            [InputProblem(Place(name), f"text that is not JSON ({problem})", "a map", "Correct it.")]
        ) from problem
    return checked_map(data, name)


def map_text(report_map: Mapping[str, Any]) -> str:
    """Write a map."""
    return json.dumps(report_map, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def remembered(report_map: Mapping[str, Any]) -> ReportMap:
    """Return the part of a map that holds for the laboratory's next report."""
    return {key: deepcopy(value) for key, value in report_map.items() if key not in NOT_REMEMBERED}


def with_answer(report_map: Mapping[str, Any], key: str, answer: str) -> ReportMap:
    """
    Return a map with one question answered.

    Parameters
    ----------
    key : str
        As the question names it, such as “units.mass”; after the first point, or the second within ``report`` and
        ``columns``, all that follows is a name as printed.
    answer : str
        A choice of the question, or a text.

    Raises
    ------
    InputProblems
        There is no such key, or the answer is none it can have.
    """
    changed = deepcopy(dict(report_map))
    parts = key.split(".", 2 if key.startswith("report.") else 1)
    at = changed
    known = SCHEMA["properties"]
    for depth, part in enumerate(parts[:-1]):
        if depth == 0 and part not in known:
            break
        at = at.setdefault(part, {})
    first = parts[0]
    if first not in known or first == "format":
        raise _no_such(key, known)
    if key in _LISTS:
        at.setdefault(parts[-1], []).append(answer)
    elif first == "columns":
        heading, _, kind = parts[-1].rpartition("#")
        if kind in ("agent", "section", "unit"):
            at.setdefault(heading, {})[kind] = answer
        else:
            at.setdefault(parts[-1], {})["role"] = answer
    else:
        at[parts[-1]] = float(answer) if key in _NUMBERS and _is_float(answer) else answer
    return checked_map(changed, "answer")


def _is_float(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _no_such(key: str, known: Mapping[str, object]) -> InputProblems:
    return InputProblems(
        [
            InputProblem(
                Place("answer", None, key),
                f"the key {quoted(key)}",
                "the key of a question, as it is printed with it",
                did_you_mean(key, known) + f"Keys begin with one of {', '.join(sorted(known))}.",
            )
        ]
    )
