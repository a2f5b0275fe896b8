"""The power of a test: chance of showing compliance against the number of results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LinearScale

SIZE = 7.0


@dataclass(frozen=True, slots=True)
class Chance:
    """Chance with so many results, and its Monte Carlo error, 0 where exact."""

    results: int
    chance: float
    error: float
    words: str


def power_curve(
    points: Sequence[Chance], *, wanted: float, chosen: int, name: str, width: float = 482.0, height: float = 150.0
) -> Drawing:
    """
    Draw chances against numbers of results.

    Parameters
    ----------
    points : sequence of Chance
        In rising order; at least one.
    wanted : float
        Wanted chance. [-]
    chosen : int
        Number of results the plan takes.
    name : str
        What the chart is called.
    width, height : float
        Of the drawing. [pt]

    Raises
    ------
    ValueError
        There are no points.
    """
    if not points:
        raise ValueError("`points` must hold at least one chance; found none")
    left = text_width("100 %", SIZE) + 20.0
    most = max(point.results for point in points)
    across = LinearScale(0.0, most * 1.04, left, width - 8.0)
    up = LinearScale(0.0, 1.0, height - 28.0, 16.0)
    described = "; ".join(point.words for point in points)
    drawing = Drawing(width, height, name, f"{name}, wanted {100 * wanted:g} %: {described}.")
    drawing.text(0.0, 8.0, fitted(name, width, SIZE, bold=True), size=SIZE, bold=True)
    _frame(drawing, across, up)
    y = up.at(wanted)
    drawing.line(across.start, y, across.end, y, stroke="ink", width=1.0, dashes="4 2", words="the wanted chance")
    label = f"wanted {100 * wanted:g} %"
    drawing.text(across.end, y - 3.0, label, size=SIZE, anchor="end", bold=True)
    drawn = [(across.at(point.results), up.at(point.chance)) for point in points]
    if len(drawn) > 1:
        drawing.polygon(drawn, stroke="accent", width=1.1, closed=False)
    for point, (x, y) in zip(points, drawn, strict=True):
        if point.error > 0.0:
            drawing.line(
                x,
                up.at(point.chance - 2 * point.error),
                x,
                up.at(point.chance + 2 * point.error),
                stroke="accent",
                width=0.8,
            )
        is_chosen = point.results == chosen
        drawing.circle(
            x, y, 3.6 if is_chosen else 1.9, fill="over" if is_chosen else "accent", stroke="paper", width=0.5,
            words=point.words,
        )  # fmt: skip
    return drawing


def _frame(drawing: Drawing, across: LinearScale, up: LinearScale) -> None:
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        drawing.line(across.start, up.at(share), across.end, up.at(share), stroke="hair", width=0.4)
        drawing.text_beside(across.start - 4.0, up.at(share), f"{100 * share:g} %", size=SIZE, anchor="end")
    for value, label in across.ticks():
        drawing.text(across.at(value), up.start + 10.0, label, size=SIZE, anchor="middle")
    drawing.line(across.start, up.start, across.end, up.start, stroke="line", width=0.7)
    drawing.line(across.start, up.start, across.start, up.end, stroke="line", width=0.7)
    middle = (across.start + across.end) / 2.0
    drawing.text(middle, up.start + 21.0, "number of results", size=SIZE, anchor="middle", fill="muted")
    height = (up.start + up.end) / 2.0
    drawing.text(8.0, height, "chance it is shown", size=SIZE, anchor="middle", fill="muted", turned=True)
