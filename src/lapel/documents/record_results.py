"""The results of a calculation record as texts: samples, shifts with their limits, short-term samples, mixtures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Shift
from lapel.assessment.results import LimitVerdict, ShiftResult, SurveyAssessment
from lapel.documents import compose
from lapel.documents.cells import NOTHING
from lapel.documents.compose import FindingRow, VerdictRow
from lapel.documents.record_pictures import strip_picture
from lapel.documents.render import Picture
from lapel.figures import percent

MOST_IN_PICTURE = 40
"""Short-term comparisons that fit one picture; more are left to the table."""

UNSAMPLED_WORDS = {
    "zero": "counted as no exposure",
    "mean": "counted like the sampled time",
    "highest": "counted up to the highest sample",
}


def sample_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every sample as one row of texts."""
    rows = compose.sample_rows(assessment)
    return [
        {
            "sampler": row.sampler,
            "worker": row.worker,
            "train": row.train,
            "agent": row.agent,
            "medium": row.medium,
            "purpose": row.purpose,
            "minutes": row.minutes,
            "flow": row.flow,
            "change": row.change,
            "volume": row.volume,
            "mass": row.mass,
            "concentration": row.concentration,
            "ppm": row.ppm.removesuffix(" ppm"),
            "level": row.standing.split(":")[0],
            "standing": row.standing,
            "because": row.because,
        }
        for row in rows
    ]


def shift_sections(assessment: SurveyAssessment, *, everything: bool) -> list[dict[str, Any]]:
    """
    One section a shift: its facts, and each exposure against each limit.

    `everything` gives every row its reasons; otherwise only those that are not plainly under.
    """
    by_shift: dict[str, list[ShiftResult]] = {}
    for result in assessment.shifts:
        by_shift.setdefault(result.shift.code, []).append(result)
    sections = []
    for results in by_shift.values():
        rows = [row for result in results for row in compose.shift_verdict_rows(assessment, result)]
        verdicts = [verdict for result in results for verdict in _verdicts(result)]
        sections.append(
            {
                "shift": results[0].shift.code,
                "worker": results[0].shift.worker,
                "facts": shift_facts(assessment, results),
                "picture": strip_picture(list(zip(rows, verdicts, strict=True)), f"Shift {results[0].shift.code}"),
                "rows": [verdict_cells(row, v, everything=everything) for row, v in zip(rows, verdicts, strict=True)],
            }
        )
    return sections


def _verdicts(result: ShiftResult) -> Sequence[LimitVerdict | None]:
    return result.verdicts or (None,)


def shift_facts(assessment: SurveyAssessment, results: Sequence[ShiftResult]) -> str:
    """When, how long, who, and how time without a sample is counted, in one line."""
    shift = results[0].shift
    zone = ZoneInfo(assessment.survey.site.zone)
    start, end = shift.start.astimezone(zone), shift.end.astimezone(zone)
    worker = assessment.survey.workers.get(shift.worker)
    group = assessment.survey.groups.get(worker.group) if worker else None
    parts = [f"{start:%A %Y-%m-%d, %H:%M} to {end:%H:%M}" + ("" if start.date() == end.date() else " the next day")]
    parts.append(elapsed_words(shift))
    if worker and worker.job:
        parts.append(worker.job)
    if group:
        parts.append(f"group {group.code}, {group.name}")
    treatment = f"time without a sample {UNSAMPLED_WORDS[shift.unsampled]}"
    parts.append(treatment + (f" ({shift.unsampled_reason})" if shift.unsampled_reason else ""))
    if shift.respirator:
        parts.append(f"respirator: {shift.respirator} (not counted in any number)")
    left_out = sorted({sample.sampler for result in results for sample in result.left_out})
    if left_out:
        parts.append(f"not used: {', '.join(left_out)}")
    return "; ".join(parts) + "."


