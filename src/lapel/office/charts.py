"""
Charts on a page: the drawing as printed, with a class beside every colour so that a theme can change it.

A page's content security policy takes no style attributes; classes are styled in ``static/office/charts.css``.
"""

from __future__ import annotations

import re

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from lapel.documents.render import Picture
from lapel.pictures.palette import COLOURS

_TAG = re.compile(r"<(?:rect|line|circle|path|text)\b[^>]*>")
_PAINT = re.compile(r'\b(fill|stroke)="(#[0-9a-f]{6})"')
_MEANING = {colour: meaning for meaning, colour in COLOURS.items()}


def chart(picture: Picture, key: str) -> SafeString:
    """
    Put a picture on a page, in a frame that scrolls sideways where the page is narrower than its letters allow.

    Parameters
    ----------
    picture : Picture
        Drawn for print.
    key : str
        Different for each chart of one page.
    """
    svg = _TAG.sub(_with_classes, picture.svg).replace("chart-words", f"{key}-words")
    return format_html(
        '<div class="chart" tabindex="0" role="group" aria-label="Chart, scrolls sideways">{}</div>',
        mark_safe(svg),
    )


def _with_classes(tag: re.Match[str]) -> str:
    classes = [f"{what}-{_MEANING[colour]}" for what, colour in _PAINT.findall(tag[0]) if colour in _MEANING]
    if not classes:
        return tag[0]
    end = -2 if tag[0].endswith("/>") else -1
    return f'{tag[0][:end]} class="{" ".join(classes)}"{tag[0][end:]}'
