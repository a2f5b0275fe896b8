"""Parcels of a survey: sealing, handing on, and the forms that go with them."""

from __future__ import annotations

import hashlib
import json
from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db import IntegrityError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.dispatch import HandOver, Shipment, by_parcel, days_left, not_packed, shipments
from lapel.assessment.held import held_survey
from lapel.assessment.inputs import Survey as SurveyData
from lapel.documents.custody_form import (
    Issue,
    counts_in_words,
    custody_copies,
    custody_words,
    expected_words,
    request_words,
    signed_words,
)
from lapel.documents.file_names import plain_names
from lapel.documents.parcel_labels import parcel_labels
from lapel.exchange.custody_json import custody_as_data
from lapel.fieldlog import Day
from lapel.fieldlog.signatures import Signature
from lapel.office.dispatch.forms import HandOverForms, IssueForm, SealForm
from lapel.office.downloads import download
from lapel.office.of_survey import survey_page
from lapel.pictures.signature import signature_picture
from lapel.records.access import custody_form_for, survey_for
from lapel.records.append import EntryRefused, append_act
from lapel.records.models import CustodyForm, Survey
from lapel.reference import rule_book


@login_required
@require_http_methods(["GET", "POST"])
def parcels(request: HttpRequest, survey: str) -> HttpResponse:
    """List the parcels of a survey and what lies in none; seal a new one."""
    record = survey_for(request.user, survey, to="record" if request.method == "POST" else "see")
    data, day = held_survey(record)
    loose = not_packed(data, day)
    form = SealForm([(code, _loose_words(data, day, code)) for code in loose], request.POST or None)
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        if asked["parcel"] in day.parcels:
            form.add_error("parcel", f"Found {asked['parcel']}, sealed already. Wanted a new number. Nothing was kept.")
        elif _recorded(request, record, form, "parcel_sealed", _sealed(asked)):
            messages.success(request, f"Parcel {asked['parcel']} is sealed in the log.", extra_tags="good")
            return redirect("survey-parcel", survey=survey, parcel=asked["parcel"])
    context = {
        "rows": [_parcel_row(data, shipment) for shipment in _shipments(data, day)],
        "loose": loose,
        "form": form,
        "zone": ZoneInfo(data.site.zone),
        "now": timezone.now(),
    }
    return survey_page(
        request, "dispatch/parcels.html", record, "dispatch", context, status=422 if form.errors else 200
    )


@login_required
@require_safe
def parcel(request: HttpRequest, survey: str, parcel: str) -> HttpResponse:
    """Show one parcel: what is in it, who holds it, what stops it, and every issue of its form."""
    record = survey_for(request.user, survey)
    return _parcel_page(request, record, parcel)


@login_required
@sensitive_post_parameters("giver-password", "receiver-password")
@require_http_methods(["POST"])
def hand_over(request: HttpRequest, survey: str, parcel: str) -> HttpResponse:
    """Record that a parcel went from one hand to another."""
    record = survey_for(request.user, survey, to="record")
    if parcel not in held_survey(record)[1].parcels:
        raise Http404("There is nothing here.")
    asked = HandOverForms(request, sent=True)
    if asked.is_valid():
        fields = {"parcel": parcel, **asked.fields(), **_warmth(asked.seen.cleaned_data)}
        if _recorded(request, record, asked.seen, "custody_handed", fields):
            messages.success(request, f"Parcel {parcel} is with {fields['to']}.", extra_tags="good")
            return redirect("survey-parcel", survey=survey, parcel=parcel)
        asked.is_wrong = True
    return _parcel_page(request, record, parcel, hand=asked)


