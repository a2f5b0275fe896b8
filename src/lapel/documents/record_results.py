"""The results of a calculation record as texts: samples, shifts with their limits, short-term samples, mixtures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Shift
from lapel.assessment.results import LimitVerdict, ShiftResult, ShortTermResult, SurveyAssessment
from lapel.documents import compose
from lapel.documents.cells import NOTHING
from lapel.documents.columns import column_widths
from lapel.documents.compose import VerdictRow
from lapel.documents.compose_findings import finding_rows
from lapel.documents.folding import grouped_findings
from lapel.documents.record_pictures import strip_picture
from lapel.documents.render import Picture
from lapel.figures import percent
from lapel.said import Tell, as_it_is, capital, ended, listed, said

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

ROBUST_WORDS = {"yes": said("yes"), "no": said("no"), NOTHING: NOTHING}

UNSAMPLED_WORDS = {
    "zero": said("time without a sample to be counted as no exposure"),
    "mean": said("time without a sample to be counted like the sampled time"),
    "highest": said("time without a sample to be counted up to the highest sample"),
}


SAMPLE_HEAD = (
    said("Sample"), said("Worker"), said("Port"), said("Agent"), "min", said("Flow"), said("Change"), said("Volume"),
    said("Mass"), said("Concentration"), "ppm", said("Standing"), said("Because"),
)  # fmt: skip


def sample_table(
    assessment: SurveyAssessment, wanted: set[str] | None = None, *, tell: Tell = as_it_is
) -> dict[str, Any]:
    """Every sample as a row of texts and its level, or those wanted; with column widths and what is left out."""
    rows = [row for row in compose.sample_rows(assessment) if wanted is None or row.sampler in wanted]
    cells = [
        [
            row.sampler, row.worker, row.train, row.agent, row.minutes, row.flow, row.change, row.volume, row.mass,
            row.concentration, row.ppm.removesuffix(" ppm"), row.standing, row.because,
        ]
        for row in rows[:MOST_ROWS]
    ]  # fmt: skip
    head, cells = list(map(tell, SAMPLE_HEAD)), [list(map(tell, row)) for row in cells]
    widths = column_widths(head, cells, size=7.0, room=LANDSCAPE, free=12, extra={11: 9.0})
    return {
        "head": head,
        "rows": [[*shown, row.level] for shown, row in zip(cells, rows, strict=False)],
        "widths": widths,
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


def shift_sections(assessment: SurveyAssessment, *, tell: Tell = as_it_is) -> list[dict[str, Any]]:
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
                "picture": strip_picture(pairs, tell(said("Shift {code}", code=results[0].shift.code)), tell=tell),
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


def _verdicts(result: ShiftResult | ShortTermResult) -> Sequence[LimitVerdict | None]:
    """Return the verdict of each composed row; None for a limit nothing could be held against."""
    return (*(None for _ in result.not_compared), *result.verdicts) or (None,)


def shift_facts(assessment: SurveyAssessment, results: Sequence[ShiftResult]) -> str:
    """When, how long, who, and how time without a sample is counted, in one line."""
    shift = results[0].shift
    zone = ZoneInfo(assessment.survey.site.zone)
    start, end = shift.start.astimezone(zone), shift.end.astimezone(zone)
    known = assessment.survey.workers.get(shift.worker)
    worker = known.on(start.date()) if known else None
    group = assessment.survey.groups.get(worker.group) if worker else None
    same_day = start.date() == end.date()
    span = "{day} {date}, {start} to {end}" if same_day else "{day} {date}, {start} to {end} the next day"
    day = said(f"{start:%A}")
    parts: list[str] = [said(span, day=day, date=f"{start:%Y-%m-%d}", start=f"{start:%H:%M}", end=f"{end:%H:%M}")]
    parts.append(elapsed_words(shift))
    if worker and worker.job:
        parts.append(worker.job)
    if group:
        parts.append(said("group {code}, {name}", code=group.code, name=group.name))
    parts.append(unsampled_time(shift, results))
    if shift.respirator:
        parts.append(said("respirator: {kind} (not counted in any number)", kind=shift.respirator))
    left_out = sorted({sample.sampler for result in results for sample in result.left_out})
    if left_out:
        parts.append(said("not used: {samplers}", samplers=", ".join(left_out)))
    return listed("; ", parts) + "."


def unsampled_time(shift: Shift, results: Sequence[ShiftResult]) -> str:
    """How the time without a sample is counted in the averages that follow; as stated, where there are none."""
    counted: dict[str, list[str]] = {}
    for result in results:
        for words in dict.fromkeys(average.unsampled_words for average in result.averages.values()):
            counted.setdefault(words, []).append(result.agent.name)
    if not counted:
        reason = f" ({shift.unsampled_reason})" if shift.unsampled_reason else ""
        return listed("", (UNSAMPLED_WORDS[shift.unsampled], reason))
    if len(counted) == 1:
        return next(iter(counted))
    return listed("; ", (listed(": ", (listed(", ", agents), words)) for words, agents in counted.items()))


def elapsed_words(shift: Shift) -> str:
    """Length of a shift as time that passed, which a change of the clocks does not alter."""
    minutes = round((shift.end - shift.start).total_seconds() / 60.0)
    hours, rest = divmod(minutes, 60)
    if rest == 0:
        return said("{hours} h elapsed", hours=hours)
    return said("{hours} h {rest} min elapsed", hours=hours, rest=rest)


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
        "robust": ROBUST_WORDS[row.robust],
        "plain": is_plain(row),
        "below": below,
        "long": sum(len(words) for _, words in below) > KEPT_TOGETHER,
    }


def explanations(row: VerdictRow, verdict: LimitVerdict | None) -> list[list[str]]:
    """What stands below a verdict: why, on which average, other choices, what drives it, what would settle it."""
    found: list[list[str]] = [[said("Why"), ended(capital(row.reason))]]
    if verdict is not None and verdict.average is not None:
        found.append([said("Average"), row.about + "."])
    turning = [text for text in row.others if f": {row.verdict} (" not in text]
    agreeing = [text for text in row.others if f": {row.verdict} (" in text]
    if turning:
        found.append([said("Otherwise"), listed("; ", turning) + "."])
    if agreeing:
        same = listed("; ", agreeing) + "."
        found.append([said("Same"), said("also {choices}", choices=same) if turning else same])
    if row.drives and row.average != NOTHING:
        found.append([said("Most uncertain"), row.drives + "."])
    if row.settles and row.verdict != "over":
        found.append([said("Would settle it"), row.settles + "."])
    return found


def short_term_pairs(assessment: SurveyAssessment) -> list[tuple[VerdictRow, LimitVerdict | None]]:
    """Short-term samples and ceilings, a row a limit, the ones to look at first where there are many."""
    pairs: list[tuple[VerdictRow, LimitVerdict | None]] = []
    for result in assessment.short_terms:
        composed = compose.short_term_verdict_rows(assessment, result)
        pairs += zip(composed, _verdicts(result), strict=True)
    return pairs if len(pairs) <= MOST_ROWS else [pair for pair in pairs if not is_plain(pair[0])][:MOST_ROWS]


def short_term_table(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Short-term samples against their limits, as texts."""
    return [verdict_cells(row, verdict) for row, verdict in short_term_pairs(assessment)]


