"""Shifts in the order in which somebody has to act on them, and a line on each for the table that leads to them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from lapel.assessment.results import LimitVerdict, ShiftResult, SurveyAssessment

NEED = ("over", "cannot tell", "not robust", "no verdict", "under")
"""What needs somebody most comes first; “not robust” is an “under” that another defensible choice would change."""


@dataclass(frozen=True, slots=True)
class ShiftLine:
    """
    What one shift comes to.

    `agents` names the agents behind the worst of it, each once; `counts` has the number of comparisons by verdict.
    """

    shift: str
    worker: str
    need: str
    agents: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]

    def counts_of(self, need: str) -> int:
        """Return how many comparisons are so."""
        return dict(self.counts).get(need, 0)

    @property
    def verdict(self) -> str:
        """The word of its chip."""
        return "under" if self.need == "not robust" else self.need


def shifts_by_need(assessment: SurveyAssessment) -> list[ShiftLine]:
    """Return a line a shift, those that are over first, then what cannot be told, then the others by code."""
    found: dict[str, list[ShiftResult]] = {}
    for result in assessment.shifts:
        found.setdefault(result.shift.code, []).append(result)
    lines = [_line(results) for results in found.values()]
    return sorted(lines, key=lambda line: (NEED.index(line.need), -line.counts_of(line.need), line.shift))


def rows_by_need(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put composed verdicts into the same order."""
    return sorted(rows, key=lambda row: NEED.index(_need(row["verdict"], robust=row["robust"] != "no")))


def worst(rows: Sequence[dict[str, Any]]) -> str:
    """Return the word of the chip over some composed verdicts."""
    needs = [_need(row["verdict"], robust=row["robust"] != "no") for row in rows]
    found = min(needs, key=NEED.index, default="no verdict")
    return "under" if found == "not robust" else found


def _line(results: Sequence[ShiftResult]) -> ShiftLine:
    needs = [(need_of(verdict), result.agent.name) for result in results for verdict in result.verdicts]
    needs += [("no verdict", result.agent.name) for result in results if not result.verdicts or result.not_compared]
    need = min((one for one, _ in needs), key=NEED.index)
    counts = tuple((word, sum(1 for one, _ in needs if one == word)) for word in NEED)
    shift = results[0].shift
    return ShiftLine(
        shift.code,
        shift.worker,
        need,
        tuple(dict.fromkeys(agent for one, agent in needs if one == need)),
        tuple((word, many) for word, many in counts if many),
    )


def need_of(verdict: LimitVerdict) -> str:
    """Return how much a comparison needs somebody."""
    return _need(verdict.comparison.verdict, robust=verdict.robust)


def _need(verdict: str, *, robust: bool) -> str:
    if verdict == "under":
        return "under" if robust else "not robust"
    return verdict if verdict in NEED else "no verdict"
