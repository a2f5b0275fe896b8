"""Blanks by lot: which field blanks belong to a sample, and the mean mass found on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import TypeAlias

from lapel.assessment.inputs import LaboratoryResult, Survey
from lapel.assessment.origins import row_of_report
from lapel.assessment.sample_facts import BatchBlanks
from lapel.fieldlog.state import BlankRun, Day, SampleRun
from lapel.figures import Figure, reading
from lapel.hygiene import mean_blank
from lapel.said import said

PooledBlanks: TypeAlias = tuple[Figure | None, list[Figure]]
"""Mean mass of a set of blanks, and the mass on each."""


class Blanks:
    """
    The blanks of a survey.

    Parameters
    ----------
    results : mapping of (str, str) to list of LaboratoryResult
        By sampler and agent, the latest last.
    earlier : Blanks, optional
        Those of an earlier state of the survey: what was pooled of the same results is not pooled again.
    """

    def __init__(
        self,
        survey: Survey,
        day: Day,
        results: Mapping[tuple[str, str], list[LaboratoryResult]],
        *,
        earlier: Blanks | None = None,
    ) -> None:
        self._results = results
        self._lots = _samplers_by_lot(survey, day)
        self._blanks_by_lot = _blanks_by_lot(day)
        self._batches: dict[tuple[str, str], BatchBlanks] = {}
        self._masses: dict[tuple[str, str], Figure | None] = {}
        self._pooled: dict[tuple[LaboratoryResult, ...], PooledBlanks] = earlier._pooled if earlier else {}

    def of(self, run: SampleRun | None, agent: str) -> BatchBlanks:
        """Return the field blanks of a run's lot, or of its medium where no lot is known."""
        lot = (run.lot or run.medium) if run else ""
        key = (lot, agent)
        if key not in self._batches:
            field = [blank for blank in self._blanks_by_lot.get(lot, ()) if blank.use in ("", "field")]
            rows = tuple(found[-1] for blank in field if (found := self._results.get((blank.blank, agent))))
            if rows not in self._pooled:
                masses = [mass for row in rows if (mass := self.mass(row.sampler, agent)) is not None]
                self._pooled[rows] = (mean_blank(masses) if masses else None, masses)
            pooled, masses = self._pooled[rows]
            self._batches[key] = BatchBlanks(pooled, masses, len(self._lots.get(lot, ())))
        return self._batches[key]

    def mass(self, blank: str, agent: str) -> Figure | None:
        """Return the mass on a blank as last reported; what is below its limit is at most that limit."""
        key = (blank, agent)
        if key not in self._masses:
            self._masses[key] = self._mass(blank, agent)
        return self._masses[key]

    def _mass(self, blank: str, agent: str) -> Figure | None:
        found = self._results.get((blank, agent))
        if not found:
            return None
        result = found[-1]
        mass = 0.0 if result.front_below else result.front_ug
        mass += 0.0 if result.back_ug is None or result.back_below else result.back_ug
        below = result.front_below and (result.back_ug is None or result.back_below)
        return reading(
            result.front_ug if below else mass,
            "ug",
            name=said("blank {blank}", blank=blank),
            sense="at most" if below else "exactly",
            source=row_of_report(result.report, result.origin),
        )


def _samplers_by_lot(survey: Survey, day: Day) -> dict[str, list[str]]:
    lots: dict[str, list[str]] = defaultdict(list)
    for sampler in survey.orders:
        run = day.runs.get(sampler)
        if run is not None:
            lots[run.lot or run.medium].append(sampler)
    return lots


def _blanks_by_lot(day: Day) -> Mapping[str, list[BlankRun]]:
    lots: dict[str, list[BlankRun]] = defaultdict(list)
    for blank in day.blanks.values():
        lots[blank.lot or blank.medium].append(blank)
    return lots
