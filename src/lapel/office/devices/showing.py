"""What the page of devices shows, as cells; the same number of queries however many devices there are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, Max

from lapel.figures import at_decimals
from lapel.records.models import Delivery, Device, DevicePairing, LogEntry, RefusedEntry, Site
from lapel.records.pairing import is_open

CLOCK_OFF_S = 60.0
"""A clock further off than this is worth setting right; entries are taken either way."""

QUIET_FOR = timedelta(days=2)
"""A device not heard of for longer than this shows its last contact with a mark."""


def device_rows(site: Site, *, at: datetime) -> list[dict[str, Any]]:
    """Return the devices of a site as cells, those that can deliver first."""
    devices = list(Device.objects.filter(site=site).select_related("contact", "paired_by").order_by("code"))
    codes = [device.code for device in devices]
    entries = LogEntry.objects.filter(device__in=codes, sequence__gt=0).order_by().values("device")
    known: dict[str, dict[str, Any]] = {
        row["device"]: dict(row)
        for row in entries.annotate(last=Max("sequence"), many=Count("sequence", distinct=True), at=Max("received_at"))
    }
    refused = dict(
        RefusedEntry.objects.filter(device__in=codes, sequence__gt=0)
        .order_by()
        .values("device")
        .annotate(many=Count("sequence", distinct=True))
        .values_list("device", "many")
    )
    clocks = _last_clocks(codes)
    offers: dict[int, DevicePairing] = {}
    for offer in DevicePairing.objects.filter(device__in=devices).order_by("id"):
        offers[offer.device_id] = offer
    rows = [
        _cells(device, known.get(device.code), refused.get(device.code, 0), clocks, offers.get(device.pk), at)
        for device in devices
    ]
    return sorted(rows, key=lambda row: not row["works"])


def offer_words(offer: DevicePairing, *, at: datetime) -> tuple[str, str]:
    """Say what became of an offer, and its tone."""
    if offer.used_at is not None:
        return "used: the device is paired", "good"
    if offer.withdrawn_at is not None:
        return "withdrawn: it does not count", "stop"
    if not is_open(offer, at=at):
        return "its time is over: make a new one", "stop"
    left = max(1, round((offer.expires_at - at).total_seconds() / 60.0))
    return f"waits for the device, {left} minute{'s' if left != 1 else ''} more", "care"


def clock_words(ahead_s: float | None) -> tuple[str, str]:
    """Say how far a device's clock was off when it was last heard of, and the tone."""
    if ahead_s is None:
        return "not said", "plain"
    size = abs(ahead_s)
    span = (
        f"{at_decimals(size, 0)} s"
        if size < 120.0
        else f"{at_decimals(size / 60.0, 0)} min"
        if size < 7200.0
        else f"{at_decimals(size / 3600.0, 0)} h"
    )
    if size < 2.0:
        return "right to 2 s", "good"
    return f"{span} {'ahead' if ahead_s > 0.0 else 'behind'}", "care" if size > CLOCK_OFF_S else "good"


def _cells(
    device: Device,
    known: dict[str, Any] | None,
    refused: int,
    clocks: dict[str, float],
    offer: DevicePairing | None,
    at: datetime,
) -> dict[str, Any]:
    contact = getattr(device, "contact", None)
    received = known["many"] if known else 0
    last = known["last"] if known else 0
    made = max(last, contact.last_made or 0) if contact else last
    missing = max(0, made - received - refused)
    heard = max((one for one in (contact.at if contact else None, known["at"] if known else None) if one), default=None)
    ahead = contact.ahead_s if contact and contact.ahead_s is not None else clocks.get(device.code)
    works = bool(device.key_hash)
    return {
        "device": device,
        "works": works,
        "state": "paired" if works else "revoked" if device.revoked_at else "not paired yet",
        "tone": "good" if works else "stop" if device.revoked_at else "plain",
        "heard": heard,
        "quiet": works and heard is not None and at - heard > QUIET_FOR,
        "received": received,
        "last": last,
        "refused": refused,
        "missing": missing,
        "told": contact is not None and contact.last_made is not None,
        "clock": clock_words(ahead),
        "offer": offer_words(offer, at=at) if offer is not None and is_open(offer, at=at) else None,
    }


def _last_clocks(codes: Iterable[str]) -> dict[str, float]:
    """Return how far each device's clock was ahead in its last delivery that said what time it was there."""
    last = Delivery.objects.filter(device__in=list(codes), sent_at__isnull=False).order_by().values("device")
    numbers = last.annotate(number=Max("pk")).values_list("number", flat=True)
    rows = Delivery.objects.filter(pk__in=numbers).values_list("device", "sent_at", "received_at")
    return {device: (sent - received).total_seconds() for device, sent, received in rows if sent is not None}
