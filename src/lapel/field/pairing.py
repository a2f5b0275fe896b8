"""
Pairing: the only address of the interface that asks for no key, because it gives one out.

A code has 50 bits, counts once and for a quarter of an hour; whoever sends wrong ones is made to wait. What an address
has sent wrong is counted by each process of the server on its own.
"""

from __future__ import annotations

from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from lapel.field.api import api, asked_as_json, device_answer
from lapel.field.shapes import Faults, Paired, PairingCode, Words
from lapel.records.pairing import NoSuchPairing, claim_pairing

WRONG_CODES = 20
"""Wrong codes from one address before it has to wait."""

WAIT_S = 15 * 60
"""Seconds it has to wait, and after which a wrong code is forgotten."""

_NO_SUCH_CODE = (
    "This code does not count: it was used, a newer one was made, or its time is over. Ask for a new one at the "
    "office. Entries on this device stay where they are."
)


__all__ = ["api", "pair"]


class _TooManyCodes(Exception):  # noqa: N818 - no error of ours
    """An address sent too many wrong codes."""


@api.post(
    "pair",
    auth=asked_as_json,  # by whom is what the code says
    response={200: Paired, 400: Words, 404: Words, 413: Words, 415: Words, 422: Faults, 429: Words},
    summary="Pair this device",
)
def pair(request: HttpRequest, given: PairingCode) -> Paired:
    """
    Trade a code shown at the office for the device's key.

    The key is given this once; an answer that got lost needs a new code. A device that was paired before and goes on
    from `last_sequence` and `last_hash` continues its chain.
    """
    wrong = f"lapel.pairing.wrong:{request.META.get('REMOTE_ADDR', '')}"
    if cache.get(wrong, 0) >= WRONG_CODES:
        raise _TooManyCodes
    try:
        device, key = claim_pairing(given.code, at=timezone.now())
    except NoSuchPairing:
        cache.add(wrong, 0, WAIT_S)
        cache.incr(wrong)
        raise Http404(_NO_SUCH_CODE) from None
    return Paired(key=key, device=device_answer(device))


@api.exception_handler(_TooManyCodes)
def too_many_codes(request: HttpRequest, problem: Exception) -> HttpResponse:
    """429: the address has to wait."""
    words = f"Too many wrong codes from here. Wait {WAIT_S // 60} minutes, and ask for a new code at the office."
    answer = api.create_response(request, {"detail": words}, status=429)
    answer["Retry-After"] = str(WAIT_S)
    return answer
