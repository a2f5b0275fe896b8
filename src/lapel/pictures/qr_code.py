"""A QR code as a drawing, with the quiet zone every reader needs."""

from __future__ import annotations

import segno

from lapel.pictures.drawing import Drawing

QUIET = 4
"""Modules left white on each side (ISO/IEC 18004, 7.3.7 of the 2015 edition: four for QR codes)."""


def qr_code(text: str, *, size: float = 62.0) -> Drawing:
    """
    Draw a text as QR code.

    Parameters
    ----------
    text : str
        What a reader gives back.
    size : float
        Width and height with the quiet zone. [pt]

    Returns
    -------
    Drawing
        Never the smaller kind of code, which many readers do not know.
    """
    matrix = [bytes(row) for row in segno.make_qr(text, error="m").matrix]
    count = len(matrix) + 2 * QUIET
    module = size / count
    drawing = Drawing(size, size, f"QR code {text}", f"QR code that reads {text}")
    drawing.rect(0.0, 0.0, size, size, fill="paper")
    dark_runs = []
    for row, modules in enumerate(matrix):
        start = None
        for column, dark in enumerate([*modules, 0]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                x, y = (QUIET + start) * module, (QUIET + row) * module
                # a hair of overlap downwards: no reader should see a white line between two rows
                dark_runs.append((x, y, (column - start) * module, module * 1.02))
                start = None
    drawing.rects(dark_runs, fill="ink")
    return drawing
