"""The office's key, which signs dossiers, as pages use it."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings

from lapel.exchange.dossier import fingerprint_of_key, office_key, public_key_text


def signing_key() -> bytes:
    """Read the key of this server, making it the first time."""
    return office_key(Path(settings.HOME))


def key_fingerprint() -> tuple[str, str]:
    """Short name of the key, and its public half."""
    key = signing_key()
    return fingerprint_of_key(key), public_key_text(key)
