"""What one worker is told: each agent against each limit that binds, in cells, for letters and postings."""

from __future__ import annotations

import hashlib
import hmac
from base64 import b32encode
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Shift
from lapel.assessment.results import ShiftResult, ShortTermResult, SurveyAssessment, Verdict
from lapel.documents.cells import interval_cell, minutes_cell
from lapel.documents.compose import limit_cell, stated_limit_cell
from lapel.figures import Figure

CODE_LETTERS = 4


@dataclass(frozen=True, slots=True)
class ResultForWorker:
    """
    One agent against one limit on one shift; `verdict` is None where there is no result or no limit that binds.

    `limit`, `minutes` and what `result` gives are cells, as on every other page and document.
    """

    shift: Shift
    day: date
    agent: str
    ends: tuple[Figure, Figure] | None
    minutes: str
    limit: str
    verdict: Verdict | None
    qualified: bool
    is_action_level: bool = False
    is_lost: bool = False

    @property
    def result(self) -> str:
        """The result as a cell; empty where there is none."""
        return "" if self.ends is None else interval_cell(*self.ends)


@dataclass(frozen=True, slots=True)
class Everybody:
    """
    What all letters and posted lists of a survey share; read once for many of them.

    Attributes
    ----------
    results : dict of str to list of ResultForWorker
        By worker, from `results_by_worker`.
    codes : dict of str to str
        By worker, from `slip_codes`.
    """

    results: dict[str, list[ResultForWorker]]
    codes: dict[str, str]


def everybody(assessment: SurveyAssessment) -> Everybody:
    """Read what letters and posted lists share."""
    return Everybody(results_by_worker(assessment), slip_codes(assessment))


def results_by_worker(assessment: SurveyAssessment) -> dict[str, list[ResultForWorker]]:
    """Every worker's results against the limits that bind, by the worker's code, in the order of the survey."""
    zone = ZoneInfo(assessment.survey.site.zone)
    found: dict[str, list[ResultForWorker]] = defaultdict(list)
    for result in assessment.shifts:
        found[result.shift.worker] += _of_shift(result, zone)
    for short in assessment.short_terms:
        found[short.shift.worker] += _of_task(short, zone)
    return {code: found[code] for code in assessment.survey.workers if code in found}


def posted_groups(assessment: SurveyAssessment) -> list[str]:
    """Codes of the groups of which somebody has a result."""
    survey = assessment.survey
    found = {
        survey.workers[worker].on(result.day).group
        for worker, results in results_by_worker(assessment).items()
        for result in results
    }
    return [code for code in survey.groups if code in found]


def slip_codes(assessment: SurveyAssessment) -> dict[str, str]:
    """
    Give each worker a code for a posted list, that nobody can work out from the worker's own code.

    It is made from the survey's inputs, which are not posted, so that letter and list agree and no list of codes is
    kept; changed inputs give new codes, with new letters.
    """
    key = assessment.survey.input_sha256.encode() or b"no folder"
    for length in range(CODE_LETTERS, 26):
        codes = {
            worker: b32encode(hmac.new(key, worker.encode(), hashlib.sha256).digest()).decode()[:length]
            for worker in assessment.survey.workers
        }
        if len(set(codes.values())) == len(codes):
            return codes
    raise AssertionError("two codes of workers give one digest")  # pragma: no cover


def _of_shift(result: ShiftResult, zone: ZoneInfo) -> list[ResultForWorker]:
    day = result.shift.start.astimezone(zone).date()
    qualified = any(sample.standing.level != "sound" for sample in (*result.samples, *result.left_out))
    if not result.samples:
        return [_lost(result.shift, day, result.agent.name)]
    first = next((v.average for v in result.verdicts if v.average is not None), None)
    measured = (first.lower, first.upper) if first else None
    rows = _not_held(result, day, result.agent.name, qualified)
    for verdict in result.verdicts:
        if verdict.limit.binding and verdict.average is not None:
            average = verdict.average
            rows.append(
                ResultForWorker(
                    result.shift,
                    day,
                    result.agent.name,
                    (average.lower, average.upper),
                    minutes_cell(average.reference_min),
                    limit_cell(verdict),
                    verdict.comparison.verdict,
                    qualified,
                    verdict.limit.kind == "action level",
                )
            )
    minutes = minutes_cell(first.reference_min) if first else ""
    return rows or [ResultForWorker(result.shift, day, result.agent.name, measured, minutes, "", None, qualified)]


def _of_task(short: ShortTermResult, zone: ZoneInfo) -> list[ResultForWorker]:
    sample = short.sample
    day = short.shift.start.astimezone(zone).date()
    if not sample.usable:
        return [_lost(short.shift, day, sample.agent.name)]
    minutes = minutes_cell(sample.run.clock_min if sample.run else None)
    qualified = sample.standing.level != "sound"
    rows = _not_held(short, day, sample.agent.name, qualified)
    rows += [
        ResultForWorker(
            short.shift,
            day,
            sample.agent.name,
            (found, found) if found else None,
            minutes,
            limit_cell(verdict),
            verdict.comparison.verdict,
            qualified,
        )
        for verdict in short.verdicts
        for found in [sample.in_unit(verdict.limit.unit)]
        if verdict.limit.binding
    ]
    measured = sample.ppm or sample.concentration
    ends = (measured, measured) if measured else None
    return rows or [ResultForWorker(short.shift, day, sample.agent.name, ends, minutes, "", None, qualified)]


def _lost(shift: Shift, day: date, agent: str) -> ResultForWorker:
    """An agent without a sample that may be used."""
    return ResultForWorker(shift, day, agent, None, "", "", None, True, is_lost=True)


def _not_held(result: ShiftResult | ShortTermResult, day: date, agent: str, qualified: bool) -> list[ResultForWorker]:
    """Limits that bind and that nothing could be held against: open, never passed over."""
    return [
        ResultForWorker(
            result.shift, day, agent, None, "", stated_limit_cell(limit), "cannot tell", qualified,
            limit.kind == "action level",
        )
        for limit, _ in result.not_compared
        if limit.binding
    ]  # fmt: skip
