"""A laboratory's files: brought in, read before everybody's eyes, questioned, and taken over by a person."""

from __future__ import annotations

from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.exchange import delivered_records as files
from lapel.exchange.laboratory.answer_words import answers_in_words
from lapel.exchange.laboratory.session import ReadReport
from lapel.exchange.problems import InputProblems
from lapel.office.downloads import download
from lapel.office.of_survey import survey_page
from lapel.office.results.forms import NOTHING_KEPT, AnswerForm, AsideForm, ColumnForm, FileForm
from lapel.office.results.showing import (
    column_rows,
    headings,
    lost_rows,
    matter_rows,
    named_samplers,
    not_analysed_rows,
    replaced_by,
    result_rows,
)
from lapel.office.uploads import room_for
from lapel.records.access import delivered_file_for, survey_for
from lapel.records.models import DeliveredFile, Survey

MOST_ROWS = 200
"""Results of one file shown on its page; the rest is counted."""


@login_required
@require_http_methods(["GET", "POST"])
def results(request: HttpRequest, survey: str) -> HttpResponse:
    """List reports and files of a survey; bring a file in."""
    bringing = request.method == "POST"
    record = survey_for(request.user, survey, to="deliver" if bringing else "see")
    room = room_for(cast(User, request.user), record.site)
    form = FileForm(request.POST, request.FILES, room=room) if bringing else FileForm(room=room)
    if bringing and form.is_valid():
        upload = form.cleaned_data["file"]
        user = cast(User, request.user)
        try:
            kept = files.keep_delivered(record, upload.name, upload.read(), by=user, amends=form.cleaned_data["amends"])
        except InputProblems as problems:
            for problem in problems.problems:
                form.add_error("file", f"Found {problem.found}. Wanted {problem.wanted}. {problem.remedy}")
        else:
            return redirect("delivered-file", survey=survey, delivered=kept.pk)
    without = not_analysed_rows(record.notes, dict(record.agents.values_list("code", "name")))
    brought_in = list(record.delivered_files.select_related("uploaded_by", "report").defer("report__original"))
    later = replaced_by(brought_in)
    context = {
        "form": form,
        "without": without,
        "reports": record.laboratoryreports.defer("original", "mapping"),
        "files": [{"of": file, "replaced_by": later.get(file.pk)} for file in brought_in],
        "waiting": _without_results(record, {row["sampler"] for row in without}),
        "zone": ZoneInfo(record.site.zone),
    }
    return survey_page(request, "results/results.html", record, "results", context, status=422 if form.errors else 200)


