"""
A laboratory's file into the records: kept as it came, questioned, and taken over only when a person has settled it.

The bytes are stored before anything is read from them. Reading is the same each time for the same file, survey and
answers; taking over writes report and results in one transaction, or nothing. An amended report takes the place of its
earlier version, which stays in the histories with what is different.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from pathlib import PurePosixPath

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from lapel.assessment import inputs
from lapel.assessment.delivered_results import not_analysed_note
from lapel.assessment.held import held_survey
from lapel.exchange.laboratory import LaboratoryFile, empty_map, map_text, read_content, remembered, with_answer
from lapel.exchange.laboratory.answer_words import answers_in_words
from lapel.exchange.laboratory.report_map import ReportMap, map_from_text
from lapel.exchange.laboratory.session import ReadReport, confirmed_near, read_report
from lapel.exchange.problems import InputProblem, InputProblems, Place
from lapel.exchange.record_rows import keep_beside
from lapel.exchange.survey_folder.files_beside import (
    ACCEPTED,
    EARLIER,
    MAP,
    earlier_text,
    earlier_versions,
    is_of_an_earlier_version,
)
from lapel.records import models
from lapel.records.audit import signed

LARGEST_FILE = 25 * 1024 * 1024
"""Bytes of a file that are taken; no report of a laboratory comes near it."""


def keep_delivered(
    survey: models.Survey, name: str, content: bytes, *, by: User, amends: str = ""
) -> models.DeliveredFile:
    """
    Keep a file as it came.

    Parameters
    ----------
    survey : Survey
        The record; access was checked by whoever got it.
    name : str
        Name of the file.
    content : bytes
        Its bytes.
    by : User
        Who brought it.
    amends : str
        Number of the report it replaces, where its own number is another.

    Raises
    ------
    InputProblems
        It cannot be a laboratory's report: too large, hostile, damaged, or of another kind. Nothing was kept.
    """
    file = read_content(name, content)
    digest = hashlib.sha256(content).hexdigest()
    answers = _answers_for(survey, file)
    with transaction.atomic():
        original, _ = models.OriginalFile.objects.get_or_create(
            survey=survey, sha256=digest, defaults={"content": content}
        )
        delivered = models.DeliveredFile(
            survey=survey,
            name=name[:300],
            original=original,
            uploaded_at=timezone.now(),
            uploaded_by=by,
            answers=map_text(answers),
            amends=amends,
        )
        signed(delivered, by, "file brought in").save()
    return delivered


def read_delivered(delivered: models.DeliveredFile, *, suspect: bool = False) -> ReadReport:
    """
    Read a kept file by the answers given so far.

    Parameters
    ----------
    delivered : DeliveredFile
        With its original.
    suspect : bool
        Whether to look for samples that may have been exchanged.

    Raises
    ------
    InputProblems
        It cannot be read any more.
    """
    data, _ = held_survey(delivered.survey)
    file = read_content(delivered.name, bytes(delivered.original.content))
    return read_report(data, file, _map_of(delivered), amends=delivered.amends, validate=False, suspect=suspect)


def answer(delivered: models.DeliveredFile, key: str, text: str, *, by: User) -> None:
    """
    Answer one question about a file.

    Raises
    ------
    InputProblems
        The answer is none it can have. Nothing was kept.
    """
    before = _map_of(delivered)
    after = with_answer(before, key, text)
    delivered.answers = map_text(after)
    known = answers_in_words(before).items()
    asked = [words for place, (words, said) in answers_in_words(after).items() if (place, (words, said)) not in known]
    signed(delivered, by, f"answered: {'; '.join(asked)}" if asked else "answered as before").save()


def forget_answers(delivered: models.DeliveredFile, *, by: User) -> None:
    """Take back every answer given about a file, so that all is asked again."""
    delivered.answers = map_text(empty_map())
    signed(delivered, by, "answers taken back").save()


def confirm_near(delivered: models.DeliveredFile, *, by: User) -> None:
    """Confirm every near-match of a sampler's name that was shown."""
    delivered.answers = map_text(confirmed_near(read_delivered(delivered)))
    signed(delivered, by, "near-matches confirmed").save()


def set_aside(delivered: models.DeliveredFile, *, by: User, reason: str) -> None:
    """Leave a file unused, with the reason; it stays as it came."""
    delivered.set_aside = reason
    signed(delivered, by, reason).save()


def accept_delivered(delivered: models.DeliveredFile, *, by: User) -> models.LaboratoryReport:
    """
    Take a settled file over into the results of its survey.

    Raises
    ------
    InputProblems
        Something is open, or it was taken over or set aside already. Nothing was written.
    """
    if delivered.report_id is not None or delivered.set_aside:
        raise _refused(delivered, "it was settled already", "a file that is open", "Open the list of files again.")
    read = read_delivered(delivered)
    if not read.is_settled or read.report is None:
        raise _refused(delivered, "open questions", "every question answered", "Answer what the page asks.")
    with transaction.atomic():
        report, version = _report(delivered, read.report, read.replaces, by)
        models.LaboratoryResult.objects.bulk_create(
            [_result(report, result, read.report.origin) for result in read.results], batch_size=500
        )
        models.LaboratoryResult.history.bulk_history_create(
            list(report.results.all()), batch_size=500, default_user=by, default_change_reason="taken over"
        )
        _note_what_has_no_result(delivered, read, f"report {report.code}, version {version}", by)
        delivered.report, delivered.version = report, version
        delivered.changes = [difference.words() for difference in read.changes]
        signed(delivered, by, f"taken over as report {report.code}, version {version}").save()
        _remember(delivered, read.report.laboratory, by)
    return report


