"""Row by row: every cell that says something about a sampler and agent, brought together and into canonical units."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Literal

from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.days import DayDoubt, DayOrder, day_of
from lapel.exchange.laboratory.draft import Draft
from lapel.exchange.laboratory.expectations import Expected, normal
from lapel.exchange.laboratory.headings import FoundTable
from lapel.exchange.laboratory.numbers import Marks
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import (
    QUALITY_WORDS,
    TOTAL_WORDS,
    VALUE_ROLES,
    plain_words,
    roles_of,
)
from lapel.exchange.laboratory.row_agents import RowAgents
from lapel.exchange.laboratory.row_sections import RowSections
from lapel.exchange.laboratory.row_units import RowUnits
from lapel.exchange.laboratory.row_values import RowValues
from lapel.exchange.laboratory.sheets import Cell, Sheet, address, shown
from lapel.exchange.laboratory.statements import Statements
from lapel.exchange.laboratory.unit_words import Unit
from lapel.exchange.laboratory.values import BELOW_FLAGS, Doubt, Value

_TOLD_EVERY = 1000
"""Rows between two reports of progress."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that is no result of ours, and why it was left out."""

    where: str
    cells: str
    why: str


@dataclass(slots=True)
class TableReading:
    """What was read of one table."""

    drafts: dict[tuple[str, str], Draft] = field(default_factory=dict)
    left_out: list[LeftOut] = field(default_factory=list)
    carried_down: int = 0
    unknown_agents: dict[str, tuple[str, set[str]]] = field(default_factory=dict)
    section_marks: Mapping[str, Literal["front", "back"]] = field(default_factory=dict)


