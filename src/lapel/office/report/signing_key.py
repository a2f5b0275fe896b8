"""The office's key, which signs dossiers: made once, kept in the server's folder, readable by its owner only."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from django.conf import settings

from lapel.exchange.dossier import new_key, public_key_text
from lapel.exchange.dossier.seal import fingerprint

FILE = "signing-key.pem"


def signing_key() -> bytes:
    """
    Read the key, making it the first time.

    Of two processes that make it at once one wins, and both use its key: the file takes its name whole, and never that
    of another. It is never replaced: whoever wants another key moves this one away.
    """
    home = Path(settings.HOME)
    path = home / FILE
    if not path.exists():
        waiting = home / f".{FILE}-{secrets.token_hex(6)}.part"
        handle = os.open(waiting, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(new_key())
                file.flush()
                os.fsync(file.fileno())
            with contextlib.suppress(FileExistsError):
                os.link(waiting, path)
        finally:
            waiting.unlink(missing_ok=True)
    return path.read_bytes()


def key_fingerprint() -> tuple[str, str]:
    """Short name of the key, and its public half."""
    public = public_key_text(signing_key())
    return fingerprint(public), public
