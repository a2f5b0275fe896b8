"""The posterior of the 95th percentile beside the limit, with the probability of each band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LogScale
from lapel.said import Tell, as_it_is, listed, said

SIZE = 7.0
SMALLEST = 5.2
"""A band's label is set as small as this before it is cut. [pt]"""

CHANCE_SIZE = 9.0
HEAD = 36.0
LOWEST = 0.2
"""Where the axis begins, as a share of the lowest band's end, so that this band has room for its words."""

_HEIGHTS = {1: (0.0,), 2: (-3.6, 3.4)}
"""Where one line or two stand about their place. [pt]"""


@dataclass(frozen=True, slots=True)
class Band:
    """A band of shares of the limit, from `low` (0 for the first) to `high` (infinite for the last)."""

    low: float
    high: float
    label: str
    chance: str


def posterior_density(
    curve: Sequence[tuple[float, float]],
    bands: Sequence[Band],
    *,
    name: str,
    width: float = 482.0,
    height: float = 190.0,
    tell: Tell = as_it_is,
) -> Drawing:
    """
    Draw what is believed of the 95th percentile.

    Parameters
    ----------
    curve : sequence of (share of the limit, density of its logarithm)
        Ascending shares above 0, at least two.
    bands : sequence of Band
        From the lowest to the one above the limit, without gaps.
    name : str
        What the chart is called.
    width, height : float
        Of the drawing. [pt]
    tell : callable
        Gives a text in the reader's language.

    Raises
    ------
    ValueError
        The curve has fewer than two points or its shares do not ascend.
    """
    shares = [share for share, _ in curve]
    if len(shares) < 2 or any(b <= a for a, b in pairwise(shares)) or shares[0] <= 0.0:
        raise ValueError("`curve` must hold at least two points with ascending shares above 0")
    each = listed("; ", (said("{band} of the limit {chance}", band=b.label, chance=b.chance) for b in bands))
    words = tell(said("Probability that the 95th percentile lies in each band: {bands}.", bands=each))
    drawing = Drawing(width, height, name, words)
    bands = [replace(band, label=tell(band.label), chance=tell(band.chance)) for band in bands]
    inner = [band.high for band in bands if math.isfinite(band.high)]
    low = min(shares[0], LOWEST * min(inner))
    high = max(shares[-1], 3.0)
    across = LogScale(low, high, 8.0, width - 8.0)
    foot = height - 24.0
    peak = max(density for _, density in curve) or 1.0
    for index, band in enumerate(bands):
        _band(drawing, band, across, foot, shaded=index % 2 == 1)
    for band in bands:
        words = tell(said("{band} of the limit: {chance}", band=band.label, chance=band.chance))
        _area(drawing, band, curve, across, foot, peak, words)
    points = [(across.at(share), _height(density, peak, foot)) for share, density in curve]
    drawing.polygon(points, stroke="accent", width=1.1, closed=False)
    _axis(drawing, across, foot, tell)
    return drawing


def _height(density: float, peak: float, foot: float) -> float:
    return foot - density / peak * (foot - HEAD - 6.0)


def _band(drawing: Drawing, band: Band, across: LogScale, foot: float, *, shaded: bool) -> None:
    left, right = across.at(band.low), across.at(band.high)
    if shaded:
        drawing.rect(left, 0.0, right - left, foot, fill="tint")
    middle, room = (left + right) / 2.0, right - left - 4.0
    above = band.low >= 1.0 - 1e-9
    colour = "over" if above else "ink"
    lines, size = _lines(band.label, room, SIZE)
    for place, line in zip(_HEIGHTS[len(lines)], lines, strict=True):
        fits = fitted(line, room + 0.1, max(SMALLEST, size))
        drawing.text(middle, 10.0 + place, fits, size=max(SMALLEST, size), anchor="middle", fill="muted")
    lines, size = _lines(band.chance, room, CHANCE_SIZE, bold=True)
    for place, line in zip(_HEIGHTS[len(lines)], lines, strict=True):
        drawing.text(middle, 26.0 + place, line, size=size, anchor="middle", bold=True, fill=colour)


def _lines(text: str, room: float, size: float, *, bold: bool = False) -> tuple[list[str], float]:
    """Set a text in the room of a band: in one line, else in two; smaller where two are too wide too."""
    if text_width(text, size, bold=bold) <= room or " " not in text:
        lines = [text]
    else:
        spaces = [at for at, sign in enumerate(text) if sign == " "]
        middle = min(spaces, key=lambda at: abs(2 * at - len(text)))
        lines, size = [text[:middle], text[middle + 1 :]], min(size, SIZE)
    widest = max(text_width(line, size, bold=bold) for line in lines)
    return lines, min(size, size * room / widest) if room > 0.0 else 1.0


def _area(
    drawing: Drawing,
    band: Band,
    curve: Sequence[tuple[float, float]],
    across: LogScale,
    foot: float,
    peak: float,
    words: str,
) -> None:
    inside = [(share, density) for share, density in curve if band.low <= share <= band.high]
    for edge in (band.low, band.high):
        if curve[0][0] < edge < curve[-1][0]:
            inside.append((edge, _between(curve, edge)))
    if len(inside) < 2:
        return
    inside.sort()
    points = [(across.at(share), _height(density, peak, foot)) for share, density in inside]
    closed = [(points[0][0], foot), *points, (points[-1][0], foot)]
    above = band.low >= 1.0 - 1e-9
    fill = "over" if above else "accent-soft"
    drawing.polygon(closed, fill=fill, opacity=0.85, words=words)


def _between(curve: Sequence[tuple[float, float]], share: float) -> float:
    """Height of the curve at a share, straight between two points in the logarithm."""
    for (a, da), (b, db) in pairwise(curve):
        if a <= share <= b:
            part = math.log(share / a) / math.log(b / a)
            return da + part * (db - da)
    return 0.0


def _axis(drawing: Drawing, across: LogScale, foot: float, tell: Tell) -> None:
    drawing.line(across.start, foot, across.end, foot, stroke="line", width=0.7)
    edge = -math.inf
    for value, label in across.ticks():
        x = across.at(value)
        at_limit = abs(value - 1.0) < 1e-9
        drawing.line(x, foot, x, foot + 2.5, stroke="line", width=0.5)
        half = text_width(label, SIZE, bold=at_limit) / 2.0
        if x - half > max(edge + 4.0, 0.0) and x + half < drawing.width:
            drawing.text(x, foot + 10.5, label, size=SIZE, anchor="middle", bold=at_limit)
            edge = x + half
    limit = tell(said("the limit"))
    drawing.line(across.at(1.0), 0.0, across.at(1.0), foot + 2.5, stroke="ink", width=1.2, words=limit)
    middle = (across.start + across.end) / 2.0
    words = tell(said("95th percentile as a share of the limit (1 = the limit)"))
    drawing.text(middle, foot + 21.0, words, size=SIZE, anchor="middle", fill="muted")
