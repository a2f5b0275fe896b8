"""Documents that leave the house are kept as they were, with their hash: a restart, or another version, loses none."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from django.utils import timezone

from lapel.office.report.documents import Paper, Subject
from lapel.office.report.making import Progress
from lapel.records.models import KeptDocument, Survey


def made_and_kept(paper: Paper, subject: Subject, tell: Progress, *, record: Survey, file: str, by: str) -> bytes:
    """
    Make a document and keep it; one with names is given as asked for, and kept by code.

    Parameters
    ----------
    paper : Paper
        What is made.
    subject : Subject
        From what.
    tell : callable
        Told how far it is.
    record : Survey
        Whose document it is.
    file : str
        Its file name.
    by : str
        Who asked for it.
    """
    by_code = paper.make(replace(subject, names={}), tell)
    if paper.is_handed_out:
        keep(record, file, paper.kind, by_code, made_from=subject.assessment.survey.input_sha256, by=by)
    return paper.make(subject, tell) if subject.names else by_code


def keep(record: Survey, file: str, kind: str, content: bytes, *, made_from: str, by: str) -> KeptDocument:
    """Keep a document; the same bytes once."""
    sha256 = hashlib.sha256(content).hexdigest()
    kept, _ = KeptDocument.objects.get_or_create(
        survey=record,
        sha256=sha256,
        defaults={
            "file": file,
            "kind": kind,
            "input_sha256": made_from,
            "made_at": timezone.now(),
            "made_by": by,
            "content": content,
        },
    )
    return kept


def file_name(survey: Survey, paper: str, *, about: str, language: str) -> str:
    """Name the file of a document: survey, paper, whom it speaks of, and the language where it is not English."""
    stem, _, ending = paper.rpartition(".")
    parts = (survey.code, stem, about, "" if language == "en" else language)
    return f"{'-'.join(filter(None, parts))}.{ending}"


def is_whole(kept: KeptDocument) -> bool:
    """Whether what is stored is what its hash says."""
    return hashlib.sha256(bytes(kept.content)).hexdigest() == kept.sha256
