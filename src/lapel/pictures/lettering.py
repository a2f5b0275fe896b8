"""
The lettering: the shipped typefaces, how wide a text is in them, and which characters they have.

Widths are read from the font files themselves, so that a margin computed here fits what is drawn.
"""

from __future__ import annotations

import struct
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FONTS = Path(__file__).with_name("fonts")
"""Folder of the shipped font files and their licences."""

FAMILY = "Inter"
"""Family of every text."""

FALLBACK = "DejaVu Sans"
"""Family of the characters the first one lacks: Hebrew, Arabic, block elements."""

REGULAR = "Inter-Regular.otf"
SEMIBOLD = "Inter-SemiBold.otf"
FALLBACK_FILE = "DejaVuSansCondensed.ttf"

NEEDED_FORMAT_CHARACTERS = "\u200b\u200c\u200d"
"""Invisible characters that are let through: a place to break a line, and the joiners of Arabic and Indic scripts."""


@dataclass(frozen=True, slots=True)
class Face:
    """One font file: advance widths in units of the em, by code point."""

    units_per_em: int
    advances: dict[int, int]

    def width(self, character: str) -> float | None:
        """Advance width of a character in ems; None where the face lacks it."""
        advance = self.advances.get(ord(character))
        return None if advance is None else advance / self.units_per_em


@cache
def face(file: str) -> Face:
    """
    Read the widths of one shipped font.

    Parameters
    ----------
    file : str
        File name in `FONTS`.

    Notes
    -----
    Tables head, hhea, hmtx and cmap (formats 4 and 12) of the OpenType specification, ISO/IEC 14496-22.
    """
    content = (FONTS / file).read_bytes()
    tables = _tables(content)
    units_per_em = _number(content, tables["head"] + 18, "H")
    measured = _number(content, tables["hhea"] + 34, "H")
    widths = struct.unpack_from(f">{2 * measured}H", content, tables["hmtx"])[::2]
    glyphs = _character_map(content, tables["cmap"])
    return Face(units_per_em, {code: widths[min(glyph, measured - 1)] for code, glyph in glyphs.items()})


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """
    Width of a text as it can be shown, in the unit of `size`.

    Letters join and kern when they are set; their widths alone are added here.
    """
    first, fallback = face(SEMIBOLD if bold else REGULAR), face(FALLBACK_FILE)
    return size * sum(_advance(character, first, fallback) for character in printable(text))


def fitted(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Shorten a text, as it can be shown, with an ellipsis until it fits a width."""
    text = printable(text)
    if text_width(text, size, bold=bold) <= width:
        return text
    kept = text
    while kept and text_width(kept.rstrip() + "…", size, bold=bold) > width:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def printable(text: str) -> str:
    """
    Return a text as the shipped fonts can show it, with nothing dropped.

    A character they lack, a control character or one that turns the reading direction is written as its number,
    ⟨U+1F600⟩; any white space becomes a space.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(character) for character in unicodedata.normalize("NFC", text))


def has_glyph(character: str) -> bool:
    """Whether a shipped font can show the character."""
    return face(REGULAR).width(character) is not None or face(FALLBACK_FILE).width(character) is not None


@cache
def _shown(character: str) -> str:
    if character.isspace():
        return "\u00a0" if character in "\u00a0\u202f" else " "
    category = unicodedata.category(character)
    if character in NEEDED_FORMAT_CHARACTERS:
        return character
    if category in ("Cc", "Cf", "Cs", "Co", "Cn") or not has_glyph(character):
        return f"⟨U+{ord(character):04X}⟩"
    return character


def _advance(character: str, first: Face, fallback: Face) -> float:
    width = first.width(character)
    if width is None:
        width = fallback.width(character)
    return 1.0 if width is None else width


def _tables(content: bytes) -> dict[str, int]:
    count = _number(content, 4, "H")
    records = (struct.unpack_from(">4sIII", content, 12 + 16 * index) for index in range(count))
    return {tag.decode("ascii"): offset for tag, _, offset, _ in records}


def _character_map(content: bytes, table: int) -> dict[int, int]:
    """Glyph of every code point, from the Unicode subtable that reaches furthest."""
    count = _number(content, table + 2, "H")
    records = [struct.unpack_from(">HHI", content, table + 4 + 8 * index) for index in range(count)]
    by_format = {
        _number(content, table + offset, "H"): table + offset for platform, _, offset in records if platform in (0, 3)
    }
    if 12 in by_format:
        return _segmented_coverage(content, by_format[12])
    return _segment_to_delta(content, by_format[4])


def _segmented_coverage(content: bytes, at: int) -> dict[int, int]:
    groups = _number(content, at + 12, "I")
    found: dict[int, int] = {}
    for index in range(groups):
        start, end, glyph = struct.unpack_from(">III", content, at + 16 + 12 * index)
        found.update((code, glyph + code - start) for code in range(start, end + 1))
    return found


def _segment_to_delta(content: bytes, at: int) -> dict[int, int]:
    count = _number(content, at + 6, "H") // 2
    ends = struct.unpack_from(f">{count}H", content, at + 14)
    starts_at = at + 16 + 2 * count
    starts = struct.unpack_from(f">{count}H", content, starts_at)
    deltas = struct.unpack_from(f">{count}H", content, starts_at + 2 * count)
    offsets_at = starts_at + 4 * count
    found: dict[int, int] = {}
    for index in range(count):
        offset = _number(content, offsets_at + 2 * index, "H")
        for code in range(starts[index], min(ends[index], 0xFFFE) + 1):
            if offset == 0:
                glyph = (code + deltas[index]) & 0xFFFF
            else:
                place = offsets_at + 2 * index + offset + 2 * (code - starts[index])
                glyph = _number(content, place, "H")
                glyph = (glyph + deltas[index]) & 0xFFFF if glyph else 0
            if glyph:
                found[code] = glyph
    return found


def _number(content: bytes, at: int, kind: str) -> int:
    (value,) = struct.unpack_from(f">{kind}", content, at)
    return int(value)
