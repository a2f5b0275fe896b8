"""The folder a server keeps its things in, and the secret key that lives there."""

from __future__ import annotations

import secrets
from pathlib import Path


def secret_key(home: Path) -> str:
    """
    Read the server's secret key, making it on the first start.

    Parameters
    ----------
    home : Path
        Made if it is not there; the key file is readable by its owner only.
    """
    path = home / "secret-key"
    if not path.exists():
        home.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64), encoding="ascii")
    return path.read_text(encoding="ascii").strip()
