"""Texts of documents in a language, with a firm's own in their place where it has some."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from babel.dates import format_date, format_datetime

from lapel.said import told

LANGUAGES = ("en", "es")


class UnusableWording(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A firm's own texts cannot be used; the message names file, key, what was found and what is wanted."""


SENTENCES = "sentence"
"""Section of a firm's own file for sentences that are found by their English."""


@dataclass(frozen=True, slots=True)
class Wording:
    """
    Texts in one language.

    Attributes
    ----------
    texts : mapping
        By section and key.
    sentences : mapping of str to str
        What cells, verdicts, rules and tests say, by the English they are made in.
    """

    language: str
    texts: Mapping[str, Mapping[str, str]]
    sentences: Mapping[str, str] = field(default_factory=dict)

    def say(self, place: str, **values: str) -> str:
        """
        Give a text with its names filled in.

        Parameters
        ----------
        place : str
            Section and key, as in “letter.title”.
        values : str
            What each {name} stands for; texts only, rounded where they were made, told in this language.
        """
        section, _, key = place.partition(".")
        return self.texts[section][key].format(**{name: self.told(value) for name, value in values.items()})

    def told(self, text: str) -> str:
        """Say a sentence of ours in this language; what a person wrote stays as written."""
        return told(text, self._translated)

    def _translated(self, template: str) -> str:
        return self.sentences.get(template, template)

    def day(self, day: date) -> str:
        """Write a day as people of this language do."""
        return str(format_date(day, self.texts["common"]["date"], locale=self.language))

    def days(self, days: list[date]) -> str:
        """Write one day, or the first and the last of several."""
        first, last = min(days), max(days)
        return self.day(first) if first == last else f"{self.day(first)} – {self.day(last)}"

    def clock(self, at: datetime) -> str:
        """Write a time of day."""
        return str(format_datetime(at, self.texts["common"]["clock"], locale=self.language))


def wording(language: str = "en", *, own: str | Path | None = None) -> Wording:
    """
    Give the texts of a language.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.
    own : str or Path, optional
        A firm's file in the same layout; what it says replaces what is packaged.

    Raises
    ------
    UnusableWording
        The language is not there; or the own file has a text that is not known, is no text, or names something that
        its place does not fill in.
    """
    if language not in LANGUAGES:
        raise UnusableWording(f"found the language “{language}”; wanted one of {', '.join(LANGUAGES)}")
    texts = {section: dict(rows) for section, rows in _packaged(language).items()}
    words = Wording(language, texts, packaged_sentences(language))
    return words if own is None else with_own(words, _own_file(Path(own)), where=str(own))


def with_own(words: Wording, own: Mapping[str, Any], *, where: str) -> Wording:
    """
    Put a firm's own texts in place of others.

    Parameters
    ----------
    words : Wording
        The texts as they are.
    own : mapping
        Texts by section and key, as in a firm's own file.
    where : str
        Where they stand, for whoever has to mend them.

    Raises
    ------
    UnusableWording
        A text is not known, is no text, or names something that its place does not fill in.
    """
    texts = {section: dict(rows) for section, rows in words.texts.items()}
    sentences = dict(words.sentences)
    for section, rows in own.items():
        if isinstance(rows, Mapping):
            for key, text in rows.items():
                known = texts.get(section, {}).get(key)
                if section == SENTENCES:
                    known = key if key in known_sentences() else None
                _hold_to(known, text, f"{where}, {section}.{key}")
                (sentences if section == SENTENCES else texts[section])[key] = text
    return Wording(words.language, texts, sentences)


@cache
def _packaged(language: str) -> Mapping[str, Mapping[str, str]]:
    data = tomllib.loads(files("lapel.documents").joinpath("words", f"{language}.toml").read_text(encoding="utf-8"))
    return {section: rows for section, rows in data.items() if isinstance(rows, dict)}


@cache
def packaged_sentences(language: str) -> Mapping[str, str]:
    """Sentences of a language by their English; empty for English, in which they are made."""
    folder = files("lapel.documents").joinpath("words", language)
    if not folder.is_dir():
        return {}
    found: dict[str, str] = {}
    for file in sorted(folder.iterdir(), key=lambda each: each.name):
        if file.name.endswith(".toml"):
            found |= tomllib.loads(file.read_text(encoding="utf-8"))
    return found


@cache
def known_sentences() -> frozenset[str]:
    """Every sentence a firm may say otherwise, by its English."""
    return frozenset(english for language in LANGUAGES for english in packaged_sentences(language))


def _own_file(path: Path) -> Mapping[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as problem:
        raise UnusableWording(f"{path}: {problem.strerror or problem}") from problem
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise UnusableWording(f"{path}: found no TOML in UTF-8 ({problem})") from problem


def _hold_to(known: str | None, text: object, where: str) -> None:
    """Refuse a text nobody reads, one that is none, or one with a name its place does not fill in."""
    if known is None:
        raise UnusableWording(f"{where}: found a text nobody reads; wanted a key of the packaged file")
    if not isinstance(text, str):
        raise UnusableWording(f"{where}: found {text!r}; wanted a text in quotes")
    if extra := _names(text, where) - _names(known, where):
        wanted = ", ".join(sorted(_names(known, where))) or "no names"
        raise UnusableWording(f"{where}: found {{{', '.join(sorted(extra))}}}; wanted only {wanted}")


def _names(text: str, where: str) -> set[str]:
    try:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
    except ValueError as problem:
        raise UnusableWording(f"{where}: found a curly bracket without its partner ({problem})") from problem
