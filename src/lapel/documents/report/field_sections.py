"""Parts of a report about the work itself: people, limits, methods, meters, the days, custody, the laboratory."""

from __future__ import annotations

from collections import defaultdict
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Method
from lapel.assessment.results import SurveyAssessment
from lapel.documents import record_field
from lapel.documents.blocks.model import Block, Drawn, Heading, Paragraph, Table
from lapel.documents.cells import range_cell
from lapel.documents.record_pictures import day_pictures
from lapel.documents.record_results import MOST_WORKED
from lapel.documents.render import Picture
from lapel.documents.wording import Wording
from lapel.figures import significant
from lapel.said import listed


def days_of(assessment: SurveyAssessment, words: Wording) -> str:
    """The first and the last day that was sampled."""
    zone = ZoneInfo(assessment.survey.site.zone)
    days = sorted({shift.start.astimezone(zone).date() for shift in assessment.survey.shifts.values()})
    return words.days(days) if days else words.say("common.nothing")


def people(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Groups, with how many workers and shifts of each were sampled."""
    survey = assessment.survey
    zone = ZoneInfo(survey.site.zone)
    sampled: dict[str, set[str]] = defaultdict(set)
    shifts: dict[str, set[str]] = defaultdict(set)
    for order in survey.orders.values():
        shift = survey.shifts[order.shift]
        known = survey.workers.get(shift.worker)
        if known is not None:
            group = known.on(shift.start.astimezone(zone).date()).group
            sampled[group].add(shift.worker)
            shifts[group].add(shift.code)
    head = tuple(words.say(f"report.{key}") for key in ("group", "name", "tasks", "workers", "shifts"))
    rows = tuple(
        (group.code, group.name, group.tasks, str(len(sampled[group.code])), str(len(shifts[group.code])))
        for group in survey.groups.values()
    )
    table = Table(head, rows, (0.8, 1.6, 2.4, 1.0, 0.8), frozenset({3, 4}))
    return [Heading(words.say("report.people")), table]


def limits(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Every limit with its force, date and source."""
    head = tuple(words.say(f"report.{key}") for key in ("substance", "limit", "force", "as_of", "source"))
    rows = tuple(
        (row["agent"], row["limit"], row["binding"], row["as_of"], row["source"])
        for row in record_field.limit_table(assessment)
    )
    return [
        Heading(words.say("report.limits")),
        Paragraph(words.say("report.limits_lead"), "lead"),
        Table(head, rows, (1.1, 1.8, 1.05, 0.9, 2.15)),
    ]


def methods(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Methods that were used with their windows, the meters, and each sampling day as a picture."""
    survey = assessment.survey
    used = {sample.method.code for sample in assessment.samples}
    head = tuple(words.say(f"report.{key}") for key in ("method", "substance", "medium", "window", "source"))
    rows = tuple(
        (method.code, survey.agents[method.agent].name, method.medium, _window(method), method.source)
        for method in survey.methods.values()
        if method.code in used
    )
    blocks: list[Block] = [
        Heading(words.say("report.methods")),
        Table(head, rows, (1.2, 1.1, 1.4, 1.5, 1.8)),
        Heading(words.say("report.equipment"), 2),
        Table(
            tuple(words.say(f"report.{key}") for key in ("meter", "certificate", "valid", "uncertainty")),
            tuple(
                (listed(", ", (row["code"], row["kind"])), row["certificate"], row["due"], row["uncertainty"])
                for row in record_field.meter_table(assessment)
            ),
            (1.3, 1.4, 1.0, 1.8),
        ),
    ]
    if len(assessment.samples) <= MOST_WORKED:
        blocks.append(Heading(words.say("report.days"), 2))
        for day in day_pictures(assessment, tell=words.told):
            picture = day["picture"]
            assert isinstance(picture, Picture)
            blocks.append(Drawn(picture, str(day["title"])))
    return blocks


def appendix(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Who held the samples, what the laboratory delivered, and how the numbers were made."""
    custody = record_field.custody_table(assessment)
    reports = record_field.report_table(assessment)
    blocks: list[Block] = [Heading(words.say("report.appendix"))]
    if custody:
        head = tuple(words.say(f"report.{key}") for key in ("parcel", "samples", "hops", "gaps", "seal"))
        rows = tuple((r["parcel"], r["samplers"], r["hops"], r["gaps"], r["seal"]) for r in custody)
        blocks += [Heading(words.say("report.custody"), 2), Table(head, rows, (0.7, 2.5, 2.6, 0.9, 0.7))]
    if reports:
        head = tuple(words.say(f"report.{key}") for key in ("report", "laboratory", "received", "corrected", "file"))
        rows = tuple(
            (r["code"], r["laboratory"], r["received"], r["corrected"], f"{r['file']}, {r['hash']}") for r in reports
        )
        blocks += [Heading(words.say("report.laboratory"), 2), Table(head, rows, (0.8, 1.1, 0.9, 1.3, 2.8))]
    made = words.say("report.made_words", version=assessment.kernel_version, hash=assessment.survey.input_sha256 or "–")
    return [*blocks, Heading(words.say("report.made"), 2), Paragraph(made, "quiet")]


def _window(method: Method) -> str:
    """Flow and volume the method or laboratory states, in the trade's units."""
    parts: list[str] = []
    if method.flow_min_lpm is not None or method.flow_max_lpm is not None:
        parts.append(listed(" ", (_ends(method.flow_min_lpm, method.flow_max_lpm, 1000.0), "mL/min")))
    if method.volume_min_l is not None or method.volume_max_l is not None:
        parts.append(listed(" ", (_ends(method.volume_min_l, method.volume_max_l, 1.0), "L")))
    return listed(", ", parts) or "–"


def _ends(low: float | None, high: float | None, factor: float) -> str:
    if low is None:
        return f"≤ {significant(factor * (high or 0.0))}"
    if high is None:
        return f"≥ {significant(factor * low)}"
    return range_cell(significant(factor * low), significant(factor * high))
