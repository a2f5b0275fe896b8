"""The dossier of a recorded survey: folder, documents, signatures, who was told; sealed with the office's key."""

from __future__ import annotations

import json
import tempfile
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from lapel.assessment.survey import assess
from lapel.documents.assessment_record import assessment_record
from lapel.documents.blocks import document_as_docx, document_as_pdf
from lapel.documents.worker_results import results_by_worker
from lapel.exchange.dossier import DossierTooLarge, write_coded_survey, write_dossier
from lapel.exchange.problems import InputProblems
from lapel.exchange.record_export import export_survey
from lapel.exchange.signing import signature_as_data
from lapel.exchange.survey_folder import read_survey
from lapel.office.report.documents import Subject, report_document, summary_document
from lapel.office.report.kept_in_dossier import kept_for_request, kept_numbers, kept_whole
from lapel.office.report.making import CannotMake, Progress
from lapel.records.models import Survey

RECORDS = "records/"
"""What people added to the figures, in a dossier."""


@dataclass(frozen=True, slots=True)
class Added:
    """What people added to the figures, as data that goes into a whole dossier."""

    signatures: tuple[dict[str, Any], ...]
    recommendations: tuple[dict[str, Any], ...]
    texts: dict[str, str]
    comments: tuple[dict[str, Any], ...]
    tellings: tuple[dict[str, Any], ...]
    snapshots: tuple[tuple[int, bytes], ...]
    kept: tuple[int, ...]


def added_to(survey: Survey) -> Added:
    """Read what people added: signatures with what was signed, recommendations, texts, comments, who was told."""
    signatures = list(survey.signatures.all())
    return Added(
        signatures=tuple({"number": one.pk, **signature_as_data(one)} for one in signatures),
        recommendations=_rows(survey.recommendations.values("rung", "action", "reason", "owner", "by", "done_on")),
        texts=dict(survey.report_texts.values_list("part", "text")),
        comments=_rows(
            survey.review_comments.values("about", "words", "person", "at", "answer", "answered_by", "answered_at")
        ),
        tellings=_rows(survey.tellings.values("worker__code", "how", "on", "person", "proof", "input_sha256")),
        snapshots=tuple((one.pk, bytes(one.snapshot)) for one in signatures),
        kept=kept_numbers(survey),
    )


def whole_dossier(survey: Survey, subject: Subject, added: Added, key: bytes, tell: Progress) -> bytes:
    """
    Make the dossier of a survey.

    Raises
    ------
    CannotMake
        The records could not be written as a folder, or the dossier would be too large to be read again.
    """
    with _no_larger_than_read(), tempfile.TemporaryDirectory(prefix="lapel-dossier-") as made:
        folder, path = Path(made) / "survey", Path(made) / "dossier.zip"
        tell("writing the survey folder", 0, 0)
        try:
            export_survey(survey, folder)
        except InputProblems as problems:
            raise CannotMake(_words(problems)) from problems
        report, summary = report_document(subject, tell), summary_document(subject, tell)
        write_dossier(
            _assessed(folder, tell),
            folder,
            path,
            documents={
                "survey-report.pdf": document_as_pdf(report),
                "survey-report.docx": document_as_docx(report),
                "summary.pdf": document_as_pdf(summary),
                "calculation-record.pdf": assessment_record(subject.assessment, subject.words, progress=tell),
            },
            more=dict(_more(added)),
            kept=kept_whole(survey, Path(made)),
            variant="whole",
            signing_key=key,
            progress=tell,
        )
        return path.read_bytes()


def dossier_for_request(survey: Survey, subject: Subject, keep_worker: str, key: bytes, tell: Progress) -> bytes:
    """
    Make the dossier for somebody who asks: figures stay, people go, but for the worker who asks.

    Raises
    ------
    CannotMake
        The records could not be written as a folder, there is no such worker, or the dossier would be too large.
    """
    with _no_larger_than_read(), tempfile.TemporaryDirectory(prefix="lapel-dossier-") as made:
        whole, folder, path = Path(made) / "whole", Path(made) / "survey", Path(made) / "dossier.zip"
        tell("writing the survey folder", 0, 0)
        try:
            export_survey(survey, whole)
            write_coded_survey(whole, folder, keep_worker=keep_worker)
        except KeyError as problem:
            raise CannotMake(f"There is no worker {keep_worker} in this survey.") from problem
        except InputProblems as problems:
            raise CannotMake(_words(problems)) from problems
        assessment = _assessed(folder, tell)
        write_dossier(
            assessment,
            folder,
            path,
            documents={"calculation-record.pdf": assessment_record(assessment, subject.words, progress=tell)},
            kept=kept_for_request(survey, Path(made), keep_worker),
            variant="coded for a request",
            signing_key=key,
            progress=tell,
        )
        return path.read_bytes()


def workers_of(subject: Subject) -> list[str]:
    """Codes of the workers with a result: who may ask for a record of their own."""
    return list(results_by_worker(subject.assessment))


@contextmanager
def _no_larger_than_read() -> Iterator[None]:
    try:
        yield
    except DossierTooLarge as problem:
        raise CannotMake(f"No dossier was made: {problem}.") from problem


def _assessed(folder: Path, tell: Progress) -> Any:
    tell("computing every figure from the folder", 0, 0)
    return assess(read_survey(folder))


def _more(added: Added) -> Iterable[tuple[str, tuple[bytes, str]]]:
    parts: Sequence[tuple[str, Any, str]] = (
        ("signatures.json", added.signatures, "who signed what the survey said, and when"),
        ("recommendations.json", added.recommendations, "what is to be done, by whom and by when"),
        ("texts.json", added.texts, "the author's own texts of the report"),
        ("review.json", added.comments, "questions of reviewers, and the answers"),
        ("told.json", added.tellings, "which workers were told, how and when"),
    )
    for name, data, words in parts:
        if data:
            text = json.dumps(data, ensure_ascii=False, indent=1, default=_text)
            yield RECORDS + name, (f"{text}\n".encode(), words)
    for number, snapshot in added.snapshots:
        content = zlib.decompress(snapshot)
        yield f"{RECORDS}signed-{number}.json", (content, f"what signature {number} was put under, to the last digit")


def _rows(rows: Iterable[Mapping[str, Any]]) -> tuple[dict[str, Any], ...]:
    return tuple({name.removesuffix("__code"): value for name, value in row.items()} for row in rows)


def _text(value: object) -> str:
    if isinstance(value, date):  # a datetime is one too
        return value.isoformat()
    raise TypeError(f"no text for {type(value).__name__}")


def _words(problems: InputProblems) -> str:
    first = problems.problems[0]
    return f"The records could not be written as a folder: {first.where}: found {first.found}. {first.remedy}"
