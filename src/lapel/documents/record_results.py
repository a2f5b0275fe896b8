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
from lapel.documents.columns import column_widths
from lapel.documents.compose import VerdictRow
from lapel.documents.compose_findings import finding_rows
from lapel.documents.folding import grouped_findings
from lapel.documents.record_pictures import strip_picture
from lapel.documents.render import Picture
from lapel.figures import percent
from lapel.said import said

MOST_WORKED = 300
"""More samples than this, and the record shows in full only what somebody must look at."""

MOST_ROWS = 1000
"""Rows of one table; of more, those somebody must look at stand here and the others in the open data."""

MOST_FOUND = 200
"""Lines under one finding; the rest is counted."""

KEPT_TOGETHER = 1800
"""Characters of reasons that stay on one page with their row."""

LANDSCAPE = 728.0
"""Width of a table on a landscape page. [pt]"""

MOST_IN_PICTURE = 40
"""Short-term comparisons that fit one picture; more are left to the table."""

UNSAMPLED_WORDS = {
    "zero": "counted as no exposure",
    "mean": "counted like the sampled time",
    "highest": "counted up to the highest sample",
}


SAMPLE_HEAD = (
    "Sample", "Worker", "Port", "Agent", "min", "Flow", "Change", "Volume", "Mass", "Concentration", "ppm", "Standing",
    "Because",
)  # fmt: skip


def sample_table(assessment: SurveyAssessment, wanted: set[str] | None = None) -> dict[str, Any]:
    """Every sample as a row of texts, or those wanted; with the widths of the columns and what is left out."""
    rows = [row for row in compose.sample_rows(assessment) if wanted is None or row.sampler in wanted]
    cells = [
        [
            row.sampler, row.worker, row.train, row.agent, row.minutes, row.flow, row.change, row.volume, row.mass,
            row.concentration, row.ppm.removesuffix(" ppm"), row.standing, row.because,
        ]
        for row in rows[:MOST_ROWS]
    ]  # fmt: skip
    return {
        "head": list(SAMPLE_HEAD),
        "rows": cells,
        "widths": column_widths(SAMPLE_HEAD, cells, size=7.0, room=LANDSCAPE, free=12, extra={11: 9.0}),
        "left_out": rows_left_out(len(assessment.samples), len(cells)),
    }


def rows_left_out(there: int, shown: int) -> str:
    """What a table of a large survey leaves out, and where it is."""
    if shown == there:
        return ""
    return said(
        "{shown} of {there} rows stand here: those somebody must look at first. All of them are in the open data that "
        "“lapel assess FOLDER --json FILE” writes.",
        shown=shown,
        there=there,
    )


