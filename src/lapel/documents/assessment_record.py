"""The calculation record of a survey as PDF: verdicts, findings, and the calculation behind every number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lapel.assessment.results import GRAVEST_FIRST, SurveyAssessment
from lapel.documents import compose, record_field, record_results
from lapel.documents.blank_words import MASS_WORDS
from lapel.documents.cells import counted
from lapel.documents.limit_sentences import limit_sentences
from lapel.documents.record_pictures import day_pictures
from lapel.documents.record_results import MOST_ROWS, MOST_WORKED
from lapel.documents.record_workings import Appendix, samplers_to_look_at, worked_samples, worked_shifts
from lapel.documents.render import rendered, write_whole
from lapel.documents.worded import told_everywhere
from lapel.documents.wording import Wording, wording
from lapel.hygiene.findings import LEVELS
from lapel.pictures.lettering import text_width
from lapel.said import Said, Tell, listed, said

ONLY_THIS_SHIFT = said(
    "A verdict speaks of the shift or task that was sampled and of no other day. Whether a group is exposed below a "
    "limit takes several shifts judged together."
)
CONFIRM_LIMITS = said(
    "Limits are as of the dates given with them. Confirm each with its authority before acting on a result."
)
ROUNDED_LAST = said(
    "Numbers are rounded once, for print; nothing rounded was compared or computed with. A ± stands for the expanded "
    "uncertainty (k = 2)."
)
NOT_CERTIFIED = said(
    "Made as PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO 19005-2). Made as, not certified: no independent checker saw "
    "this file."
)
CHIP_SIZE, CHIP_ROOM = 7.0, 26.0
"""Lettering of a verdict in its frame, and what mark, frame and the space to the next column take. [pt]"""


def write_assessment_record(
    assessment: SurveyAssessment,
    path: Path,
    words: Wording | None = None,
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
    words : Wording, optional
        In which language; English where none is given.
    progress : callable, optional
        Told what is being done, how much of it is done, and how much there is.

    Raises
    ------
    DocumentNotWritten
        The place cannot be written to; what was there before is unchanged.
    """
    write_whole(assessment_record(assessment, words, progress=progress), Path(path))


def assessment_record(
    assessment: SurveyAssessment,
    words: Wording | None = None,
    *,
    progress: Callable[[str, int, int], None] | None = None,
) -> bytes:
    """Set the calculation record of a survey as PDF; arguments as of `write_assessment_record`."""
    said_in = words or wording()
    told_of = progress or (lambda what, done, total: None)
    told_of("composing the record", 0, 2)
    data = record_data(assessment, said_in)
    told_of("setting the record", 1, 2)
    content = rendered(
        "assessment_record",
        data,
        title=said_in.say("record.title", survey=assessment.survey.title),
        dated=assessment.survey.assessed_on,
    )
    told_of("setting the record", 2, 2)
    return content


def record_data(assessment: SurveyAssessment, words: Wording | None = None) -> dict[str, Any]:
    """Everything the record says in a language, as texts and pictures; the template only arranges them."""
    said_in = words or wording()
    data = {**_labels(assessment, said_in), **_contents(assessment, said_in.told)}
    data["cautions"] = [*data["cautions"], *cut_to_length(data)]
    return {key: told_everywhere(texts, said_in.told) for key, texts in data.items()}


def _labels(assessment: SurveyAssessment, words: Wording) -> dict[str, Any]:
    """Headings, heads of tables and what stands on every page."""
    rules = assessment.rule_book.title
    return {
        "lang": words.language,
        "footer": words.say("common.footer"),
        "page_words": words.texts["common"]["page"],
        "words": dict(words.texts["record"]),
        "word": {code: said(code) for code in (*GRAVEST_FIRST, *LEVELS)},
        "verdict_width": f"{_verdict_width(words.told):.2f}",
        "tallies_lead": words.say("record.tallies", rules=said(rules)),
        "findings_lead": words.say("record.findings_lead", rules=said(rules)),
    }


def _verdict_width(tell: Tell) -> float:
    """Give the column of verdicts room for the longest one in a line. [pt]"""
    return CHIP_ROOM + max(text_width(tell(said(verdict)), CHIP_SIZE, bold=True) for verdict in GRAVEST_FIRST)


