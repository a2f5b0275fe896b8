"""Devices paired with a site: a key shown once, of which only the hash is kept, and its withdrawal."""

from __future__ import annotations

import hashlib
import secrets

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from lapel.records.models import Device, Site

KEY_WORD = "lapel_"
"""What every key begins with, so that one left in a file is recognised for what it is."""


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
    key = KEY_WORD + secrets.token_urlsafe(32)
    with transaction.atomic():
        device = Device.objects.select_for_update().filter(code=code).first()
        if device is not None and device.site_id != site.pk:
            raise ValueError(f"`code` must be new on this server; “{code}” is taken")
        device = device or Device(site=site, code=code)
        device.name, device.key_hash = name or device.name, key_hash(key)
        device.paired_by, device.revoked_at = user, None
        device.save()
    return device, key


def revoke_device(device: Device) -> None:
    """Let a device's key stop working; what it sent stays, and what it still holds can be imported from its file."""
    device.key_hash = ""
    device.revoked_at = timezone.now()
    device.save()


def device_with_key(key: str) -> Device | None:
    """Return the device a key belongs to; none if it was never given out, replaced or revoked."""
    if not key.startswith(KEY_WORD):
        return None
    return Device.objects.select_related("site", "paired_by").filter(key_hash=key_hash(key), revoked_at=None).first()


def key_hash(key: str) -> str:
    """Return the SHA-256 of a key; 256 random bits need no slower hash (NIST SP 800-63B-4, section 3.1.2.2)."""
    return hashlib.sha256(key.encode("utf-8", "backslashreplace")).hexdigest()