def shift_sections(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """One section a shift: its facts, a picture, and each exposure against each limit with its reasons."""
    by_shift: dict[str, list[ShiftResult]] = {}
    for result in assessment.shifts:
        by_shift.setdefault(result.shift.code, []).append(result)
    sections = []
    for results in by_shift.values():
        pairs = verdict_pairs(assessment, results)
        sections.append(
            {
                "shift": results[0].shift.code,
                "worker": results[0].shift.worker,
                "facts": shift_facts(assessment, results),
                "picture": strip_picture(pairs, f"Shift {results[0].shift.code}"),
                "rows": [verdict_cells(row, verdict) for row, verdict in pairs],
            }
        )
    return sections


def long_verdict_table(assessment: SurveyAssessment) -> dict[str, Any]:
    """
    Exposures of a large survey against their limits in one table, without pictures.

    Reasons stand below those that are not plainly under; where there are too many rows, only these are there.
    """
    pairs = verdict_pairs(assessment, assessment.shifts)
    chosen = pairs if len(pairs) <= MOST_ROWS else [pair for pair in pairs if not is_plain(pair[0])][:MOST_ROWS]
    rows = [{**verdict_cells(row, v), **({"below": []} if is_plain(row) else {})} for row, v in chosen]
    return {"rows": rows, "left_out": rows_left_out(len(pairs), len(rows))}


def verdict_pairs(
    assessment: SurveyAssessment, results: Sequence[ShiftResult]
) -> list[tuple[VerdictRow, LimitVerdict | None]]:
    """Each exposure against each limit, composed, beside the verdict it comes from."""
    return [
        pair
        for result in results
        for pair in zip(compose.shift_verdict_rows(assessment, result), _verdicts(result), strict=True)
    ]


def _verdicts(result: ShiftResult) -> Sequence[LimitVerdict | None]:
    return result.verdicts or (None,)


def shift_facts(assessment: SurveyAssessment, results: Sequence[ShiftResult]) -> str:
    """When, how long, who, and how time without a sample is counted, in one line."""
    shift = results[0].shift
    zone = ZoneInfo(assessment.survey.site.zone)
    start, end = shift.start.astimezone(zone), shift.end.astimezone(zone)
    known = assessment.survey.workers.get(shift.worker)
    worker = known.on(start.date()) if known else None
    group = assessment.survey.groups.get(worker.group) if worker else None
    parts = [f"{start:%A %Y-%m-%d, %H:%M} to {end:%H:%M}" + ("" if start.date() == end.date() else " the next day")]
    parts.append(elapsed_words(shift))
    if worker and worker.job:
        parts.append(worker.job)
    if group:
        parts.append(f"group {group.code}, {group.name}")
    parts.append(unsampled_time(shift, results))
    if shift.respirator:
        parts.append(f"respirator: {shift.respirator} (not counted in any number)")
    left_out = sorted({sample.sampler for result in results for sample in result.left_out})
    if left_out:
        parts.append(f"not used: {', '.join(left_out)}")
    return "; ".join(parts) + "."


def unsampled_time(shift: Shift, results: Sequence[ShiftResult]) -> str:
    """How the time without a sample is counted in the averages that follow; as stated, where there are none."""
    counted: dict[str, list[str]] = {}
    for result in results:
        for words in dict.fromkeys(average.unsampled_words for average in result.averages.values()):
            counted.setdefault(words, []).append(result.agent.name)
    if not counted:
        reason = f" ({shift.unsampled_reason})" if shift.unsampled_reason else ""
        return f"time without a sample to be {UNSAMPLED_WORDS[shift.unsampled]}{reason}"
    if len(counted) == 1:
        return next(iter(counted))
    return "; ".join(f"{', '.join(agents)}: {words}" for words, agents in counted.items())


def elapsed_words(shift: Shift) -> str:
    """Length of a shift as time that passed, which a change of the clocks does not alter."""
    minutes = round((shift.end - shift.start).total_seconds() / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h elapsed" if rest == 0 else f"{hours} h {rest} min elapsed"


def is_plain(row: VerdictRow) -> bool:
    """Whether a verdict is “under” whatever defensible choice is made."""
    return row.verdict == "under" and row.robust != "no"


def verdict_cells(row: VerdictRow, verdict: LimitVerdict | None) -> dict[str, Any]:
    """One exposure against one limit, with what stands below the row."""
    below = explanations(row, verdict)
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
        "plain": is_plain(row),
        "below": below,
        "long": sum(len(words) for _, words in below) > KEPT_TOGETHER,
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


def short_term_pairs(assessment: SurveyAssessment) -> list[tuple[VerdictRow, LimitVerdict | None]]:
    """Short-term samples and ceilings, a row a limit, the ones to look at first where there are many."""
    pairs: list[tuple[VerdictRow, LimitVerdict | None]] = []
    for result in assessment.short_terms:
        composed = compose.short_term_verdict_rows(assessment, result)
        pairs += zip(composed, result.verdicts or (None,), strict=True)
    return pairs if len(pairs) <= MOST_ROWS else [pair for pair in pairs if not is_plain(pair[0])][:MOST_ROWS]


def short_term_table(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Short-term samples against their limits, as texts."""
    return [verdict_cells(row, verdict) for row, verdict in short_term_pairs(assessment)]


def short_term_picture(assessment: SurveyAssessment) -> Picture | None:
    """Short-term samples beside their limits; the first of very many."""
    pairs = [
        (replace(row, agent=f"{row.worker} {row.agent}"), verdict) for row, verdict in short_term_pairs(assessment)
    ]
    return strip_picture(pairs, "Short-term samples") if len(pairs) <= MOST_IN_PICTURE else None


def mixture_table(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Additive indices; of very many, those that are not under."""
    rows: list[dict[str, Any]] = []
    many = len(assessment.mixtures) > MOST_WORKED
    for mixture in assessment.mixtures:
        if many and (mixture.comparison.verdict == "under" or len(rows) >= MOST_ROWS):
            continue
        row = compose.mixture_verdict_row(assessment, mixture)
        cells = verdict_cells(row, None)
        shares = "; ".join(f"{agent} {percent(share)}" for agent, share in mixture.shares.items())
        cells["below"] = [["Why", row.reason], ["Shares of the index", f"{shares}."]]
        rows.append(cells)
    return rows


def finding_groups(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Findings by rule and effect, the gravest first; what was found on each sample stands under its rule."""
    return [
        {
            "effect": group.effect,
            "title": group.title,
            "wanted": group.wanted,
            "remedy": group.remedy,
            "source": group.source,
            "overridden": group.overridden,
            "unread": group.clause_unread,
            "found": [list(line) for line in group.found[:MOST_FOUND]]
            + (
                [["More", f"{len(group.found) - MOST_FOUND} further lines like these"]]
                if len(group.found) > MOST_FOUND
                else []
            ),
        }
        for group in grouped_findings(finding_rows(assessment))
    ]


def side_by_side(assessment: SurveyAssessment) -> dict[str, Any]:
    """Standing under every rule book shown; rows that are alike under all are counted, not listed."""
    books = [assessment.rule_book, *assessment.compared]
    rows = compose.other_standing_rows(assessment)
    alike = sum(1 for row in rows if len(set(row[2:])) == 1)
    differing = [list(row) for row in rows if len(set(row[2:])) > 1][:MOST_ROWS]
    return {
        "books": [book.title for book in books],
        "rows": differing,
        "alike": f"{alike} of {len(rows)} results stand alike under all of them.",
    }
