"""
Numbers as laboratories write them. What could be two numbers is a doubt, never a guess.

“1,234” is 1234 to one reader and 1.234 to another; “0,234” and “1,23” can only be decimals, “1,234.5” can only have
thousands. Cells that can only be one thing settle the marks of a whole sheet; where none does, a person is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Mark = Literal["point", "comma"]

_MINUS = str.maketrans({"−": "-", "–": "-", "＋": "+"})
_SPACES = re.compile(r"(?<=\d)[\u0020\u00a0\u202f\u2009\u2007'’](?=\d{3}(?!\d))")
_SPACED = re.compile(r"[+-]?\d{1,3}(?:[\u0020\u00a0\u202f\u2009\u2007'’]\d{3})+(?:[.,]\d*)?")
_NUMBER = re.compile(r"([+-]?)(\d[\d.,]*|[.,]\d+)(?:\s?(?:[eE]|[x×]\s?10\^?)\s?([+-]?\d{1,2}))?")
LOOKS_LIKE_NUMBER = re.compile(
    r"[+\-−–]?(?:\d{1,3}(?:[\u0020\u00a0\u202f\u2009\u2007'’]\d{3})+(?:[.,]\d+)?|\d[\d.,]*|[.,]\d+)"
    r"(?:\s?(?:[eE]|[x×]\s?10\^?)\s?[+\-−]?\d{1,2})?"
)
"""The longest run of signs that may be one number."""


@dataclass(frozen=True, slots=True)
class Marks:
    """
    What the marks in a sheet's numbers mean.

    Attributes
    ----------
    decimal : “point”, “comma” or None
        None while nothing shows it.
    groups : bool
        The other mark is seen to stand between thousands.
    because : tuple of str
        Cells that can only be read so.
    against : tuple of str
        Cells that can only be read the other way.
    """

    decimal: Mark | None
    groups: bool = False
    because: tuple[str, ...] = ()
    against: tuple[str, ...] = ()

    @property
    def contradictory(self) -> bool:
        """Whether cells of one sheet cannot all be read one way."""
        return bool(self.because and self.against)


class Doubtful(ValueError):  # noqa: N818 - a question to a person, not an error
    """A text that may be two numbers; `readings` are both."""

    def __init__(self, text: str, readings: tuple[Decimal, ...]) -> None:
        super().__init__(text)
        self.text = text
        self.readings = readings


def is_number(text: str) -> bool:
    """Whether a text is one number in some writing."""
    return _parts(text) is not None


def number(text: str, marks: Marks) -> Decimal:
    """
    Read a number by the marks of its sheet.

    Raises
    ------
    Doubtful
        It may be two numbers, and the marks of the sheet do not settle which.
    ValueError
        It is no number.
    """
    parts = _parts(text)
    if parts is None:
        raise ValueError(text)
    sign, digits, exponent = parts
    readings = _readings(digits)
    if not readings:
        raise ValueError(text)
    chosen = _chosen(readings, marks)
    if chosen is None:
        raise Doubtful(text, tuple(_decimal(sign, plain, exponent) for plain in dict.fromkeys(readings.values())))
    return _decimal(sign, chosen, exponent)


def marks_of(texts: Iterable[str]) -> Marks:
    """Find out from all numbers of a sheet what its marks mean."""
    points: list[str] = []
    commas: list[str] = []
    groups = {"point": False, "comma": False}  # by the decimal mark they go with
    for text in texts:
        parts = _parts(text)
        if parts is None:
            continue
        digits = parts[1]
        readings = _readings(digits)
        if len(readings) != 1:
            continue
        (decimal,) = readings
        if decimal == "either":
            continue
        (points if decimal == "point" else commas).append(text.strip())
        other = "," if decimal == "point" else "."
        groups[decimal] = groups[decimal] or other in digits
    if not points and not commas:
        return Marks(None)
    decimal_mark: Mark = "point" if len(points) >= len(commas) else "comma"
    because, against = (points, commas) if decimal_mark == "point" else (commas, points)
    return Marks(
        decimal_mark, groups[decimal_mark], tuple(dict.fromkeys(because))[:5], tuple(dict.fromkeys(against))[:5]
    )


def _parts(text: str) -> tuple[str, str, str] | None:
    plain = text.strip().translate(_MINUS)
    if _SPACED.fullmatch(plain):
        plain = _SPACES.sub("", plain)
    match = _NUMBER.fullmatch(plain)
    return (match[1], match[2], match[3] or "") if match else None


def _readings(digits: str) -> dict[str, str]:
    """Every way to read digits with marks, by what the decimal mark then is; “either” where there is no mark."""
    if "." not in digits and "," not in digits:
        return {"either": digits}
    found: dict[str, str] = {}
    for name, decimal, group in (("point", ".", ","), ("comma", ",", ".")):
        whole, mark, fraction = digits.partition(decimal)
        if decimal in fraction or group in fraction or (mark and not whole and not fraction):
            continue
        if group in whole and not re.fullmatch(rf"[1-9]\d{{0,2}}(\{group}\d{{3}})+", whole):
            continue
        if group in whole and not mark and whole.count(group) == 1:
            found[name] = whole.replace(group, "")  # one group and no decimals: the doubtful case
            continue
        found[name] = f"{whole.replace(group, '') or '0'}{'.' if fraction else ''}{fraction}"
    return found


def _chosen(readings: dict[str, str], marks: Marks) -> str | None:
    if len(set(readings.values())) == 1:
        only = next(iter(readings))
        if only == "either" or len(readings) > 1 or marks.decimal in (None, only):
            return next(iter(readings.values()))
        return None if marks.contradictory is False and marks.decimal is not None else next(iter(readings.values()))
    if marks.decimal is None or marks.contradictory:
        return None
    plain = readings[marks.decimal]
    is_grouped = "." not in plain
    return None if is_grouped and not marks.groups else plain


def _decimal(sign: str, plain: str, exponent: str) -> Decimal:
    return Decimal(f"{sign}{plain}{'e' + exponent if exponent else ''}")
