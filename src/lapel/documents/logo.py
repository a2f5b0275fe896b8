"""A firm's logo at the top of its documents: an SVG or a PNG from a file, held to what a document can carry."""

from __future__ import annotations

import base64
import re
import struct
import zlib
from pathlib import Path
from typing import Any

import typst

from lapel.documents.render import Picture

LARGEST_BYTES = 500_000
_PNG = b"\x89PNG\r\n\x1a\n"
MOST_PIXELS = 20_000_000
_REACHES_OUT = re.compile(
    r"<script|<foreignObject|<!ENTITY|@import|\son\w+\s*=|"
    r"(?:(?:href|src)\s*=\s*|url\(\s*)[\"']?(?![\"'#]|data:image/(?:png|jpeg))",
    re.IGNORECASE,
)


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
    return logo_of(content, where=str(file), firm=firm)


def logo_of(content: bytes, *, where: str, firm: str = "") -> Picture:
    """
    Make a logo of the bytes of a file; arguments and refusals as of `firm_logo`, `where` names it.

    It is drawn once as documents draw it: what only looks like a picture is refused here and not in a report.
    """
    if len(content) > LARGEST_BYTES:
        raise UnusableLogo(f"{where}: found {len(content)} bytes; wanted at most {LARGEST_BYTES}")
    logo = Picture(_svg_of(content, where), f"Logo of {firm}" if firm else "Logo")
    try:
        _draw(logo.svg)
    except Exception as problem:  # whatever the typesetter does not like
        raise UnusableLogo(f"{where}: found a picture that cannot be drawn") from problem
    return logo


def _draw(svg: str) -> None:
    compile_sources: Any = typst.compile
    sources = {"main.typ": b'#image("logo.svg", width: 40mm)', "logo.svg": svg.encode("utf-8")}
    compile_sources(sources, format="png", ppi=36.0)


def _is_whole_png(content: bytes) -> bool:
    """Whether every chunk has its checksum and the dots unpack: a torn picture would be left out without a word."""
    at, packed, last = len(_PNG), b"", b""
    while at + 12 <= len(content):
        size, kind = struct.unpack(">I4s", content[at : at + 8])
        data = content[at + 8 : at + 8 + size]
        if content[at + 8 + size : at + 12 + size] != struct.pack(">I", zlib.crc32(kind + data)):
            return False
        packed += data if kind == b"IDAT" else b""
        at, last = at + 12 + size, kind
    width, height = struct.unpack(">II", content[16:24])
    return last == b"IEND" and _unpacks(packed, most=height * (8 * width + 2) + 64)  # 8 bytes a dot, 2 filters a row


def _unpacks(packed: bytes, *, most: int) -> bool:
    """Whether it unpacks to its end, to no more than so many bytes; none of them are kept."""
    unpacking, size = zlib.decompressobj(), 0
    try:
        while not unpacking.eof and size <= most:
            dots = unpacking.decompress(packed, 65_536)
            packed, size = unpacking.unconsumed_tail, size + len(dots)
            if not dots and not packed:
                break
    except zlib.error:
        return False
    return unpacking.eof and 0 < size <= most


def _svg_of(content: bytes, where: str) -> str:
    if content.startswith(_PNG) and len(content) > 24:
        width, height = struct.unpack(">II", content[16:24])
        if not 0 < width * height <= MOST_PIXELS:
            raise UnusableLogo(f"{where}: found {width} by {height} dots; wanted at most {MOST_PIXELS} in all")
        if not _is_whole_png(content):
            raise UnusableLogo(f"{where}: found a picture that cannot be drawn")
        data = base64.b64encode(content).decode("ascii")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}">'
            f'<image width="{width}" height="{height}" href="data:image/png;base64,{data}"/></svg>'
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = ""
    if "<svg" not in text[:2000]:
        raise UnusableLogo(f"{where}: found neither an SVG nor a PNG")
    if _REACHES_OUT.search(text):
        raise UnusableLogo(f"{where}: found something that reaches out of the picture; wanted shapes and letters alone")
    return text
