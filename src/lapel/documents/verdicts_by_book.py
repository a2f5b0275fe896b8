"""Every exposure against every limit under several rule books, side by side, as cells."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass

from lapel.assessment.inputs import LimitChoice
from lapel.assessment.results import GRAVEST_FIRST, ShiftResult, ShortTermResult, SurveyAssessment
from lapel.documents import compose
from lapel.documents.cells import NOTHING
from lapel.documents.compose import VerdictRow

NO_VERDICT = "no verdict"
"""What a rule book comes to that lets nothing be compared."""


@dataclass(frozen=True, slots=True)
class ByBook:
    """
    One exposure against one limit.

    Attributes
    ----------
    cells : tuple of (str, str, str)
        For each rule book, the deciding one first: verdict, share of the limit, and what is to be said beside it (the
        limit where it is another one, or why there is no verdict).
    """

    worker: str
    shift: str
    about: str
    limit: str
    cells: tuple[tuple[str, str, str], ...]

    @property
    def differs(self) -> bool:
        """Whether two of the books come to different verdicts."""
        return len({verdict for verdict, _, _ in self.cells}) > 1


def verdicts_by_book(assessments: Sequence[SurveyAssessment]) -> list[ByBook]:
    """
    Hold the verdicts of several rule books beside each other.

    Parameters
    ----------
    assessments : sequence of SurveyAssessment
        Of one survey, each under a book of its own; the deciding one first.

    Returns
    -------
    list of ByBook
        What the books do not agree on first, then the gravest by the deciding book.
    """
    keyed = [dict(_keyed(assessment)) for assessment in assessments]
    places = dict.fromkeys(place for rows in keyed for place in rows)
    whole = {place[:-1] for place in places if place[-1] is not None}
    shown = [place for place in places if place[-1] is not None or place[:-1] not in whole]
    rows = [_row([rows.get(place) or rows.get((*place[:-1], None)) for rows in keyed]) for place in shown]
    return sorted(rows, key=_differing_and_grave_first)


def _differing_and_grave_first(row: ByBook) -> tuple[bool, int]:
    verdict = row.cells[0][0]
    return not row.differs, GRAVEST_FIRST.index(verdict) if verdict in GRAVEST_FIRST else 1


Place = tuple[Hashable, ...]
"""Which exposure, and last the limit: None where nothing could be compared."""


def _keyed(assessment: SurveyAssessment) -> Iterator[tuple[Place, VerdictRow]]:
    for shift in assessment.shifts:
        rows = compose.shift_verdict_rows(assessment, shift)
        for limit, row in zip(_limits(shift), rows, strict=True):
            yield (shift.shift.code, shift.agent.key, "shift", limit), row
    for short in assessment.short_terms:
        rows = compose.short_term_verdict_rows(assessment, short)
        for limit, row in zip(_limits(short), rows, strict=True):
            yield (short.shift.code, short.sample.agent.key, short.sample.sampler, limit), row
    for mixture in assessment.mixtures:
        place: Place = (mixture.shift.code, mixture.effect_group, "mixture", mixture.authority)
        yield place, compose.mixture_verdict_row(assessment, mixture)


def _limits(result: ShiftResult | ShortTermResult) -> Sequence[LimitChoice | None]:
    """Limits of a result's rows, in their order."""
    limits = [limit for limit, _ in result.not_compared] + [verdict.limit for verdict in result.verdicts]
    return limits or [None]


def _row(rows: Sequence[VerdictRow | None]) -> ByBook:
    there = [row for row in rows if row is not None]
    shown = next((row for row in there if row.limit != NOTHING), there[0])
    return ByBook(
        shown.worker,
        shown.shift.partition(",")[0],
        shown.agent,
        shown.limit,
        tuple(_cell(row, shown.limit) for row in rows),
    )


def _cell(row: VerdictRow | None, limit: str) -> tuple[str, str, str]:
    if row is None:
        return (NO_VERDICT, NOTHING, "")
    if row.share == NOTHING:
        return (NO_VERDICT, NOTHING, row.reason)
    return (row.verdict, row.share, row.limit if row.limit != limit else "")
