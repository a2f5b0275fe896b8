"""Show the working: a figure's derivation as numbered steps a reviewer can follow with a calculator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lapel.figures.figure import Contribution, Figure
from lapel.figures.rounding import SENSE_MARK, display_unit, significant, with_uncertainty
from lapel.said import Said, listed, said, worded

WORKING_FIGURES = 6
"""Significant figures in a worked calculation: more than a result is shown with, so that it can be followed."""

EARLIER_STEP = "step {n}"
"""Where a term stands that an earlier step worked out."""


@dataclass(frozen=True, slots=True)
class Term:
    """One input of a step: its letter or name, its value with unit as text, and where it stands (step or source)."""

    label: str
    text: str
    origin: str


@dataclass(frozen=True, slots=True)
class Step:
    """
    One step of a worked calculation; every field is text or a number to print, rounded here and only here.

    Names, sources and the words in expressions are sentences, so that a document can say them in another language.
    """

    number: int
    name: str
    expression: str
    terms: tuple[Term, ...]
    result: str
    uncertainty: str
    source: str


@dataclass(frozen=True, slots=True)
class Working:
    """A worked calculation: the numbered steps, and the uncertainty budget of the last one."""

    title: str
    steps: tuple[Step, ...]
    budget: tuple[Contribution, ...]


def working(figure: Figure) -> Working:
    """
    Lay out the calculation behind a figure.

    Parameters
    ----------
    figure : Figure
        Any figure; one that was not calculated gives a single step that names its source.

    Returns
    -------
    Working
        Steps numbered from 1 in an order in which each uses only earlier ones. Shared intermediate results appear once.
    """
    steps: list[Step] = []
    numbers: dict[int, int] = {}
    for part in figure.ancestors():
        if part.derivation is None and part is not figure:
            continue
        numbers[id(part)] = len(steps) + 1
        steps.append(_step(len(steps) + 1, part, numbers))
    return Working(worded(figure.name), tuple(steps), tuple(figure.budget()))


def earlier_step(number: int) -> Said:
    """Say that a term is the result of an earlier step."""
    return said(EARLIER_STEP, n=number)


def _step(position: int, part: Figure, numbers: dict[int, int]) -> Step:
    derivation = part.derivation
    uncertainty = f"± {with_uncertainty(part.value, part.uncertainty)[1]}" if part.uncertainty else ""
    if derivation is None:
        return Step(position, worded(part.name), "", (), _amount_text(part), uncertainty, worded(part.source))
    card = derivation.card
    terms = tuple(
        Term(_letter(label, card.symbols), _text(item), _origin(item, numbers))
        for label, item in derivation.inputs.items()
        if item is not None
    )
    return Step(
        position,
        worded(part.name),
        worded(card.expression),
        terms,
        _amount_text(part),
        uncertainty,
        _source(part, card.source),
    )


def _source(part: Figure, formula_source: str) -> str:
    """Where a calculated step stands: what the figure itself names, such as its own method, before the formula's."""
    return listed("; ", (worded(part.source), worded(formula_source))) if part.source else worded(formula_source)


PART_LETTERS = {"temperature_k": "T", "pressure_kpa": "P"}
"""Letters of the parts of an argument that is made of several numbers, such as air."""


def _letter(label: str, symbols: Mapping[str, str]) -> str:
    """Return the letter an input has in the expression, with its place: Q[2], T_cal; its name where it has none."""
    stem = label.split("[")[0].split(".")[0]
    tail = label[len(stem) :]
    symbol = symbols.get(stem, "")
    if tail.startswith(".") and tail[1:] in PART_LETTERS:
        letter = PART_LETTERS[tail[1:]]
        return f"{letter}_{symbol}" if symbol and symbol != stem else letter
    return listed("", (worded(symbol or stem), tail))


def _text(item: object) -> str:
    if isinstance(item, Figure):
        return _amount_text(item)
    return significant(item, WORKING_FIGURES) if isinstance(item, float) else str(item)


def _amount_text(figure: Figure) -> str:
    unit = display_unit(figure.unit)
    text = f"{SENSE_MARK[figure.sense]}{significant(figure.value, WORKING_FIGURES)}"
    return f"{text} {unit}" if unit else text


def _origin(item: object, numbers: dict[int, int]) -> str:
    if not isinstance(item, Figure):
        return said("given")
    if id(item) in numbers:
        return earlier_step(numbers[id(item)])
    name = worded(item.name)
    return listed("; ", (name, worded(item.source))) if item.source else name
