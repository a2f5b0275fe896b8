"""What a delivered file says and leaves open, as rows of texts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any

from lapel.assessment.delivered_results import is_not_analysed_note, not_analysed_of
from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.role_words import MEANINGS
from lapel.exchange.laboratory.session import ReadReport
from lapel.exchange.laboratory.unit_words import LOST
from lapel.figures import percent, significant
from lapel.records.models import DeliveredFile

MOST_WITHOUT = 200
"""Results a file has none for that are shown on its page; the rest is counted."""


def column_rows(read: ReadReport) -> list[dict[str, Any]]:
    """Every column of every table that is used, with what it is taken for, how surely, and why."""
    rows = []
    for table in read.proposal.tables:
        for column in table.columns:
            if column.role == "other" and not column.heading:
                continue
            rows.append(
                {
                    "heading": column.heading or "(no heading)",
                    "role": _taken_for(column),
                    "unit": _unit(column),
                    "agent": column.agent,
                    "sure": percent(column.confidence),
                    "unsure": column.confidence < 0.9 and column.role != "other",
                    "evidence": column.evidence,
                    "cells": column.cells[:3],
                }
            )
    return rows


def result_rows(read: ReadReport) -> list[dict[str, str]]:
    """Every result that would be taken over, beside the cells it was read from."""
    names = {key: agent.name for key, agent in read.survey.agents.items()}
    printed = {(came.origin, came.agent): came.printed for came in read.proposal.results}
    file = read.proposal.file.name
    rows = []
    for result in read.results:
        rows.append(
            {
                "sampler": result.sampler,
                "agent": names.get(result.agent, result.agent),
                "front": _mass(result.front_ug, result.front_below),
                "back": "–" if result.back_ug is None else _mass(result.back_ug, result.back_below),
                "as_printed": printed.get((result.origin, result.agent), ""),
                "where": result.origin.removeprefix(file).removeprefix(", ") or file,
            }
        )
    return rows


def replaced_by(files: Iterable[DeliveredFile]) -> dict[int, int]:
    """Give for each file, by its number, the version of its report that came in its place; none for those in force."""
    by_report: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for file in files:
        if file.report_id is not None:
            by_report[file.report_id].append((file.version, file.pk))
    return {pk: later for versions in by_report.values() for (_, pk), (later, _) in pairwise(sorted(versions))}


def lost_rows(read: ReadReport) -> list[dict[str, str]]:
    """What the laboratory has no result for, and why; it would be kept with the results."""
    names = {key: agent.name for key, agent in read.survey.agents.items()}
    return [
        {"sampler": sampler, "agent": names.get(agent, agent), "why": why}
        for sampler, agent, why in read.lost[:MOST_WITHOUT]
    ]


def not_analysed_rows(notes: Mapping[str, str], names: Mapping[str, str]) -> list[dict[str, str]]:
    """Why a laboratory has no result, by sampler and agent, from a survey's notes and the names of its agents."""
    rows = []
    for key, why in notes.items():
        if is_not_analysed_note(key):
            sampler, agent = not_analysed_of(key)
            rows.append({"sampler": sampler, "agent": names.get(agent, agent), "why": why})
    return rows


def matter_rows(read: ReadReport) -> dict[str, list[Any]]:
    """Matters by weight: to be settled, to be asked, to be known."""
    if read.reconciliation is None:
        return {}
    return {
        weight: [
            {"sampler": matter.sampler, "found": matter.found.rstrip("."), "wanted": matter.wanted.rstrip(".")}
            for matter in read.reconciliation.of_weight(weight)
        ]
        for weight in ("settle", "ask", "note")
    }


def headings(read: ReadReport) -> list[str]:
    """Headings of the columns, each once: of these a person may say what they hold."""
    found = (column.heading for table in read.proposal.tables for column in table.columns if not column.sampler)
    return list(dict.fromkeys(filter(None, found)))


def named_samplers(read: ReadReport) -> list[str]:
    """Samplers of the survey that a name of this file may stand for: those no other name stands for by its code."""
    if read.reconciliation is None:
        return []
    taken = {match.sampler for match in read.reconciliation.matches if match.how != "near"}
    ours = dict.fromkeys((*read.reconciliation.in_scope, *read.survey.orders))
    return [code for code in ours if code not in taken]


def _taken_for(column: ColumnMap) -> str:
    words = MEANINGS[column.role]
    return f"{words}, {column.section} section" if column.section and column.role not in ("front", "back") else words


def _unit(column: ColumnMap) -> str:
    if column.unit is None:
        return ""
    if column.unit == LOST:
        return "not readable"
    return {"ug": "µg", "ug/m3": "µg/m³", "mg/m3": "mg/m³", "m3": "m³", "1": "a share of 1"}.get(
        column.unit.name, column.unit.name
    )


def _mass(value: float, below: bool) -> str:
    return f"{'< ' if below else ''}{significant(value)}"
