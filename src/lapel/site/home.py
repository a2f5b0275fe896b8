"""The folder a server keeps its things in, the keys that live there, and settings that are numbers."""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path

KEY_FILES = ("secret-key", "signing-key.pem", "second-factor-key")
DATABASE_FILES = ("lapel.sqlite3", "lapel.sqlite3-wal")
"""What only the server's own account may read, beside the keys that `--https` made."""


def secret_key(home: Path) -> str:
    """
    Read the server's secret key, making it on the first start.

    Parameters
    ----------
    home : Path
        Made if it is not there, for its owner only, as the key file.
    """
    path = home / "secret-key"
    if not path.exists():
        home.mkdir(parents=True, exist_ok=True, mode=0o700)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64), encoding="ascii")
    return path.read_text(encoding="ascii").strip()


def whole_number(setting: str, otherwise: int) -> int:
    """
    Read a setting that is a whole number above 0.

    Raises
    ------
    ValueError
        It is something else.
    """
    text = os.environ.get(setting, "").strip()
    if not text:
        return otherwise
    if not (text.isascii() and text.isdigit() and int(text)):
        raise ValueError(f"{setting} must be a whole number above 0; found “{text}”")
    return int(text)


def open_to_others(home: Path) -> list[Path]:
    """
    Return the files with keys or records that others on this machine than the server's account may reach.

    None where the folder itself lets nobody else in, and where files have no rights of this kind.
    """
    if os.name == "nt" or not _is_for_others(home):
        return []
    kept = [home / name for name in (*KEY_FILES, *DATABASE_FILES)]
    kept += sorted((home / "https").glob("*.key"))
    return [path for path in kept if path.is_file() and _is_for_others(path)]


def _is_for_others(path: Path) -> bool:
    return bool(path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO))
