"""Devices paired with a site: a key shown once, of which only the hash is kept, and its withdrawal."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from lapel.records.audit import signed
from lapel.records.models import Device, DeviceContact, DevicePairing, Site

KEY_WORD = "lapel_"
"""What every key begins with, so that one left in a file is recognised for what it is."""

ONE_CONTACT = timedelta(seconds=10)
"""Messages of a device within this time are noted once."""


def code_is_taken(code: str) -> bool:
    """Whether a device of any site of this server has this code; codes name devices in every log."""
    return Device.objects.filter(code=code).exists()


def pair_device(site: Site, *, code: str, name: str = "", user: User) -> tuple[Device, str]:
    """
    Pair a device with a site, or give one that was paired a new key; the old one stops working.

    Parameters
    ----------
    code : str
        What the device writes into every entry. Unique on the server, because the device's chain is under it.
    user : User
        Who pairs it, and stands for what it sends.

    Returns
    -------
    Device, str
        The device, and its key. The key can be shown this once: what is stored does not give it back.

    Raises
    ------
    ValueError
        The code is empty, too long or not printable, or another site's device has it.
    """
    code = code.strip()
    if not code or len(code) > 120 or not code.isprintable():
        raise ValueError(f"`code` must be 1 to 120 printable characters; found “{code[:40]}”")
    with transaction.atomic():
        device = Device.objects.select_for_update().filter(code=code).first()
        if device is not None and device.site_id != site.pk:
            raise ValueError(f"`code` must be new on this server; “{code}” is taken")
        device = device or Device(site=site, code=code)
        device.name = name or device.name
        return device, give_key(device, user=user)


def give_key(device: Device, *, user: User) -> str:
    """Give a device a new key, which is returned this once; `user` stands for what it sends. An old key ends."""
    key = KEY_WORD + secrets.token_urlsafe(32)
    device.key_hash, device.paired_by = key_hash(key), user
    device.revoked_at, device.revoked_because = None, ""
    signed(device, user, "paired").save()
    return key


@transaction.atomic
def revoke_device(device: Device, *, by: User | None = None, reason: str = "") -> None:
    """Let a device's key stop working; what it sent stays, and what it still holds can be imported from its file."""
    at = timezone.now()
    device.key_hash, device.revoked_at, device.revoked_because = "", at, reason
    signed(device, by, reason).save()
    DevicePairing.objects.filter(device=device, used_at=None, withdrawn_at=None).update(withdrawn_at=at)


def heard_of(device: Device, *, at: datetime, sent_at: datetime | None, last_made: int | None) -> None:
    """
    Note that a device was heard of, and what it said of itself.

    Many messages in a few seconds are one contact: a device that empties its outbox costs one more write, not fifty.
    """
    known = DeviceContact.objects.filter(device=device).first()
    if known is not None and known.last_made == last_made and at - known.at < ONE_CONTACT:
        return
    said = DeviceContact(
        device=device,
        at=at,
        ahead_s=(sent_at - at).total_seconds() if sent_at else None,
        last_made=last_made if last_made is not None or known is None else known.last_made,
    )
    written_over = ["at", "ahead_s", "last_made"]
    DeviceContact.objects.bulk_create(
        [said], update_conflicts=True, unique_fields=["device"], update_fields=written_over
    )


def device_with_key(key: str) -> Device | None:
    """Return the device a key belongs to; none if it was never given out, replaced or revoked."""
    if not key.startswith(KEY_WORD):
        return None
    return Device.objects.select_related("site", "paired_by").filter(key_hash=key_hash(key), revoked_at=None).first()


def key_hash(key: str) -> str:
    """Return the SHA-256 of a key; 256 random bits need no slower hash (NIST SP 800-63B-4, section 3.1.2.2)."""
    return hashlib.sha256(key.encode("utf-8", "backslashreplace")).hexdigest()
