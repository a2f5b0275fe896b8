"""
From a delivered file to a proposal: what every column holds, what every row says, and what only a person can answer.

The same file, survey and map give the same proposal. Nothing is decided here that is not shown; a question that is open
leaves its results out, and nothing of a report with open questions is taken over.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from lapel.assessment.delivered_results import DeliveredResult
from lapel.exchange.laboratory.columns import ColumnMap, columns_of
from lapel.exchange.laboratory.days import DayOrder, order_of
from lapel.exchange.laboratory.expectations import Expected, normal
from lapel.exchange.laboratory.headings import FoundTable, HeadingReader, tables_of
from lapel.exchange.laboratory.numbers import Marks, is_number, marks_of
from lapel.exchange.laboratory.questions import Asked, Question
from lapel.exchange.laboratory.report_facts import ReportFacts, ask_facts, facts_of
from lapel.exchange.laboratory.role_words import plain_words
from lapel.exchange.laboratory.rows import LeftOut, TableReader, TableReading
from lapel.exchange.laboratory.sheets import LaboratoryFile, Sheet, address, shown
from lapel.exchange.laboratory.statements import statements_of
from lapel.exchange.laboratory.values import LOOKS_LIKE_NUMBER_FIRST

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class TableProposal:
    """One table with the meaning of its columns."""

    table: FoundTable
    columns: tuple[ColumnMap, ...]
    agent: str
    carried_down: int

    @property
    def confidence(self) -> float:
        """How sure the least sure of the columns in use is, 0 to 1."""
        used = [column.confidence for column in self.columns if column.role != "other"]
        return min(used, default=0.0)


@dataclass(frozen=True, slots=True)
class Proposal:
    """
    How a delivered file would be read.

    Attributes
    ----------
    questions : tuple of Question
        Open ones; while there is any, nothing may be taken over.
    results : tuple of DeliveredResult
        What can be read without an answer.
    left_out : tuple of LeftOut
        Every row that is no result of this survey, and why.
    duplicates : tuple of str
        Cells that say two things about one result.
    """

    file: LaboratoryFile
    report_map: Mapping[str, Any]
    facts: ReportFacts
    tables: tuple[TableProposal, ...]
    marks: Mapping[str, Marks]
    questions: tuple[Question, ...]
    results: tuple[DeliveredResult, ...]
    left_out: tuple[LeftOut, ...]
    duplicates: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to ask."""
        return not self.questions


def propose(
    file: LaboratoryFile,
    expected: Expected,
    report_map: Mapping[str, Any],
    *,
    progress: Progress | None = None,
) -> Proposal:
    """
    Propose how a delivered file is read.

    Parameters
    ----------
    file : LaboratoryFile
        As `read_content` gave it.
    expected : Expected
        Samplers and agents of the survey.
    report_map : mapping
        What is decided already: remembered of the laboratory, answered by a person, or nothing.
    progress : callable, optional
        Told what is being done, how much of it is done, and how much there is.

    Returns
    -------
    Proposal
    """
    return _Proposing(file, expected, report_map, progress or (lambda _what, _done, _total: None)).proposal()


