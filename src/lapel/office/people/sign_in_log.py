"""
The log of signing in and out, and of what people sign in with: who, from where, and whether it worked.

Never what was typed as a password or a code.
"""

from __future__ import annotations

import logging
from typing import Any

from django.contrib.auth.models import User
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.http import HttpRequest

LOG = logging.getLogger("lapel.office.people")


def connect() -> None:
    """Listen for everybody who signs in, fails to, or signs out."""
    user_logged_in.connect(_signed_in, dispatch_uid="lapel-signed-in")
    user_logged_out.connect(_signed_out, dispatch_uid="lapel-signed-out")
    user_login_failed.connect(_refused, dispatch_uid="lapel-sign-in-refused")


def second_factor_refused(request: HttpRequest, person: User) -> None:
    """Log a wrong code after a right password: somebody may know the password who should not."""
    LOG.warning("second factor refused: %r from %s", person.get_username(), _from(request))


def changed(request: HttpRequest, what: str, person: User) -> None:
    """Log a change of how somebody signs in, and who made it: themselves, or a lead who helped."""
    LOG.info("%s: %r by %r from %s", what, person.get_username(), request.user.get_username(), _from(request))


def _signed_in(sender: object, request: HttpRequest | None, user: User, **_: Any) -> None:
    LOG.info("signed in: %r from %s", user.get_username(), _from(request))


def _signed_out(sender: object, request: HttpRequest | None, user: User | None, **_: Any) -> None:
    if user is not None:
        LOG.info("signed out: %r from %s", user.get_username(), _from(request))


def _refused(sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any) -> None:
    LOG.warning("sign-in refused: %r from %s", str(credentials.get("username", ""))[:150], _from(request))


def _from(request: HttpRequest | None) -> str:
    """Return the address the connection came from; `%r` of a name keeps line ends out of the log."""
    return str(request.META.get("REMOTE_ADDR", "nowhere")) if request is not None else "the server"
