"""
What stands for a person's hand at a hand-over: lines drawn on the spot, an account and its password, or a paper form.

As it is kept in an entry: “account NAME”, “paper”, or “drawn” and the lines, each its points “x,y” parted by spaces,
lines parted by semicolons, in whole numbers on a field `WIDE` by `HIGH`.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

from lapel.said import said

WIDE, HIGH = 600, 200
"""Field a signature is drawn on; only the proportion means anything. [-]"""
LONGEST_SIGNATURE = 4_000
"""Characters of one signature: some 500 points, twice what a name takes, and what a table's cell holds. [-]"""
LEAST_LENGTH = 60
"""A drawing with less line than this, a tenth of the field's width, is a slip of the finger. [-]"""

How: TypeAlias = Literal["account", "drawn", "paper"]
Line: TypeAlias = tuple[tuple[int, int], ...]

_DRAWN = re.compile(r"drawn (\d{1,3},\d{1,3}(?:[ ;]\d{1,3},\d{1,3})*)", re.ASCII)
_ACCOUNT = re.compile(r"account ([^ ]{1,150})")


@dataclass(frozen=True, slots=True)
class Signature:
    """
    How somebody signed.

    Attributes
    ----------
    how : str
        “account”: they gave their account's password again; “drawn”: here; “paper”: on the form that travels.
    account : str
        Whose; empty for the others.
    lines : tuple
        Lines of a drawing, each its points.
    """

    how: How
    account: str = ""
    lines: tuple[Line, ...] = ()


def signature_in(text: str) -> Signature | None:
    """
    Read a signature; None where there is none.

    Raises
    ------
    ValueError
        It cannot be one; the message says what is wanted.
    """
    text = text.strip()
    if not text:
        return None
    if text == "paper":
        return Signature("paper")
    if (found := _ACCOUNT.fullmatch(text)) and text.isprintable():
        return Signature("account", account=found[1])
    if len(text) > LONGEST_SIGNATURE:
        raise ValueError(said("a drawing of at most {n} characters", n=LONGEST_SIGNATURE))
    drawn = _DRAWN.fullmatch(text)
    if drawn is None:
        raise ValueError(
            said("“account NAME”, “paper”, or “drawn” and its points, as in “drawn 10,40 90,60;95,20 99,80”")
        )
    lines = tuple(tuple(_point(point) for point in line.split(" ")) for line in drawn[1].split(";"))
    if any(x > WIDE or y > HIGH for line in lines for x, y in line):
        raise ValueError(said("points on a field of {wide} by {high}", wide=WIDE, high=HIGH))
    if _length(lines) < LEAST_LENGTH:
        raise ValueError(said("a line long enough to be somebody's hand"))
    return Signature("drawn", lines=lines)


def _point(text: str) -> tuple[int, int]:
    x, y = text.split(",")
    return int(x), int(y)


def _length(lines: tuple[Line, ...]) -> int:
    """Length of all lines, each step by its longer side: whole numbers, so that every device counts alike."""
    return sum(
        max(abs(x - was_x), abs(y - was_y)) for line in lines for (was_x, was_y), (x, y) in itertools.pairwise(line)
    )
