"""What holds for a whole report: its number, laboratory and days, and who corrected its results for what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.statements import Statements, temperature


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """
    What holds for a whole report; None and empty where the report does not say and nobody was asked yet.

    Attributes
    ----------
    evidence : mapping of str to str
        By name of the fact: where it stands, or that a person said so.
    """

    code: str
    laboratory: str
    received_on: date | None
    samples_received_on: date | None
    receipt_temperature: str
    receipt_temperature_unit: str
    recovery_corrected_by: str
    blank_corrected_by: str
    uncertainty_factor: float | None
    evidence: Mapping[str, str]


def facts_of(says: Statements, report_map: Mapping[str, Any], asked: Asked) -> ReportFacts:
    """
    Say what holds for a whole report: as a person said, else as the report states.

    Where both say who corrected its results, and not the same, that is asked.
    """
    told = report_map.get("report", {})
    evidence: dict[str, str] = {}

    def fact(name: str, said: object) -> str:
        if said:
            evidence[name] = "a person said so"
            return str(said)
        value, where = says.says(name)
        if value:
            evidence[name] = where
        return value

    received, arrived = (
        fact("received_on", told.get("received_on")),
        fact("samples_received_on", told.get("samples_received_on")),
    )
    degrees = told.get("receipt_temperature")
    warm = temperature(says.says("receipt_temperature")[0]) if degrees is None else None
    corrected = {}
    for what in ("recovery", "blank"):
        said = report_map.get(f"{what}_corrected_by")
        stated, where = says.corrected_by(what)
        if said and stated and said != stated:
            asked.ask(
                f"{what}_corrected_by",
                f"Who corrected for {what}? The map says {said}, this report says {stated}.",
                (("laboratory", ""), ("nobody", "")),
                where=where,
            )
        corrected[what] = said or stated
        evidence[f"{what}_corrected_by"] = "a person said so" if said else where
    factor = report_map.get("uncertainty_factor")
    if factor is None and len(says.factors) == 1:
        factor, evidence["uncertainty_factor"] = next(iter(says.factors.items()))
    return ReportFacts(
        code=fact("code", told.get("code")),
        laboratory=fact("laboratory", report_map.get("laboratory")),
        received_on=_iso(received),
        samples_received_on=_iso(arrived),
        receipt_temperature=str(degrees) if degrees is not None else warm[0] if warm else "",
        receipt_temperature_unit=told.get("receipt_temperature_unit", "") or (warm[1] if warm else ""),
        recovery_corrected_by=corrected["recovery"],
        blank_corrected_by=corrected["blank"],
        uncertainty_factor=factor,
        evidence=evidence,
    )


def ask_facts(facts: ReportFacts, says: Statements, asked: Asked) -> None:
    """Ask for what every report with results needs and this one does not say."""
    if not facts.code:
        asked.ask("report.code", "What is the report's number?")
    if not facts.laboratory:
        asked.ask("laboratory", "Which laboratory sent it?")
    if facts.received_on is None:
        asked.ask(
            "report.received_on",
            "On which day did the report come? Write year-month-day, as in 2026-05-04.",
            cells=(says.says("received_on")[0],),
        )
    for what, wanted in (("recovery", "divided by the recovery"), ("blank", "taken the blank off")):
        if not getattr(facts, f"{what}_corrected_by"):
            asked.ask(
                f"{what}_corrected_by",
                f"Has the laboratory {wanted}? The report does not say, and it must not be done twice or never.",
                (("laboratory", "yes, the laboratory has"), ("nobody", "no, nobody has yet")),
            )


def _iso(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
