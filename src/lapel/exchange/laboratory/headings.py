"""Finding the tables of a sheet: their heading lines, however many, and what each column is headed with."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from lapel.exchange.laboratory.expectations import Expected, normal
from lapel.exchange.laboratory.numbers import Marks, is_number
from lapel.exchange.laboratory.role_words import SECTION_WORDS, Role, only_role_words, plain_words, roles_of
from lapel.exchange.laboratory.sheets import Cell, Sheet, shown
from lapel.exchange.laboratory.unit_words import Unit, heading_unit
from lapel.exchange.laboratory.values import Value, value_of

_ENOUGH = 1.9
_LONGEST_HEADING = 120


@dataclass(frozen=True, slots=True)
class HeadingPart:
    """One cell of a heading, taken apart."""

    text: str
    unit: Unit | None
    agent: str
    section: Literal["", "front", "back"]
    roles: tuple[tuple[Role, float], ...]


@dataclass(frozen=True, slots=True)
class Heading:
    """A column's heading, all its lines together."""

    column: int
    text: str
    unit: Unit | None
    agent: str
    section: Literal["", "front", "back"]
    roles: tuple[tuple[Role, float], ...]
    sampler: str = ""


@dataclass(frozen=True, slots=True)
class FoundTable:
    """A table: its heading rows and the rows below that belong to it, counted from 1."""

    sheet: str
    header_rows: tuple[int, ...]
    first_row: int
    last_row: int
    headings: tuple[Heading, ...]
    repeats: frozenset[int]


class HeadingReader:
    """Takes headings apart, with the agents and samplers of one survey in mind."""

    def __init__(self, expected: Expected) -> None:
        self._expected = expected
        self.part = lru_cache(maxsize=20_000)(self._part)

    def _part(self, text: str) -> HeadingPart:
        unit, bare = heading_unit(text[:_LONGEST_HEADING])
        agent, rest = self._expected.agents.within(bare) if bare else ("", "")
        if agent and rest and not only_role_words(rest):
            agent, rest = "", bare
        section = SECTION_WORDS.get(plain_words(rest), "") if len(plain_words(rest)) > 1 else ""
        roles = roles_of(rest) if rest else ()
        if not section and roles and roles[0][0] in ("front", "back"):
            section = "front" if roles[0][0] == "front" else "back"
        return HeadingPart(text, unit, agent, section, roles)  # type: ignore[arg-type]

    def score(self, cells: list[Cell]) -> float:
        """
        Say how much a row looks like a heading.

        Known words speak for it, numbers and our own samplers against it: a row of results names an agent too.
        """
        points = 0.0
        for cell in cells:
            text = shown(cell).strip()
            if not text:
                continue
            if is_result(cell):
                points -= 1.0
                continue
            part = self.part(text)
            if normal(text) in self._expected.normal:
                points += 0.3 if _headed_by_samplers(cells, self._expected) else -1.0
            elif part.roles and part.roles[0][1] >= 0.9:
                points += 1.0
            elif (part.roles and part.roles[0][1] >= 0.6) or part.section:
                points += 0.6
            elif part.agent:
                points += 1.0 if part.unit else 0.5
            elif part.unit:
                points += 0.25
            elif len(text) > 60:
                points -= 0.5
            else:
                points -= 0.1
        return points

    def belongs(self, cells: list[Cell]) -> bool:
        """Whether a row beside a heading is a further line of it: units, sections, agents or heads, and no value."""
        texts = [(cell, shown(cell).strip()) for cell in cells if shown(cell).strip()]
        if not texts or any(is_result(cell) for cell, _ in texts):
            return False
        if any(normal(text) in self._expected.normal for _, text in texts):
            return False
        parts = [self.part(text) for _, text in texts]
        heads = sum(bool(p.agent or p.section or p.unit or (p.roles and p.roles[0][1] >= 0.9)) for p in parts)
        enough = max(1.0, 0.3 * len(parts)) if len(parts) > 2 else 0.6 * len(parts)
        return heads >= enough and not any(len(text) > 60 or ":" in text for _, text in texts)


def tables_of(sheet: Sheet, reader: HeadingReader, expected: Expected) -> list[FoundTable]:
    """Find every table of a sheet, top to bottom; a heading that comes again unchanged continues the same table."""
    heads: list[tuple[int, ...]] = []
    row = 1
    scores = _scores(sheet, reader)
    while row <= len(sheet.rows):
        if scores.get(row, 0.0) >= _ENOUGH:
            best = row
            while row + 1 <= len(sheet.rows) and scores.get(row + 1, 0.0) >= _ENOUGH and row - best < 2:
                row += 1
                if scores[row] > scores[best]:
                    best = row
            block = _block(sheet, reader, best, heads[-1][-1] if heads else 0)
            heads.append(block)
            row = block[-1]
        row += 1
    found: list[FoundTable] = []
    for index, block in enumerate(heads):
        last = heads[index + 1][0] - 1 if index + 1 < len(heads) else len(sheet.rows)
        headings = _headings(sheet, reader, block, expected)
        if found and [h.text for h in found[-1].headings] == [h.text for h in headings]:
            before = found.pop()
            repeats = before.repeats | frozenset(block)
            found.append(FoundTable(sheet.name, before.header_rows, before.first_row, last, before.headings, repeats))
        else:
            found.append(FoundTable(sheet.name, block, block[-1] + 1, last, headings, frozenset()))
    return [table for table in found if table.first_row <= table.last_row]


