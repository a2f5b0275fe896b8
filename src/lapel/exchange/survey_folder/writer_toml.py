"""survey.toml, and the document of a laboratory report that is written in our own columns."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from lapel.assessment.inputs import LaboratoryReport, Survey
from lapel.exchange.survey_folder.own_table import UNITS
from lapel.exchange.survey_folder.writer_cells import celsius, number

Value = str | date | int | bool | list[str]

_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def survey_document(survey: Survey) -> str:
    """Write survey.toml."""
    site = survey.site
    heads: dict[str, Value] = {
        "title": survey.title,
        "purpose": survey.purpose,
        "prepared_by": survey.prepared_by,
        "assessed_on": survey.assessed_on,
        "rule_book": survey.rule_book,
    }
    if survey.compared_rule_books:
        heads["compared_rule_books"] = list(survey.compared_rule_books)
    place: dict[str, Value] = {"name": site.name, "zone": site.zone}
    if site.area_class:
        place["area_class"] = site.area_class
    if site.air is not None:
        place |= {
            "temperature": celsius(site.air.temperature_k),
            "temperature_unit": "°C",
            "pressure": number(site.air.pressure_kpa),
            "pressure_unit": "kPa",
        }
    return document(heads, {"site": place, "notes": dict(survey.notes)})


def report_document(
    report: LaboratoryReport, file: str, columns: Mapping[str, str], *, as_delivered: tuple[str, str] | None = None
) -> str:
    """
    Write how to read a report in our own columns: canonical units, decimal points, k = 1.

    `as_delivered` is the place of the file as it came, below laboratory/, and its SHA-256.
    """
    heads = report_heads(report, file)
    if as_delivered is not None:
        heads |= {"as_delivered": as_delivered[0], "as_delivered_sha256": as_delivered[1]}
    return document(heads, {"columns": dict(columns), "units": dict(UNITS)})


def report_heads(report: LaboratoryReport, file: str) -> dict[str, Value]:
    """What is said once of a report in our own columns."""
    heads: dict[str, Value] = {
        "code": report.code,
        "laboratory": report.laboratory,
        "file": file,
        "recovery_corrected_by": report.recovery_corrected_by,
        "blank_corrected_by": report.blank_corrected_by,
        "layout": "long",
        "uncertainty_coverage_factor": 1,
    }
    if report.received_on is not None:
        heads["received_on"] = report.received_on
    if report.samples_received_on is not None:
        heads["samples_received_on"] = report.samples_received_on
    if report.receipt_temperature_k is not None:
        heads |= {
            "receipt_temperature": celsius(report.receipt_temperature_k),
            "receipt_temperature_unit": "°C",
        }
    return heads


def document(heads: Mapping[str, Value], sections: Mapping[str, Mapping[str, Value]]) -> str:
    """Write a TOML document of plain values and one level of sections; empty sections are left out."""
    lines = [f"{_key(name)} = {_value(value)}" for name, value in heads.items()]
    for section, values in sections.items():
        if values:
            lines += ["", f"[{_key(section)}]"]
            lines += [f"{_key(name)} = {_value(value)}" for name, value in values.items()]
    return "\n".join(lines) + "\n"


def _value(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return "[" + ", ".join(map(_text, value)) + "]"
    return _text(value)


def _key(name: str) -> str:
    bare = name.isascii() and name.replace("-", "_").isidentifier()
    return name if bare else _text(name)


def _text(text: str) -> str:
    return '"' + "".join(_ESCAPES.get(sign) or _escaped(sign) for sign in text) + '"'


def _escaped(sign: str) -> str:
    return sign if sign.isprintable() else f"\\U{ord(sign):08x}"