class TableReader:
    """Reads the rows of one table into drafts of results, and asks where a cell may mean two things."""

    def __init__(
        self,
        sheet: Sheet,
        table: FoundTable,
        columns: Sequence[ColumnMap],
        *,
        file: str,
        marks: Marks,
        order: DayOrder | None,
        statements: Statements,
        report_map: Mapping[str, Any],
        expected: Expected,
        agent: str,
        asked: Asked,
    ) -> None:
        self._sheet, self._table, self._file = sheet, table, file
        self._order, self._expected, self._asked = order, expected, asked
        words = {word.casefold(): sense for word, sense in report_map.get("words", {}).items()}
        self._cells = report_map.get("report", {}).get("cells", {})
        self._reader = RowValues(sheet, marks, words=words, told=self._cells, asked=asked)
        self._units = RowUnits(sheet, columns, statements=statements, report_map=report_map, asked=asked)
        self._agents = RowAgents(sheet, columns, report_map=report_map, expected=expected, agent=agent, asked=asked)
        self._sections = RowSections(sheet, table, columns, report_map=report_map, expected=expected, asked=asked)
        self._by_role = {column.role: column.column - 1 for column in columns}
        self._values = [column for column in columns if column.role in VALUE_ROLES]
        self._flags = [column for column in columns if column.role in ("qualifier", "sign")]
        self.reading = TableReading(unknown_agents=self._agents.unknown, section_marks=self._sections.marks)
        self._above = ""
        self._limits: dict[str, tuple[ColumnMap, Value, int]] = {}

    def read(self, progress: Callable[[str, int, int], None] | None = None) -> TableReading:
        """Read all rows."""
        table, rows = self._table, self._sheet.rows
        previous = ""
        for number in range(table.first_row, table.last_row + 1):
            cells = rows[number - 1]
            if progress is not None and number % _TOLD_EVERY == 0:
                progress(f"reading {self._file}", number, len(rows))
            if not cells or all(cell == "" for cell in cells):
                continue
            if number in table.repeats:
                self._leave(number, cells, "the heading again")
                continue
            sampler = self._sampler(cells, previous, number)
            if sampler is None:
                continue
            previous = sampler or previous
            if sampler or any(column.sampler for column in self._values):
                self._read_row(number, cells, sampler)
        self._give_limits()
        return self.reading

    # the row's sampler ------------------------------------------------------------------------------------------

    def _sampler(self, cells: list[Cell], previous: str, number: int) -> str | None:
        """Return the sampler of a row; None where the row is no result, which is then noted."""
        if any(column.sampler for column in self._values):
            return ""
        at = self._by_role.get("sampler")
        if at is None:
            return self._sampler_above(cells, number)
        text = shown(cells[at]).strip() if at < len(cells) else ""
        filled = sum(1 for cell in cells if cell != "")
        first = next(shown(cell) for cell in cells if cell != "")
        if plain_words(first.rstrip(":")) in TOTAL_WORDS:
            self._leave(number, cells, "a total or other statistic")
            return None
        if text and (filled > 1 or normal(text) in self._expected.normal):
            known = normal(text) in self._expected.normal
            if not known and QUALITY_WORDS.search(text):
                self._leave(number, cells, "the laboratory's own quality control")
                return None
            if not known and self._limits_of_all(text, number, cells):
                return None
            if not known and not self._any_value(cells):
                self._leave(number, cells, "words without a result")
                return None
            return text
        if not text and previous and filled > 1 and "agent" in self._by_role and self._any_value(cells):
            self.reading.carried_down += 1
            return previous
        self._leave(number, cells, "results without a sampler" if self._any_value(cells) else "a remark")
        return None

    def _limits_of_all(self, text: str, number: int, cells: list[Cell]) -> bool:
        """Take a row that gives the reporting limits of the columns above or below it; say whether it is one."""
        roles = roles_of(text)
        if not roles or roles[0][0] not in ("reporting limit", "detection limit") or roles[0][1] < 0.95:
            return False
        if roles[0][0] == "detection limit":
            self._leave(number, cells, "detection limits, which are no reporting limits")
            return True
        for column in self._values:
            at = column.column - 1
            if column.role in ("front", "mass", "result") and column.agent and at < len(cells) and cells[at] != "":
                value = self._reader.settled(number, column, cells[at])
                if value is not None and value.number is not None:
                    self._limits[column.agent] = replace(column, role="reporting limit"), value, number
        return True

    def _give_limits(self) -> None:
        """Give the limits of such a row to all results that have none of their own."""
        for draft in self.reading.drafts.values():
            if draft.agent in self._limits and "reporting limit" not in draft.slots:
                column, value, number = self._limits[draft.agent]
                printed = f"{column.heading}, reporting limit: {value.number}"
                self._put(draft, column, value, "", None, number, printed)

    def _sampler_above(self, cells: list[Cell], number: int) -> str | None:
        """Follow a report in blocks: a line naming the sampler, then its results."""
        named = self.named_sampler([shown(cell) for cell in cells])
        if named:
            self._above = named
            return None
        if not self._above:
            for row in range(self._table.header_rows[0] - 1, max(0, self._table.header_rows[0] - 12), -1):
                self._above = self.named_sampler([shown(cell) for cell in self._sheet.rows[row - 1]])
                if self._above:
                    break
            if not self._above and normal(self._sheet.name) in self._expected.normal:
                self._above = self._sheet.name
        if not self._above or not self._any_value(cells):
            self._leave(number, cells, "a remark" if not self._any_value(cells) else "results without a sampler")
            return None
        return self._above

    def named_sampler(self, texts: Sequence[str]) -> str:
        """Return the sampler a line such as “Sample ID: L-101” names; empty where it names none."""
        filled = [text.strip() for text in texts if text.strip()]
        for index, text in enumerate(filled):
            label, colon, rest = text.partition(":")
            roles = roles_of(label)
            if roles and roles[0] == ("sampler", 1.0):
                if colon and rest.strip():
                    return rest.strip().split("  ")[0].split(",")[0].strip()
                if index + 1 < len(filled) and not colon and len(filled) > 3:
                    continue
                if index + 1 < len(filled):
                    return filled[index + 1]
        return ""

    def _any_value(self, cells: list[Cell]) -> bool:
        for column in self._values:
            at = column.column - 1
            if at < len(cells) and cells[at] != "":
                found = self._reader.value(cells[at])
                if not (isinstance(found, Doubt) and found.kind == "word" and len(found.text) > 40):
                    return True
        return False

    # one row ----------------------------------------------------------------------------------------------------

    def _read_row(self, number: int, cells: list[Cell], sampler: str) -> None:
        section, code = self._sections.of(cells, sampler, number)
        agent = self._agents.of(number, cells, code)
        if agent is None and (printed := self._agents.printed(cells)):
            self._leave(number, cells, f"an agent that is not used here: {printed}")
        row_unit = self._units.of_row(cells, number)
        touched: dict[int, Draft] = {}
        shared: list[tuple[ColumnMap, Value, str]] = []
        doubtful: list[ColumnMap] = []
        for column in self._values:
            at = column.column - 1
            if at >= len(cells) or cells[at] == "":
                continue
            whose = column.agent or agent
            if whose is None:
                continue
            value = self._reader.settled(number, column, cells[at])
            if value is None:
                doubtful.append(column)
            if value is None or value.sense == "absent":
                continue
            printed = f"{column.heading or column.role}: {shown(cells[at])}"
            if not whose:
                shared.append((column, value, printed))
                continue
            draft = self._draft(column.sampler or code, whose, number)
            touched[id(draft)] = draft
            self._put(draft, column, value, section or column.section, row_unit, number, printed)
        if not touched and agent:
            draft = self._draft(code, agent, number)
            touched[id(draft)] = draft
        for draft in touched.values():
            for column, value, printed in shared:
                self._put(draft, column, value, section or column.section, row_unit, number, printed)
            self._flag(draft, cells, section, number)
            self._around(draft, cells, number)
            if any(column.agent in ("", draft.agent) and column.sampler in ("", draft.sampler) for column in doubtful):
                draft.is_open = True
        if not touched and agent is not None and shared:
            if any(column.agent for column in self._values):
                self._leave(number, cells, "a row without a result")
            else:
                self._agents.ask(number, cells)

    def _draft(self, sampler: str, agent: str, number: int) -> Draft:
        key = (sampler, agent)
        draft = self.reading.drafts.get(key)
        if draft is None:
            draft = self.reading.drafts[key] = Draft(sampler, agent, f"{self._file}, {address(self._sheet, number)}")
        return draft

    def _put(
        self,
        draft: Draft,
        column: ColumnMap,
        value: Value,
        section: str,
        row_unit: Unit | None,
        number: int,
        printed: str,
    ) -> None:
        draft.printed.append(printed)
        draft.flags.extend(value.flags)
        where = address(self._sheet, number, column.column)
        if value.sense == "not analysed":
            if column.role in ("front", "back", "mass", "result", "concentration"):
                draft.not_analysed = draft.not_analysed or printed.partition(": ")[2]
            return
        if value.sense == "above":
            draft.is_open = True
            self._asked.ask(
                f"report.cells.{where}",
                f"“{printed}” is only a least value. Which number counts? Ask the laboratory for one within its range.",
                where=where,
                cells=(printed,),
            )
            return
        unit = self._units.of(column, value, row_unit)
        if unit is None:
            self._units.ask(column, where, printed)
            draft.is_open = True
            return
        draft.put(column, value, section, unit, where, self._asked)

    # what stands beside the numbers ------------------------------------------------------------------------------

    def _flag(self, draft: Draft, cells: list[Cell], section: str, number: int) -> None:
        for column in self._flags:
            at = column.column - 1
            text = shown(cells[at]).strip() if at < len(cells) else ""
            if not text or (column.agent and column.agent != draft.agent):
                continue
            draft.printed.append(f"{column.heading or column.role}: {text}")
            letters = [part.upper() for part in re.split(r"[\s,;]+", text) if part]
            if any(letter in ("<", "LT", "≤", "<=", "ND") or letter in BELOW_FLAGS for letter in letters):
                draft.make_below(section or column.section)
            elif any(letter in (">", "GT", "≥", ">=") for letter in letters):
                where = address(self._sheet, number, column.column)
                self._asked.ask(
                    f"report.cells.{where}",
                    f"{text!r} makes the result of this row a least value only. "
                    "Ask the laboratory for a number within its range.",
                    where=where,
                    cells=(text,),
                )
            draft.flags.extend(letter for letter in letters if letter not in ("<", "LT", "=", "EQ", "ND"))

    def _around(self, draft: Draft, cells: list[Cell], number: int) -> None:
        medium, remark = self._text(cells, "medium"), self._text(cells, "remark")
        draft.medium = draft.medium or medium
        if remark and remark not in draft.remarks:
            draft.remarks.append(remark)
        at = self._by_role.get("analysed on")
        if at is None or at >= len(cells) or cells[at] == "":
            return
        day = day_of(cells[at], self._order)
        if isinstance(day, date):
            draft.analysed_on = day if draft.analysed_on is None else max(day, draft.analysed_on)
        elif isinstance(day, DayDoubt):
            where = address(self._sheet, number, at + 1)
            told = self._cells.get(where)
            said = day_of(told, None) if told else None
            if isinstance(said, date):
                draft.analysed_on = said
            elif len(day.readings) > 1:
                self._asked.ask(
                    "day_order",
                    f"Which comes first in “{day.text}”: it may be {' or '.join(map(str, day.readings))}.",
                    (
                        ("day first", "03/04 is 3 April"),
                        ("month first", "03/04 is March 4"),
                        ("year first", "26-04-03 is 3 April 2026"),
                    ),
                    where=where,
                    cells=(day.text,),
                )
            else:
                self._asked.ask(
                    f"report.cells.{where}",
                    f"Which day is “{day.text}”? Write it as year-month-day.",
                    where=where,
                    cells=(day.text,),
                )

    def _text(self, cells: list[Cell], role: Literal["medium", "remark"]) -> str:
        at = self._by_role.get(role)
        return shown(cells[at]).strip() if at is not None and at < len(cells) else ""

    def _leave(self, number: int, cells: list[Cell], why: str) -> None:
        first = next((shown(cell) for cell in cells if cell != ""), "")
        if why.startswith("results without") and QUALITY_WORDS.search(first):
            why = "the laboratory's own quality control"
        said = " | ".join(shown(cell) for cell in cells if cell != "")[:200]
        self.reading.left_out.append(LeftOut(address(self._sheet, number), said, why))
