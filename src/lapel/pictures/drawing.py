"""
The drawing: marks and texts on a sheet, written as SVG.

A drawing is plain data until it is written: the same one goes into a PDF and into a page. Every colour is written as
it is printed, with a class beside it that says what it means: a page's style sheet may give that class another colour,
for a dark mode, and needs no style in the drawing. Lengths are in points, y grows downwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Literal, TypeAlias

from lapel.pictures.lettering import FALLBACK, FAMILY, printable, text_width
from lapel.pictures.palette import COLOURS

Anchor: TypeAlias = Literal["start", "middle", "end"]
CAP_HEIGHT = 0.73
"""Height of a capital, in ems: a text is centred on a line by half of it."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One shape: its element and geometry, its colours by meaning, and what it is in words (empty for decoration)."""

    element: Literal["rect", "line", "circle", "path"]
    geometry: tuple[tuple[str, str], ...]
    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    dashes: str = ""
    opacity: float = 1.0
    words: str = ""


@dataclass(frozen=True, slots=True)
class Lettering:
    """One text: where it stands on its base line, and how."""

    x: float
    y: float
    text: str
    size: float
    anchor: Anchor = "start"
    fill: str = "ink"
    bold: bool = False
    turned: bool = False

    def extent(self) -> tuple[float, float, float, float]:
        """Box the text fills by the font's widths: left, top, right, bottom."""
        length = text_width(self.text, self.size, bold=self.bold)
        before = {"start": 0.0, "middle": length / 2.0, "end": length}[self.anchor]
        up, down = 0.97 * self.size, 0.25 * self.size
        if self.turned:
            return (self.x - up, self.y - length + before, self.x + down, self.y + before)
        return (self.x - before, self.y - up, self.x - before + length, self.y + down)


