"""What the cells of a column can be, and what they say for themselves whatever the heading is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from lapel.exchange.laboratory.days import DayDoubt, day_of
from lapel.exchange.laboratory.expectations import CAS, Expected, normal
from lapel.exchange.laboratory.headings import Heading
from lapel.exchange.laboratory.numbers import Marks
from lapel.exchange.laboratory.role_words import SECTION_WORDS, UNSURE_SECTIONS, VALUE_ROLES, Role, plain_words
from lapel.exchange.laboratory.sheets import Cell, shown
from lapel.exchange.laboratory.unit_words import known_unit
from lapel.exchange.laboratory.values import FLAG_MEANINGS, Value, value_of

Cells: TypeAlias = list[tuple[int, Cell]]
"""Filled cells of a column, each with the number of its row."""


def fit(role: Role, cells: Cells, marks: Marks, expected: Expected, agents: Mapping[str, str]) -> tuple[float, str]:
    """Say what share of the cells can be what a role wants, and in words."""
    if not cells:
        return 1.0, "no cells"
    test = _tests(marks, expected, agents).get(role)
    if test is None:
        return 0.9, "its cells were not looked into"
    hits = sum(1 for _, cell in cells if test(cell))
    return hits / len(cells), f"{hits} of {len(cells)} cells looked at are {_WANTED[role]}"


_WANTED: Mapping[Role, str] = {
    **dict.fromkeys(VALUE_ROLES, "numbers or words for no number"),
    "sampler": "samplers of this survey",
    "agent": "agents of this survey",
    "cas": "CAS numbers",
    "section": "words for a section",
    "unit": "units",
    "qualifier": "letters beside a result",
    "sign": "“<” or empty",
    "analysed on": "days",
    "sampled on": "days",
    "received on": "days",
    "minutes": "numbers",
    "flow": "numbers",
    "medium": "words",
    "remark": "words",
    "kind of sample": "words",
    "laboratory number": "unlike our samplers",
}


def _tests(marks: Marks, expected: Expected, agents: Mapping[str, str]) -> dict[Role, Callable[[Cell], bool]]:
    def is_value(cell: Cell) -> bool:
        found = value_of(cell, marks, {})
        return isinstance(found, Value) or found.kind == "number"

    def is_day(cell: Cell) -> bool:
        found = day_of(cell, None)
        return found is not None and not (isinstance(found, DayDoubt) and not found.readings)

    def is_word(cell: Cell) -> bool:
        return isinstance(cell, str) and not isinstance(value_of(cell, marks, {}), Value)

    tests: dict[Role, Callable[[Cell], bool]] = dict.fromkeys(VALUE_ROLES, is_value)
    tests |= {
        "sampler": lambda cell: is_ours(shown(cell), expected),
        "laboratory number": lambda cell: not is_ours(shown(cell), expected),
        "agent": lambda cell: shown(cell) in agents or bool(expected.agents.key(shown(cell))),
        "cas": lambda cell: bool(CAS.fullmatch(shown(cell))),
        "section": lambda cell: (
            plain_words(shown(cell)) in SECTION_WORDS or plain_words(shown(cell)) in UNSURE_SECTIONS
        ),
        "unit": lambda cell: known_unit(shown(cell)) is not None,
        "qualifier": is_flag,
        "sign": lambda cell: shown(cell).strip() in ("<", ">", "=", "≤", "≥", "<=", ">=", "LT", "GT"),
        "analysed on": is_day,
        "sampled on": is_day,
        "received on": is_day,
        "minutes": is_value,
        "flow": is_value,
        "medium": is_word,
        "kind of sample": is_word,
    }
    return tests


def is_ours(text: str, expected: Expected) -> bool:
    """Whether a text is, or begins or ends with, one of our samplers' codes."""
    plain = normal(text)
    if plain in expected.normal:
        return True
    return any(normal(word) in expected.normal for word in text.replace("/", " ").replace(",", " ").split())


def is_flag(cell: Cell) -> bool:
    """Whether a cell holds letters laboratories put beside a result."""
    parts = shown(cell).replace(",", " ").split()
    return bool(parts) and all(part.upper() in FLAG_MEANINGS or part in ("<", "ND", "nd") for part in parts)


def by_content(heading: Heading, cells: Cells, expected: Expected) -> list[tuple[float, Role, str]]:
    """What the cells say for themselves, whatever the heading is."""
    if not cells or heading.agent:
        return []
    texts = [shown(cell) for _, cell in cells]
    count = len(texts)
    found: list[tuple[float, Role, str]] = []
    ours = sum(is_ours(text, expected) for text in texts) / count
    if ours >= 0.3:
        known = next((score for role, score in heading.roles if role == "sampler"), 0.0)
        found.append(
            (
                min(0.55 + 0.3 * ours + 0.14 * known, 0.99),
                "sampler",
                f"{100 * ours:.0f} % of its cells are our samplers",
            )
        )
    agents = sum(bool(expected.agents.key(text)) for text in texts) / count
    if agents >= 0.5:
        found.append((0.55 + 0.35 * agents, "agent", f"{100 * agents:.0f} % of its cells are agents of this survey"))
    if sum(bool(CAS.fullmatch(text)) for text in texts) / count > 0.8:
        found.append((0.92, "cas", "its cells are CAS numbers"))
    units = sum(known_unit(text) is not None and not text[:1].isdigit() for text in texts) / count
    if units >= 0.8:
        found.append((0.5 + 0.4 * units, "unit", f"{100 * units:.0f} % of its cells are units"))
    sections = sum(plain_words(text) in SECTION_WORDS for text in texts) / count
    if sections >= 0.9 and len(set(map(plain_words, texts))) > 1:
        found.append((0.85, "section", "its cells say front and back"))
    if sum(text in ("<", ">", "=") for text in texts) / count > 0.9:
        found.append((0.9, "sign", "its cells are signs"))
    if sum(is_flag(cell) for _, cell in cells) / count > 0.9 and not any(role == "unit" for _, role, _ in found):
        found.append((0.8, "qualifier", "its cells are letters beside results"))
    return found