@login_required
@require_http_methods(["POST"])
def issue_form(request: HttpRequest, survey: str, parcel: str) -> HttpResponse:
    """Issue the form of a parcel; the one before it stays what it was."""
    record = survey_for(request.user, survey, to="record")
    data, day = held_survey(record)
    shipment = _shipment(data, day, parcel)
    number = _next_issue(record, parcel)
    form = IssueForm(number, request.POST)
    if form.is_valid() and not shipment.may_go:
        form.add_error(None, "Something stops this parcel. Settle it first; no form was issued.")
    if form.is_valid():
        try:
            _issue(request, record, data, shipment, number, form.cleaned_data)
        except IntegrityError:
            form.add_error(None, f"Issue {number} was made by somebody else just now. Look at it, then issue again.")
        else:
            messages.success(request, f"Issue {number} of the form of {parcel} is ready.", extra_tags="good")
            return redirect("survey-parcel", survey=survey, parcel=parcel)
    return _parcel_page(request, record, parcel, issue=form)


@login_required
@require_safe
def labels(request: HttpRequest, survey: str, parcel: str) -> HttpResponse:
    """Hand out the label and the seals of a parcel, to print and stick on."""
    record = survey_for(request.user, survey)
    data, day = held_survey(record)
    last = record.custody_forms.filter(parcel=parcel).defer("pdf", "data").last()
    sheet = parcel_labels(
        data,
        _shipment(data, day, parcel),
        dated=timezone.now().astimezone(ZoneInfo(data.site.zone)).date(),
        sender=data.prepared_by,
        receiver=last.laboratory if last else "",
    )
    return _file(sheet, f"parcel-{parcel}-label-and-seals", "pdf")


@login_required
@require_safe
def form_file(request: HttpRequest, survey: str, form: int, kind: str) -> HttpResponse:
    """Hand out one issue of a form as it was made, as PDF or as open data."""
    made = custody_form_for(request.user, survey, form)
    if kind not in ("pdf", "json"):
        raise Http404("There is nothing here.")
    content = bytes(made.pdf) if kind == "pdf" else made.data.encode()
    return _file(content, f"parcel-{made.parcel}-issue-{made.issue}", kind)


def _file(content: bytes, name: str, kind: str) -> HttpResponse:
    [plain] = plain_names([name])
    return download(content, f"{plain}.{kind}", f"application/{kind}")


def _parcel_page(
    request: HttpRequest,
    record: Survey,
    parcel: str,
    *,
    hand: HandOverForms | None = None,
    issue: IssueForm | None = None,
) -> HttpResponse:
    data, day = held_survey(record)
    shipment = _shipment(data, day, parcel)
    number = _next_issue(record, parcel)
    last = record.custody_forms.filter(parcel=parcel).defer("pdf", "data").last()
    before = {name: getattr(last, name) for name in ("laboratory", "report_to", "wanted_by")} if last else {}
    now = timezone.now()
    left = days_left(shipment.latest_arrival, now)
    wrong = (hand is not None and hand.is_wrong) or (issue is not None and issue.errors)
    context = {
        "shipment": shipment,
        "counts": counts_in_words(shipment),
        "custody": custody_words(shipment),
        "samples": [_sample_row(sample) for sample in shipment.samples],
        "hands": [_hand_row(hand) for hand in shipment.hands],
        "hand": hand or HandOverForms(request, shipment.parcel.holder),
        "issue": issue or IssueForm(number, initial=before),
        "number": number,
        "forms": record.custody_forms.filter(parcel=parcel).defer("pdf", "data"),
        "zone": ZoneInfo(data.site.zone),
        "left": "" if left is None or _arrived(record, shipment) else _left_words(left),
        "over": left is not None and left < 0 and not _arrived(record, shipment),
    }
    return survey_page(request, "dispatch/parcel.html", record, "dispatch", context, status=422 if wrong else 200)


def _issue(
    request: HttpRequest, record: Survey, data: SurveyData, shipment: Shipment, number: int, asked: dict[str, Any]
) -> None:
    now, user = timezone.now(), cast(User, request.user)
    reason = asked.get("reason", "")
    issue = Issue(
        number,
        now,
        user.get_full_name() or user.get_username(),
        reason,
        asked["report_to"],
        asked["laboratory"],
        asked["wanted_by"],
    )
    pdf = custody_copies(data, shipment, issue)
    content = custody_as_data(data, shipment, issue=number, made_at=now, reason=reason)
    CustodyForm.objects.create(
        survey=record,
        parcel=shipment.parcel.code,
        issue=number,
        made_at=now,
        made_by=user.get_username(),
        reason=reason,
        laboratory=asked["laboratory"],
        report_to=asked["report_to"],
        wanted_by=asked["wanted_by"],
        data=json.dumps(content, ensure_ascii=False, indent=1),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
    )


