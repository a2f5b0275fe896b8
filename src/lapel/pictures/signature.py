"""A drawn signature as a picture, for page and paper."""

from __future__ import annotations

from collections.abc import Iterable

from lapel.fieldlog.signatures import HIGH, WIDE, Line


def signature_picture(lines: Iterable[Line]) -> str:
    """Return the drawing as SVG in the colour of the text around it; a point alone is a dot."""
    drawn = "".join(f'<polyline points="{_points(line)}"/>' for line in lines)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" fill="none" stroke="currentColor" '
        f'stroke-width="6" stroke-linecap="round" stroke-linejoin="round">{drawn}</svg>'
    )


def _points(line: Line) -> str:
    again = line * 2 if len(line) == 1 else line  # a line of no length is drawn as its round end
    return " ".join(f"{x},{y}" for x, y in again)
