"""The second factor: a code from the person's phone, asked for after the password, before anything else is shown."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from typing import TypeVar
from urllib.parse import quote

import segno
from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.safestring import SafeString, mark_safe
from django_otp import match_token, user_has_device
from django_otp.models import Device
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from lapel.records.models import Membership
from lapel.records.sealed import hash_of_code

BACKUP_CODES = 10
DIGITS = 6
_View = TypeVar("_View", bound=Callable[..., object])


def open_before_second_factor(view: _View) -> _View:
    """Mark a view that works before the second factor was given: signing in and out, and giving it."""
    view.open_before_second_factor = True  # type: ignore[attr-defined]  # read by the gate below
    return view


class SecondFactorGate:
    """
    Nothing is shown to a signed-in person who has a second factor and has not given it, or must have one and has not.

    Views are closed unless marked `open_before_second_factor`; a device that signs its own requests is no person and
    passes.
    """

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; the gate stands before the view, once it is known which."""
        return self.answer(request)

    def process_view(self, request: HttpRequest, view: object, _args: object, _kwargs: object) -> HttpResponse | None:
        """Send the person where the second factor is given or set up, or let the request pass."""
        person = request.user
        if not isinstance(person, User) or person.is_verified():  # type: ignore[attr-defined]  # by django-otp
            return None
        if getattr(view, "open_before_second_factor", False):
            return None
        has_one = user_has_device(person)
        if not has_one and not must_have(person):
            return None
        where = "second-factor" if has_one else "second-factor-new"
        if request.path.startswith("/api/"):
            return JsonResponse({"detail": "Sign in again: the second factor is missing."}, status=403)
        return redirect(where)


def must_have(person: User) -> bool:
    """Say whether the server's settings ask a second factor of this person."""
    if settings.LAPEL_SECOND_FACTOR == "everyone":
        return True
    leads = Membership.objects.filter(user=person, role=Membership.Role.LEAD)
    return settings.LAPEL_SECOND_FACTOR == "leads" and leads.exists()


def started_device(person: User) -> TOTPDevice:
    """Return the authenticator being set up, the same until it is confirmed, so that a reloaded page still fits."""
    device, _ = TOTPDevice.objects.get_or_create(user=person, confirmed=False, defaults={"name": "authenticator"})
    return device


def confirm(person: User, device: TOTPDevice, code: str) -> list[str] | None:
    """
    Confirm the authenticator with its first code.

    Returns
    -------
    list of str or None
        New backup codes, to be shown once; None if the code was wrong. The old authenticator and the old codes end.
    """
    with transaction.atomic():
        if not device.verify_token(code):
            wrong = True
        else:
            wrong = False
            TOTPDevice.objects.filter(user=person, confirmed=True).delete()
            device.confirmed = True
            device.save()
    return None if wrong else new_backup_codes(person)


def new_backup_codes(person: User) -> list[str]:
    """Make new backup codes; each works once, and the old ones end."""
    with transaction.atomic():
        StaticDevice.objects.filter(user=person).delete()
        kept = StaticDevice.objects.create(user=person, name="backup codes", confirmed=True)
        codes = [StaticToken.random_token() for _ in range(BACKUP_CODES)]
        StaticToken.objects.bulk_create(StaticToken(device=kept, token=hash_of_code(code, person.pk)) for code in codes)
    return codes


def matching_device(person: User, code: str) -> Device | None:
    """Return the device a code belongs to: the authenticator for its digits, else the backup codes, kept as hashes."""
    is_of_authenticator = code.isdigit() and len(code) == DIGITS
    return match_token(person, code if is_of_authenticator else hash_of_code(code, person.pk))


def backup_codes_left(person: User) -> int:
    """Count the backup codes not used yet."""
    return int(StaticToken.objects.filter(device__user=person).count())


def remove_second_factor(person: User) -> None:
    """End the authenticator and the backup codes."""
    with transaction.atomic():
        TOTPDevice.objects.filter(user=person).delete()
        StaticDevice.objects.filter(user=person).delete()


def secret_in_groups(device: TOTPDevice) -> str:
    """Return the secret as people type it: base32 in groups of four."""
    text = base64.b32encode(device.bin_key).decode("ascii").rstrip("=")
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def secret_picture(device: TOTPDevice) -> SafeString:
    """Return the secret as a QR code, drawn as SVG in the page so that it is never a file."""
    label = quote(f"{settings.OTP_TOTP_ISSUER}:{device.user.get_username()}")
    secret = base64.b32encode(device.bin_key).decode("ascii")
    address = f"otpauth://totp/{label}?secret={secret}&issuer={quote(settings.OTP_TOTP_ISSUER)}&digits=6&period=30"
    drawn = io.BytesIO()
    segno.make_qr(address, error="m").save(
        drawn, kind="svg", xmldecl=False, svgns=True, border=4, omitsize=True, title="Code to scan", nl=False
    )
    return mark_safe(drawn.getvalue().decode("utf-8"))  # made here; the name is percent-encoded in it
