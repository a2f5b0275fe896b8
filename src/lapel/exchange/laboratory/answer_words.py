"""The answers of a map in words: what was asked, and what was said, one row an answer."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeAlias

from lapel.exchange.laboratory.expectations import NOT_USED
from lapel.exchange.laboratory.report_map import FORMAT
from lapel.exchange.laboratory.role_words import MEANINGS
from lapel.figures import display_unit

AnswerRows: TypeAlias = dict[str, tuple[str, str]]
"""By its place in the map: what was asked, and what was said."""

_UNITS = {"m3": "m³", "1": "a fraction", "%": "per cent"}
"""Units that read otherwise in an answer than beside a number."""

_CORRECTORS = {"laboratory": "the laboratory", "nobody": "nobody yet"}
_SECTIONS = {"front": "the front section", "back": "the back section", "none": "no section, or part of the code"}
_NONE_OF_THEM = "none of them; not used"

ONE: Mapping[str, str] = {
    "laboratory": "Laboratory that sent it",
    "decimal_mark": "Mark before the decimals",
    "day_order": "What comes first in a day",
    "uncertainty_factor": "Coverage factor k of the printed uncertainty",
    "mass_from_concentration": "Mass is the printed concentration times the laboratory's volume",
    "recovery_corrected_by": "Who divided by the recovery",
    "blank_corrected_by": "Who took the blank off",
    "ignored_sheets": "Sheets that are not looked at",
    "report.code": "Number of the report",
    "report.received_on": "Day the report came",
    "report.samples_received_on": "Day the samples came to the laboratory",
    "report.receipt_temperature": "Temperature of the samples at receipt",
    "report.receipt_temperature_unit": "Its unit",
    "report.ignored_samplers": "Names that are none of our samplers",
    "report.file": "File",
    "report.sha256": "SHA-256 of the file",
}
"""Questions asked once, by their place in the map."""

NAMED: Mapping[str, str] = {
    "units": "Unit of the {name}, where none stands with it",
    "words": "What “{name}” stands for",
    "agents": "Agent that “{name}” is",
    "table_agents": "Agent the sheet {name} is about",
    "sections": "Section of the sampler that “{name}” is",
    "reporting_limits": "Mass below which {name} is “not detected”",
    "report.samplers": "Our sampler that “{name}” is",
    "report.cells": "What the cell at {name} says",
}
"""Questions asked for each name as printed, by the part of the map they stand in."""

OF_A_COLUMN: Mapping[str, str] = {
    "role": "What the column headed “{name}” holds",
    "agent": "Agent the column headed “{name}” is about",
    "section": "Section the column headed “{name}” is about",
    "unit": "Unit of the column headed “{name}”",
}

_SAID: Mapping[str, Callable[[str], str]] = {
    "role": lambda text: MEANINGS.get(text, text),  # type: ignore[call-overload]  # a stored text may be any
    "section": lambda text: _SECTIONS.get(text, text),
    "sections": lambda text: _SECTIONS.get(text, text),
    "unit": lambda text: _UNITS.get(text) or display_unit(text),
    "units": lambda text: _UNITS.get(text) or display_unit(text),
    "recovery_corrected_by": lambda text: _CORRECTORS.get(text, text),
    "blank_corrected_by": lambda text: _CORRECTORS.get(text, text),
    "agent": lambda text: _NONE_OF_THEM if text in ("", NOT_USED) else text,
    "agents": lambda text: _NONE_OF_THEM if text in ("", NOT_USED) else text,
    "table_agents": lambda text: _NONE_OF_THEM if text in ("", NOT_USED) else text,
}
"""How an answer reads, by the last part of its place that is no name as printed."""


def answers_in_words(report_map: Mapping[str, Any]) -> AnswerRows:
    """
    Say what was answered, in the order of the map.

    Parameters
    ----------
    report_map : mapping
        Any map, also one of another version: a key nobody knows here is shown as it is, with what stands there.
    """
    return {place: (asked, said) for place, asked, said in _rows(report_map)}


def _rows(report_map: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    for part, said in report_map.items():
        if part == "columns" and isinstance(said, Mapping):
            for heading, about in said.items():
                yield from _of_a_column(heading, about)
        elif part == "report" and isinstance(said, Mapping):
            for key, of_report in said.items():
                yield from _part(f"report.{key}", of_report)
        elif part != "format" or said != FORMAT:
            yield from _part(part, said)


def _part(part: str, said: Any) -> Iterator[tuple[str, str, str]]:
    if part in NAMED and isinstance(said, Mapping):
        for name, one in said.items():
            yield f"{part}.{name}", NAMED[part].format(name=name), _text(part, one)
    else:
        yield part, ONE.get(part, part), _text(part, said)


def _of_a_column(heading: str, about: Any) -> Iterator[tuple[str, str, str]]:
    if not isinstance(about, Mapping):
        yield f"columns.{heading}", f"columns, {heading}", _text("columns", about)
        return
    for kind, said in about.items():
        asked = OF_A_COLUMN[kind].format(name=heading) if kind in OF_A_COLUMN else f"columns, {heading}, {kind}"
        yield f"columns.{heading}#{kind}", asked, _text(kind, said)


def _text(kind: str, said: Any) -> str:
    if isinstance(said, str):
        return _SAID.get(kind, str)(said) or "left empty"
    if isinstance(said, list) and all(isinstance(one, str) for one in said):
        return ", ".join(said) or "left empty"
    if isinstance(said, float) and said.is_integer():
        return str(int(said))
    return json.dumps(said, ensure_ascii=False)
