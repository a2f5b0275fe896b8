"""The drift history: how much the flow of one pump or port changed in each run, over time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import text_width
from lapel.pictures.scales import LinearScale

SIZE = 6.8
LEFT = 34.0
TOP = 6.0
PLOT = 108.0
FOOT = 30.0
LEAST_SHOWN = 0.1
"""The axis shows at least this much, up and down, so that small changes look small. [fraction]"""

MOST_SHOWN = 0.5
"""A change beyond this is drawn at the edge, as an arrow, with its number in words. [fraction]"""


@dataclass(frozen=True, slots=True)
class DriftPoint:
    """
    One run.

    Parameters
    ----------
    on : date
        The day of the reading after the run.
    change : float
        (after - before) / before. [fraction]
    words : str
        The run and its change, as text.
    comparable : bool
        Whether both readings were taken with one meter; where not, the mark is hollow.
    """

    on: date
    change: float
    words: str
    comparable: bool = True


def drift_history(
    points: Sequence[DriftPoint], *, tolerance: float, name: str, tolerance_words: str, width: float = 540.0
) -> Drawing:
    """
    Draw changes of flow against time, with the band of the tolerance.

    Parameters
    ----------
    points : sequence of DriftPoint
        At least one, in order of time.
    tolerance : float
        Half the width of the band. [fraction]
    name : str
        What the chart is called.
    tolerance_words : str
        The tolerance as text, such as “5 %”.
    width : float
        Of the drawing. [pt]

    Raises
    ------
    ValueError
        There is no point.
    """
    if not points:
        raise ValueError("`points` must hold at least one run; found none")
    words = "; ".join(point.words for point in points)
    drawing = Drawing(width, TOP + PLOT + FOOT, name, f"Change of flow in each run: {words}.")
    largest = max(LEAST_SHOWN, tolerance, *(abs(point.change) for point in points))
    reach = min(MOST_SHOWN, math.ceil(20.0 * largest) / 20.0)
    up = LinearScale(-reach, reach, TOP + PLOT, TOP)
    first, last = points[0].on.toordinal(), points[-1].on.toordinal()
    if last - first < 6:
        middle = (first + last) / 2.0
        first, last = math.floor(middle - 3.0), math.ceil(middle + 3.0)
    along = LinearScale(first, last, LEFT + 10.0, width - 14.0)
    _axes(drawing, up, along, points, tolerance, tolerance_words)
    line = [(along.at(point.on.toordinal()), up.at(point.change)) for point in points]
    if len(line) > 1:
        drawing.polygon(line, stroke="line", width=0.8, closed=False)
    for point, (x, y) in zip(points, line, strict=True):
        _mark(drawing, point, x, y, beyond=abs(point.change) > tolerance, off=abs(point.change) > reach)
    _legend(drawing, TOP + PLOT + FOOT - 5.0, tolerance_words)
    return drawing


def _axes(
    drawing: Drawing,
    up: LinearScale,
    along: LinearScale,
    points: Sequence[DriftPoint],
    tolerance: float,
    tolerance_words: str,
) -> None:
    top, bottom = up.at(tolerance), up.at(-tolerance)
    drawing.rect(LEFT, top, along.end + 8.0 - LEFT, bottom - top, fill="under-soft", words=f"within {tolerance_words}")
    for value, _ in up.ticks():
        y = up.at(value)
        drawing.line(LEFT, y, along.end + 8.0, y, stroke="line" if value == 0.0 else "hair", width=0.5)
        percent = f"{100.0 * value:g}".replace("-", "−")
        label = f"{percent if value <= 0.0 else '+' + percent} %"
        drawing.text_beside(LEFT - 4.0, y, label, size=SIZE, anchor="end", fill="muted")
    written = -1e9
    for day in dict.fromkeys(point.on for point in points):
        x = along.at(day.toordinal())
        half = text_width(day.isoformat(), SIZE) / 2.0
        drawing.line(x, TOP + PLOT, x, TOP + PLOT + 2.5, stroke="line", width=0.5)
        if x - half > written + 5.0:
            start = min(max(x, LEFT + half - 8.0), drawing.width - half - 1.0)
            drawing.text(start, TOP + PLOT + 10.0, day.isoformat(), size=SIZE, anchor="middle", fill="muted")
            written = start + half


def _mark(drawing: Drawing, point: DriftPoint, x: float, y: float, *, beyond: bool, off: bool) -> None:
    colour = "over" if beyond else "under"
    if off:
        tip = -4.0 if point.change > 0.0 else 4.0
        drawing.polygon([(x - 3.4, y - tip), (x + 3.4, y - tip), (x, y + tip)], fill=colour, words=point.words)
    elif beyond:
        corners = [(x, y - 4.2), (x + 4.2, y), (x, y + 4.2), (x - 4.2, y)]
        fill = "over" if point.comparable else "paper"
        drawing.polygon(corners, fill=fill, stroke="over", width=1.1, words=point.words)
    else:
        fill = "under" if point.comparable else "paper"
        drawing.circle(x, y, 3.0, fill=fill, stroke="under", width=1.1, words=point.words)


def _legend(drawing: Drawing, y: float, tolerance_words: str) -> None:
    x = LEFT + 4.0
    drawing.circle(x, y, 3.0, fill="under", stroke="under", width=1.1)
    x = _legend_text(drawing, x + 7.0, y, f"within {tolerance_words}")
    drawing.polygon([(x, y - 4.0), (x + 4.0, y), (x, y + 4.0), (x - 4.0, y)], fill="over", stroke="over", width=1.1)
    x = _legend_text(drawing, x + 8.0, y, f"more than {tolerance_words}")
    drawing.circle(x, y, 3.0, fill="paper", stroke="under", width=1.1)
    _legend_text(drawing, x + 7.0, y, "hollow: read with two meters, part of the change may be theirs")


def _legend_text(drawing: Drawing, x: float, y: float, text: str) -> float:
    drawing.text_beside(x, y, text, size=SIZE, fill="muted")
    return x + text_width(text, SIZE) + 14.0
