"""
What stands beside a report in ``laboratory/as-delivered/``: the file as it came, how it was read, and earlier versions.

Each earlier version has a folder of its own, ``version-1`` and on. A note beside a file names it with its SHA-256, so
that another file in its place shows.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from lapel.exchange.problems import Place
from lapel.exchange.survey_folder.folder_files import FolderFiles

FOLDER = "laboratory"
AS_DELIVERED = f"{FOLDER}/as-delivered"
MAP = "map.json"
"""Beside a delivered file: the answers by which it was read."""
ACCEPTED = "accepted.json"
"""Beside a file that was taken over into a folder: its own document stands for it, with what was not analysed."""
EARLIER = "earlier.json"
"""Beside the file of an earlier version: which it was, and its hash."""

LONGEST_PLACE = 300
"""Characters of a file's place in a report's folder, as the records hold it. [-]"""
LARGEST_MB = 25
"""Files above this size are refused, as a laboratory's are. [MB]"""

_VERSION = re.compile(r"version-([1-9][0-9]{0,3})/")


def files_beside(folder: Path, *, without: Iterable[Path] = ()) -> dict[str, bytes]:
    """
    Read everything in a report's folder, by its place there, hidden files left out.

    Raises
    ------
    OSError
        A file cannot be read or kept: it is a link, too large, or too deep in folders.
    """
    if folder.is_symlink():
        raise OSError(0, f"{folder.name} is a link; put the folder itself in its place")
    left_out = set(without)
    found: dict[str, bytes] = {}
    for path in sorted(folder.rglob("*")):
        place = path.relative_to(folder)
        is_hidden = any(part.startswith((".", "~")) for part in place.parts)
        if path.is_file() and path not in left_out and not is_hidden:
            _hold_to_bounds(path, place.as_posix())
            found[place.as_posix()] = path.read_bytes()
    return found


def _hold_to_bounds(path: Path, place: str) -> None:
    """Refuse what cannot be kept; a link may show a file from outside the folder that nobody meant to hand over."""
    if path.is_symlink():
        raise OSError(0, f"{place} is a link; put the file itself in its place")
    if path.stat().st_size > LARGEST_MB * 1_000_000:
        raise OSError(0, f"{place} is larger than {LARGEST_MB} MB")
    if len(place) > LONGEST_PLACE:
        raise OSError(0, f"{place[:60]}… is a name of {len(place)} characters; at most {LONGEST_PLACE} are kept")


def write_beside(folder: Path, beside: Mapping[str, bytes]) -> None:
    """Write files to their places in a report's folder; nothing is written outside of it or over another."""
    for place, content in beside.items():
        path = folder / place
        if PurePosixPath(place).is_absolute() or ".." in PurePosixPath(place).parts:
            raise ValueError(f"{place} leads out of the folder")
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as file:
            file.write(content)


def earlier_versions(places: Iterable[str]) -> int:
    """Return the number of the latest version among places, 0 where there is none."""
    return max((int(found[1]) for place in places if (found := _VERSION.match(place))), default=0)


def is_of_an_earlier_version(place: str) -> bool:
    """Whether a place lies in the folder of an earlier version."""
    return _VERSION.match(place) is not None


def earlier_text(
    *, report: str, version: int, file: str, content: bytes, taken_over_by: str = "", changes: Iterable[str] = ()
) -> str:
    """Write the note beside the file of an earlier version."""
    said: dict[str, Any] = {
        "format": "lapel earlier version 1",
        "report": report,
        "version": version,
        "file": file,
        "sha256": hashlib.sha256(content).hexdigest(),
        "taken_over_by": taken_over_by,
        "changes": list(changes),
    }
    return json.dumps(said, ensure_ascii=False, indent=1) + "\n"


def check_beside(files: FolderFiles, stem: str) -> None:
    """Hold every file that a note beside it names against the hash the note gives."""
    folder = files.root / AS_DELIVERED / stem
    for note in sorted(path for path in folder.rglob("*.json") if path.name in (ACCEPTED, EARLIER)):
        name = note.relative_to(files.root).as_posix()
        content = files.bytes_of(name)
        if content is None:
            continue
        try:
            said = json.loads(content)
            file, wanted = PurePosixPath(said["file"]).name, str(said["sha256"])
        except (ValueError, KeyError, TypeError):
            files.faults.add(Place(name), "a note that cannot be read", "the note as it was written", "Put it back.")
            continue
        kept = (PurePosixPath(name).parent / file).as_posix()
        if files.bytes_of(kept) is not None and files.hash_of(kept) != wanted:
            files.faults.add(
                Place(kept),
                "a file that is no longer the one that was taken over",
                f"the file with the SHA-256 in {name}",
                "Put the file as it came back in its place.",
            )
