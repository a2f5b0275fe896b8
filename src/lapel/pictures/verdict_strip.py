"""The verdict strip: each exposure as an interval beside its limit, on a logarithmic scale of shares of the limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LogScale, decades_around
from lapel.said import Tell, as_it_is, said

ROW = 12.0
SIZE = 6.8
MARK = 2.7
SMALLEST_SHARE = 1e-4
"""Shares of the limit below this stand at the left end of the strip."""

COLOUR = {"under": "under", "over": "over", "cannot tell": "open"}


@dataclass(frozen=True, slots=True)
class StripRow:
    """
    One exposure against one limit, all as shares of the limit.

    `high` and `upper_limit` are infinite where nothing bounds the exposure from above; `low` is 0 where nothing bounds
    it from below. `lower_limit` and `upper_limit` are the one-sided confidence limits.
    """

    exposure: str
    limit: str
    low: float
    high: float
    lower_limit: float
    upper_limit: float
    verdict: str
    words: str


def verdict_strip(rows: Sequence[StripRow], *, name: str, width: float = 482.0, tell: Tell = as_it_is) -> Drawing:
    """
    Draw exposures beside their limits.

    Parameters
    ----------
    rows : sequence of StripRow
        At least one, from top to bottom.
    name : str
        What the chart is called.
    width : float
        Of the drawing. [pt]
    tell : callable
        Gives a text in the reader's language.

    Raises
    ------
    ValueError
        There are no rows.
    """
    if not rows:
        raise ValueError("`rows` must hold at least one exposure; found none")
    foot = ROW * len(rows) + 4.0
    rows = [replace(row, exposure=tell(row.exposure), limit=tell(row.limit), words=tell(row.words)) for row in rows]
    verdicts = {row.verdict: tell(said(row.verdict)) for row in rows}
    each = "; ".join(f"{row.exposure}, {row.limit}: {verdicts[row.verdict]}, {row.words}" for row in rows)
    drawing = Drawing(width, foot + 24.0, name, tell(said("Exposures as shares of their limits: {rows}.", rows=each)))
    first = min(max(text_width(row.exposure, SIZE, bold=True) for row in rows) + 6.0, 0.22 * width)
    second = min(max(text_width(row.limit, SIZE) for row in rows) + 8.0, 0.26 * width)
    verdict_width = text_width(tell(said("cannot tell")), SIZE, bold=True) + 14.0
    scale = _scale(rows, first + second + 8.0, width - verdict_width - 10.0)
    _axis(drawing, scale, foot, tell(said("share of the limit (1 = the limit)")))
    for index, row in enumerate(rows):
        middle = ROW * (index + 0.5) + 2.0
        if index:
            drawing.line(0.0, middle - ROW / 2.0, width, middle - ROW / 2.0, stroke="hair", width=0.3)
        drawing.text_beside(0.0, middle, fitted(row.exposure, first - 4.0, SIZE, bold=True), size=SIZE, bold=True)
        drawing.text_beside(first, middle, fitted(row.limit, second - 4.0, SIZE), size=SIZE, fill="muted")
        _interval(drawing, row, scale, middle)
        left = width - verdict_width + 6.0
        verdict_mark(drawing, left, middle, row.verdict)
        colour = COLOUR[row.verdict]
        drawing.text_beside(
            left + 6.0, middle, verdicts[row.verdict], size=SIZE, fill=colour, bold=row.verdict != "under"
        )
    return drawing


def verdict_mark(drawing: Drawing, x: float, y: float, verdict: str, *, words: str = "") -> None:
    """Draw a verdict's own shape: a full triangle up, an empty one down, an empty diamond."""
    r, colour = MARK, COLOUR[verdict]
    if verdict == "over":
        drawing.polygon([(x - r, y + r * 0.9), (x, y - r), (x + r, y + r * 0.9)], fill=colour, words=words)
    elif verdict == "under":
        points = [(x - r, y - r * 0.9), (x, y + r), (x + r, y - r * 0.9)]
        drawing.polygon(points, fill="paper", stroke=colour, width=0.9, words=words)
    else:
        points = [(x, y - r), (x + r, y), (x, y + r), (x - r, y)]
        drawing.polygon(points, fill="paper", stroke=colour, width=0.9, words=words)


def _scale(rows: Sequence[StripRow], start: float, end: float) -> LogScale:
    values = [
        value
        for row in rows
        for value in (row.low, row.high, row.lower_limit, row.upper_limit)
        if math.isfinite(value) and value > 0.0
    ]
    smallest = max(min([*values, 0.1]), SMALLEST_SHARE)
    largest = max([*values, 2.0])
    low, high = decades_around(smallest, largest)
    return LogScale(low, high, start, end)


def _axis(drawing: Drawing, scale: LogScale, foot: float, label_below: str) -> None:
    last = -math.inf
    for value, label in scale.ticks():
        x = scale.at(value)
        at_limit = abs(value - 1.0) < 1e-9
        if at_limit:
            drawing.line(x, 0.0, x, foot + 3.0, stroke="ink", width=1.1)
        else:
            drawing.line(x, 0.0, x, foot + 2.0, stroke="hair", width=0.4)
        half = text_width(label, 6.4, bold=at_limit) / 2.0
        if at_limit or x - half > last + 3.0:
            drawing.text(x, foot + 10.0, label, size=6.4, anchor="middle", bold=at_limit, fill="ink")
            last = x + half
    drawing.line(scale.start, foot, scale.end, foot, stroke="line", width=0.5)
    middle = (scale.start + scale.end) / 2.0
    drawing.text(middle, foot + 20.0, label_below, size=6.4, anchor="middle", fill="muted")


def _interval(drawing: Drawing, row: StripRow, scale: LogScale, y: float) -> None:
    colour = COLOUR[row.verdict]
    left, right = scale.at(max(row.lower_limit, 0.0)), scale.at(row.upper_limit)
    drawing.line(left, y, right, y, stroke=colour, width=0.8)
    if row.lower_limit < scale.low:
        _arrow(drawing, scale.start, y, -1.0, colour)
    else:
        drawing.line(left, y - 2.2, left, y + 2.2, stroke=colour, width=0.8)
    if row.upper_limit > scale.high:
        _arrow(drawing, scale.end, y, 1.0, colour)
    else:
        drawing.line(right, y - 2.2, right, y + 2.2, stroke=colour, width=0.8)
    if row.high > row.low * (1.0 + 1e-9):
        start, end = scale.at(row.low), scale.at(row.high)
        soft = f"{colour}-soft"
        drawing.rect(start, y - 2.4, end - start, 4.8, fill=soft, stroke=colour, line=0.6, words=row.words)
        if math.isinf(row.high):
            verdict_mark(drawing, start, y, row.verdict)
    else:
        verdict_mark(drawing, scale.at(row.low), y, row.verdict, words=row.words)


def _arrow(drawing: Drawing, x: float, y: float, way: float, colour: str) -> None:
    """Show that nothing closes the interval on this side within the scale."""
    drawing.polygon([(x, y - 2.4), (x + way * 4.2, y), (x, y + 2.4)], fill=colour)
