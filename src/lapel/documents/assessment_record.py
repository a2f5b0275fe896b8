"""The calculation record of a survey as PDF: verdicts, findings, and the calculation behind every number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lapel.assessment.results import SurveyAssessment
from lapel.documents import compose, record_field, record_results
from lapel.documents.blank_words import MASS_WORDS
from lapel.documents.cells import counted
from lapel.documents.limit_sentences import limit_sentences
from lapel.documents.record_pictures import day_pictures
from lapel.documents.record_results import MOST_ROWS, MOST_WORKED
from lapel.documents.record_workings import Appendix, samplers_to_look_at, worked_samples, worked_shifts
from lapel.documents.render import rendered, write_whole
from lapel.said import listed, said

ONLY_THIS_SHIFT = said(
    "A verdict speaks of the shift or task that was sampled and of no other day. Whether a group is exposed below a "
    "limit takes several shifts judged together."
)
CONFIRM_LIMITS = said(
    "Limits are as of the dates given with them. Confirm each with its authority before acting on a result."
)
ROUNDED_LAST = (
    "Numbers are rounded once, for print; nothing rounded was compared or computed with. A ± stands for the expanded "
    "uncertainty (k = 2)."
)
NOT_CERTIFIED = (
    "Made as PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO 19005-2). Made as, not certified: no independent checker saw "
    "this file."
)


def write_assessment_record(
    assessment: SurveyAssessment,
    path: Path,
    *,
    progress: Callable[[str, int, int], None] | None = None,
) -> None:
    """
    Write the calculation record of a survey.

    Parameters
    ----------
    assessment : SurveyAssessment
        What `lapel.assessment.survey.assess` found.
    path : Path
        Where the PDF goes. It is written whole or not at all.
    progress : callable, optional
        Told what is being done, how much of it is done, and how much there is.

    Raises
    ------
    DocumentNotWritten
        The place cannot be written to; what was there before is unchanged.
    """
    write_whole(assessment_record(assessment, progress=progress), Path(path))


def assessment_record(
    assessment: SurveyAssessment, *, progress: Callable[[str, int, int], None] | None = None
) -> bytes:
    """Set the calculation record of a survey as PDF; arguments as of `write_assessment_record`."""
    tell = progress or (lambda what, done, total: None)
    tell("composing the record", 0, 2)
    data = record_data(assessment)
    tell("setting the record", 1, 2)
    content = rendered(
        "assessment_record",
        data,
        title=f"Calculation record: {assessment.survey.title}",
        dated=assessment.survey.assessed_on,
    )
    tell("setting the record", 2, 2)
    return content


def record_data(assessment: SurveyAssessment) -> dict[str, Any]:
    """Everything the record says, as texts and pictures; the template only arranges them."""
    survey = assessment.survey
    everything = len(assessment.samples) <= MOST_WORKED
    to_look_at = None if everything else samplers_to_look_at(assessment)
    listed = None if len(assessment.samples) <= MOST_ROWS else to_look_at
    appendix = Appendix({})
    in_appendix = None if to_look_at is None else _first(assessment, to_look_at, MOST_WORKED)
    samples = worked_samples(assessment, appendix, wanted=in_appendix)
    data: dict[str, Any] = {
        "survey": survey.title,
        "site": survey.site.name,
        "tallies": tallies(assessment),
        "headline": compose.headline(assessment),
        "sentences": [[sentence.verdict, sentence.words] for sentence in limit_sentences(assessment)],
        "cautions": cautions(assessment),
        "facts": survey_facts(assessment),
        "samples": record_results.sample_table(assessment, listed),
        "days": day_pictures(assessment) if everything else [],
        "shifts": record_results.shift_sections(assessment) if everything else [],
        "long_shifts": None if everything else record_results.long_verdict_table(assessment),
        "short_terms": record_results.short_term_table(assessment),
        "short_picture": record_results.short_term_picture(assessment),
        "mixtures": record_results.mixture_table(assessment),
        "findings": record_results.finding_groups(assessment),
        "rule_book": assessment.rule_book.title,
        "side_by_side": record_results.side_by_side(assessment) if assessment.compared else None,
        "blanks": record_field.blank_table(assessment),
        "flows": record_field.flow_table(assessment, in_appendix),
        "meters": record_field.meter_table(assessment),
        "pumps": record_field.pump_table(assessment),
        "reports": record_field.report_table(assessment),
        "custody": record_field.custody_table(assessment),
        "amendments": record_field.amendment_table(assessment),
        "log": record_field.log_rows(assessment),
        "limits": record_field.limit_table(assessment),
        "assumptions": record_field.assumption_rows(assessment),
        "worked_samples": samples,
        "worked_shifts": worked_shifts(assessment, appendix, wanted=in_appendix),
        "left_out": left_out(assessment, to_look_at, in_appendix),
        "confirm": CONFIRM_LIMITS,
        "rounding": ROUNDED_LAST,
        "mass_words": MASS_WORDS,
        "made": [
            ["Input, SHA-256", survey.input_sha256 or "not from a folder"],
            ["Calculated by", f"Lapel {assessment.kernel_version}"],
            ["Rule book", f"{assessment.rule_book.key}, edition {assessment.rule_book.edition}"],
            ["Document", NOT_CERTIFIED],
        ],
    }
    data["cautions"] = [*data["cautions"], *cut_to_length(data)]
    return data


CUT_TABLES = {
    "findings": "Findings",
    "meters": "Flow meters",
    "pumps": "Pumps",
    "reports": "Laboratory reports",
    "custody": "Parcels",
    "amendments": "Corrections",
    "limits": "Limits used",
    "assumptions": "Assumptions",
}
"""Tables that are cut to `MOST_ROWS`, by their heading."""


def cut_to_length(data: dict[str, Any]) -> list[str]:
    """Cut tables of a very large survey, and say of each what it lost."""
    said = []
    tables = [(data, key, title) for key, title in CUT_TABLES.items()]
    tables += [(data["log"], key, f"The log, {key}") for key in data["log"]]
    for holder, key, title in tables:
        there = len(holder[key])
        if there > MOST_ROWS:
            holder[key] = holder[key][:MOST_ROWS]
            said.append(f"“{title}” shows the first {MOST_ROWS} of {there} rows; the survey's own files hold all.")
    return said


def tallies(assessment: SurveyAssessment) -> list[list[str]]:
    """How many exposures are over, open and under, and how many samplers are sound, qualified and void."""
    verdicts = Counter(compared.verdict for compared in compose.every_comparison(assessment))
    verdicts["cannot tell"] += compose.not_compared(assessment)
    samplers = {sample.sampler for sample in assessment.samples}
    levels = Counter(compose.worst_levels(assessment).values())
    found = [[word, str(verdicts[word]), "verdict"] for word in ("over", "cannot tell", "under")]
    found += [[word, str(levels[word]), "standing"] for word in ("sound", "qualified", "void")]
    assert sum(levels.values()) == len(samplers)
    return found


def cautions(assessment: SurveyAssessment) -> list[str]:
    """What a reader must know before relying on a number."""
    day = assessment.day
    found: list[str] = [ONLY_THIS_SHIFT, CONFIRM_LIMITS]
    unread = {
        finding.rule for sample in assessment.samples for finding in sample.standing.findings if finding.clause_unread
    }
    if unread:
        template = (
            "{n} rule rests on a clause nobody has read in its current edition. "
            "Findings by it are marked “clause not read”: confirm before calling them law."
            if len(unread) == 1
            else "{n} rules rest on a clause nobody has read in its current edition. "
            "Findings by them are marked “clause not read”: confirm before calling them law."
        )
        found.append(said(template, n=len(unread)))
    if day.conflicts:
        conflicts = counted(len(day.conflicts), "conflict")
        found.append(said("{conflicts} in the log must be settled by people; see “The log”.", conflicts=conflicts))
    if day.unusable:
        unusable = counted(len(day.unusable), "entry", "entries")
        found.append(
            said(
                "{entries} of the log cannot be read as what it claims to be and counts for nothing.", entries=unusable
            )
        )
    if any(shift.respirator for shift in assessment.survey.shifts.values()):
        found.append(said("Respirators were worn. No number here counts them: exposures are outside the respirator."))
    if assessment.rule_book.caution:
        found.append(listed(": ", (said(assessment.rule_book.title), said(assessment.rule_book.caution))))
    return found + list(assessment.notes)


def survey_facts(assessment: SurveyAssessment) -> list[list[str]]:
    """Who, where, when, by which rules."""
    survey, book = assessment.survey, assessment.rule_book
    rows = [
        ["Place", survey.site.name],
        ["Clock", survey.site.zone],
        ["Classified area", survey.site.area_class],
        ["Purpose", survey.purpose],
        ["Prepared by", survey.prepared_by],
        ["Assessed on", survey.assessed_on.isoformat()],
        ["Rules", f"{book.title}, edition {book.edition}"],
        ["Compared with", ", ".join(other.title for other in assessment.compared)],
    ]
    rows += [[f"Note: {name}", text] for name, text in survey.notes.items()]
    return [row for row in rows if row[1]]


def left_out(assessment: SurveyAssessment, to_look_at: set[str] | None, worked: set[str] | None) -> str:
    """Which samples the appendix does not work, and how to see them; empty where it works all."""
    if to_look_at is None or worked is None:
        return ""
    samplers = len({sample.sampler for sample in assessment.samples})
    which = f"{len(to_look_at)} are not sound, or a verdict other than a robust “under” rests on them"
    here = "these are worked here" if worked == to_look_at else f"the first {len(worked)} of these are worked here"
    others = "Print any other with “lapel show-working FOLDER SAMPLE”."
    return f"The survey has {samplers} samplers: {which}; {here}. {others}"


def _first(assessment: SurveyAssessment, wanted: set[str], most: int) -> set[str]:
    """Return so many of the samplers wanted, in the order of the survey."""
    ordered = dict.fromkeys(sample.sampler for sample in assessment.samples if sample.sampler in wanted)
    return set(list(ordered)[:most])
