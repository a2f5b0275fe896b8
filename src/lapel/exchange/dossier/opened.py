"""Opening a dossier: bounded, listed against its manifest, nothing of it trusted."""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from lapel.exchange.dossier import layout

_AT_ONCE = 1 << 20
_BROKEN = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, KeyError, NotImplementedError, OSError, OverflowError,
    RuntimeError, ValueError,
)  # fmt: skip
"""What a damaged zip makes its reader raise; each of them means that it cannot be read."""


class NoDossier(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A file is no dossier that can be read; the message says why."""


@dataclass(frozen=True, slots=True)
class Opened:
    """
    A dossier that is open.

    Attributes
    ----------
    packed : ZipFile
        The file.
    manifest : dict
        Its list of files, as stated.
    comment : bytes
        Where the seal stands.
    """

    packed: zipfile.ZipFile
    manifest: dict[str, Any]
    comment: bytes

    @property
    def listed(self) -> dict[str, dict[str, Any]]:
        """Rows of the manifest by path."""
        return {row["path"]: row for row in self.manifest["files"]}

    def faults(self) -> Iterator[str]:
        """Name every file that is not as listed, is not listed, or is not there."""
        listed = self.listed
        there = set(self.packed.namelist()) - {layout.MANIFEST}
        for name in sorted(there - listed.keys()):
            yield f"{name} is there and not listed"
        for name, row in listed.items():
            if name not in there:
                yield f"{name} is listed and not there"
            elif self._sha256(name) != row["sha256"]:
                yield f"{name} is not what was listed"

    def text(self, name: str) -> str:
        """
        Read a text file.

        Raises
        ------
        NoDossier
            It is not there or is no UTF-8.
        """
        try:
            return self.packed.read(name).decode("utf-8")
        except _BROKEN as problem:
            raise NoDossier(f"{name} cannot be read ({problem})") from problem

    def unpack(self, under: str, folder: Path) -> None:
        """
        Write the files under a path into a folder.

        Raises
        ------
        NoDossier
            One of them cannot be read.
        """
        for name in self.packed.namelist():
            if not name.startswith(under):
                continue
            target = folder / name.removeprefix(under)
            target.parent.mkdir(parents=True, exist_ok=True)
            try:
                with self.packed.open(name) as source, target.open("wb") as file:
                    while part := source.read(_AT_ONCE):
                        file.write(part)
            except _BROKEN as problem:
                raise NoDossier(f"{name} cannot be read ({problem})") from problem

    def _sha256(self, name: str) -> str:
        digest = hashlib.sha256()
        try:
            with self.packed.open(name) as source:
                while part := source.read(_AT_ONCE):
                    digest.update(part)
        except _BROKEN:
            return "unreadable"
        return digest.hexdigest()


@contextmanager
def opened(path: Path) -> Iterator[Opened]:
    """
    Open a dossier.

    Raises
    ------
    NoDossier
        It is no zip, is too large, holds a path that leads outside, or has no manifest that can be read.
    """
    try:
        packed = zipfile.ZipFile(path)
    except _BROKEN as problem:
        raise NoDossier(f"it is no zip file that can be read ({problem})") from problem
    with packed:
        _refuse_hostile(packed)
        yield Opened(packed, _manifest(packed), packed.comment)


def _refuse_hostile(packed: zipfile.ZipFile) -> None:
    entries = packed.infolist()
    if len(entries) > layout.MOST_FILES:
        raise NoDossier(f"it holds {len(entries)} files; at most {layout.MOST_FILES} are read")
    names = [entry.filename for entry in entries]
    if len(set(names)) < len(names):
        raise NoDossier("it holds two files of one name")
    for entry in entries:
        parts = PurePosixPath(entry.filename).parts
        if entry.filename.startswith("/") or ".." in parts or "\\" in entry.filename or ":" in entry.filename:
            raise NoDossier(f"the path “{entry.filename}” leads out of it")
        if entry.file_size > layout.LARGEST_FILE:
            raise NoDossier(f"{entry.filename} is {entry.file_size} bytes; at most {layout.LARGEST_FILE} are read")
    if sum(entry.file_size for entry in entries) > layout.LARGEST_DOSSIER:
        raise NoDossier(f"unpacked it is larger than {layout.LARGEST_DOSSIER} bytes")


def _manifest(packed: zipfile.ZipFile) -> dict[str, Any]:
    try:
        manifest = json.loads(packed.read(layout.MANIFEST))
        stated = (manifest["format"], manifest["format_version"])
        rows = [(row["path"], row["sha256"]) for row in manifest["files"]]
        needed = [manifest[key] for key in ("variant", "kernel_version", "input_sha256", "rule_book", "survey")]
        books = [manifest["rule_book"]["file"], *(book["file"] for book in manifest["compared_rule_books"])]
    except Exception as problem:
        raise NoDossier(f"{layout.MANIFEST} cannot be read ({type(problem).__name__}: {problem})") from problem
    if stated != (layout.FORMAT, layout.FORMAT_VERSION):
        raise NoDossier(f"it says of itself {stated}; this reads ({layout.FORMAT}, {layout.FORMAT_VERSION})")
    if not all(isinstance(text, str) for row in rows for text in row) or not all(map(bool, needed)) or not all(books):
        raise NoDossier(f"{layout.MANIFEST} lacks what it must say")
    return dict(manifest)
