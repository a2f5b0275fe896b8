"""What can be fetched of a survey, by file name: who may, what it is, and how it is made."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from lapel.assessment.follow_up import JudgedGroup
from lapel.assessment.results import SurveyAssessment
from lapel.documents.assessment_record import assessment_record
from lapel.documents.blocks import Document, document_as_docx, document_as_pdf
from lapel.documents.file_names import plain_names
from lapel.documents.letters import group_posting, worker_letter
from lapel.documents.report import client_summary, survey_report
from lapel.documents.wording import Wording
from lapel.documents.worker_results import Everybody, everybody, posted_groups
from lapel.exchange.assessment_json import write_assessment_json
from lapel.exchange.judgement_json import judgements_as_data
from lapel.exchange.open_data import samples_table, verdicts_table
from lapel.office.judge.asked import Question
from lapel.office.judge.held import CannotJudge, all_judged
from lapel.office.report.making import CannotMake, Progress
from lapel.office.report.stated import Stated
from lapel.records.access import Act

PDF = "application/pdf"
DOCX = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"
CSV, JSON, ZIP = "text/csv; charset=utf-8", "application/json", "application/zip"

UNDATED = (1980, 1, 1, 0, 0, 0)
"""The first day a zip knows: the same letters give the same bytes."""


@dataclass(frozen=True, slots=True)
class Subject:
    """
    Everything a document may be made from, read before the work begins: the work asks the database nothing.

    Attributes
    ----------
    names : mapping of str to str
        Names behind workers' codes, where somebody who may know them asked for letters with names; else empty.
    """

    assessment: SurveyAssessment
    binding: tuple[Question, ...]
    stated: Stated
    words: Wording
    today: date
    worker: str = ""
    group: str = ""
    names: Mapping[str, str] = field(default_factory=dict)

    def judged(self, tell: Progress) -> tuple[JudgedGroup, ...]:
        """Judge every group against every limit that binds."""
        try:
            return all_judged([one.asked for one in self.binding], tell)
        except CannotJudge as problem:
            raise CannotMake(str(problem)) from problem


@dataclass(frozen=True, slots=True)
class Paper:
    """
    One thing that can be fetched.

    `is_for_workers` where names may stand in it, for who may know them; `is_handed_out` where people are given it, so
    that it is kept as it was; `about` whom it speaks of.
    """

    kind: str
    to: Act
    make: Callable[[Subject, Progress], bytes]
    is_for_workers: bool = False
    is_handed_out: bool = True
    about: Literal["survey", "worker", "group"] = "survey"


def report_document(subject: Subject, tell: Progress) -> Document:
    """Compose the survey report."""
    facts = subject.stated.report_facts(dated=subject.today)
    return survey_report(subject.assessment, subject.judged(tell), subject.words, facts, progress=tell)


def summary_document(subject: Subject, tell: Progress) -> Document:
    """Compose the summary of one page."""
    facts = subject.stated.report_facts(dated=subject.today)
    return client_summary(subject.assessment, subject.judged(tell), subject.words, facts)


def letter_document(subject: Subject, worker: str, shared: Everybody | None = None) -> Document:
    """Compose the letter to one worker; what letters share is read anew, if left out."""
    facts, name = subject.stated.letter_facts(), subject.names.get(worker, "")
    try:
        return worker_letter(subject.assessment, worker, subject.words, facts, name=name, shared=shared)
    except KeyError as problem:
        raise CannotMake(f"Worker {worker or '(none named)'} has no result in this survey.") from problem


def posting_document(subject: Subject, group: str, shared: Everybody | None = None) -> Document:
    """Compose the posted list of a group; what lists share is read anew, if left out."""
    facts = subject.stated.letter_facts()
    try:
        return group_posting(subject.assessment, group, subject.words, facts, shared=shared)
    except KeyError as problem:
        raise CannotMake(f"No worker of group {group or '(none named)'} has a result in this survey.") from problem


def _letters(subject: Subject, tell: Progress) -> bytes:
    """All letters and posted lists, each as PDF and DOCX, in one zip."""
    shared = everybody(subject.assessment)
    workers = list(shared.results)
    groups = posted_groups(subject.assessment)
    names = plain_names([*(f"letter-{one}" for one in workers), *(f"posted-{one}" for one in groups)])
    made = io.BytesIO()
    total = len(workers) + len(groups)
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for done, code in enumerate((*workers, *groups)):
            tell("writing the letters", done, total)
            is_letter = done < len(workers)
            document = (letter_document if is_letter else posting_document)(subject, code, shared)
            for ending, content in (("pdf", document_as_pdf(document)), ("docx", document_as_docx(document))):
                place = zipfile.ZipInfo(f"{names[done]}.{ending}", UNDATED)
                packed.writestr(place, content, zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _json(subject: Subject, _: Progress) -> bytes:
    text = io.StringIO()
    write_assessment_json(subject.assessment, text)
    return text.getvalue().encode()


def _groups_json(subject: Subject, tell: Progress) -> bytes:
    found = [one.judgement for one in subject.judged(tell) if one.judgement is not None]
    text = json.dumps(judgements_as_data(found), ensure_ascii=False, indent=1, allow_nan=False)
    return f"{text}\n".encode()


PAPERS: Mapping[str, Paper] = {
    "survey-report.pdf": Paper(PDF, "see", lambda s, tell: document_as_pdf(report_document(s, tell))),
    "survey-report.docx": Paper(DOCX, "see", lambda s, tell: document_as_docx(report_document(s, tell))),
    "summary.pdf": Paper(PDF, "see", lambda s, tell: document_as_pdf(summary_document(s, tell))),
    "summary.docx": Paper(DOCX, "see", lambda s, tell: document_as_docx(summary_document(s, tell))),
    "calculation-record.pdf": Paper(
        PDF, "see", lambda s, tell: assessment_record(s.assessment, s.words, progress=tell)
    ),
    "letter.pdf": Paper(PDF, "see", lambda s, _: document_as_pdf(letter_document(s, s.worker)), True, about="worker"),
    "letter.docx": Paper(
        DOCX, "see", lambda s, _: document_as_docx(letter_document(s, s.worker)), True, about="worker"
    ),
    "posted.pdf": Paper(PDF, "see", lambda s, _: document_as_pdf(posting_document(s, s.group)), about="group"),
    "posted.docx": Paper(DOCX, "see", lambda s, _: document_as_docx(posting_document(s, s.group)), about="group"),
    "letters.zip": Paper(ZIP, "see", _letters, True),
    "samples.csv": Paper(
        CSV, "export", lambda s, _: samples_table(s.assessment).encode("utf-8-sig"), is_handed_out=False
    ),
    "verdicts.csv": Paper(
        CSV, "export", lambda s, _: verdicts_table(s.assessment).encode("utf-8-sig"), is_handed_out=False
    ),
    "assessment.json": Paper(JSON, "export", _json, is_handed_out=False),
    "groups.json": Paper(JSON, "export", _groups_json, is_handed_out=False),
}
"""What can be fetched, by file name."""
