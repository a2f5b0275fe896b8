"""The log-probability plot: a lognormal group lies along a line; what was not measured is drawn as what it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LogScale, ProbabilityScale, decades_around
from lapel.said import Said, Tell, as_it_is, listed, said

SIZE = 7.0
CROWDED = 60
"""More results than this are drawn with smaller marks."""


@dataclass(frozen=True, slots=True)
class PlottedResult:
    """
    One result at its plotting position.

    `low` equals `high` where measured, is 0 below a reporting limit, and `high` is infinite for an “at least”.
    """

    position: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A lognormal distribution drawn as a line."""

    gm: float
    gsd: float
    words: str

    def at(self, position: float) -> float:
        """Quantile at a probability."""
        return self.gm * math.exp(math.log(self.gsd) * NormalDist().inv_cdf(position))


def probability_plot(
    results: Sequence[PlottedResult],
    *,
    limit: float,
    limit_text: str,
    unit: str,
    line: FittedLine | None,
    name: str,
    width: float = 482.0,
    height: float = 260.0,
    tell: Tell = as_it_is,
) -> Drawing:
    """
    Draw results against normal probability.

    Parameters
    ----------
    results : sequence of PlottedResult
        At least one.
    limit : float
        Above 0, in the unit of the results.
    limit_text, unit : str
        For the labels.
    line : FittedLine or None
        The fitted distribution; None where there is none.
    name : str
        What the chart is called.
    width, height : float
        Of the drawing. [pt]
    tell : callable
        Gives a text in the reader's language.

    Raises
    ------
    ValueError
        There are no results.
    """
    if not results:
        raise ValueError("`results` must hold at least one result; found none")
    ends = [value for r in results for value in (r.low, r.high) if 0.0 < value < math.inf]
    if line is not None:
        ends += [line.at(0.05), line.at(0.95)]
    low, high = decades_around(min([*ends, limit]) * 0.8, max([*ends, limit]) * 1.2)
    least = min(result.position for result in results)
    most = max(result.position for result in results)
    labels = LogScale(low, high, 0.0, 1.0).ticks()
    left = max(text_width(text, SIZE) for _, text in labels) + 20.0
    across = ProbabilityScale(min(0.03, least * 0.8), max(0.97, 1.0 - (1.0 - most) * 0.8), left, width - 14.0)
    up = LogScale(low, high, height - 32.0, 10.0)
    drawing = Drawing(width, height, name, tell(_in_words(results, limit_text, line)))
    _frame(drawing, across, up, unit, tell)
    _limit(drawing, across, up, limit, tell(said("limit {limit}", limit=limit_text)))
    if line is not None:
        _fit(drawing, across, up, line, tell)
    for result in sorted(results, key=lambda each: each.position):
        told = replace(result, words=tell(result.words))
        _result(drawing, across, up, told, 1.9 if len(results) > CROWDED else 2.7)
    return drawing


def _in_words(results: Sequence[PlottedResult], limit_text: str, line: FittedLine | None) -> Said:
    described = listed("; ", (result.words for result in results[:200]))
    words = said("Results against normal probability, limit {limit}: {results}.", limit=limit_text, results=described)
    return words if line is None else listed("", (words, " ", line.words, "."))


def _frame(drawing: Drawing, across: ProbabilityScale, up: LogScale, unit: str, tell: Tell) -> None:
    last = math.inf
    for value, label in up.ticks():
        y = up.at(value)
        drawing.line(across.start, y, across.end, y, stroke="hair", width=0.4)
        if last - y > SIZE + 1.0:
            drawing.text_beside(across.start - 4.0, y, label, size=SIZE, anchor="end")
            last = y
    edge = -math.inf
    for probability, label in across.ticks():
        x = across.at(probability)
        drawing.line(x, up.start, x, up.end, stroke="hair", width=0.4)
        half = text_width(label, SIZE) / 2.0
        if x - half > edge + 4.0 and x + half < drawing.width:
            drawing.text(x, up.start + 10.0, label, size=SIZE, anchor="middle")
            edge = x + half
    drawing.line(across.start, up.start, across.end, up.start, stroke="line", width=0.7)
    drawing.line(across.start, up.start, across.start, up.end, stroke="line", width=0.7)
    middle = (across.start + across.end) / 2.0
    words = tell(said("share of shifts at or below (normal probability)"))
    words = fitted(words, across.end - across.start, SIZE)
    drawing.text(middle, up.start + 22.0, words, size=SIZE, anchor="middle", fill="muted")
    height = (up.start + up.end) / 2.0
    label = fitted(tell(said("concentration, {unit}", unit=unit)), up.start - up.end, SIZE)
    drawing.text(9.0, height, label, size=SIZE, anchor="middle", fill="muted", turned=True)


def _limit(drawing: Drawing, across: ProbabilityScale, up: LogScale, limit: float, words: str) -> None:
    y = up.at(limit)
    drawing.line(across.start, y, across.end, y, stroke="ink", width=1.2, words=words)
    label = fitted(words, across.end - across.start - 10.0, SIZE, bold=True)
    drawing.text(across.start + 5.0, y - 3.5, label, size=SIZE, bold=True)


def _fit(drawing: Drawing, across: ProbabilityScale, up: LogScale, line: FittedLine, tell: Tell) -> None:
    """Draw the fitted line within the frame, and where it meets 95 %."""
    inside = [
        position
        for position in (across.low + (across.high - across.low) * step / 400.0 for step in range(401))
        if up.low <= line.at(position) <= up.high
    ]
    if not inside:
        return
    points = [(across.at(position), up.at(line.at(position))) for position in (inside[0], inside[-1])]
    drawing.polygon(points, stroke="accent", width=1.1, closed=False, words=tell(line.words))
    x, y = across.at(0.95), up.at(line.at(0.95))
    words = tell(said("95th percentile of the fitted line"))
    drawing.line(x, up.start, x, y, stroke="accent", width=0.8, dashes="2 2", words=words)


def _result(drawing: Drawing, across: ProbabilityScale, up: LogScale, result: PlottedResult, radius: float) -> None:
    x = across.at(result.position)
    if result.low == result.high:
        drawing.circle(x, up.at(result.low), radius, fill="accent", stroke="paper", width=0.5, words=result.words)
        return
    bottom, top = up.at(result.low), up.at(result.high)
    drawing.line(x, bottom, x, top, stroke="open", width=1.0, dashes="3 1.6", words=result.words)
    if result.low > 0.0:
        drawing.line(x - radius, bottom, x + radius, bottom, stroke="open", width=1.2)
    else:
        _arrow(drawing, x, up.start, 1.0, radius)
    if math.isinf(result.high):
        _arrow(drawing, x, up.end, -1.0, radius)
    else:
        drawing.line(x - radius, top, x + radius, top, stroke="open", width=1.2)


def _arrow(drawing: Drawing, x: float, y: float, way: float, radius: float) -> None:
    """Show that the result may lie anywhere beyond the frame."""
    drawing.polygon([(x - radius, y - way * 5.0), (x, y), (x + radius, y - way * 5.0)], fill="open")
