"""
A sentence that still knows what it was made of, so that a document can say it in another language.

It is an English text like any other wherever a text is wanted. A document in another language looks its template up
and fills the same values in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Literal, TypeAlias, cast

__all__ = [
    "Said",
    "Tell",
    "as_it_is",
    "capital",
    "ended",
    "in_order",
    "listed",
    "said",
    "told",
    "without_stop",
    "worded",
]

Tell: TypeAlias = Callable[[str], str]
"""Gives a text in a reader's language."""


class Said(str):
    """
    A text with its template and the values in it.

    Attributes
    ----------
    template : str
        The English sentence with {names}; what its translation is found by.
    values : mapping of str to str
        What each name stands for; may be sentences themselves.
    first : {"", "upper", "lower"}
        What was done to its first letter, as in running text.
    open_end : bool
        Whether its full stop was left out, as where the text goes on.
    """

    __slots__ = ("first", "open_end", "template", "values")

    template: str
    values: Mapping[str, str]
    first: Literal["", "upper", "lower"]
    open_end: bool

    def __new__(
        cls,
        template: str,
        values: Mapping[str, str],
        first: Literal["", "upper", "lower"] = "",
        open_end: bool = False,
    ) -> Said:
        """Fill the values into the template."""
        text = _in_full(template, values, first)
        made = super().__new__(cls, text.rstrip(".") if open_end else text)
        made.template, made.values, made.first, made.open_end = template, values, first, open_end
        return made

    def __reduce__(self) -> tuple[type[Said], tuple[str, Mapping[str, str], str, bool]]:
        """Keep template and values in copies."""
        return Said, (self.template, self.values, self.first, self.open_end)

    def __add__(self, after: str) -> Said:
        """Put a text behind it."""
        return listed("", (self, after))

    def __radd__(self, before: str) -> Said:
        """Put a text before it."""
        return listed("", (before, self))


def said(template: str, **values: str | int) -> Said:
    """
    Make a sentence.

    Parameters
    ----------
    template : str
        With {names}, none for a text without values.
    values : str or int
        Texts, rounded where they are made; a number is a count.
    """
    return Said(template, {name: value if isinstance(value, str) else str(value) for name, value in values.items()})


def in_order(template: str, *values: str) -> Said:
    """Make a sentence of a template and what stands for its names, in their order."""
    return Said(template, dict(zip(_NAME.findall(template), values, strict=True)))


def told(text: str, translated: Tell) -> str:
    """
    Say a sentence in other words; a text that is none, as one a person wrote, stays as it is.

    Parameters
    ----------
    text : str
        A `Said`, or a sentence of `lapel.statistics`, which makes its own with the same attributes.
    translated : callable
        From an English template to one with the same names; the template itself, where there is no other.
    """
    if not hasattr(text, "template"):
        return text
    sentence = cast("Said", text)
    values = {name: told(value, translated) for name, value in sentence.values.items()}
    text_told = _in_full(translated(sentence.template), values, sentence.first)
    return text_told.rstrip(".") if getattr(sentence, "open_end", False) else text_told


def listed(separator: str, parts: Iterable[str]) -> Said:
    """Put texts into one, with the same sign between them in every language."""
    values = {f"part{number}": part for number, part in enumerate(parts)}
    return Said(separator.join(f"{{{name}}}" for name in values), values)


def worded(text: str) -> Said:
    """Return a text that is written as a constant as the sentence it is; a sentence stays."""
    return text if isinstance(text, Said) else said(text)


def capital(text: str) -> Said:
    """Begin a text with a capital."""
    if isinstance(text, Said):
        return Said(text.template, text.values, "upper", text.open_end)
    return Said(text, {}, "upper")


def without_stop(text: str) -> str:
    """Leave out the full stop at the end of a text that goes on."""
    return Said(text.template, text.values, text.first, True) if isinstance(text, Said) else text.rstrip(".")


def as_it_is(text: str) -> str:
    """Leave a text in English."""
    return text


def ended(text: str) -> str:
    """End a text with a full stop, once."""
    return text if text.endswith(".") else text + "."


_NAME = re.compile(r"\{(\w+)\}")


def _in_full(template: str, values: Mapping[str, str], first: str) -> str:
    """Fill in the names that are known; other brackets, as a rule book of one's own may have, stay as they are."""
    text = _NAME.sub(lambda found: values.get(found[1], found[0]), template) if values else template
    if first:
        text = (text[:1].upper() if first == "upper" else text[:1].lower()) + text[1:]
    return text