def _contents(assessment: SurveyAssessment, tell: Tell) -> dict[str, Any]:
    """What the assessment says; pictures, and tables whose widths follow from their texts, told already."""
    survey = assessment.survey
    everything = len(assessment.samples) <= MOST_WORKED
    to_look_at = None if everything else samplers_to_look_at(assessment)
    listed = None if len(assessment.samples) <= MOST_ROWS else to_look_at
    appendix = Appendix({})
    in_appendix = None if to_look_at is None else _first(assessment, to_look_at, MOST_WORKED)
    samples = worked_samples(assessment, appendix, wanted=in_appendix, tell=tell)
    return {
        "survey": survey.title,
        "site": survey.site.name,
        "tallies": tallies(assessment),
        "headline": compose.headline(assessment),
        "sentences": [[sentence.verdict, sentence.words] for sentence in limit_sentences(assessment)],
        "cautions": cautions(assessment),
        "facts": survey_facts(assessment),
        "samples": record_results.sample_table(assessment, listed, tell=tell),
        "days": day_pictures(assessment, tell=tell) if everything else [],
        "shifts": record_results.shift_sections(assessment, tell=tell) if everything else [],
        "long_shifts": None if everything else record_results.long_verdict_table(assessment),
        "short_terms": record_results.short_term_table(assessment),
        "short_picture": record_results.short_term_picture(assessment, tell=tell),
        "mixtures": record_results.mixture_table(assessment),
        "findings": record_results.finding_groups(assessment),
        "side_by_side": record_results.side_by_side(assessment) if assessment.compared else None,
        "blanks": record_field.blank_table(assessment),
        "flows": record_field.flow_table(assessment, in_appendix, tell=tell),
        "meters": record_field.meter_table(assessment),
        "pumps": record_field.pump_table(assessment),
        "reports": record_field.report_table(assessment),
        "custody": record_field.custody_table(assessment),
        "amendments": record_field.amendment_table(assessment),
        "log": record_field.log_rows(assessment),
        "limits": record_field.limit_table(assessment),
        "assumptions": record_field.assumption_rows(assessment),
        "worked_samples": samples,
        "worked_shifts": worked_shifts(assessment, appendix, wanted=in_appendix, tell=tell),
        "left_out": left_out(assessment, to_look_at, in_appendix),
        "confirm": CONFIRM_LIMITS,
        "rounding": ROUNDED_LAST,
        "mass_words": MASS_WORDS,
        "made": [
            [said("Input, SHA-256"), survey.input_sha256 or said("not from a folder")],
            [said("Calculated by"), f"Lapel {assessment.kernel_version}"],
            [said("Rule book"), _edition(assessment.rule_book.key, assessment.rule_book.edition)],
            [said("Document"), NOT_CERTIFIED],
        ],
    }


CUT_TABLES = {
    "findings": "findings",
    "meters": "meters",
    "pumps": "pumps",
    "reports": "laboratory_and_custody",
    "custody": "parcel",
    "amendments": "corrections",
    "limits": "limits",
    "assumptions": "assumptions",
}
"""Tables that are cut to `MOST_ROWS`, with their heading in the texts of the record."""


def cut_to_length(data: dict[str, Any]) -> list[str]:
    """Cut tables of a very large survey, and say of each what it lost."""
    lost: list[str] = []
    headings = data["words"]
    tables = [(data, key, headings[title]) for key, title in CUT_TABLES.items()]
    tables += [(data["log"], key, f"{headings['log']}, {headings[key]}") for key in data["log"]]
    for holder, key, title in tables:
        there = len(holder[key])
        if there > MOST_ROWS:
            holder[key] = holder[key][:MOST_ROWS]
            sentence = "“{table}” shows the first {most} of {there} rows; the survey's own files hold all."
            lost.append(said(sentence, table=title, most=MOST_ROWS, there=there))
    return lost


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
    rows: list[list[str]] = [
        [said("Place"), survey.site.name],
        [said("Clock"), survey.site.zone],
        [said("Classified area"), survey.site.area_class],
        [said("Purpose"), survey.purpose],
        [said("Prepared by"), survey.prepared_by],
        [said("Assessed on"), survey.assessed_on.isoformat()],
        [said("Rules"), _edition(said(book.title), book.edition)],
        [said("Compared with"), listed(", ", (said(other.title) for other in assessment.compared))],
    ]
    rows += [[said("Note: {name}", name=name), text] for name, text in survey.notes.items()]
    return [row for row in rows if row[1]]


def _edition(book: str, edition: str) -> Said:
    return said("{book}, edition {edition}", book=book, edition=edition)


def left_out(assessment: SurveyAssessment, to_look_at: set[str] | None, worked: set[str] | None) -> str:
    """Which samples the appendix does not work, and how to see them; empty where it works all."""
    if to_look_at is None or worked is None:
        return ""
    samplers = len({sample.sampler for sample in assessment.samples})
    sentence = (
        "The survey has {samplers} samplers: {n} are not sound, or a verdict other than a robust “under” rests on "
        "them; these are worked here. Print any other with “lapel show-working FOLDER SAMPLE”."
        if worked == to_look_at
        else "The survey has {samplers} samplers: {n} are not sound, or a verdict other than a robust “under” rests on "
        "them; the first {worked} of these are worked here. Print any other with “lapel show-working FOLDER SAMPLE”."
    )
    return said(sentence, samplers=samplers, n=len(to_look_at), worked=len(worked))


def _first(assessment: SurveyAssessment, wanted: set[str], most: int) -> set[str]:
    """Return so many of the samplers wanted, in the order of the survey."""
    ordered = dict.fromkeys(sample.sampler for sample in assessment.samples if sample.sampler in wanted)
    return set(list(ordered)[:most])
