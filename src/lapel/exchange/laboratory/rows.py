"""Row by row: every cell that says something about a sampler and agent, brought together and into canonical units."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Literal

from lapel.exchange.laboratory.columns import VALUE_ROLES, ColumnMap
from lapel.exchange.laboratory.days import DayDoubt, DayOrder, day_of
from lapel.exchange.laboratory.draft import Draft
from lapel.exchange.laboratory.expectations import NOT_USED, Expected, normal
from lapel.exchange.laboratory.headings import FoundTable
from lapel.exchange.laboratory.numbers import Marks
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import (
    QUALITY_WORDS,
    SECTION_WORDS,
    TOTAL_WORDS,
    UNSURE_SECTIONS,
    plain_words,
    roles_of,
)
from lapel.exchange.laboratory.sheets import Cell, Sheet, address, shown
from lapel.exchange.laboratory.statements import Statements
from lapel.exchange.laboratory.unit_words import LOST, Unit, known_unit
from lapel.exchange.laboratory.values import BELOW_FLAGS, Doubt, Value, value_of

_SUFFIX = re.compile(
    r"^(?P<code>.*?\w)[\s\-_/.,:]*[(\[]?(?P<mark>front|back|rear|backup|[fb]s?|[ab12])[)\]]?$", re.IGNORECASE
)


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
        self._marks, self._order = marks, order
        self._statements, self._map, self._expected = statements, report_map, expected
        self._agent, self._asked = agent, asked
        self._words = {word.casefold(): sense for word, sense in report_map.get("words", {}).items()}
        self._cells = report_map.get("report", {}).get("cells", {})
        self._by_role = {column.role: column.column - 1 for column in columns}
        self._values = [column for column in columns if column.role in VALUE_ROLES]
        self._flags = [column for column in columns if column.role in ("qualifier", "sign")]
        self._units = [column for column in columns if column.role == "unit"]
        self._agents_known: dict[str, str | None] = {}
        self._cache: dict[str, Value | Doubt] = {}
        self._units_of = {column.column: self._column_unit(column) for column in self._values}
        self.reading = TableReading()
        self.reading.section_marks = self._section_marks()
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
                value = self._settled(number, column, cells[at])
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
                found = self._value(cells[at])
                if not (isinstance(found, Doubt) and found.kind == "word" and len(found.text) > 40):
                    return True
        return False

    # one row ----------------------------------------------------------------------------------------------------

    def _read_row(self, number: int, cells: list[Cell], sampler: str) -> None:
        section, code = self._section(cells, sampler, number)
        agent = self._row_agent(number, cells, code)
        row_unit = self._row_unit(cells, number)
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
            value = self._settled(number, column, cells[at])
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
                self._ask_agent(number, cells)

    def _draft(self, sampler: str, agent: str, number: int) -> Draft:
        key = (sampler, agent)
        draft = self.reading.drafts.get(key)
        if draft is None:
            draft = self.reading.drafts[key] = Draft(sampler, agent, f"{self._file}, {address(self._sheet, number)}")
        return draft

    def _settled(self, number: int, column: ColumnMap, cell: Cell) -> Value | None:
        value = self._value(cell)
        if not isinstance(value, Doubt):
            return value
        where = address(self._sheet, number, column.column)
        told = self._cells.get(where)
        if told is not None:
            said = value_of(told, Marks("point", True), self._words)
            if not isinstance(said, Doubt):
                return said
        if value.kind == "number" and len(value.choices) == 1:
            self._asked.ask(
                f"report.cells.{where}",
                f"“{value.text}” can only be {value.choices[0]}, but the numbers here have a decimal "
                f"{self._marks.decimal}. What does it say?",
                ((value.choices[0], "as it can only be read"),),
                where=where,
                cells=(value.text,),
            )
        elif value.kind == "number":
            seen = f" Elsewhere it has {', '.join(self._marks.because[:3])}." if self._marks.because else ""
            self._asked.ask(
                "decimal_mark",
                f"Which mark stands before the decimals? “{value.text}” may be {' or '.join(value.choices)}.{seen}",
                (
                    ("point", "1,234 is then 1234, and 1.234 has decimals"),
                    ("comma", "1.234 is then 1234, and 1,234 has decimals"),
                ),
                where=where,
                cells=(value.text,),
            )
        elif value.kind == "word":
            self._asked.ask(
                f"words.{value.text.casefold()}",
                f"What does “{value.text}” stand for under “{column.heading}”?",
                (
                    ("not detected", "below the reporting limit of its row"),
                    ("trace", "seen, below the reporting limit of its row"),
                    ("not analysed", "there is no result"),
                    ("absent", "nothing; as if the cell were empty"),
                ),
                where=where,
                cells=(value.text,),
            )
        else:
            self._asked.ask(
                f"report.cells.{where}", value.asks + " What does it say?", where=where, cells=(value.text,)
            )
        return None

    def _value(self, cell: Cell) -> Value | Doubt:
        if not isinstance(cell, str):
            return value_of(cell, self._marks, self._words)
        found = self._cache.get(cell)
        if found is None:
            found = self._cache[cell] = value_of(cell, self._marks, self._words)
        return found

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
        unit = known_unit(value.unit) if value.unit else None
        unit = unit or self._units_of[column.column] or self._from_row(column, row_unit) or self._told_unit(column)
        if unit is None or unit == LOST:
            unit = self._unit_by_size(column, value)
        if unit is None and value.number is None:  # a word needs no unit, only what it is a word for
            in_air = column.role in ("concentration", "mole ratio")
            unit = Unit("mg/m3", "concentration") if in_air else Unit("ug", "mass")
        if unit is None:
            self._ask_unit(column, where, printed, lost=column.unit == LOST)
            draft.is_open = True
            return
        draft.put(column, value, section, unit, where, self._asked)

    def _from_row(self, column: ColumnMap, row_unit: Unit | None) -> Unit | None:
        """Unit of the row's unit cell, for what it can be the unit of."""
        if row_unit is None or column.role in ("volume", "recovery", "uncertainty"):
            return None
        if column.role in ("concentration", "mole ratio") and row_unit.kind == "mass":
            return None
        return row_unit

    def _column_unit(self, column: ColumnMap) -> Unit | None:
        """Return the unit of a column: of its heading, or as the report states for all where no column has units."""
        if column.unit is not None and column.unit != LOST:
            return column.unit
        if self._units and column.role not in ("volume", "recovery", "uncertainty"):
            return None
        stated = self._statements.units.get(kind_of(column))
        return stated[0] if stated else None

    def _told_unit(self, column: ColumnMap) -> Unit | None:
        """Return the unit a person said, who is asked only where report, column and row are silent."""
        told = self._map.get("units", {}).get(kind_of(column))
        return stated_unit(told) if told else None

    def _unit_by_size(self, column: ColumnMap, value: Value) -> Unit | None:
        """A recovery of 0.97 can only be a fraction and one of 97 only percent; nothing else is told by its size."""
        if column.role == "recovery" and value.number is not None and value.number > 0:
            return Unit("%", "ratio") if value.number > 2 else Unit("1", "ratio")
        return None

    def _ask_unit(self, column: ColumnMap, where: str, printed: str, *, lost: bool) -> None:
        kind = kind_of(column)
        choices: Mapping[str, tuple[tuple[str, str], ...]] = {
            "mass": (
                ("ug", "micrograms"),
                ("mg", "milligrams"),
                ("ng", "nanograms"),
                ("mg/m3", "not masses: mg/m3 in air"),
                ("ug/m3", "not masses: µg/m3 in air"),
                ("ppm", "not masses: ppm in air"),
            ),
            "concentration": (("mg/m3", ""), ("ug/m3", ""), ("ppm", "")),
            "volume": (("L", "litres"), ("m3", "cubic metres"), ("mL", "millilitres")),
            "uncertainty": (("%", "percent"), ("1", "a fraction")),
        }
        why = "a letter of its unit was lost" if lost else "no unit stands with it"
        self._asked.ask(
            f"units.{kind}",
            f"In which unit is the {kind} under “{column.heading}”? {why[:1].upper()}{why[1:]}.",
            choices.get(kind, (("%", "percent"), ("1", "a fraction"))),
            where=where,
            cells=(printed,),
        )

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

    def _row_unit(self, cells: list[Cell], number: int) -> Unit | None:
        if not self._units:
            return None
        at = self._units[0].column - 1
        text = shown(cells[at]).strip() if at < len(cells) else ""
        if not text:
            return None
        unit = known_unit(text)
        told = self._map.get("units", {}).get("mass")
        if (unit is None or unit == LOST) and told:
            return stated_unit(told)
        if unit is None or unit == LOST:
            where = address(self._sheet, number, at + 1)
            self._asked.ask(
                "units.mass",
                f"Which unit is “{text}”?" + (" A letter of it was lost." if unit == LOST else ""),
                (("ug", "micrograms"), ("mg", "milligrams"), ("ng", "nanograms")),
                where=where,
                cells=(text,),
            )
            return None
        return unit

    def _row_agent(self, number: int, cells: list[Cell], sampler: str) -> str | None:
        """Return the row's agent; empty where its columns have their own, None where it is one we do not use."""
        at, at_cas = self._by_role.get("agent"), self._by_role.get("cas")
        if at is None and at_cas is None:
            return self._agent
        name = shown(cells[at]).strip() if at is not None and at < len(cells) else ""
        cas = shown(cells[at_cas]).strip() if at_cas is not None and at_cas < len(cells) else ""
        printed = name or cas
        if not printed:
            return self._agent or None
        together = f"{name}|{cas}"
        if together not in self._agents_known:
            self._agents_known[together] = self._recognised(name, cas, number)
        found = self._agents_known[together]
        if found is None:
            if printed in self.reading.unknown_agents:
                whose = [sampler] if sampler else [column.sampler for column in self._values if column.sampler]
                self.reading.unknown_agents[printed][1].update(map(normal, whose))
            self._leave(number, cells, f"an agent that is not used here: {printed}")
        return found

    def _recognised(self, name: str, cas: str, number: int) -> str | None:
        told = self._map.get("agents", {})
        for printed in (name, cas):
            if printed in told:
                return told[printed] if told[printed] not in ("", NOT_USED) else None
        by_name, by_cas = self._expected.agents.key(name), self._expected.agents.key(cas) if cas else ""
        if by_name and by_cas and by_name != by_cas:
            where = address(self._sheet, number)
            self._asked.ask(
                f"agents.{name}",
                f"“{name}” and the CAS number {cas} beside it are two agents. Which one is it?",
                ((by_name, f"as the name says; the number is {by_cas}'s"), (by_cas, "as the number says")),
                where=where,
                cells=(name, cas),
            )
            return None
        found = by_name or by_cas
        if found == NOT_USED:
            return None
        if not found:
            self.reading.unknown_agents.setdefault(name or cas, (address(self._sheet, number), set()))
        return found or None

    def _ask_agent(self, number: int, cells: list[Cell]) -> None:
        choices = tuple((key, agent.name) for key, agent in self._expected.agents.agents.items())
        self._asked.ask(
            f"table_agents.{self._sheet.name}",
            "Which agent are these results about? Neither a column nor a heading names one.",
            choices,
            where=address(self._sheet, number),
            cells=tuple(shown(cell) for cell in cells if cell != "")[:6],
        )

    # sections ---------------------------------------------------------------------------------------------------

    def _section(self, cells: list[Cell], sampler: str, number: int) -> tuple[str, str]:
        """Return the section a row is about, and the sampler without its mark."""
        marks = self.reading.section_marks
        code, section = sampler, ""
        match = _SUFFIX.match(sampler) if marks else None
        if match and match["mark"].casefold() in marks and normal(match["code"]) in self._expected.normal:
            code, section = match["code"].rstrip(" -_/.,:(["), marks[match["mark"].casefold()]
        at = self._by_role.get("section")
        if at is not None and at < len(cells) and cells[at] != "":
            section = self._section_of(shown(cells[at]), number, at + 1) or section
        return section, code

    def _section_of(self, text: str, number: int, column: int) -> str:
        plain = plain_words(text)
        told = self._map.get("sections", {})
        if text in told or plain in told:
            said = told.get(text, told.get(plain))
            return "" if said == "none" else str(said)
        if plain in SECTION_WORDS and len(plain) > 1:
            return SECTION_WORDS[plain]
        if plain in ("f",):
            return "front"
        if plain in ("total", "sum", "both", "all", "f b", "front back", "gesamt"):
            return ""
        others = {plain_words(shown(row[column - 1])) for row in self._sheet.rows if column <= len(row)}
        if plain == "b" and "f" in others:
            return "back"
        if plain in UNSURE_SECTIONS or plain == "b":
            self._asked.ask(
                f"sections.{text}",
                f"Which section of the sampler is “{text}”?",
                (("front", "the front section"), ("back", "the back section"), ("none", "no section at all")),
                where=address(self._sheet, number, column),
                cells=(text,),
            )
        return ""

    def _section_marks(self) -> Mapping[str, Literal["front", "back"]]:
        """Find marks at the end of sampler codes that say front and back: both must occur on one of our samplers."""
        at = self._by_role.get("sampler")
        if at is None:
            return {}
        marks: dict[str, set[str]] = {}
        for number in range(self._table.first_row, self._table.last_row + 1):
            cells = self._sheet.rows[number - 1]
            text = shown(cells[at]).strip() if at < len(cells) else ""
            match = _SUFFIX.match(text) if text and normal(text) not in self._expected.normal else None
            if match and normal(match["code"]) in self._expected.normal:
                marks.setdefault(match["mark"].casefold(), set()).add(normal(match["code"]))
        told = self._map.get("sections", {})
        found: dict[str, Literal["front", "back"]] = {}
        sure = {
            "front": "front",
            "f": "front",
            "fs": "front",
            "back": "back",
            "rear": "back",
            "backup": "back",
            "bs": "back",
        }
        for mark, codes in marks.items():
            if mark in told:
                if told[mark] != "none":
                    found[mark] = told[mark]
            elif mark in sure or (mark == "b" and marks.get("f", set()) & codes):
                found[mark] = "back" if mark == "b" else sure[mark]  # type: ignore[assignment]
            elif mark in UNSURE_SECTIONS or mark == "b":
                self._asked.ask(
                    f"sections.{mark}",
                    f"Samplers end in “{mark.upper()}”. Is it a section of the sampler, or part of its code?",
                    (("front", "the front section"), ("back", "the back section"), ("none", "part of the code")),
                    cells=tuple(sorted(codes)[:3]),
                )
        return found

    def _leave(self, number: int, cells: list[Cell], why: str) -> None:
        first = next((shown(cell) for cell in cells if cell != ""), "")
        if why.startswith("results without") and QUALITY_WORDS.search(first):
            why = "the laboratory's own quality control"
        said = " | ".join(shown(cell) for cell in cells if cell != "")[:200]
        self.reading.left_out.append(LeftOut(address(self._sheet, number), said, why))


def stated_unit(text: str) -> Unit | None:
    """Return the unit a person stated; “1” is a fraction."""
    return Unit("1", "ratio") if text.strip() == "1" else known_unit(text)


def kind_of(column: ColumnMap) -> str:
    """Return the kind of unit a column wants."""
    if column.role in ("concentration", "mole ratio", "volume", "recovery", "uncertainty"):
        return "concentration" if column.role == "mole ratio" else column.role
    return "mass"