def _recorded(request: HttpRequest, record: Survey, form: Any, kind: str, fields: dict[str, str]) -> bool:
    try:
        append_act(kind, fields, survey=record, author=cast(User, request.user))
    except EntryRefused as refused:
        for problem in refused.problems:
            form.add_error(None, f"{problem.field}: found {problem.found}; wanted {problem.wanted}. Nothing was kept.")
        return False
    return True


def _sealed(asked: dict[str, Any]) -> dict[str, str]:
    fields = {"parcel": asked["parcel"], "samplers": " ".join(asked["samplers"]), **_warmth(asked)}
    return fields | ({"seal": asked["seal"]} if asked["seal"] else {})


def _warmth(asked: dict[str, Any]) -> dict[str, str]:
    if asked["temperature"] is None:
        return {}
    return {"temperature": str(asked["temperature"]), "temperature_unit": asked["temperature_unit"]}


def _shipments(data: SurveyData, day: Day) -> tuple[Shipment, ...]:
    return shipments(data, day, rule_book(data.rule_book))


def _shipment(data: SurveyData, day: Day, parcel: str) -> Shipment:
    found = by_parcel(_shipments(data, day)).get(parcel)
    if found is None:
        raise Http404("There is nothing here.")
    return found


def _next_issue(record: Survey, parcel: str) -> int:
    last = record.custody_forms.filter(parcel=parcel).order_by("issue").values_list("issue", flat=True).last()
    return 1 + (last or 0)


def _arrived(record: Survey, shipment: Shipment) -> bool:
    """Whether results of it are on record already: then no countdown runs."""
    codes = [sample.sampler for sample in shipment.samples]
    return record.results.filter(sampler__in=codes).exists()


def _left_words(days: float) -> str:
    """How long until, or since, the first holding time ends."""
    hours = abs(days) * 24
    long = f"{hours / 24:.0f} days" if hours >= 72 else f"{hours:.0f} hours"
    return f"{long} left" if days >= 0 else f"over for {long}"


def _parcel_row(data: SurveyData, shipment: Shipment) -> dict[str, Any]:
    return {
        "shipment": shipment,
        "counts": counts_in_words(shipment),
        "custody": custody_words(shipment),
        "stops": [matter for matter in shipment.matters if matter.weight == "stop"],
    }


def _hand_row(hand: HandOver) -> dict[str, Any]:
    return {"of": hand, "giver": _signed(hand.giver_signature), "receiver": _signed(hand.receiver_signature)}


def _signed(signature: Signature | None) -> dict[str, str]:
    """How somebody signed, in words or as drawn; the picture is made of whole numbers and nothing else."""
    if signature is not None and signature.how == "drawn":
        return {"words": "", "drawn": mark_safe(signature_picture(signature.lines))}
    return {"words": signed_words(signature) or "not signed", "drawn": ""}


def _sample_row(sample: Any) -> dict[str, Any]:
    return {
        "of": sample,
        "requests": [request_words(request) for request in sample.requests],
        "expected": [words for request in sample.requests if (words := expected_words(request))],
    }


def _loose_words(data: SurveyData, day: Day, code: str) -> str:
    one = day.blanks.get(code) or day.runs[code]
    lot = data.media_lots.get(one.lot)
    medium = one.medium or (lot.medium if lot else "") or "medium not recorded"
    blank = day.blanks.get(code)
    if blank is not None:
        return f"{code}, {blank.use or 'field'} blank, {medium}"
    run = day.runs[code]
    return f"{code}, {medium}, train {run.train} port {run.port}"
