"""
The server's sessions, each known to be somebody's, so that people can see theirs and end them.

Whoever signs in gets a session that ends twelve hours later, used or not. Ending one deletes its row: the next request
with its cookie is nobody's.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.contrib.sessions.backends.base import SessionBase
from django.contrib.sessions.backends.db import SessionStore as InDatabase
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from lapel.records.models import SignedIn

SEEN_EVERY = timedelta(minutes=5)
"""How often it is noted that a session is in use."""

_SINCE, _BROWSER = "signed_in_at", "browser"

_BROWSERS = (("Edg", "Edge"), ("OPR", "Opera"), ("Firefox|FxiOS", "Firefox"), ("Chrome|CriOS", "Chrome"))
_SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Windows", "Windows"),
    ("CrOS", "ChromeOS"),
    ("Macintosh", "a Mac"),
    ("Linux", "Linux"),
)


class SessionStore(InDatabase):
    """Django's sessions in the database, with whose they are beside each."""

    used_at: datetime | None = None
    """When it was last noted that the session is in use, as read from its row."""

    @classmethod
    def get_model_class(cls) -> type[SignedIn]:
        """Return the table."""
        return SignedIn

    def create_model_instance(self, data: dict[str, Any]) -> SignedIn:
        """Write whose the session is beside it, from what is in it."""
        row = super().create_model_instance(data)
        assert isinstance(row, SignedIn)
        account, since = data.get("_auth_user_id"), data.get(_SINCE)
        row.user_id = int(account) if account else None
        row.since = datetime.fromisoformat(since) if since else None
        row.browser = str(data.get(_BROWSER, ""))
        row.seen_at = timezone.now()
        return row

    def _get_session_from_db(self) -> SignedIn | None:
        row: SignedIn | None = super()._get_session_from_db()  # type: ignore[misc]  # the one place the row is read
        self.used_at = row.seen_at if row else None
        return row


def begin(session: SessionBase, *, agent: str, lasting: timedelta) -> None:
    """
    Note in the session of somebody who signed in since when it is, with what, and when it ends.

    Parameters
    ----------
    session : SessionBase
        The new session.
    agent : str
        How the browser names itself.
    lasting : timedelta
        After which it ends.
    """
    now = timezone.now()
    session[_SINCE] = now.isoformat()
    session[_BROWSER] = browser_in_words(agent)
    session.set_expiry(now + lasting)


def began(session: SessionBase) -> datetime | None:
    """Return since when somebody is signed in by a session."""
    since = session.get(_SINCE)
    return datetime.fromisoformat(since) if since else None


def note_use(session: SessionBase) -> None:
    """Note that a session is in use, every few minutes and without touching what is in it."""
    now = timezone.now()
    used_at = getattr(session, "used_at", None)
    if used_at is not None and now - used_at > SEEN_EVERY:
        SignedIn.objects.filter(pk=session.session_key).update(seen_at=now)


def sessions_of(person: User) -> QuerySet[SignedIn]:
    """Return a person's sessions that have not ended, newest first."""
    return SignedIn.objects.filter(user=person, expire_date__gt=timezone.now()).order_by("-since")


def end_all(person: User, *, but: str | None = None) -> int:
    """End a person's sessions, all but the one with this key, and return how many."""
    ended, _ = sessions_of(person).exclude(pk=but or "").delete()
    return ended


def end_one(person: User, mark: str) -> bool:
    """End the session of a person with this mark, and say whether there was one."""
    for row in sessions_of(person):
        if constant_time_compare(mark_of(row), mark):
            row.delete()
            return True
    return False


def mark_of(row: SignedIn) -> str:
    """Return what a page calls a session by: never its key, which would open it."""
    return salted_hmac("lapel.session.mark", row.session_key, algorithm="sha256").hexdigest()[:24]


def browser_in_words(agent: str) -> str:
    """Return what a browser says it is, in words; what it says can be untrue."""
    browser = next((words for sign, words in _BROWSERS if re.search(sign, agent)), "")
    if not browser and "Safari" in agent:
        browser = "Safari"
    system = next((words for sign, words in _SYSTEMS if sign in agent), "")
    return f"{browser or 'Another browser'} on {system or 'another system'}"
