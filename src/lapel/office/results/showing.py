"""What a delivered file says and leaves open, as rows of texts."""

from __future__ import annotations

from typing import Any

from lapel.exchange.laboratory.session import ReadReport
from lapel.figures import percent, significant


def column_rows(read: ReadReport) -> list[dict[str, Any]]:
    """Every column of every table that is used, with what it is taken for, how surely, and why."""
    rows = []
    for table in read.proposal.tables:
        for column in table.columns:
            if column.role == "other" and not column.heading:
                continue
            unit = f", {column.unit.text}" if column.unit is not None and hasattr(column.unit, "text") else ""
            rows.append(
                {
                    "heading": column.heading or "(no heading)",
                    "role": column.role + (f", {column.section}" if column.section else "") + unit,
                    "agent": column.agent,
                    "sure": percent(column.confidence),
                    "unsure": column.confidence < 0.9 and column.role != "other",
                    "evidence": column.evidence,
                    "cells": "; ".join(column.cells[:3]),
                }
            )
    return rows


def result_rows(read: ReadReport) -> list[dict[str, str]]:
    """Every result that would be taken over, beside the cells it was read from."""
    names = {key: agent.name for key, agent in read.survey.agents.items()}
    printed = {(r.sampler, r.agent): r for r in read.proposal.results}
    codes = {m.sampler: m.printed for m in read.reconciliation.matches} if read.reconciliation else {}
    rows = []
    for result in read.results:
        came = printed.get((codes.get(result.sampler, result.sampler), result.agent))
        rows.append(
            {
                "sampler": result.sampler,
                "agent": names.get(result.agent, result.agent),
                "front": _mass(result.front_ug, result.front_below),
                "back": "–" if result.back_ug is None else _mass(result.back_ug, result.back_below),
                "as_printed": str(getattr(came, "printed", "") or ""),
                "where": result.origin,
            }
        )
    return rows


def matter_rows(read: ReadReport) -> dict[str, list[Any]]:
    """Matters by weight: to be settled, to be asked, to be known."""
    if read.reconciliation is None:
        return {}
    return {weight: list(read.reconciliation.of_weight(weight)) for weight in ("settle", "ask", "note")}


def _mass(value: float, below: bool) -> str:
    return f"{'< ' if below else ''}{significant(value)} µg"
