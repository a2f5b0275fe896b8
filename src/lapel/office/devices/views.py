"""The devices of a site: who they are, pairing one by a code shown once, and ending its key."""

from __future__ import annotations

from typing import cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.office.devices.forms import DeviceForm, RevokeForm
from lapel.office.devices.showing import device_rows, offer_words
from lapel.pictures.qr_code import qr_code
from lapel.records.access import Act, acts_of, device_for, pairing_of, site_for
from lapel.records.devices import revoke_device
from lapel.records.models import Device, Site
from lapel.records.pairing import GOOD_FOR, new_device, offer_pairing, shown_code

FIELD_PAGE = "/field/pair"
"""Where a device trades the code for its key; the code stands behind the “#”, which no server log sees."""


@login_required
@require_safe
def devices(request: HttpRequest, site: str) -> HttpResponse:
    """List the devices of a site: last contact, what waits on them, their clocks."""
    return _devices(request, site_for(request.user, site))


@never_cache
@login_required
@require_POST
def pair_new(request: HttpRequest, site: str) -> HttpResponse:
    """Enter a device and show the code that pairs it; it is shown this once."""
    there = site_for(request.user, site, to="manage")
    form = DeviceForm(request.POST)
    if not form.is_valid():
        return _devices(request, there, form=form)
    user = cast(User, request.user)
    return _offer(request, new_device(there, user=user, **form.cleaned_data))


@never_cache
@login_required
@require_POST
def pair_again(request: HttpRequest, site: str, device: str) -> HttpResponse:
    """Show a new code for a device that lost its key, or was never paired."""
    return _offer(request, _device(request, site, device, to="manage"))


@login_required
@require_safe
def pairing(request: HttpRequest, site: str, device: str, offer: int) -> HttpResponse:
    """Say what became of an offer; the page with the code asks for it every few seconds."""
    of = _device(request, site, device, to="manage")
    found = pairing_of(of, offer)
    words, tone = offer_words(found, at=timezone.now())
    return render(request, "devices/pairing.html", {"words": words, "tone": tone, "offer": found, "device": of})


@login_required
@require_http_methods(["GET", "POST"])
def revoke(request: HttpRequest, site: str, device: str) -> HttpResponse:
    """End a device's key, with the reason."""
    of = _device(request, site, device, to="manage")
    form = RevokeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        revoke_device(of, by=cast(User, request.user), reason=form.cleaned_data["reason"])
        words = f"{of} can deliver nothing more. What it sent stays; what it still holds can come in as a file."
        messages.success(request, words, extra_tags="good")
        return redirect("devices", site=site)
    context = _context(request, of.site) | {"device": of, "form": form}
    return render(request, "devices/revoke.html", context, status=422 if form.errors else 200)


def _device(request: HttpRequest, site: str, device: str, *, to: Act) -> Device:
    found = device_for(request.user, device, to=to)
    if found.site.code != site:
        raise Http404("There is nothing here.")
    return found


def _devices(request: HttpRequest, site: Site, *, form: DeviceForm | None = None) -> HttpResponse:
    context = _context(request, site) | {
        "rows": device_rows(site, at=timezone.now()),
        "zone": ZoneInfo(site.zone),
        "form": form or DeviceForm(),
    }
    return render(request, "devices/devices.html", context, status=422 if form and form.errors else 200)


def _offer(request: HttpRequest, device: Device) -> HttpResponse:
    at = timezone.now()
    offer, code = offer_pairing(device, by=cast(User, request.user), at=at)
    address = f"{request.build_absolute_uri(FIELD_PAGE)}#{code}"
    words, tone = offer_words(offer, at=at)
    context = _context(request, device.site) | {
        "device": device,
        "offer": offer,
        "code": shown_code(code),
        "address": address,
        "typed_at": request.build_absolute_uri(FIELD_PAGE),
        "picture": mark_safe(qr_code(address).svg(key="pairing")),
        "minutes": int(GOOD_FOR.total_seconds() // 60),
        "plain_http": not request.is_secure(),
        "zone": ZoneInfo(device.site.zone),
        "words": words,
        "tone": tone,
    }
    return render(request, "devices/offer.html", context)


def _context(request: HttpRequest, site: Site) -> dict[str, object]:
    return {"section": "people", "site": site, "acts": acts_of(request.user, site)}
