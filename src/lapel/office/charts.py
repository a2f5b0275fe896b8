"""
Charts on a page: the drawing as printed; its classes are coloured for every theme in ``static/office/charts.css``.
"""

from __future__ import annotations

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from lapel.documents.render import Picture


def chart(picture: Picture, key: str) -> SafeString:
    """
    Put a picture on a page, in a frame that scrolls sideways where the page is narrower than its letters allow.

    Parameters
    ----------
    picture : Picture
        As drawn by `lapel.pictures`.
    key : str
        Different for each chart of one page.
    """
    return format_html(
        '<div class="chart-frame"><p class="chart-cue" aria-hidden="true">Wider than the screen: slide it sideways</p>'
        '<div class="chart" tabindex="0" role="group" aria-label="Chart, scrolls sideways">{}</div></div>',
        mark_safe(picture.svg.replace("chart-words", f"{key}-words")),
    )
