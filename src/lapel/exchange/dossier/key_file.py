"""
Files of signing keys: an Ed25519 key in PEM, whole or not there, its owner's alone, and never written over another.

The office keeps its key under one name in the server's folder; people may keep keys of their own anywhere.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from lapel.exchange.dossier.seal import new_key

OFFICE_KEY = "signing-key.pem"
"""Name of the office's key in the server's folder; a backup holds it under the same."""


def make_key_file(path: Path) -> bytes:
    """
    Make a key and the file that keeps it.

    Raises
    ------
    FileExistsError
        A file is there already; it is as it was.
    """
    key = new_key()
    put_key(path, key)
    return key


def office_key(home: Path) -> bytes:
    """
    Read the office's key, making it the first time.

    Of two processes that make it at once one wins, and both use its key. It is never replaced: whoever wants another
    key moves this one away.
    """
    path = home / OFFICE_KEY
    if not path.exists():
        with contextlib.suppress(FileExistsError):
            make_key_file(path)
    return path.read_bytes()


def put_key(path: Path, key: bytes) -> None:
    """
    Write a key under a name that nothing has; the file takes its name when it is whole, readable by its owner only.

    Raises
    ------
    FileExistsError
        A file is there already; it is as it was.
    """
    waiting = path.with_name(f".{path.name}-{secrets.token_hex(6)}.part")
    handle = os.open(waiting, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(key)
            file.flush()
            os.fsync(file.fileno())
        os.link(waiting, path)
    finally:
        waiting.unlink(missing_ok=True)
