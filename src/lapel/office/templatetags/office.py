"""Chips, a word with a shape and a tone, and lists of codes: the same on every page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

register = template.Library()

TONES = {
    "good": ("sound", "under", "in date", "done", "complete", "kept", "passed"),
    "care": ("qualified", "cannot tell", "due soon", "open", "conflict", "outdated", "left open", "needed"),
    "stop": ("void", "over", "overdue", "blocked", "failed", "missing", "refused"),
    "mark": ("here",),
}
"""Which words stand for what: usable as it is; usable with care; not usable, or act now; where one is.
Others are plain."""

SHAPES = {
    "under": "under",
    "over": "over",
    "cannot tell": "cannot-tell",
    "qualified": "qualified",
}
"""Verdicts and standings that have the shape the pictures and the printed record give them."""


@register.simple_tag
def chip(words: str, tone: str = "") -> SafeString:
    """
    Words as a chip; its tone follows from the words unless one is given.

    Parameters
    ----------
    words : str
        What the chip says, such as “qualified: at least”. Escaped.
    tone : str, optional
        ``good``, ``care``, ``stop``, ``mark`` or ``plain``.
    """
    shape = "" if tone else SHAPES.get(_first_word(words), "")
    return format_html('<span class="chip {}">{}</span>', f"{tone or tone_of(words)} {shape}".strip(), words)


@register.filter
def codes(those: Iterable[object]) -> SafeString:
    """List codes with commas between them; none is broken at its hyphen."""
    return format_html_join(", ", '<span class="never-wraps">{}</span>', ((code,) for code in those))


@register.filter
def at(those: Sequence[object], place: int) -> object:
    """Return the one at a place, counted from nought."""
    return those[place]


def tone_of(words: str) -> str:
    """Return the tone of a chip's words; “qualified: at least” has that of “qualified”."""
    first = _first_word(words)
    return next((tone for tone, known in TONES.items() if first in known), "plain")


def _first_word(words: str) -> str:
    """Return what stands before a colon, in small letters."""
    return words.split(":")[0].strip().lower()