def short_term_picture(assessment: SurveyAssessment, *, tell: Tell = as_it_is) -> Picture | None:
    """Short-term samples beside their limits; the first of very many."""
    pairs = [
        (replace(row, agent=listed(" ", (row.worker, row.agent))), verdict)
        for row, verdict in short_term_pairs(assessment)
    ]
    if len(pairs) > MOST_IN_PICTURE:
        return None
    return strip_picture(pairs, tell(said("Short-term samples")), tell=tell)


def mixture_table(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Additive indices; of very many, those that are not under."""
    rows: list[dict[str, Any]] = []
    many = len(assessment.mixtures) > MOST_WORKED
    for mixture in assessment.mixtures:
        if many and (mixture.comparison.verdict == "under" or len(rows) >= MOST_ROWS):
            continue
        row = compose.mixture_verdict_row(assessment, mixture)
        cells = verdict_cells(row, None)
        shares = listed("; ", (listed(" ", (agent, percent(share))) for agent, share in mixture.shares.items()))
        cells["below"] = [[said("Why"), row.reason], [said("Shares of the index"), shares + "."]]
        rows.append(cells)
    return rows


def finding_groups(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Findings by rule and effect, the gravest first; what was found on each sample stands under its rule."""
    return [
        {
            "code": str(group.effect),
            "effect": group.effect,
            "title": group.title,
            "wanted": group.wanted,
            "remedy": group.remedy,
            "source": group.source,
            "overridden": group.overridden,
            "unread": group.clause_unread,
            "found": [list(line) for line in group.found[:MOST_FOUND]]
            + (
                [[said("More"), said("{n} further lines like these", n=len(group.found) - MOST_FOUND)]]
                if len(group.found) > MOST_FOUND
                else []
            ),
        }
        for group in grouped_findings(finding_rows(assessment))
    ]


def side_by_side(assessment: SurveyAssessment) -> dict[str, Any]:
    """Standing under every rule book shown; rows that are alike under all are counted, not listed."""
    books = [assessment.rule_book, *assessment.compared]
    rows = [
        [sampler, agent, *([standing.level, compose.standing_words(standing)] for standing in standings)]
        for sampler, agent, standings in compose.other_standings(assessment)
    ]
    differing = [row for row in rows if any(words != row[2] for words in row[3:])]
    alike = len(rows) - len(differing)
    return {
        "books": [said(book.title) for book in books],
        "rows": differing[:MOST_ROWS],
        "alike": said("{alike} of {n} results stand alike under all of them.", alike=alike, n=len(rows)),
    }
