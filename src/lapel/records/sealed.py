"""
Secrets of the second factor as the database holds them: sealed, or as a keyed hash, by a key in a file beside it.

Who reads the database alone, or a dump of it, can make no codes. The key is made once, in the server's folder, and goes
into its backups. Sealing is AES-SIV, which needs no counter to keep, and is bound to the account: a secret copied to
another account's row opens for nobody.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import hmac
import logging
import os
import secrets
from functools import lru_cache
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from django.conf import settings
from django.db.models.signals import post_init, post_save, pre_save

KEY_FILE = "second-factor-key"
"""Name of the key's file in the server's folder; a backup holds it under the same."""

_KEY_BYTES = 64
_TAG_BYTES = 16
_PLAIN_DIGITS = 40
"""Hexadecimal digits of a secret as an authenticator has it: 20 bytes."""
_SEALED_DIGITS = _PLAIN_DIGITS + 2 * _TAG_BYTES

LOG = logging.getLogger("lapel.records.sealed")


def connect() -> None:
    """Have the secrets of authenticators sealed on their way into the database and opened on their way out."""
    from django_otp.plugins.otp_totp.models import TOTPDevice

    post_init.connect(_open, sender=TOTPDevice, dispatch_uid="lapel-secret-opened")
    pre_save.connect(_seal, sender=TOTPDevice, dispatch_uid="lapel-secret-sealed")
    post_save.connect(_open, sender=TOTPDevice, dispatch_uid="lapel-secret-opened-again")


def seal(secret: str, account: int) -> str:
    """
    Seal an authenticator's secret for an account.

    Parameters
    ----------
    secret : str
        In hexadecimal digits. One that is sealed stays as it is.
    account : int
        Number of the account.
    """
    if len(secret) == _SEALED_DIGITS:
        return secret
    return AESSIV(_key()).encrypt(bytes.fromhex(secret), [_bound_to(account)]).hex()


def opened(sealed: str, account: int) -> str:
    """
    Open a sealed secret.

    Raises
    ------
    ValueError
        It was not sealed for this account by this server's key.
    """
    try:
        return AESSIV(_key()).decrypt(bytes.fromhex(sealed), [_bound_to(account)]).hex()
    except InvalidTag as problem:
        raise ValueError(f"the secret of account {account} was not sealed by the key in {KEY_FILE}") from problem


def hash_of_code(code: str, account: int) -> str:
    """Return a backup code as it is kept: 80 bits of a hash by the key, of the code and the account."""
    digest = hmac.new(_key(), b"backup code\0%d\0%s" % (account, code.encode()), hashlib.sha256).digest()
    return base64.b32encode(digest[:10]).decode().lower()


def unreadable_accounts() -> list[str]:
    """Return the names of those whose secrets the key that is here does not open."""
    from django_otp.plugins.otp_totp.models import TOTPDevice

    rows = TOTPDevice.objects.order_by("user__username").values_list("key", "user_id", "user__username")
    return [name for sealed, account, name in rows if not _opens(sealed, account)]


def forget_key() -> None:
    """Read the key anew the next time: another file took its place."""
    _key_in.cache_clear()


def _opens(sealed: str, account: int) -> bool:
    try:
        opened(sealed, account)
    except ValueError:
        return False
    return True


def _open(sender: type, instance: Any, **_: Any) -> None:
    if "key" not in instance.__dict__ or len(instance.key) != _SEALED_DIGITS:
        return
    try:
        instance.key = opened(instance.key, instance.user_id)
    except ValueError as problem:
        LOG.error("%s: codes of this account are refused until the right key is back", problem)


def _seal(sender: type, instance: Any, **_: Any) -> None:
    instance.key = seal(instance.key, instance.user_id)


def _bound_to(account: int) -> bytes:
    return b"lapel second factor, account %d" % account


def _key() -> bytes:
    return _key_in(Path(settings.HOME))


@lru_cache(maxsize=4)
def _key_in(home: Path) -> bytes:
    path = home / KEY_FILE
    if not path.exists():
        _make(path)
    key = bytes.fromhex(path.read_text(encoding="ascii").strip())
    if len(key) != _KEY_BYTES:
        raise ValueError(
            f"{path} holds no key: {len(key)} bytes where {_KEY_BYTES} are wanted; restore it from a backup"
        )
    return key


def _make(path: Path) -> None:
    """Write a new key, whole or not at all; of two processes that make it at once one wins."""
    waiting = path.with_name(f".{path.name}-{secrets.token_hex(6)}.part")
    handle = os.open(waiting, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_hex(_KEY_BYTES))
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(waiting, path)
    finally:
        waiting.unlink(missing_ok=True)
