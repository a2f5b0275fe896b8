"""The budget bar: what makes a number uncertain, cause by cause."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.said import Tell, as_it_is, listed, said

ROW = 9.5
SIZE = 6.6
BAR = 62.0
SHOWN = 5
"""Most causes with a row of their own; the others are counted in the last row."""

SMALL_SHARE = 0.005
"""Share of the variance below which a cause has no row of its own."""


def budget_bar(
    rows: Sequence[tuple[str, str, float]], *, name: str, width: float = 236.0, tell: Tell = as_it_is
) -> Drawing:
    """
    Draw an uncertainty budget.

    Parameters
    ----------
    rows : sequence of (cause, share as text, share)
        Largest first; shares add to 1.
    name : str
        What the chart is called.
    width : float
        Of the drawing. [pt]
    tell : callable
        Gives a sentence of ours in the reader's language.
    """
    rows = [(tell(cause), text, share) for cause, text, share in rows]
    shown = [row for row in rows[:SHOWN] if row[2] >= SMALL_SHARE] or rows[:1]
    rest = rows[len(shown) :]
    shares = listed("; ", (f"{cause} {text}" for cause, text, _ in rows))
    words = tell(said("Shares of the variance: {shares}.", shares=shares))
    drawing = Drawing(width, ROW * (len(shown) + bool(rest)) + 1.0, name, words)
    column = max(text_width(text, SIZE) for _, text, _ in shown) + 3.0
    left = column + BAR + 5.0
    for index, (cause, text, share) in enumerate(shown):
        middle = ROW * (index + 0.5)
        drawing.text_beside(column - 3.0, middle, text, size=SIZE, anchor="end")
        drawing.rect(column, middle - 2.6, BAR, 5.2, fill="tint")
        drawing.rect(column, middle - 2.6, BAR * share, 5.2, fill="accent", words=f"{cause}: {text}")
        drawing.text_beside(left, middle, fitted(cause, width - left, SIZE), size=SIZE, fill="ink")
    if rest:
        middle = ROW * (len(shown) + 0.5)
        counted = said("{n} smaller causes", n=len(rest)) if len(rest) > 1 else said("1 smaller cause")
        drawing.text_beside(left, middle, tell(counted), size=SIZE, fill="muted")
    return drawing
