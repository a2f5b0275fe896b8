"""The files of a survey folder: found, measured, hashed and decoded, with a fault for whatever cannot be."""

from __future__ import annotations

import codecs
import hashlib
import re
from pathlib import Path

from lapel.exchange.problems import Faults, Place, did_you_mean, quoted
from lapel.exchange.survey_folder.layout import FILE_LIMITS_MB

_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffd]")
_MB = 1_000_000
_BYTE_ORDER_MARKS = {
    codecs.BOM_UTF32_LE: "UTF-32",
    codecs.BOM_UTF32_BE: "UTF-32",
    codecs.BOM_UTF16_LE: "UTF-16",
    codecs.BOM_UTF16_BE: "UTF-16",
}
_TO_UTF8 = "Save the file as UTF-8 (spreadsheets call it “CSV UTF-8”)."


class FolderFiles:
    """
    Reads files of one folder and remembers the hash of each.

    Parameters
    ----------
    root : Path
        The survey folder.
    faults : Faults
        Where faults go.
    """

    def __init__(self, root: Path, faults: Faults) -> None:
        self.root = root
        self.faults = faults
        self._hashes: dict[str, str] = {}

    def names(self, under: str, ending: str) -> list[str]:
        """List files of a sub-folder by ending, sorted, without hidden ones and lock files of other programs."""
        folder = self.root / under if under else self.root
        try:
            found = [
                path.name
                for path in folder.iterdir()
                if path.name.lower().endswith(ending) and not path.name.startswith((".", "~"))
            ]
        except OSError:
            return []
        return [f"{under}/{name}" if under else name for name in sorted(found)]

    def bytes_of(self, name: str, *, needed: bool = True) -> bytes | None:
        """Read a file whole; `None`, with a fault where it matters, if it is not there or is too large."""
        path = self.root / name
        ending = path.suffix.lower()
        try:
            if not path.exists():
                if needed:
                    self.faults.add(
                        Place(name),
                        "no such file",
                        "this file of the survey folder",
                        self._similar(name) + "Add it; the reference page of the survey folder lists its columns.",
                    )
                return None
            if not path.is_file():
                self.faults.add(Place(name), "a folder or device", "a file", "Put the file itself in its place.")
                return None
            size, limit = path.stat().st_size, FILE_LIMITS_MB.get(ending, 25)
            if size > limit * _MB:
                self.faults.add(
                    Place(name), f"{size / _MB:.0f} MB", f"at most {limit} MB", "Split the survey into several folders."
                )
                return None
            content = path.read_bytes()
        except OSError as problem:
            reason = problem.strerror or type(problem).__name__
            self.faults.add(Place(name), f"it cannot be read ({reason})", "a readable file", "Check its permissions.")
            return None
        self._hashes[name] = hashlib.sha256(content).hexdigest()
        return content

    def text_of(self, name: str, *, needed: bool = True) -> str | None:
        """Read and decode a UTF-8 text file that ends as a whole file does."""
        content = self.bytes_of(name, needed=needed)
        if content is None:
            return None
        return self.decoded(name, content)

    def decoded(self, name: str, content: bytes, encoding: str = "utf-8") -> str | None:
        """Decode strictly; a fault and `None` if the bytes are not of this encoding or hold what no text holds."""
        for mark, mark_name in _BYTE_ORDER_MARKS.items():
            if encoding == "utf-8" and content.startswith(mark):
                self.faults.add(Place(name), f"the encoding {mark_name}", "UTF-8", _TO_UTF8)
                return None
        codec = {"utf-8": "utf-8-sig", "windows-1252": "cp1252", "utf-16": "utf-16"}[encoding]
        try:
            text = content.decode(codec)
        except UnicodeError as problem:
            start = getattr(problem, "start", 0)
            row = content.count(b"\n", 0, start) + 1
            found = f"bytes that are not {encoding} ({content[start : start + 4].hex(' ') or 'cut off'})"
            self.faults.add(Place(name, row), found, f"{encoding} text", _TO_UTF8)
            return None
        strange = _UNPRINTABLE.search(text)
        if strange:
            row = text.count("\n", 0, strange.start()) + 1
            self.faults.add(
                Place(name, row),
                f"the sign {quoted(strange[0])}",
                "printable text",
                "Save it again as plain UTF-8 text.",
            )
            return None
        if not text.strip():
            self.faults.add(
                Place(name), "an empty file", "its header and rows", "Fill it, or take it away if optional."
            )
            return None
        if not text.endswith(("\n", "\r")):
            self.faults.add(
                Place(name, len(text.splitlines())),
                "no line end after the last row",
                "a line end",
                "The file may have been cut off: check the last row, and end it with a line end.",
            )
        return text

    def hash_of(self, name: str) -> str:
        """Return the SHA-256 of a file that was read."""
        return self._hashes[name]

    def input_sha256(self) -> str:
        """Hash names and contents of all files read, in the order of their names."""
        lines = [f"{digest}  {name}\n" for name, digest in sorted(self._hashes.items())]
        return hashlib.sha256("".join(lines).encode()).hexdigest()

    def _similar(self, name: str) -> str:
        folder = (self.root / name).parent
        try:
            others = [path.name for path in folder.iterdir()]
        except OSError:
            return ""
        return did_you_mean(Path(name).name, others)
