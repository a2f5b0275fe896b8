"""The window of a sample as a region: flow against minutes, where both volume bounds and both flow bounds hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LogScale

SIZE = 7.0


@dataclass(frozen=True, slots=True)
class Window:
    """Bounds of flow [mL/min] and volume [L, infinite if unbounded] of one sampler, and the period."""

    flow_low: float
    flow_high: float
    volume_low: float
    volume_high: float
    period_min: float

    def flows_at(self, minutes: float) -> tuple[float, float]:
        """Least and most flow of a sampler of so many minutes; the least above the most where none is possible."""
        low = max(self.flow_low, 1000.0 * self.volume_low / minutes)
        return low, min(self.flow_high, 1000.0 * self.volume_high / minutes)


@dataclass(frozen=True, slots=True)
class ChosenRun:
    """A way to cover the period: minutes of each sampler, its flow window, and what it is in words."""

    minutes: float
    flow_low: float
    flow_high: float
    words: str


def window_region(
    window: Window, runs: Sequence[ChosenRun], *, name: str, width: float = 235.0, height: float = 148.0
) -> Drawing:
    """
    Draw the feasible region of one sampler.

    Parameters
    ----------
    window : Window
    runs : sequence of ChosenRun
        Drawn as uprights at their minutes; the first, which the plan takes, is the strong one.
    name : str
        What the chart is called; also written above it.
    width, height : float
        Of the drawing. [pt]

    Returns
    -------
    Drawing
        Both axes logarithmic, so that a volume is a straight line.
    """
    shortest = min([window.period_min / 12.0, *(run.minutes / 2.0 for run in runs)])
    across_ends = (shortest, window.period_min * 1.5)
    lows, highs = [window.flow_low], [window.flow_high]
    for litres in (window.volume_low, window.volume_high):
        if 0.0 < litres < math.inf:
            lows.append(1000.0 * litres / window.period_min)
            highs.append(1000.0 * litres / window.period_min)
    up_low, up_high = min(lows) / 1.8, max(highs) * 1.8
    labels = LogScale(up_low, up_high, 0.0, 1.0).ticks()
    left = max(text_width(text, SIZE) for _, text in labels) + 20.0
    room = max(text_width(_litres(litres), SIZE) for litres in (window.volume_low, window.volume_high)) + 5.0
    across = LogScale(*across_ends, left, width - room)
    up = LogScale(up_low, up_high, height - 27.0, 16.0)
    words = "; ".join(run.words for run in runs) or "nothing is feasible"
    drawing = Drawing(
        width,
        height,
        name,
        f"{name}: flow {window.flow_low:.3g} to {window.flow_high:.3g} mL/min, volume {_litres(window.volume_low)} to "
        f"{_litres(window.volume_high)} a sampler, period {window.period_min:g} min; {words}.",
    )
    drawing.text(0.0, 8.0, fitted(name, width, SIZE, bold=True), size=SIZE, bold=True)
    _frame(drawing, across, up)
    _region(drawing, across, up, window)
    _bounds(drawing, across, up, window)
    for place, run in enumerate(runs):
        x = across.at(run.minutes)
        strong = place == 0
        drawing.line(
            x,
            up.at(run.flow_low),
            x,
            up.at(run.flow_high),
            stroke="accent",
            width=2.4 if strong else 0.9,
            words=run.words,
        )
        for flow in (run.flow_low, run.flow_high):
            drawing.line(x - 3.0, up.at(flow), x + 3.0, up.at(flow), stroke="accent", width=1.2 if strong else 0.7)
    return drawing


def _frame(drawing: Drawing, across: LogScale, up: LogScale) -> None:
    last = math.inf
    for value, label in up.ticks():
        y = up.at(value)
        drawing.line(across.start, y, across.end, y, stroke="hair", width=0.4)
        if last - y > SIZE + 1.0:
            drawing.text_beside(across.start - 4.0, y, label, size=SIZE, anchor="end")
            last = y
    edge = -math.inf
    for value, label in across.ticks():
        x, half = across.at(value), text_width(label, SIZE) / 2.0
        drawing.line(x, up.start, x, up.end, stroke="hair", width=0.4)
        if x - half > edge + 4.0 and x + half < drawing.width:
            drawing.text(x, up.start + 9.5, label, size=SIZE, anchor="middle")
            edge = x + half
    drawing.line(across.start, up.start, across.end, up.start, stroke="line", width=0.7)
    drawing.line(across.start, up.start, across.start, up.end, stroke="line", width=0.7)
    middle = (across.start + across.end) / 2.0
    drawing.text(middle, up.start + 20.0, "minutes of one sampler", size=SIZE, anchor="middle", fill="muted")
    drawing.text(8.0, (up.start + up.end) / 2.0, "flow, mL/min", size=SIZE, anchor="middle", fill="muted", turned=True)


def _region(drawing: Drawing, across: LogScale, up: LogScale, window: Window) -> None:
    """Fill where a flow is possible, up to the end of the period."""
    ratio = window.period_min / across.low
    inside = []
    for step in range(241):
        minutes = across.low * ratio ** (step / 240.0)
        low, high = window.flows_at(minutes)
        if low <= high * (1.0 + 1e-12):
            inside.append((minutes, low, high))
    if len(inside) < 2:
        return
    top = [(across.at(minutes), up.at(high)) for minutes, _, high in inside]
    bottom = [(across.at(minutes), up.at(low)) for minutes, low, _ in reversed(inside)]
    drawing.polygon(
        [*top, *bottom], fill="under-soft", stroke="under", width=0.6, words="every flow and time in here is possible"
    )


def _bounds(drawing: Drawing, across: LogScale, up: LogScale, window: Window) -> None:
    for flow, words in ((window.flow_low, "lowest flow"), (window.flow_high, "highest flow")):
        y = up.at(flow)
        drawing.line(across.start, y, across.end, y, stroke="muted", width=0.7, dashes="1.5 1.5", words=words)
    for litres, words in ((window.volume_low, "least volume"), (window.volume_high, "most volume")):
        if 0.0 < litres < math.inf:
            _volume(drawing, across, up, litres, words)
    x = across.at(window.period_min)
    drawing.line(x, up.start, x, up.end, stroke="ink", width=0.8, words=f"the period, {window.period_min:g} min")


def _volume(drawing: Drawing, across: LogScale, up: LogScale, litres: float, words: str) -> None:
    """Draw one volume as the line it is, cut at the frame; every volume leaves the frame on the right."""
    starts = max(across.low, 1000.0 * litres / up.high)
    points = [(across.at(minutes), up.at(1000.0 * litres / minutes)) for minutes in (starts, across.high)]
    label = f"{words} {_litres(litres)}"
    drawing.polygon(points, stroke="open", width=0.9, closed=False, dashes="4 2", words=label)
    drawing.text_beside(across.end + 3.0, points[1][1], _litres(litres), size=SIZE, fill="open")


def _litres(value: float) -> str:
    return f"{value:.3g} L" if math.isfinite(value) else "no bound"