def _scores(sheet: Sheet, reader: HeadingReader) -> dict[int, float]:
    """Rows that may be headings: few of a long sheet have no number in them, so only those are looked at closely."""
    scores = {}
    for number, cells in enumerate(sheet.rows, start=1):
        filled = sum(1 for cell in cells if cell != "")
        if filled < 2:
            continue
        texts = sum(1 for cell in cells if isinstance(cell, str) and cell and not cell[0].isdigit())
        if texts >= 2 and texts >= 0.6 * filled:
            scores[number] = reader.score(cells)
    return scores


def _block(sheet: Sheet, reader: HeadingReader, main: int, above_all: int) -> tuple[int, ...]:
    rows = [main]
    while len(rows) < 3 and rows[0] - 1 > above_all and reader.belongs(sheet.rows[rows[0] - 2]):
        if _filled(sheet, rows[0] - 1) < 2 and not _spans(sheet, rows[0] - 1):
            break
        rows.insert(0, rows[0] - 1)
    while len(rows) < 4 and rows[-1] < len(sheet.rows) and reader.belongs(sheet.rows[rows[-1]]):
        rows.append(rows[-1] + 1)
    return tuple(rows)


def _filled(sheet: Sheet, row: int) -> int:
    return sum(1 for cell in sheet.rows[row - 1] if cell != "")


def _spans(sheet: Sheet, row: int) -> bool:
    return any(first <= row <= last and right > left for first, left, last, right in sheet.merged)


def _headed_by_samplers(cells: list[Cell], expected: Expected) -> bool:
    """Whether most cells beyond the first are our samplers: they then stand side by side, a column each."""
    texts = [shown(cell) for cell in cells[1:] if shown(cell)]
    hits = sum(normal(text) in expected.normal for text in texts)
    return hits >= 2 and hits >= 0.5 * len(texts) and normal(shown(cells[0])) not in expected.normal


def _headings(sheet: Sheet, reader: HeadingReader, rows: tuple[int, ...], expected: Expected) -> tuple[Heading, ...]:
    width = max(len(sheet.rows[row - 1]) for row in rows)
    below = [sheet.rows[row - 1] for row in range(rows[-1] + 1, min(rows[-1] + 12, len(sheet.rows)) + 1)]
    width = max(width, *(len(cells) for cells in below)) if below else width
    lines = [_line(sheet, reader, row, rows, width) for row in rows]
    found = []
    for column in range(1, width + 1):
        parts = list(dict.fromkeys(line[column - 1] for line in lines if line[column - 1]))
        found.append(_joined(column, [reader.part(text) for text in parts], expected))
    return tuple(found)


def _line(sheet: Sheet, reader: HeadingReader, row: int, rows: tuple[int, ...], width: int) -> list[str]:
    """Cells of one heading line; one that spans several columns stands in each of them."""
    texts = [" ".join(shown(sheet.cell(row, column)).split()) for column in range(1, width + 1)]
    for first, left, last, right in sheet.merged:
        if first <= row <= last and left <= width:
            spanning = " ".join(shown(sheet.cell(first, left)).split())
            for column in range(left, min(right, width) + 1):
                texts[column - 1] = texts[column - 1] or spanning
    if row != rows[-1] and not any(first <= row <= last and right > left for first, left, last, right in sheet.merged):
        spanning = ""
        for index, text in enumerate(texts):
            if text:
                part = reader.part(text)
                spanning = text if part.agent or part.section or part.unit or not part.roles else ""
            elif spanning and any(shown(sheet.cell(lower, index + 1)) for lower in rows if lower > row):
                texts[index] = spanning
    return texts


def _joined(column: int, parts: list[HeadingPart], expected: Expected) -> Heading:
    """Put the lines of one heading together: the lowest line that says something decides each point."""
    text = " | ".join(part.text for part in parts)
    unit = next((part.unit for part in reversed(parts) if part.unit), None)
    agent = next((part.agent for part in reversed(parts) if part.agent), "")
    section: Literal["", "front", "back"] = next((part.section for part in reversed(parts) if part.section), "")
    sampler = next((expected.normal[normal(part.text)] for part in parts if normal(part.text) in expected.normal), "")
    roles: dict[Role, float] = {}
    for depth, part in enumerate(reversed(parts)):
        for role, score in part.roles:
            roles[role] = max(roles.get(role, 0.0), score - 0.1 * depth)
    if len(parts) > 1:
        for role, score in roles_of(re.sub(r"\W+", " ", " ".join(heading_unit(part.text)[1] for part in parts))):
            if not agent:
                roles[role] = max(roles.get(role, 0.0), score - 0.02)
    ordered = tuple(sorted(roles.items(), key=lambda item: -item[1]))
    return Heading(column, text, unit, agent, section, ordered, sampler)


def is_result(cell: Cell) -> bool:
    """Whether a cell holds a result or a day: what no heading holds."""
    if not isinstance(cell, str):
        return True
    text = cell.strip()
    if not text:
        return False
    if text[0] in "<>≤≥" or is_number(text):
        return True
    if not text[0].isdigit() and not text.casefold().startswith(("nd", "n.d", "not det")):
        return False
    found = value_of(text, Marks(None), {})
    return isinstance(found, Value) or found.kind == "number"
