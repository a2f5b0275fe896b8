"""Fetching documents: made apart from the page where they take longer than a page may."""

from __future__ import annotations

from typing import cast
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.held import CannotAssess, held_assessment
from lapel.assessment.results import SurveyAssessment
from lapel.documents.wording import LANGUAGES
from lapel.documents.worker_results import results_by_worker
from lapel.office.downloads import download
from lapel.office.judge.asked import questions_of
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.report import dossiers, making
from lapel.office.report.documents import PAPERS, ZIP, Subject
from lapel.office.report.keeping import file_name, is_whole, made_and_kept
from lapel.office.report.letterhead import words_of_site
from lapel.office.report.retained import retained_words
from lapel.office.report.signing_key import key_fingerprint, signing_key
from lapel.office.report.stated import stated_for
from lapel.office.report.views import today_at
from lapel.records.access import kept_document_for, site_for, survey_for
from lapel.records.models import Survey
from lapel.records.names import names_on

WAIT_S = 1.0
"""How long a page waits for a document; then it shows how far it is. [s]"""

KEPT_A_PAGE = 100


@login_required
@never_cache
@require_safe
@with_figures("report")
def paper(request: HttpRequest, survey: str, name: str) -> HttpResponse:
    """Give a document, or say how far it is; asked again, it is there."""
    wanted = PAPERS.get(name)
    if wanted is None:
        raise Http404("There is nothing here.")
    record = survey_for(request.user, survey, to=wanted.to)
    is_named = wanted.is_for_workers and request.GET.get("names") == "yes"
    if is_named:
        site_for(request.user, record.site.code, to="name")
    assessment = held_assessment(record)
    subject = _subject(request, record, assessment, about=wanted.about, is_named=is_named)
    key, found, file = _asked(request, record, name, subject, wait_s=0.0 if _is_part(request) else WAIT_S)
    if is_named and found.content is not None and not _is_part(request):
        making.forget(key)  # names are kept nowhere
    return _answer(request, record, found, wanted.kind, file)


@login_required
@require_safe
def kept_papers(request: HttpRequest, survey: str) -> HttpResponse:
    """List every document that was made for somebody, with its hash, the newest first."""
    record = survey_for(request.user, survey)
    kept = record.kept_documents.defer("content").order_by("-id")
    page = Paginator(kept, KEPT_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "now": _inputs_now(record)}
    return survey_page(request, "report/kept.html", record, "report", context)


@login_required
@require_safe
def kept_paper(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Give a document as it was made, byte for byte; one that was altered from outside is not given."""
    found = kept_document_for(request.user, survey, number)
    if not is_whole(found):
        context = {"damaged": found}
        return survey_page(request, "report/kept.html", found.survey, "report", context, status=500)
    return _for_this_person(bytes(found.content), found.file, found.kind)


def _inputs_now(record: Survey) -> str:
    try:
        return held_assessment(record).survey.input_sha256
    except CannotAssess:
        return ""


@login_required
@require_safe
@with_figures("report")
def dossier(request: HttpRequest, survey: str) -> HttpResponse:
    """Say what a dossier is, whose key signs it, and how it is checked; for those who may take a survey out."""
    record = survey_for(request.user, survey, to="export")
    assessment = held_assessment(record)
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
@with_figures("report")
def dossier_file(request: HttpRequest, survey: str, variant: str) -> HttpResponse:
    """Give the dossier, whole or for a request, or say how far it is."""
    if variant not in ("whole", "for-request"):
        raise Http404("There is nothing here.")
    record = survey_for(request.user, survey, to="export")
    assessment = held_assessment(record)
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
    name = making.key_of("dossier for a request", record.pk, assessment.survey.input_sha256, keep, added.kept)
    found = making.asked_for(
        name, lambda tell: dossiers.dossier_for_request(record, subject, keep, key, tell), wait_s=wait_s
    )
    return _answer(request, record, found, ZIP, f"{record.code}-dossier-for-request.zip")


def have_kept(request: HttpRequest, record: Survey, assessment: SurveyAssessment, name: str) -> None:
    """Have a document made and kept without waiting for it."""
    _asked(request, record, name, _subject(request, record, assessment), wait_s=0.0)


def _asked(
    request: HttpRequest, record: Survey, name: str, subject: Subject, *, wait_s: float
) -> tuple[str, making.Making, str]:
    """Ask for a document; give its key, how far it is, and its file name."""
    wanted, by = PAPERS[name], cast(User, request.user).get_username()
    key = making.key_of(
        name, record.pk, *_content(subject), subject.words.language, subject.worker, subject.group,
        by if subject.names else "", sorted(subject.names.items()),
    )  # fmt: skip
    file = file_name(record, name, about=subject.worker or subject.group, language=subject.words.language)
    found = making.asked_for(
        key, lambda tell: made_and_kept(wanted, subject, tell, record=record, file=file, by=by), wait_s=wait_s
    )
    return key, found, file


def _subject(
    request: HttpRequest,
    record: Survey,
    assessment: SurveyAssessment,
    *,
    about: str = "survey",
    is_named: bool = False,
) -> Subject:
    return Subject(
        assessment=assessment,
        binding=questions_of(record, assessment).binding,
        stated=stated_for(record, assessment),
        words=words_of_site(record.site, request.GET.get("language", LANGUAGES[0])),
        today=today_at(record),
        worker=request.GET.get("worker", "") if about == "worker" else "",
        group=request.GET.get("group", "") if about == "group" else "",
        names=names_on(request.user, record.site.code) if is_named else {},
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
        stated.logo,
        subject.words.texts,
        subject.today,
    )


def _for_this_person(content: bytes, file: str, kind: str) -> HttpResponse:
    answer = download(content, file, kind)
    answer["Cache-Control"] = "no-store, private"
    return answer


def _is_part(request: HttpRequest) -> bool:
    return bool(request.headers.get("HX-Request"))


def _answer(request: HttpRequest, record: Survey, found: making.Making, kind: str, file: str) -> HttpResponse:
    if found.content is not None and not _is_part(request):
        return _for_this_person(found.content, file, kind)
    asked = dict(request.GET.items())
    again = f"{request.path}?{urlencode(asked)}" if asked else request.path
    context = {"making": found, "file": file, "again": again, "user": cast(User, request.user)}
    if _is_part(request):
        return render(request, "report/making_state.html", context | {"survey": record})
    status = 500 if found.problem else 202
    return survey_page(request, "report/making.html", record, "report", context, status=status)
