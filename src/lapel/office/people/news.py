"""Word to a person of what was changed about their account: kept, shown on the next page, and acknowledged by them."""

from __future__ import annotations

from typing import cast

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils import timezone

from lapel.records.models import AccountChange
from lapel.records.sessions import began


def keep(person: User, what: str, *, by: str, about: str = "") -> None:
    """Keep that something was changed about an account; while it is being made there is nobody to tell."""
    now = timezone.now()
    noticed_at = None if person.has_usable_password() else now
    AccountChange.objects.create(user=person, at=now, what=what, about=about[:300], by=by[:150], noticed_at=noticed_at)


def unread(request: HttpRequest) -> QuerySet[AccountChange]:
    """Return what a person has not acknowledged, but for what they did themselves since they signed in here."""
    person = cast(User, request.user)
    open_ones = AccountChange.objects.filter(user=person, noticed_at=None)
    since = began(request.session)
    return open_ones if since is None else open_ones.exclude(Q(by=person.get_username()) & Q(at__gte=since))


def acknowledge(request: HttpRequest, last: int) -> None:
    """Note that the person has read what was shown, up to one by its number."""
    unread(request).filter(pk__lte=last).update(noticed_at=timezone.now())


def news(request: HttpRequest) -> dict[str, object]:
    """Context of every page: asked only where the page shows it."""

    def account_news() -> list[AccountChange]:
        return list(unread(request)) if request.user.is_authenticated else []

    return {"account_news": account_news}
