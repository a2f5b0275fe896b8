"""Entering a certificate of a meter, and putting one before the latest right."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from lapel.office.equipment.certified import CertificateForm
from lapel.office.equipment.views import equipment_page
from lapel.records.access import earlier_certificate_of, meter_for
from lapel.records.audit import signed
from lapel.records.models import EarlierCertificate, Meter
from lapel.records.renewals import CERTIFIED, certify


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, site: str, code: str) -> HttpResponse:
    """Enter another certificate; readings before its day keep the one they were made under."""
    meter = meter_for(request.user, site, code, to="equip")
    initial = {name: getattr(meter, name) for name in ("range_min_lpm", "range_max_lpm", "reads", "exponent")}
    form = CertificateForm(request.POST or None, initial=initial, taken=_days(meter))
    if request.method == "POST" and form.is_valid():
        said = {name: getattr(form.instance, name) for name in CERTIFIED}
        certify(meter, said, user=cast(User, request.user), reason=form.cleaned_data["reason"])
        words = f"The certificate of {said['certified_on']} is entered. Readings before that day count as they did."
        messages.success(request, words, extra_tags="good")
        return redirect("equipment-one", site=site, kind="meter", code=code)
    return _page(request, meter, form)


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, site: str, code: str, number: int) -> HttpResponse:
    """Put a certificate before the latest right; figures of readings made under it follow."""
    meter = meter_for(request.user, site, code, to="equip")
    certificate = earlier_certificate_of(meter, number)
    form = CertificateForm(request.POST or None, instance=certificate, taken=_days(meter) - {certificate.certified_on})
    if certificate.certified_on is None:
        form.fields["certified_on"].required = False
    if request.method == "POST" and form.is_valid():
        signed(form.save(commit=False), cast(User, request.user), form.cleaned_data["reason"]).save()
        messages.success(request, "The certificate is changed; its history shows what it said.", extra_tags="good")
        return redirect("equipment-one", site=site, kind="meter", code=code)
    return _page(request, meter, form, certificate)


def _days(meter: Meter) -> frozenset[object]:
    return frozenset([meter.certified_on, *meter.earlier_certificates.values_list("certified_on", flat=True)])


def _page(
    request: HttpRequest, meter: Meter, form: CertificateForm, certificate: EarlierCertificate | None = None
) -> HttpResponse:
    context = {"form": form, "meter": meter, "certificate": certificate}
    status = 422 if form.errors else 200
    return equipment_page(request, "equipment/certificate.html", meter.site, context, status=status)
