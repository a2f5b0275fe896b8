"""A measure is one question about a sample: a number, yes or no, “not recorded”, or “does not apply”."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Final, TypeAlias

from lapel.figures.rounding import significant
from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.rulebook import Citation, RuleBook
from lapel.said import Said, listed, said


class Answer(Enum):
    """An answer that is no number."""

    NOT_RECORDED = "not recorded"


NOT_RECORDED: Final = Answer.NOT_RECORDED
"""The fact applies to this sample and nobody wrote it down. (None, in contrast: it does not apply.)"""

Measured: TypeAlias = float | bool | Answer | None
Question: TypeAlias = Callable[[SampleFacts, RuleBook], Measured]
Words: TypeAlias = Callable[[SampleFacts, RuleBook, float], Said]


@dataclass(frozen=True, slots=True)
class Measure:
    """
    A question rules can ask.

    Attributes
    ----------
    key : str
        The name rule books use.
    unit : str
        Unit of the answer, "yes or no" for a claim (always put so that *yes* is the fault).
    words : str
        What is measured, in the trade's words.
    ask : callable
        (facts, rule book) to the answer; reads nothing else, so that it is the same tomorrow.
    found : callable
        (facts, rule book, answer) to the sentence a reader sees; called only when a rule fires.
    unsaid : str
        What it was that nobody wrote down, where the answer can be “not recorded”.
    """

    key: str
    unit: str
    words: str
    ask: Question
    found: Words
    unsaid: str


MEASURES: dict[str, Measure] = {}
"""All measures by key; the rule books of the package use every one of them."""


def measure(unit: str, found: Words, unsaid: str = "") -> Callable[[Question], Question]:
    """Register a function as the measure of its own name; the first line of its docstring says what it measures."""

    def register(ask: Question) -> Question:
        key = ask.__name__
        if key in MEASURES:
            raise ValueError(f"measure `{key}` is there already")
        words = (ask.__doc__ or "").strip().splitlines()[0].rstrip(".")
        MEASURES[key] = Measure(key, unit, words, ask, found, unsaid)
        return ask

    return register


CLAIM = "yes or no"


def always(words: Said) -> Words:
    """Say the same of every sample: what a claim found holds no number."""
    return lambda facts, book, value: words


_NOT_RECORDED = said("not recorded")
_BEYOND = said("more than can be expressed")


def shown_number(value: float | None, unit: str = "") -> str:
    """Write a number of a finding with its unit, rounded once, here; an unlimited ratio in words."""
    if value is None:
        return _NOT_RECORDED
    if not math.isfinite(value):
        return _BEYOND
    text = f"{value:.0f}" if float(value).is_integer() and abs(value) < 1e6 else significant(value, 3)
    return listed(" ", (text, said(unit))) if unit else text


def shown_flow(value_lpm: float | None) -> str:
    """Write a flow as the trade reads it: mL/min below 1 L/min."""
    if value_lpm is None or not math.isfinite(value_lpm) or value_lpm >= 1.0:
        return shown_number(value_lpm, "L/min")
    return shown_number(1000.0 * value_lpm, "mL/min")


def window_words(low: str | None, high: str | None) -> str:
    """Say a window of which either end may be missing: “30 to 1500 mL/min”, “at most 1 L/min”."""
    if low is None or high is None:
        if low is not None:
            return said("at least {low}", low=low)
        return said("at most {high}", high=high) if high is not None else said("not stated")
    number, _, unit = low.partition(" ")
    return said("{low} to {high}", low=number if high.endswith(f" {unit}") else low, high=high)


@lru_cache(maxsize=256)
def not_recorded_words(unsaid: str) -> Said:
    """Say what it was that nobody wrote down."""
    return said("not recorded: {what}", what=said(unsaid))


OWN_METHOD = "the method named with the sample"
"""Document of a rule that asks what the sample's own method asks; a finding names that method instead."""

AS_STATED = "as the survey states it"


def source_words(citation: Citation, facts: SampleFacts) -> str:
    """Where a rule stands; what the sample's own method asks stands in that method."""
    if citation.document != OWN_METHOD or not facts.method_source:
        return citation.words
    parts = (facts.method_source, said(citation.section), said(AS_STATED))
    return listed(", ", (part for part in parts if part))


def percent_off(value: float, wanted: float) -> float:
    """How far beyond a bound, in percent of the bound."""
    return 100.0 * (value - wanted) / wanted if wanted else math.copysign(math.inf, value) if value else 0.0
