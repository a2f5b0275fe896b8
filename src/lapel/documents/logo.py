"""A firm's logo at the top of its documents: an SVG or a PNG from a file, held to what a document can carry."""

from __future__ import annotations

import base64
import re
import struct
from pathlib import Path

from lapel.documents.render import Picture

LARGEST_BYTES = 500_000
_PNG = b"\x89PNG\r\n\x1a\n"
_REACHES_OUT = re.compile(r"<script|<foreignObject|<!ENTITY|(?:href|src)\s*=\s*[\"'](?!#|data:image/)", re.IGNORECASE)


class UnusableLogo(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A file cannot be a logo; the message says why."""


def firm_logo(path: str | Path, *, firm: str = "") -> Picture:
    """
    Read a logo.

    Parameters
    ----------
    path : str or Path
        An SVG or PNG of at most `LARGEST_BYTES`.
    firm : str
        Whose it is, for those who do not see it.

    Raises
    ------
    UnusableLogo
        It is no such picture, is too large, or reaches out of itself (scripts, other files, addresses).
    """
    file = Path(path)
    try:
        content = file.read_bytes()
    except OSError as problem:
        raise UnusableLogo(f"{file}: {problem.strerror or problem}") from problem
    if len(content) > LARGEST_BYTES:
        raise UnusableLogo(f"{file}: found {len(content)} bytes; wanted at most {LARGEST_BYTES}")
    words = f"Logo of {firm}" if firm else "Logo"
    if content.startswith(_PNG) and len(content) > 24:
        width, height = struct.unpack(">II", content[16:24])
        data = base64.b64encode(content).decode("ascii")
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}">'
            f'<image width="{width}" height="{height}" href="data:image/png;base64,{data}"/></svg>'
        )
        return Picture(svg, words)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = ""
    if "<svg" not in text[:2000]:
        raise UnusableLogo(f"{file}: found neither an SVG nor a PNG")
    if _REACHES_OUT.search(text):
        raise UnusableLogo(f"{file}: found something that reaches out of the picture; wanted shapes and letters alone")
    return Picture(text, words)
