"""Pairing a device: a code shown at the office, good once and for some minutes, is traded for the device's key."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet
from django.utils.crypto import salted_hmac

from lapel.records.access import acts_of
from lapel.records.audit import signed
from lapel.records.devices import give_key
from lapel.records.models import Device, DevicePairing, Site

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32: no I, L, O, U, so that a code read aloud or off a screen is not mistaken."""

SIGNS = 10
"""Signs of a code: 50 bits, of which nobody guesses one in the minutes it counts."""

GOOD_FOR = timedelta(minutes=15)
_MISTAKEN = str.maketrans({"O": "0", "I": "1", "L": "1", "-": "", " ": ""})


class NoSuchPairing(ValueError):  # noqa: N818 - reads as what it is
    """A code is unknown, used, withdrawn or past its time; which of them is not said."""


def new_device(site: Site, *, name: str, code: str = "", user: User) -> Device:
    """
    Enter a device that is to be paired with a site; until then it has no key.

    Parameters
    ----------
    name : str
        What people call it.
    code : str
        What it writes into every entry; made of the name if left out. Unique on the server.

    Raises
    ------
    ValueError
        The code is taken, or cannot be one.
    """
    wanted = code.strip() or _code_of(name)
    if not wanted or len(wanted) > 120 or not wanted.isprintable():
        raise ValueError(f"`code` must be 1 to 120 printable characters; found “{wanted[:40]}”")
    if Device.objects.filter(code=wanted).exists():
        raise ValueError(f"`code` must be new on this server; “{wanted}” is taken")
    device = Device(site=site, name=name.strip(), code=wanted)
    signed(device, user, "entered, to be paired").save()
    return device


@transaction.atomic
def offer_pairing(device: Device, *, by: User, at: datetime) -> tuple[DevicePairing, str]:
    """
    Make a code that pairs a device; one made before for it no longer counts. Its present key works until it is used.

    Returns
    -------
    DevicePairing, str
        The offer, and the code in plain letters. It can be shown this once.
    """
    open_offers(device, at=at).update(withdrawn_at=at)
    code = "".join(secrets.choice(ALPHABET) for _ in range(SIGNS))
    offer = DevicePairing.objects.create(
        device=device, code_hash=_hash(code), offered_by=by, offered_at=at, expires_at=at + GOOD_FOR
    )
    return offer, code


@transaction.atomic
def claim_pairing(code: str, *, at: datetime) -> tuple[Device, str]:
    """
    Trade a code for the device's key.

    Returns
    -------
    Device, str
        The device and its key, which can be shown this once. What it had for a key before stops working.

    Raises
    ------
    NoSuchPairing
        The code does not count, or whoever made it may no longer pair devices with the site.
    """
    offers = DevicePairing.objects.select_for_update().select_related("device__site", "offered_by")
    offer = offers.filter(code_hash=_hash(plain_code(code))).first()
    if offer is None or not is_open(offer, at=at) or "manage" not in acts_of(offer.offered_by, offer.device.site):
        raise NoSuchPairing("the code does not count")
    offer.used_at = at
    offer.save()
    return offer.device, give_key(offer.device, user=offer.offered_by)


def is_open(offer: DevicePairing, *, at: datetime) -> bool:
    """Whether an offer can still be taken up."""
    return offer.used_at is None and offer.withdrawn_at is None and at < offer.expires_at


def open_offers(device: Device, *, at: datetime) -> QuerySet[DevicePairing]:
    """Return the offers of a device that can still be taken up."""
    return DevicePairing.objects.filter(device=device, used_at=None, withdrawn_at=None, expires_at__gt=at)


def plain_code(typed: str) -> str:
    """Return a code as it was made: blanks, hyphens and small letters do not matter, nor O for 0 and I or L for 1."""
    return typed.strip().upper().translate(_MISTAKEN)


def shown_code(code: str) -> str:
    """Write a code in two groups, as it is read aloud."""
    half = len(code) // 2
    return f"{code[:half]}-{code[half:]}"


def _hash(code: str) -> str:
    """Return what is kept of a code: without the server's secret nobody tries out codes on a stolen database."""
    return salted_hmac("lapel.pairing", code, algorithm="sha256").hexdigest()


def _code_of(name: str) -> str:
    """Make a code of a name: “Phone 3” becomes “phone-3”, with a number behind it where that is taken."""
    made = "-".join("".join(sign if sign.isalnum() else " " for sign in name.casefold()).split())[:100]
    code, number = made, 1
    while code and Device.objects.filter(code=code).exists():
        number += 1
        code = f"{made}-{number}"
    return code
