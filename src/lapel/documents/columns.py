"""Widths of table columns from the widths of their texts: a long table is then set without measuring it twice."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.pictures.lettering import text_width

PADDING = 7.2
"""Room left and right of a cell's text. [pt]"""

TABULAR_DIGIT_EM = 0.648
"""Width of a digit where all are set equally wide, as in every document. [em]"""

WIDEST = 120.0
"""A column whose texts are longer breaks them. [pt]"""


def column_widths(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    size: float,
    room: float,
    free: int,
    least_free: float = 60.0,
    extra: dict[int, float] | None = None,
) -> list[str]:
    """
    Give every column but one the width of its widest text; that one takes what is left.

    Parameters
    ----------
    head : sequence of str
        Head cells.
    rows : sequence of sequence of str
        Cells, as many in each row as in the head.
    size : float
        Of the text. [pt]
    room : float
        Width of the table. [pt]
    free : int
        Column that takes the rest, at least `least_free`.
    extra : dict, optional
        Further room of a column, for a mark beside its text. [pt]

    Returns
    -------
    list of str
        Widths in points, as the template takes them.
    """
    added = extra or {}
    wanted = []
    for column, title in enumerate(head):
        longest = max((tabular_width(text, size) for text in {row[column] for row in rows}), default=0.0)
        title_width = max(text_width(word, size, bold=True) for word in title.split(" "))
        wanted.append(min(max(longest, title_width), WIDEST) + PADDING + added.get(column, 0.0))
    others = [width for column, width in enumerate(wanted) if column != free]
    most = _fitting_cap(others, room - least_free)
    given = [min(width, most) for width in wanted]
    given[free] = room - sum(width for column, width in enumerate(given) if column != free)
    return [f"{width:.2f}" for width in given]


def tabular_width(text: str, size: float) -> float:
    """Width of a text whose digits are set equally wide."""
    digits = sum(character in "0123456789" for character in text)
    others = "".join(character for character in text if character not in "0123456789")
    return text_width(others, size) + digits * TABULAR_DIGIT_EM * size


def _fitting_cap(widths: Sequence[float], room: float) -> float:
    """Return the width to which the widest columns are cut so that all fit; the narrow ones, numbers, keep theirs."""
    left = room
    ordered = sorted(widths)
    for index, width in enumerate(ordered):
        share = left / (len(ordered) - index)
        if width > share:
            return share
        left -= width
    return max(ordered, default=room)