@login_required
@require_safe
def delivered(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Show how a file would be read, with the cells that say so, and everything it leaves open."""
    return _page(request, delivered_file_for(request.user, survey, delivered))


@login_required
@require_POST
def answer(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Answer one question about a file."""
    file = _open_file(request, survey, delivered)
    read = files.read_delivered(file)
    key = request.POST.get("key", "")
    question = next((one for one in read.proposal.questions if one.key == key), None)
    if question is None:
        messages.info(request, "That question is answered already.")
        return redirect("delivered-file", survey=survey, delivered=delivered)
    form = AnswerForm(question, request.POST)
    if form.is_valid():
        try:
            files.answer(file, key, form.cleaned_data["answer"], by=cast(User, request.user))
        except InputProblems as problems:
            for problem in problems.problems:
                form.add_error("answer", f"Found {problem.found}. Wanted {problem.wanted}. {problem.remedy}")
        else:
            return redirect("delivered-file", survey=survey, delivered=delivered)
    return _page(request, file, answered=form)


@login_required
@require_POST
def decide(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Say whose sampler a printed name is, or that it is none of ours."""
    file = _open_file(request, survey, delivered)
    key, text = request.POST.get("key", ""), request.POST.get("answer", "").strip()
    if not key.startswith(("report.samplers.", "report.ignored_samplers")):
        raise Http404("There is nothing here.")
    if not text:
        messages.error(request, f"Found no sampler chosen. Wanted one. {NOTHING_KEPT}", extra_tags="stop")
        return redirect("delivered-file", survey=survey, delivered=delivered)
    try:
        files.answer(file, key, text, by=cast(User, request.user))
    except InputProblems as problems:
        messages.error(request, " ".join(str(problem) for problem in problems.problems), extra_tags="stop")
    return redirect("delivered-file", survey=survey, delivered=delivered)


@login_required
@require_POST
def column(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Say what a column holds."""
    file = _open_file(request, survey, delivered)
    form = ColumnForm(headings(files.read_delivered(file)), request.POST)
    if not form.is_valid():
        return _page(request, file, column_form=form)
    said = form.cleaned_data
    files.answer(file, f"columns.{said['heading']}", said["role"], by=cast(User, request.user))
    messages.success(request, f"“{said['heading']}” is read as you said. Look at the results again.", extra_tags="good")
    return redirect("delivered-file", survey=survey, delivered=delivered)


@login_required
@require_POST
def ask_again(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Take back every answer given about a file."""
    file = _open_file(request, survey, delivered)
    files.forget_answers(file, by=cast(User, request.user))
    messages.success(request, "Every answer is taken back; all is asked again.", extra_tags="good")
    return redirect("delivered-file", survey=survey, delivered=delivered)


@login_required
@require_POST
def confirm_near(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Confirm every near-match of a name that was shown."""
    file = _open_file(request, survey, delivered)
    files.confirm_near(file, by=cast(User, request.user))
    return redirect("delivered-file", survey=survey, delivered=delivered)


@login_required
@require_POST
def accept(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Take a settled file over into the results."""
    file = _open_file(request, survey, delivered)
    try:
        report = files.accept_delivered(file, by=cast(User, request.user))
    except InputProblems as problems:
        messages.error(request, " ".join(str(problem) for problem in problems.problems), extra_tags="stop")
        return redirect("delivered-file", survey=survey, delivered=delivered)
    words = f"Report {report.code} is taken over" + (f" as version {file.version}." if file.version > 1 else ".")
    if file.version > 1 and file.survey.signatures.exists():
        words += " Signatures given before now show as outdated where a figure moved."
    messages.success(request, words, extra_tags="good")
    return redirect("survey-results", survey=survey)


@login_required
@require_POST
def aside(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Leave a file unused, with the reason."""
    file = _open_file(request, survey, delivered)
    form = AsideForm(request.POST)
    if not form.is_valid():
        return _page(request, file, aside_form=form)
    files.set_aside(file, by=cast(User, request.user), reason=form.cleaned_data["reason"])
    messages.success(request, f"{file.name} stays as it came and is not used.", extra_tags="good")
    return redirect("survey-results", survey=survey)


@login_required
@require_safe
def original(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Hand the file out as it came."""
    file = delivered_file_for(request.user, survey, delivered)
    return download(files.original_bytes(file), file.name, "application/octet-stream")


@login_required
@require_safe
def letter(request: HttpRequest, survey: str, delivered: int) -> HttpResponse:
    """Hand out the questions for the laboratory as text, ready to send."""
    file = delivered_file_for(request.user, survey, delivered)
    text = _read(file).letter
    if not text:
        raise Http404("There is nothing here.")
    return download(text, "questions-for-the-laboratory.txt", "text/plain; charset=utf-8")


def _open_file(request: HttpRequest, survey: str, delivered: int) -> DeliveredFile:
    """Return a file that is still to be settled, for who may deliver."""
    file = delivered_file_for(request.user, survey, delivered, to="deliver")
    if file.report_id is not None or file.set_aside:
        raise Http404("There is nothing here.")
    return file


def _read(file: DeliveredFile) -> ReadReport:
    try:
        return files.read_delivered(file, suspect=True)
    except InputProblems as problem:
        raise Http404("There is nothing here.") from problem


def _page(
    request: HttpRequest,
    file: DeliveredFile,
    *,
    answered: AnswerForm | None = None,
    aside_form: AsideForm | None = None,
    column_form: ColumnForm | None = None,
) -> HttpResponse:
    is_open = file.report_id is None and not file.set_aside
    read = _read(file) if is_open else None
    questions: list[dict[str, Any]] = []
    for question in read.proposal.questions if read else ():
        mine = answered is not None and answered.question.key == question.key
        questions.append({"of": question, "form": answered if mine else AnswerForm(question)})
    versions = file.report.delivered_files.only("report_id", "version") if file.report else ()
    context: dict[str, Any] = {
        "file": file,
        "replaced_by": replaced_by(versions).get(file.pk),
        "read": read,
        "questions": questions,
        "columns": column_rows(read) if read else [],
        "rows": result_rows(read)[:MOST_ROWS] if read else [],
        "lost": lost_rows(read) if read else [],
        "more": max(0, len(read.results) - MOST_ROWS) if read else 0,
        "matters": matter_rows(read) if read else {},
        "aside_form": aside_form or AsideForm(),
        "samplers": named_samplers(read) if read else [],
        "column_form": column_form or (ColumnForm(headings(read)) if read else None),
        "answered": list(answers_in_words(files.answers_as_data(file)).values()),
        "zone": ZoneInfo(file.survey.site.zone),
    }
    wrong = any(form is not None and form.errors for form in (answered, aside_form, column_form))
    return survey_page(request, "results/delivered.html", file.survey, "results", context, status=422 if wrong else 200)


def _without_results(record: Survey, explained: set[str]) -> list[str]:
    answered = {*record.results.values_list("sampler", flat=True), *explained}
    return [code for code in record.sampleorders.values_list("code", flat=True) if code not in answered]