def elapsed_words(shift: Shift) -> str:
    """Length of a shift as time that passed, which a change of the clocks does not alter."""
    minutes = round((shift.end - shift.start).total_seconds() / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h elapsed" if rest == 0 else f"{hours} h {rest} min elapsed"


def verdict_cells(row: VerdictRow, verdict: LimitVerdict | None, *, everything: bool) -> dict[str, Any]:
    """One exposure against one limit, with what stands below the row."""
    plain = row.verdict == "under" and row.robust != "no"
    return {
        "worker": row.worker,
        "shift": row.shift,
        "agent": row.agent,
        "about": row.about,
        "average": row.average,
        "limit": row.limit,
        "share": row.share,
        "verdict": row.verdict,
        "robust": row.robust,
        "plain": plain,
        "below": [] if plain and not everything else explanations(row, verdict),
    }


def explanations(row: VerdictRow, verdict: LimitVerdict | None) -> list[list[str]]:
    """What stands below a verdict: why, on which average, other choices, what drives it, what would settle it."""
    reason = row.reason[:1].upper() + row.reason[1:]
    found = [["Why", reason if reason.endswith(".") else f"{reason}."]]
    if verdict is not None and verdict.average is not None:
        found.append(["Average", f"{row.about}."])
    turning = [text for text in row.others if f": {row.verdict} (" not in text]
    agreeing = [text for text in row.others if f": {row.verdict} (" in text]
    if turning:
        found.append(["Otherwise", f"{'; '.join(turning)}."])
    if agreeing:
        also = "also " if turning else ""
        found.append(["Same", f"{also}{'; '.join(agreeing)}."])
    if row.drives and row.average != NOTHING:
        found.append(["Most uncertain", f"{row.drives}."])
    if row.settles and row.verdict != "over":
        found.append(["Would settle it", f"{row.settles}."])
    return found


def short_term_table(assessment: SurveyAssessment, *, everything: bool) -> list[dict[str, Any]]:
    """Short-term samples and ceilings, one row a limit."""
    rows = []
    for result in assessment.short_terms:
        verdicts: Sequence[LimitVerdict | None] = result.verdicts or (None,)
        composed = compose.short_term_verdict_rows(assessment, result)
        rows += [verdict_cells(row, v, everything=everything) for row, v in zip(composed, verdicts, strict=True)]
    return rows


def short_term_picture(assessment: SurveyAssessment) -> Picture | None:
    """Short-term samples beside their limits; the first of very many."""
    pairs = [
        (replace(row, agent=f"{result.sample.sampler} {row.agent}"), verdict)
        for result in assessment.short_terms
        for row, verdict in zip(
            compose.short_term_verdict_rows(assessment, result), result.verdicts or (None,), strict=True
        )
    ]
    return strip_picture(pairs, "Short-term samples") if len(pairs) <= MOST_IN_PICTURE else None


def mixture_table(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Additive indices."""
    rows = []
    for mixture in assessment.mixtures:
        row = compose.mixture_verdict_row(assessment, mixture)
        cells = verdict_cells(row, None, everything=True)
        shares = "; ".join(f"{agent} {percent(share)}" for agent, share in mixture.shares.items())
        cells["below"] = [["Why", row.reason], ["Shares of the index", f"{shares}."]]
        rows.append(cells)
    return rows


def finding_groups(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Findings by rule and effect, the gravest first; what was found on each sample stands under its rule."""
    groups: dict[tuple[str, ...], list[FindingRow]] = {}
    for row in compose.finding_rows(assessment):
        key = (row.effect, row.title, row.wanted, row.remedy, row.source, row.overridden)
        groups.setdefault(key, []).append(row)
    return [
        {
            "effect": effect,
            "title": title,
            "wanted": wanted.rstrip("."),
            "remedy": remedy,
            "source": source,
            "overridden": overridden,
            "unread": rows[0].clause_unread,
            "found": [[row.samplers, row.found] for row in rows],
        }
        for (effect, title, wanted, remedy, source, overridden), rows in groups.items()
    ]


def side_by_side(assessment: SurveyAssessment) -> dict[str, Any]:
    """Standing under every rule book shown; rows that are alike under all are counted, not listed."""
    books = [assessment.rule_book, *assessment.compared]
    rows = compose.other_standing_rows(assessment)
    differing = [list(row) for row in rows if len(set(row[2:])) > 1]
    return {
        "books": [book.title for book in books],
        "rows": differing,
        "alike": f"{len(rows) - len(differing)} of {len(rows)} results stand alike under all of them.",
    }
