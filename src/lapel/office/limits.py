"""
How often one account may do what is costly or sensitive in an hour: generous for a day's work, narrow for a program.

Counted in the database, so that all processes of a server count together. A line of warning in the server's log says
where a number is unusual, before anything is refused.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from lapel.records.models import ActCount

LOG = logging.getLogger("lapel.office.limits")


@dataclass(frozen=True, slots=True)
class Limit:
    """
    A kind of thing and its limit.

    Attributes
    ----------
    kind, words : str
        Its key, and what it is called on pages and in the server's log.
    unusual : int
        Times in an hour at which the server's log is warned.
    most : int or None
        Times in an hour that are answered; None where nothing is refused.
    pages : frozenset of str
        Names of the addresses it counts.
    posts_only : bool
        Whether only what changes something there counts.
    """

    kind: str
    words: str
    unusual: int
    most: int | None
    pages: frozenset[str] = frozenset()
    posts_only: bool = False


LIMITS = (
    Limit("names", "looking up names of workers", 30, 120, frozenset({"worker-names", "worker-name"})),
    Limit(
        "papers",
        "making documents and letters",
        150,
        600,
        frozenset(
            {"report-paper", "plan-paper", "field-sheets-pdf", "parcel-labels", "issue-form", "letter-to-laboratory"}
        ),
    ),
    Limit("dossiers", "making dossiers", 20, 60, frozenset({"dossier-file"})),
    Limit("groups", "judging groups", 300, 1200, frozenset({"survey-group"})),
    Limit("searches", "searching for plans", 30, 120, frozenset({"plan-ask", "plan-bend"}), posts_only=True),
    Limit(
        "uploads",
        "bringing in files",
        60,
        240,
        frozenset({"survey-results", "entries-from-file", "letterhead"}),
        posts_only=True,
    ),
    Limit("proofs", "proving the log", 20, 60, frozenset({"site-proof"}), posts_only=True),
    Limit(
        "people",
        "inviting, one-time links and pairing",
        30,
        120,
        frozenset({"invite", "member-link", "device-new", "device-pair"}),
        posts_only=True,
    ),
    Limit("strength", "asking how strong a password is", 300, 1200, frozenset({"password-strength"})),
)
"""What is counted before it is answered."""

REFUSALS = Limit("refusals", "asking for what is not there or not theirs", 40, None)
"""Counted after the answer: somebody who tries addresses out."""

_OF_PAGE = {page: limit for limit in LIMITS for page in limit.pages}


class Limits:
    """Counts, warns and refuses; it stands behind the gate of the second factor."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and count what was refused to somebody signed in."""
        response = self.answer(request)
        if response.status_code in (403, 404) and request.user.is_authenticated:
            count(REFUSALS, request)
        return response

    def process_view(self, request: HttpRequest, _view: object, _args: object, _kwargs: object) -> HttpResponse | None:
        """Refuse what was done too often in this hour."""
        match = request.resolver_match
        limit = _OF_PAGE.get(match.url_name or "") if match else None
        if limit is None or (limit.posts_only and request.method != "POST"):
            return None
        if not request.user.is_authenticated and limit.kind != "strength":
            return None  # sent to the door before anything is done
        times = count(limit, request)
        if limit.most is None or times <= limit.most:
            return None
        answer = render(request, "429.html", {"limit": limit}, status=429)
        answer["Retry-After"] = str(3600 - timezone.now().minute * 60 - timezone.now().second)
        return answer


def count(limit: Limit, request: HttpRequest) -> int:
    """
    Count one more in this hour, and warn the server's log once where it becomes unusual, and once where it is refused.

    Returns
    -------
    int
        Times in this hour, this one included.
    """
    hour = timezone.now().replace(minute=0, second=0, microsecond=0)
    whose = request.user.get_username() if request.user.is_authenticated else request.META.get("REMOTE_ADDR", "")
    mine = ActCount.objects.filter(who=whose[:200], kind=limit.kind, hour=hour)
    if not mine.update(times=F("times") + 1):
        ActCount.objects.filter(who=whose[:200], kind=limit.kind, hour__lt=hour).delete()
        ActCount.objects.get_or_create(who=whose[:200], kind=limit.kind, hour=hour)
        mine.update(times=F("times") + 1)
    times: int = mine.values_list("times", flat=True).get()
    if times == limit.unusual:
        LOG.warning("unusual: %s, %d times in this hour by %r", limit.words, times, whose)
    if limit.most is not None and times == limit.most + 1:
        LOG.warning("refused: %s, more than %d times in this hour by %r", limit.words, limit.most, whose)
    return times
