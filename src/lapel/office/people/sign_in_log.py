"""
The log of signing in and out, and of what people sign in with: who, from where, and whether it worked.

Never what was typed as a password or a code.
"""

from __future__ import annotations

import logging
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.http import HttpRequest

from lapel.office.people import news
from lapel.records import sessions

LOG = logging.getLogger("lapel.office.people")


def connect() -> None:
    """Listen for everybody who signs in, fails to, or signs out."""
    user_logged_in.connect(_signed_in, dispatch_uid="lapel-signed-in")
    user_logged_out.connect(_signed_out, dispatch_uid="lapel-signed-out")
    user_login_failed.connect(_refused, dispatch_uid="lapel-sign-in-refused")


def second_factor_refused(request: HttpRequest, person: User) -> None:
    """Log a wrong code after a right password: somebody may know the password who should not."""
    LOG.warning("second factor refused: %r from %s", person.get_username(), _from(request))


def changed(request: HttpRequest, what: str, person: User, *, about: str = "", is_news: bool = True) -> None:
    """
    Log a change of how somebody signs in or what they may do, and keep it for them to read.

    Parameters
    ----------
    request : HttpRequest
        Of whoever made it: themselves, or a lead.
    what : str
        In our own words.
    person : User
        Whose account.
    about : str
        Where, in words that people may have typed.
    is_news : bool
        Whether the person is to be told; else it only stands in the server's log.
    """
    by = request.user.get_username()
    where = f" ({about!r})" if about else ""
    LOG.info("%s%s: %r by %r from %s", what, where, person.get_username(), by, _from(request))
    if is_news:
        news.keep(person, what, by=by, about=about)


def _signed_in(sender: object, request: HttpRequest | None, user: User, **_: Any) -> None:
    LOG.info("signed in: %r from %s", user.get_username(), _from(request))
    if request is not None:
        agent = request.META.get("HTTP_USER_AGENT", "")
        sessions.begin(request.session, agent=agent, lasting=timedelta(seconds=settings.SESSION_COOKIE_AGE))


def _signed_out(sender: object, request: HttpRequest | None, user: User | None, **_: Any) -> None:
    if user is not None:
        LOG.info("signed out: %r from %s", user.get_username(), _from(request))


def _refused(sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any) -> None:
    LOG.warning("sign-in refused: %r from %s", str(credentials.get("username", ""))[:150], _from(request))


def _from(request: HttpRequest | None) -> str:
    """Return the address the connection came from; `%r` of a name keeps line ends out of the log."""
    return str(request.META.get("REMOTE_ADDR", "nowhere")) if request is not None else "the server"