@dataclass(slots=True)
class Drawing:
    """
    A chart as data.

    Attributes
    ----------
    width, height : float
        Of the sheet. [pt]
    name : str
        Short name, the title a screen reader says first.
    words : str
        What it shows, with its numbers, for somebody who does not see it.
    """

    width: float
    height: float
    name: str
    words: str
    marks: list[Mark | Lettering] = field(default_factory=list)

    def rect(
        self, x: float, y: float, width: float, height: float, *, fill: str = "", stroke: str = "", line: float = 0.0,
        dashes: str = "", opacity: float = 1.0, words: str = "", rounded: float = 0.0,
    ) -> None:  # fmt: skip
        """Draw a rectangle by its upper left corner and size."""
        geometry = [("x", _n(x)), ("y", _n(y)), ("width", _n(max(0.0, width))), ("height", _n(height))]
        if rounded:
            geometry.append(("rx", _n(rounded)))
        self.marks.append(Mark("rect", tuple(geometry), fill, stroke, line, dashes, opacity, words))

    def line(
        self, x1: float, y1: float, x2: float, y2: float, *, stroke: str = "line", width: float = 0.5,
        dashes: str = "", words: str = "",
    ) -> None:  # fmt: skip
        """Draw a straight line."""
        geometry = (("x1", _n(x1)), ("y1", _n(y1)), ("x2", _n(x2)), ("y2", _n(y2)))
        self.marks.append(Mark("line", geometry, "", stroke, width, dashes, 1.0, words))

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        *,
        fill: str = "",
        stroke: str = "",
        width: float = 0.0,
        words: str = "",
    ) -> None:
        """Draw a circle round a point."""
        geometry = (("cx", _n(x)), ("cy", _n(y)), ("r", _n(radius)))
        self.marks.append(Mark("circle", geometry, fill, stroke, width, "", 1.0, words))

    def polygon(
        self, points: Sequence[tuple[float, float]], *, fill: str = "", stroke: str = "", width: float = 0.0,
        closed: bool = True, dashes: str = "", opacity: float = 1.0, words: str = "",
    ) -> None:  # fmt: skip
        """Draw a polygon, or a line through points when it is not closed."""
        steps = " ".join(f"{'M' if i == 0 else 'L'}{_n(x)} {_n(y)}" for i, (x, y) in enumerate(points))
        geometry = (("d", steps + (" Z" if closed else "")),)
        self.marks.append(Mark("path", geometry, fill, stroke, width, dashes, opacity, words))

    def rects(self, boxes: Sequence[tuple[float, float, float, float]], *, fill: str) -> None:
        """Draw many rectangles of one colour as one shape: left, top, width and height of each."""
        steps = "".join(f"M{_n(x)} {_n(y)}h{_n(w)}v{_n(h)}h-{_n(w)}z" for x, y, w, h in boxes)
        self.marks.append(Mark("path", (("d", steps),), fill))

    def text(
        self, x: float, y: float, text: str, *, size: float = 7.0, anchor: Anchor = "start", fill: str = "ink",
        bold: bool = False, turned: bool = False,
    ) -> None:  # fmt: skip
        """Write a text on its base line."""
        self.marks.append(Lettering(x, y, printable(text), size, anchor, fill, bold, turned))

    def text_beside(
        self, x: float, y: float, text: str, *, size: float = 7.0, anchor: Anchor = "start", fill: str = "ink",
        bold: bool = False,
    ) -> None:  # fmt: skip
        """Write a text whose capitals are centred on a height."""
        self.text(x, y + CAP_HEIGHT * size / 2.0, text, size=size, anchor=anchor, fill=fill, bold=bold)

    def texts(self) -> list[Lettering]:
        """Every text of the drawing."""
        return [mark for mark in self.marks if isinstance(mark, Lettering)]

    def svg(self, *, page: bool = False, key: str = "chart") -> str:
        """
        Write the drawing as SVG.

        Parameters
        ----------
        page : bool
            For a web page read mark by mark: every mark with words takes the focus.
        key : str
            Beginning of the ids of its title and description; different for each chart of one page.
        """
        body = "".join(_lettering(mark) if isinstance(mark, Lettering) else _mark(mark, page) for mark in self.marks)
        name, words, key = escape(printable(self.name)), escape(printable(self.words)), escape(key)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(self.width)} {_n(self.height)}" '
            f'width="{_n(self.width)}" height="{_n(self.height)}" role="img" aria-label="{name}" '
            f'aria-describedby="{key}-words" font-family="{FAMILY}, {FALLBACK}, sans-serif">'
            f'<title>{name}</title><desc id="{key}-words">{words}</desc>{body}</svg>'
        )


def _mark(mark: Mark, page: bool) -> str:
    attributes = [f'{name}="{value}"' for name, value in mark.geometry]
    attributes.append(f'fill="{COLOURS[mark.fill] if mark.fill else "none"}"')
    if mark.stroke:
        attributes += [f'stroke="{COLOURS[mark.stroke]}"', f'stroke-width="{_n(mark.width)}"']
        if mark.dashes:
            attributes.append(f'stroke-dasharray="{mark.dashes}"')
    if mark.opacity < 1.0:
        attributes.append(f'opacity="{_n(mark.opacity)}"')
    meanings = [f"{what}-{meaning}" for what, meaning in (("fill", mark.fill), ("stroke", mark.stroke)) if meaning]
    if meanings:
        attributes.append(f'class="{" ".join(meanings)}"')
    if not mark.words:
        return f"<{mark.element} {' '.join(attributes)}/>"
    if page:
        attributes.append('tabindex="0"')
    return f"<{mark.element} {' '.join(attributes)}><title>{escape(printable(mark.words))}</title></{mark.element}>"


def _lettering(text: Lettering) -> str:
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    weight = ' font-weight="600"' if text.bold else ""
    turn = f' transform="rotate(-90 {_n(text.x)} {_n(text.y)})"' if text.turned else ""
    fill = f'fill="{COLOURS[text.fill]}" class="fill-{text.fill}"'
    return (
        f'<text x="{_n(text.x)}" y="{_n(text.y)}" font-size="{_n(text.size)}"{anchor}{weight}{turn} {fill}>'
        f"{escape(text.text)}</text>"
    )


def _n(value: float) -> str:
    """Write a coordinate to a hundredth of a point."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