def _report(
    delivered: models.DeliveredFile, report: inputs.LaboratoryReport, replaces: str, by: User
) -> tuple[models.LaboratoryReport, int]:
    """Write the report, or the new version in place of the one it replaces; the results of that are taken away."""
    survey, version = delivered.survey, 1
    record = survey.laboratoryreports.filter(code=replaces).first() if replaces else None
    if record is not None:
        version = 1 + _version_of(record)
        for result in record.results.all():
            signed(result, by, f"replaced by version {version}").delete()
        _set_apart(record, version - 1)
    else:
        record = models.LaboratoryReport(survey=survey)
    record.code, record.laboratory, record.received_on = report.code, report.laboratory, report.received_on
    record.samples_received_on = report.samples_received_on
    record.receipt_temperature_k = report.receipt_temperature_k
    record.recovery_corrected_by, record.blank_corrected_by = report.recovery_corrected_by, report.blank_corrected_by
    record.file, record.sha256 = delivered.name, delivered.original.sha256
    record.original, record.mapping = bytes(delivered.original.content), map_text(_map_of(delivered))
    record.origin = report.origin[:300]
    signed(record, by, f"version {version} taken over").save()
    return record, version


def _note_what_has_no_result(delivered: models.DeliveredFile, read: ReadReport, where: str, by: User) -> None:
    """Keep why the laboratory has no result; what it has one for now is no longer without."""
    survey = delivered.survey
    now = {not_analysed_note(result.sampler, result.agent) for result in read.results}
    notes = {key: words for key, words in survey.notes.items() if key not in now}
    notes |= {not_analysed_note(sampler, agent): f"{why} ({where})" for sampler, agent, why in read.lost}
    if notes != survey.notes:
        survey.notes = notes
        signed(survey, by, f"what has no result in {where}").save()


def _version_of(record: models.LaboratoryReport) -> int:
    """Which version of a report is on record, those before a folder was brought in counted too."""
    places = record.files_beside.values_list("place", flat=True)
    versions = record.delivered_files.values_list("version", flat=True)
    return max(1 + earlier_versions(places), *versions, 1)


def _set_apart(record: models.LaboratoryReport, version: int) -> None:
    """Put all that is kept of the version on record into a folder of its own beside the report."""
    folder = f"version-{version}"
    beside: dict[str, bytes] = {}
    for row in record.files_beside.select_related("original"):
        if not is_of_an_earlier_version(row.place):
            beside[row.place] = bytes(row.original.content)
            row.delete()
    if record.original is not None:
        name, content = PurePosixPath(record.file).name, bytes(record.original)
        if ACCEPTED not in beside:
            last = record.history.first()
            taken = record.delivered_files.filter(version=version).last()
            beside[EARLIER] = earlier_text(
                report=record.code,
                version=version,
                file=name,
                content=content,
                taken_over_by=last.history_user.get_username() if last and last.history_user else "",
                changes=taken.changes if taken else (),
            ).encode()
        beside["as-read-" * (name in beside) + name] = content
        read_by = MAP if record.mapping.startswith("{") else f"{PurePosixPath(name).stem}.toml"
        if record.mapping:
            beside["as-read-" * (read_by in beside) + read_by] = record.mapping.encode()
    keep_beside(record, {f"{folder}/{place}": content for place, content in beside.items()})


def _result(report: models.LaboratoryReport, result: inputs.LaboratoryResult, origin: str) -> models.LaboratoryResult:
    values = {f.name: getattr(result, f.name) for f in fields(result) if f.name not in ("report", "origin")}
    return models.LaboratoryResult(
        survey=report.survey, report=report, origin=(result.origin or origin)[:300], **values
    )


def _remember(delivered: models.DeliveredFile, laboratory: str, by: User) -> None:
    answers = map_text(remembered(_map_of(delivered)))
    layout = delivered.survey.laboratory_layouts.filter(laboratory=laboratory).first()
    layout = layout or models.LaboratoryLayout(survey=delivered.survey, laboratory=laboratory)
    if layout.answers != answers:
        layout.answers = answers
        signed(layout, by, f"as confirmed for {delivered.name}").save()


def _answers_for(survey: models.Survey, file: LaboratoryFile) -> ReportMap:
    """What is remembered of the laboratory the file names, or nothing."""
    layouts = {layout.laboratory: layout.answers for layout in survey.laboratory_layouts.all()}
    if layouts:
        data, _ = held_survey(survey)
        named = read_report(data, file, empty_map(), validate=False).proposal.facts.laboratory
        if named in layouts:
            return map_from_text(layouts[named], f"layout of {named}")
    return empty_map()


def _map_of(delivered: models.DeliveredFile) -> ReportMap:
    return map_from_text(delivered.answers, delivered.name) if delivered.answers != "{}" else empty_map()


def _refused(delivered: models.DeliveredFile, found: str, wanted: str, remedy: str) -> InputProblems:
    return InputProblems([InputProblem(Place(delivered.name), found, wanted, remedy)])


def original_bytes(delivered: models.DeliveredFile) -> bytes:
    """
    Return the file as it came.

    Raises
    ------
    ValueError
        What is stored is not what came.
    """
    content = bytes(delivered.original.content)
    if hashlib.sha256(content).hexdigest() != delivered.original.sha256:
        raise ValueError("the stored file is not the one that came: its hash differs")
    return content


def answers_as_data(delivered: models.DeliveredFile) -> dict[str, object]:
    """Answers given so far, as data."""
    data: dict[str, object] = json.loads(delivered.answers)
    data.pop("format", None)
    return data
