"""
Sentences of this package, which still know what they were made of, so that whoever prints them can translate them.

Each is an English text like any other. Its `template` is what a translation is found by, its `values` fill it in again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Literal

__all__ = ["Sentence", "capital", "listed", "said", "small"]


class Sentence(str):
    """
    A text with its template and the values in it.

    Attributes
    ----------
    template : str
        The English sentence with {names}.
    values : mapping of str to str
        What each name stands for; may be sentences themselves.
    first : {"", "upper", "lower"}
        What was done to its first letter, as in running text.
    """

    __slots__ = ("first", "template", "values")

    template: str
    values: Mapping[str, str]
    first: Literal["", "upper", "lower"]

    def __new__(cls, template: str, values: Mapping[str, str], first: Literal["", "upper", "lower"] = "") -> Sentence:
        """Fill the values into the template."""
        text = _NAME.sub(lambda found: values.get(found[1], found[0]), template) if values else template
        begin = {"upper": str.upper, "lower": str.lower}.get(first, str)
        made = super().__new__(cls, begin(text[:1]) + text[1:])
        made.template, made.values, made.first = template, values, first
        return made

    def __reduce__(self) -> tuple[type[Sentence], tuple[str, Mapping[str, str], str]]:
        """Keep template and values in copies."""
        return Sentence, (self.template, self.values, self.first)

    def __add__(self, after: str) -> Sentence:
        """Put a text behind it."""
        return listed("", (self, after))

    def __radd__(self, before: str) -> Sentence:
        """Put a text before it."""
        return listed("", (before, self))


def said(template: str, **values: str | int) -> Sentence:
    """
    Make a sentence.

    Parameters
    ----------
    template : str
        With {names}, none for a text without values.
    values : str or int
        Texts, rounded where they are made; a number is a count.
    """
    return Sentence(template, {name: value if isinstance(value, str) else str(value) for name, value in values.items()})


def listed(separator: str, parts: Iterable[str]) -> Sentence:
    """Put texts into one, with the same sign between them in every language."""
    values = {f"part{number}": part for number, part in enumerate(parts)}
    return Sentence(separator.join(f"{{{name}}}" for name in values), values)


def capital(text: str) -> Sentence:
    """Begin a text with a capital."""
    return _begun(text, "upper")


def small(text: str) -> Sentence:
    """Begin a text with a small letter."""
    return _begun(text, "lower")


def _begun(text: str, first: Literal["upper", "lower"]) -> Sentence:
    template, values = (text.template, text.values) if isinstance(text, Sentence) else (text, {})
    return Sentence(template, values, first)


_NAME = re.compile(r"\{(\w+)\}")
