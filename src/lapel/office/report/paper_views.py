"""Fetching documents: made apart from the page where they take longer than a page may."""

from __future__ import annotations

from typing import cast
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.held import CannotAssess, held_assessment
from lapel.assessment.results import SurveyAssessment
from lapel.documents.wording import LANGUAGES
from lapel.documents.worker_results import results_by_worker
from lapel.office.judge.asked import questions_of
from lapel.office.of_survey import cannot_assess_page, survey_page
from lapel.office.report import dossiers, making
from lapel.office.report.documents import PAPERS, ZIP, Subject, words_in
from lapel.office.report.retained import retained_words
from lapel.office.report.signing_key import key_fingerprint, signing_key
from lapel.office.report.stated import stated_for
from lapel.office.report.views import today_at
from lapel.records.access import site_for, survey_for
from lapel.records.models import Survey, WorkerName

WAIT_S = 1.0
"""How long a page waits for a document; then it shows how far it is. [s]"""


@login_required
@never_cache
@require_safe
def paper(request: HttpRequest, survey: str, name: str) -> HttpResponse:
    """Give a document, or say how far it is; asked again, it is there."""
    wanted = PAPERS.get(name)
    if wanted is None:
        raise Http404("There is nothing here.")
    record = survey_for(request.user, survey, to=wanted.to)
    is_named = wanted.is_for_workers and request.GET.get("names") == "yes"
    if is_named:
        site_for(request.user, record.site.code, to="name")
    try:
        assessment = held_assessment(record)
    except CannotAssess as problem:
        return cannot_assess_page(request, record, "report", problem)
    subject = _subject(request, record, assessment, is_named=is_named)
    key = making.key_of(
        name, record.pk, *_content(subject), subject.words.language, subject.worker, subject.group,
        request.user.pk if is_named else "", sorted(subject.names.items()),
    )  # fmt: skip
    about = subject.worker or subject.group
    stem, _, ending = name.rpartition(".")
    language = "" if subject.words.language == "en" else f"-{subject.words.language}"
    file = f"{record.code}-{stem}{f'-{about}' if about else ''}{language}.{ending}"
    found = making.asked_for(key, lambda tell: wanted.make(subject, tell), wait_s=0.0 if _is_part(request) else WAIT_S)
    if is_named and found.content is not None and not _is_part(request):
        making.forget(key)  # names are kept nowhere
    return _answer(request, record, found, wanted.kind, file)


@login_required
@require_safe
def dossier(request: HttpRequest, survey: str) -> HttpResponse:
    """Say what a dossier is, whose key signs it, and how it is checked; for those who may take a survey out."""
    record = survey_for(request.user, survey, to="export")
    try:
        assessment = held_assessment(record)
    except CannotAssess as problem:
        return cannot_assess_page(request, record, "report", problem)
    fingerprint, public = key_fingerprint()
    context = {
        "fingerprint": fingerprint,
        "public": public,
        "workers": list(results_by_worker(assessment)),
        "retained": retained_words(record),
        "file": f"{record.code}-dossier.zip",
    }
    return survey_page(request, "report/dossier.html", record, "report", context)


@login_required
@never_cache
@require_http_methods(["GET"])
def dossier_file(request: HttpRequest, survey: str, variant: str) -> HttpResponse:
    """Give the dossier, whole or for a request, or say how far it is."""
    if variant not in ("whole", "for-request"):
        raise Http404("There is nothing here.")
    record = survey_for(request.user, survey, to="export")
    try:
        assessment = held_assessment(record)
    except CannotAssess as problem:
        return cannot_assess_page(request, record, "report", problem)
    subject, key = _subject(request, record, assessment), signing_key()
    added = dossiers.added_to(record)
    wait_s = 0.0 if _is_part(request) else WAIT_S
    if variant == "whole":
        name = making.key_of("dossier", record.pk, *_content(subject), added)
        found = making.asked_for(
            name, lambda tell: dossiers.whole_dossier(record, subject, added, key, tell), wait_s=wait_s
        )
        return _answer(request, record, found, ZIP, f"{record.code}-dossier.zip")
    keep = request.GET.get("worker", "")
    name = making.key_of("dossier for a request", record.pk, assessment.survey.input_sha256, keep)
    found = making.asked_for(
        name, lambda tell: dossiers.dossier_for_request(record, subject, keep, key, tell), wait_s=wait_s
    )
    return _answer(request, record, found, ZIP, f"{record.code}-dossier-for-request.zip")


def _subject(request: HttpRequest, record: Survey, assessment: SurveyAssessment, *, is_named: bool = False) -> Subject:
    names = WorkerName.objects.filter(worker__site=record.site).values_list("worker__code", "name") if is_named else ()
    return Subject(
        assessment=assessment,
        binding=questions_of(record, assessment).binding,
        stated=stated_for(record, assessment),
        words=words_in(request.GET.get("language", LANGUAGES[0])),
        today=today_at(record),
        worker=request.GET.get("worker", ""),
        group=request.GET.get("group", ""),
        names=dict(names),
    )


def _content(subject: Subject) -> tuple[object, ...]:
    """Everything a document rests on, as it stands now."""
    stated = subject.stated
    rows = [(one.rung, one.action, one.reason, one.owner, one.by, one.done_on) for one in stated.recommendations]
    return (
        subject.assessment.survey.input_sha256,
        [one.asked.key for one in subject.binding if one.asked.earlier],
        sorted(stated.texts.items()),
        rows,
        stated.terms.contact,
        stated.clocks,
        subject.today,
    )


def _is_part(request: HttpRequest) -> bool:
    return bool(request.headers.get("HX-Request"))


def _answer(request: HttpRequest, record: Survey, found: making.Making, kind: str, file: str) -> HttpResponse:
    if found.content is not None and not _is_part(request):
        answer = HttpResponse(found.content, content_type=kind, headers={"Cache-Control": "no-store, private"})
        plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "._-") else "_" for sign in file)
        answer["Content-Disposition"] = f'attachment; filename="{plain}"'
        return answer
    asked = dict(request.GET.items())
    again = f"{request.path}?{urlencode(asked)}" if asked else request.path
    context = {"making": found, "file": file, "again": again, "user": cast(User, request.user)}
    if _is_part(request):
        return render(request, "report/making_state.html", context | {"survey": record})
    status = 500 if found.problem else 202
    return survey_page(request, "report/making.html", record, "report", context, status=status)