class _Proposing:
    def __init__(
        self, file: LaboratoryFile, expected: Expected, report_map: Mapping[str, Any], progress: Progress
    ) -> None:
        self._file, self._map, self._progress = file, report_map, progress
        self._expected = replace(expected, agents=expected.agents.with_names(report_map.get("agents", {})))
        self._asked = Asked()
        self._reader = HeadingReader(self._expected)
        self._remarks = list(file.remarks)

    def proposal(self) -> Proposal:
        ignored = set(self._map.get("ignored_sheets", []))
        sheets = [sheet for sheet in self._file.sheets if sheet.name not in ignored]
        found = {sheet.name: tables_of(sheet, self._reader, self._expected) for sheet in sheets}
        inside = {
            name: {row for table in tables for row in _rows_of(table, self._file.sheet(name))}
            for name, tables in found.items()
        }
        order = self._order(sheets)
        self._statements = statements_of(self._file, inside, order)
        facts = facts_of(self._statements, self._map, self._asked)
        marks = {sheet.name: self._marks(sheet) for sheet in sheets}
        proposals: list[TableProposal] = []
        readings: list[TableReading] = []
        for sheet in sheets:
            for table in found[sheet.name]:
                self._table(sheet, table, marks[sheet.name], order, proposals, readings)
        if not proposals:
            self._no_table()
        self._unknown_agents(readings)
        results, duplicates = self._results(readings, facts)
        left_out = [row for reading in readings for row in reading.left_out]
        left_out += self._set_aside(proposals, sheets, found)
        if results:
            ask_facts(facts, self._statements, self._asked)
        return Proposal(
            self._file,
            self._map,
            facts,
            tuple(proposals),
            marks,
            self._asked.all(),
            tuple(results),
            tuple(left_out),
            tuple(duplicates),
            tuple(self._remarks),
        )

    # tables -----------------------------------------------------------------------------------------------------

    def _table(
        self,
        sheet: Sheet,
        table: FoundTable,
        marks: Marks,
        order: DayOrder | None,
        proposals: list[TableProposal],
        readings: list[TableReading],
    ) -> None:
        asked = Asked()
        columns = columns_of(table, sheet, marks, self._map, self._expected, asked)
        roles = {column.role for column in columns}
        if not roles & {"front", "mass", "result", "concentration", "mole ratio"}:
            return
        agent = self._table_agent(sheet, table, columns)
        reader = TableReader(
            sheet,
            table,
            columns,
            file=self._file.name,
            marks=marks,
            order=order,
            statements=self._statements,
            report_map=self._map,
            expected=self._expected,
            agent=agent,
            asked=asked,
        )
        across = any(column.sampler for column in columns)
        if "sampler" not in roles and not across and not self._in_blocks(sheet, table, reader):
            if any(normal(shown(cell)) in self._expected.normal for row in sheet.rows for cell in row):
                self._asked.ask(
                    f"columns.{table.headings[0].text}",
                    f"Which column of the table at "
                    f"{address(sheet, table.header_rows[0])} holds the samplers? Answer with “sampler” for "
                    "this one, or for another column by its heading.",
                    where=address(sheet, table.header_rows[0]),
                )
            return
        self._progress(f"reading {self._file.name}", table.first_row, len(sheet.rows))
        reading = reader.read(self._progress)
        proposals.append(TableProposal(table, columns, agent, reading.carried_down))
        readings.append(reading)
        for question in asked.all():
            self._asked.ask(
                question.key,
                question.asks,
                tuple((c.answer, c.means) for c in question.choices),
                where=question.where,
                cells=question.cells,
            )
        if reading.carried_down:
            self._remarks.append(
                f"{reading.carried_down} rows without a sampler belong to the sampler above them"
                + (f" (sheet {sheet.name})." if sheet.name else ".")
            )

    def _in_blocks(self, sheet: Sheet, table: FoundTable, reader: TableReader) -> bool:
        above = range(max(1, table.header_rows[0] - 12), table.header_rows[0])
        named = any(reader.named_sampler([shown(cell) for cell in sheet.rows[row - 1]]) for row in above)
        return named or normal(sheet.name) in self._expected.normal

    def _table_agent(self, sheet: Sheet, table: FoundTable, columns: tuple[ColumnMap, ...]) -> str:
        """Return the agent a whole table is about: as a person said, or as the sheet or a line above it names."""
        told = self._map.get("table_agents", {})
        if sheet.name in told:
            return str(told[sheet.name])
        if any(column.role in ("agent", "cas") or column.agent for column in columns):
            return ""
        named = self._expected.agents.within(sheet.name)[0] if sheet.name else ""
        if named:
            return named
        for row in range(table.header_rows[0] - 1, max(0, table.header_rows[0] - 6), -1):
            found = {self._expected.agents.within(shown(cell))[0] for cell in sheet.rows[row - 1] if cell != ""} - {""}
            if len(found) == 1:
                return found.pop()
        return ""

    def _no_table(self) -> None:
        ours = sum(
            normal(shown(cell)) in self._expected.normal
            for sheet in self._file.sheets
            for row in sheet.rows[:2000]
            for cell in row[:20]
        )
        self._asked.ask(
            "ignored_sheets",
            "No table of results was found: no row with headings such as sample, analyte and result. "
            + (
                f"{ours} cells name samplers of this survey."
                if ours
                else "No cell names a sampler of this survey: is it the right file, and the right survey?"
            )
            + " Give the table a heading row, or ask the laboratory for the results as a table.",
            where=self._file.name,
        )

    # marks and days ---------------------------------------------------------------------------------------------

    def _marks(self, sheet: Sheet) -> Marks:
        told = self._map.get("decimal_mark")
        if told:
            return Marks(told, True, ("a person said so",))
        texts = []
        for row in sheet.rows:
            for cell in row:
                if isinstance(cell, str) and ("," in cell or "." in cell) and len(cell) < 40:
                    match = LOOKS_LIKE_NUMBER_FIRST.match(cell)
                    if match and (match[1] == cell or not cell[match.end(1) : match.end(1) + 1].isdigit()):
                        texts.append(match[1])
        return marks_of(text for text in texts if is_number(text))

    def _order(self, sheets: list[Sheet]) -> DayOrder | None:
        told: DayOrder | None = self._map.get("day_order")
        if told:
            return told
        order, cell = order_of(cell for sheet in sheets for row in sheet.rows for cell in row)
        if order:
            self._remarks.append(f"Days are read {order}, as “{cell}” can only be read.")
        return order

    # agents and results -----------------------------------------------------------------------------------------

    def _unknown_agents(self, readings: list[TableReading]) -> None:
        """
        Ask about names no agent of the survey has, while an agent ordered on the same samplers is missing.

        Where all that was ordered was found, the other names are further substances of the laboratory's list: they are
        set aside and said.
        """
        unknown: dict[str, tuple[str, set[str]]] = {}
        seen: dict[str, set[str]] = {}
        for reading in readings:
            for name, (where, samplers) in reading.unknown_agents.items():
                unknown.setdefault(name, (where, set()))[1].update(samplers)
            for sampler, agent in reading.drafts:
                seen.setdefault(normal(sampler), set()).add(agent)
        names = self._expected.agents.agents
        aside = []
        for name, (where, samplers) in unknown.items():
            missing = {
                agent
                for sampler in samplers
                for agent in self._expected.ordered.get(sampler, ())
                if agent not in seen.get(sampler, ())
            }
            if not missing and (seen or not samplers & set(self._expected.ordered)):
                aside.append(name)
                continue
            likest = sorted(missing or names, key=lambda key: -_alikeness(name, names[key].name))
            self._asked.ask(
                f"agents.{name}",
                f"Which agent of the survey is “{name}”?",
                (*((key, names[key].name) for key in likest), ("", "none of them; it is not used")),
                where=where,
                cells=(name,),
            )
        if aside:
            self._remarks.append(f"Not asked for and not used: {', '.join(aside[:20])}.")

    def _results(self, readings: list[TableReading], facts: ReportFacts) -> tuple[list[DeliveredResult], list[str]]:
        results: list[DeliveredResult] = []
        duplicates: list[str] = []
        seen: dict[tuple[str, str], DeliveredResult] = {}
        for reading in readings:
            for (sampler, agent), draft in reading.drafts.items():
                if not draft.slots and not draft.not_analysed and not draft.printed:
                    continue
                duplicates += [f"{sampler}, {agent}: {words}" for words in draft.duplicate]
                result = draft.result(self._map, facts.uncertainty_factor, self._asked)
                if result is None:
                    continue
                before = seen.get((normal(sampler), agent))
                if before is not None:
                    if _says_the_same(before, result):
                        continue
                    duplicates.append(f"{sampler}, {agent}: reported at {before.origin} and again at {result.origin}")
                seen.setdefault((normal(sampler), agent), result)
                results.append(result)
        return results, duplicates

    def _set_aside(
        self, proposals: list[TableProposal], sheets: list[Sheet], found: Mapping[str, list[FoundTable]]
    ) -> list[LeftOut]:
        """Sheets and tables nothing was read of: they are named, not passed over."""
        read = {(proposal.table.sheet, proposal.table.header_rows) for proposal in proposals}
        rows = []
        for sheet in sheets:
            if not any(name == sheet.name for name, _ in read) and sheet.rows:
                rows.append(
                    LeftOut(
                        f"sheet {sheet.name}" if sheet.name else self._file.name,
                        f"{len(sheet.rows)} rows",
                        "no table of results was found on it",
                    )
                )
                continue
            for table in found[sheet.name]:
                if (sheet.name, table.header_rows) not in read:
                    rows.append(
                        LeftOut(
                            address(sheet, table.header_rows[0]),
                            " | ".join(h.text for h in table.headings)[:200],
                            "a table that holds no results of samplers",
                        )
                    )
        return rows


def _alikeness(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, plain_words(one), plain_words(other)).ratio()


def _rows_of(table: FoundTable, sheet: Sheet | None) -> set[int]:
    """Rows of a table that hold more than one cell: a line alone below or within it may be a statement."""
    if sheet is None:
        return set()
    return {
        row
        for row in range(table.first_row, table.last_row + 1)
        if sum(1 for cell in sheet.rows[row - 1] if cell != "") > 2
    }


def _says_the_same(one: DeliveredResult, other: DeliveredResult) -> bool:
    return (one.front_ug, one.front_below, one.back_ug, one.back_below, one.total_ug, one.concentration_mg_m3) == (
        other.front_ug,
        other.front_below,
        other.back_ug,
        other.back_below,
        other.total_ug,
        other.concentration_mg_m3,
    )
