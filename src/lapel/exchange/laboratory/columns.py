"""What each column of a table holds: its heading and its cells weighed together, with how sure that is and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from lapel.exchange.laboratory.column_contents import Cells, by_content, fit
from lapel.exchange.laboratory.expectations import NOT_USED, Expected
from lapel.exchange.laboratory.headings import FoundTable, Heading
from lapel.exchange.laboratory.numbers import Marks
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import (
    MEANINGS,
    VALUE_ROLES,
    Role,
    foreign_words,
    only_role_words,
)
from lapel.exchange.laboratory.sheets import Sheet, address, shown
from lapel.exchange.laboratory.unit_words import LOST, Unit, heading_unit, known_unit

LOOKED_AT = 150
"""Cells of a column that are looked at to see what it holds."""
SURE = 0.75
"""Confidence below which a column that matters is asked about."""

_ONCE: frozenset[Role] = frozenset(("sampler", "agent", "cas", "section", "unit", "medium", "analysed on", "volume"))
_KIND_OF_ROLE: Mapping[Role, tuple[str, ...]] = {
    "front": ("mass",),
    "back": ("mass",),
    "mass": ("mass",),
    "reporting limit": ("mass", "concentration", "mole ratio"),
    "detection limit": ("mass", "concentration", "mole ratio"),
    "recovery": ("ratio",),
    "uncertainty": ("ratio", "mass"),
    "volume": ("volume",),
    "concentration": ("concentration", "mole ratio"),
    "mole ratio": ("mole ratio",),
    "result": ("mass", "concentration", "mole ratio"),
    "minutes": ("time",),
    "flow": ("flow",),
}


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """
    What one column holds.

    Attributes
    ----------
    unit : Unit or None
        As its heading or a person states it; None where it stands elsewhere or nowhere.
    confidence : float
        0 to 1: 1 where a person said so.
    evidence : str
        Why, in words.
    cells : tuple of str
        Its first filled cells, as they came, with their addresses.
    """

    column: int
    heading: str
    role: Role
    agent: str
    section: Literal["", "front", "back"]
    sampler: str
    unit: Unit | None
    confidence: float
    evidence: str
    cells: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """What it holds, how surely and why, as plain data; without the cells."""
        return {
            "column": self.column,
            "heading": self.heading,
            "role": self.role,
            "agent": self.agent,
            "section": self.section,
            "unit": self.unit.name if self.unit else "",
            "confidence": self.confidence,
            "evidence": self.evidence,
        }


def columns_of(
    table: FoundTable,
    sheet: Sheet,
    marks: Marks,
    report_map: Mapping[str, Any],
    expected: Expected,
    asked: Asked,
) -> tuple[ColumnMap, ...]:
    """
    Say what each column of a table holds.

    Headings propose, cells confirm or refuse; of two columns that claim what there can only be one of, the surer stays.
    What a person has said of a heading goes before both.
    """
    told = report_map.get("columns", {})
    found = []
    for heading in table.headings:
        cells = _filled(table, sheet, heading.column)
        column = _proposed(heading, cells, sheet, marks, expected, report_map.get("agents", {}))
        found.append(_told(column, told[heading.text]) if heading.text in told else column)
    found = _one_of_each(found)
    found = _neighbours(found)
    found = _without_agent(found, expected, asked)
    _ask_about(found, sheet, asked)
    return tuple(found)


def _filled(table: FoundTable, sheet: Sheet, column: int) -> Cells:
    cells: Cells = []
    for number in range(table.first_row, table.last_row + 1):
        if number in table.repeats:
            continue
        row = sheet.rows[number - 1]
        if column <= len(row) and row[column - 1] != "" and sum(1 for cell in row if cell != "") > 1:
            cells.append((number, row[column - 1]))
            if len(cells) >= LOOKED_AT:
                break
    return cells


def _shown_cells(cells: Cells, sheet: Sheet, column: int) -> tuple[str, ...]:
    return tuple(f"{address(sheet, number, column)}: {shown(cell)}" for number, cell in cells[:3])


def _told(column: ColumnMap, said: Mapping[str, str]) -> ColumnMap:
    """Put what a person said of a heading in place of what was proposed."""
    section = said.get("section", column.section)
    role = said.get("role", column.role)
    return replace(
        column,
        role=role,  # type: ignore[arg-type]
        agent=said.get("agent", column.agent),
        section=(role if role in ("front", "back") else section),  # type: ignore[arg-type]
        unit=known_unit(said["unit"]) if said.get("unit") else column.unit,
        confidence=1.0,
        evidence="as a person confirmed it for this heading",
    )


def _proposed(
    heading: Heading, cells: Cells, sheet: Sheet, marks: Marks, expected: Expected, agents: Mapping[str, str]
) -> ColumnMap:
    scored: list[tuple[float, Role, str]] = []
    for role, said in _claims(heading).items():
        fits, words = fit(role, cells, marks, expected, agents)
        score = 0.6 * said + 0.4 * fits if cells else 0.9 * said
        if cells and fits < 0.5:
            score *= 0.5 + fits
        if heading.unit is not None and role in _KIND_OF_ROLE:
            suits = heading.unit.kind in (*_KIND_OF_ROLE[role], LOST.kind)
            score += 0.05 if suits else -0.4
            if suits and said > 0.96 and fits > 0.2:
                score = max(score, 0.8)  # heading and unit say it; the words among the cells are asked about one by one
        scored.append((min(score, 0.99), role, f"headed “{heading.text}”; {words}" if heading.text else words))
    scored += by_content(heading, cells, expected)
    if not scored:
        scored = [(0.3 if cells else 1.0, "other", "no heading that is known" if cells else "an empty column")]
    confidence, role, evidence = max(scored, key=lambda item: item[0])
    section: Literal["", "front", "back"] = heading.section
    if role in ("front", "back"):
        section = "front" if role == "front" else "back"
    return ColumnMap(
        heading.column,
        heading.text,
        _by_unit(role, heading.unit),
        heading.agent,
        section,
        heading.sampler if role in ("result", "mass") else "",
        heading.unit,
        round(max(confidence, 0.0), 3),
        evidence,
        _shown_cells(cells, sheet, heading.column),
    )


def _claims(heading: Heading) -> dict[Role, float]:
    claims = dict(heading.roles)
    if heading.sampler:
        claims["result"] = 1.0
    elif heading.agent and not claims:
        kind = heading.unit.kind if heading.unit else ""
        by_kind: Mapping[str, Role] = {"mass": "mass", "concentration": "concentration", "mole ratio": "mole ratio"}
        claims[by_kind.get(kind, "result")] = 0.95
    elif heading.agent:
        claims = {role: score for role, score in claims.items() if role not in ("agent", "sampler")}
    elif not claims and heading.unit is not None:
        by_unit: Mapping[str, Role] = {
            "mass": "mass",
            "concentration": "concentration",
            "mole ratio": "mole ratio",
            "volume": "volume",
            "time": "minutes",
            "flow": "flow",
            LOST.kind: "mass",
        }
        if heading.unit.kind in by_unit:
            claims[by_unit[heading.unit.kind]] = 0.85
    return claims


def _by_unit(role: Role, unit: Unit | None) -> Role:
    """“Result, mg/m3” is a concentration, “Result, µg” a mass: the unit says which."""
    kinds: Mapping[str, Role] = {"mass": "mass", "concentration": "concentration", "mole ratio": "mole ratio"}
    if role in ("result", "mass", "concentration") and unit is not None:
        return kinds.get(unit.kind, role)
    return role


def _one_of_each(found: list[ColumnMap]) -> list[ColumnMap]:
    """Keep the surest where there can only be one; the others are set aside and say so."""
    best: dict[Role, ColumnMap] = {}
    for column in found:
        if column.role in _ONCE and (column.role not in best or column.confidence > best[column.role].confidence):
            best[column.role] = column
    kept = []
    for column in found:
        rival = best.get(column.role)
        if rival is None or rival is column or (column.role == "volume" and (column.sampler or column.agent)):
            kept.append(column)
        else:
            kept.append(
                replace(
                    column,
                    role="other",
                    confidence=min(column.confidence, 0.9),
                    evidence=f"“{rival.heading}” is the surer column of {MEANINGS[column.role]}",
                )
            )
    return kept


def _neighbours(found: list[ColumnMap]) -> list[ColumnMap]:
    """In wide tables a limit or flag without an agent of its own belongs to the result left of it."""
    wide = sum(1 for column in found if column.agent and column.role in ("mass", "front", "result", "concentration"))
    if wide < 2:
        return found
    dependent: tuple[Role, ...] = (
        "reporting limit",
        "qualifier",
        "sign",
        "back",
        "recovery",
        "uncertainty",
        "concentration",
        "mole ratio",
        "unit",
        "mass",
        "front",
    )
    counts = Counter(column.role for column in found if not column.agent and column.role in dependent)
    kept, left = [], ""
    for column in found:
        if column.agent:
            left = column.agent
        elif counts[column.role] > 1 and left and only_role_words(heading_unit(column.heading)[1]):
            column = replace(column, agent=left, evidence=f"{column.evidence}; stands right of {left}")
        kept.append(column)
    return kept


def _without_agent(found: list[ColumnMap], expected: Expected, asked: Asked) -> list[ColumnMap]:
    """
    Set masses aside whose heading names no agent, in a table whose other headings do, and ask whose they are.

    What stands once in a row, such as its volume, is shared by all its agents; a mass never is.
    """
    roles: tuple[Role, ...] = ("front", "back", "mass", "result", "concentration", "mole ratio", "reporting limit")
    named = {column.agent for column in found if column.agent and column.role in roles}
    if any(foreign_words(heading_unit(column.heading)[1]) for column in found if column.role in ("front", "back")):
        named = named or {NOT_USED}
    if not named or any(column.role in ("agent", "cas") for column in found):
        return found
    kept = []
    for column in found:
        alone = column.role == "reporting limit" and sum(c.role == "reporting limit" for c in found) == 1
        if column.role in roles and not column.agent and not column.sampler and column.cells and not alone:
            others = sorted(set(expected.agents.agents) - named) or sorted(expected.agents.agents)
            foreign = foreign_words(heading_unit(column.heading)[1])
            asked.ask(
                f"agents.{foreign}" if foreign else f"columns.{column.heading}#agent",
                f"Which agent is the column headed “{column.heading}” about?",
                (*((key, expected.agents.agents[key].name) for key in others), (NOT_USED, "none of them; not used")),
                where=column.cells[0].partition(":")[0],
                cells=column.cells,
            )
            column = replace(column, role="other", confidence=0.5, evidence="its heading names no agent of the survey")
        elif column.agent == NOT_USED:
            column = replace(column, role="other", evidence="an agent that is not used here")
        kept.append(column)
    return kept


def _ask_about(found: Sequence[ColumnMap], sheet: Sheet, asked: Asked) -> None:
    """Ask about columns of numbers whose meaning is not sure; words nobody needs are set aside without."""
    for column in found:
        numeric = _mostly_numbers(column)
        if column.confidence >= SURE or not (column.role in VALUE_ROLES or (column.role == "other" and numeric)):
            continue
        if (not column.heading and not numeric) or column.evidence.startswith("its heading names no agent"):
            continue
        choices = tuple(
            (role, MEANINGS[role])
            for role in (
                "mass",
                "front",
                "back",
                "reporting limit",
                "concentration",
                "volume",
                "recovery",
                "uncertainty",
                "other",
            )
        )
        asked.ask(
            f"columns.{column.heading}",
            f"What does the column headed “{column.heading}” hold? It reads most like {MEANINGS[column.role]} "
            f"({column.confidence:.0%}).",
            choices,
            where=column.cells[0].partition(":")[0] if column.cells else "",
            cells=column.cells,
        )


def _mostly_numbers(column: ColumnMap) -> bool:
    texts = [cell.partition(": ")[2] for cell in column.cells]
    return bool(texts) and all(text[:1].isdigit() or text[:1] in "<.,-" for text in texts)
