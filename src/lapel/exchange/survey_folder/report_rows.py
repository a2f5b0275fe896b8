"""The rows of one delivered report, read by its map into results by sampler and agent."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, NoReturn

from lapel.assessment.delivered_results import not_analysed_note
from lapel.assessment.inputs import LaboratoryResult
from lapel.exchange.problems import Faults, Place, did_you_mean, quoted
from lapel.exchange.survey_folder.cells import Unreadable, read_cell
from lapel.exchange.survey_folder.columns import Column
from lapel.exchange.survey_folder.delivered import CellFault, Grid
from lapel.exchange.survey_folder.layout import RESULT_RANGES
from lapel.exchange.survey_folder.report_map import PER_AGENT, PER_SAMPLER
from lapel.exchange.survey_folder.tables import DocumentValues, as_cell
from lapel.fieldlog.checks import is_number
from lapel.figures.units import UnitProblem, canonical

_DAY = Column("analysed_on", "date", "day of analysis")


@dataclass(frozen=True, slots=True)
class Expected:
    """What a result may name: samplers and blanks of the survey, its agents, and what was ordered."""

    samplers: set[str] | None
    agents: set[str] | None
    ordered: Mapping[str, set[str]]


class _Unusable(Exception):  # noqa: N818 - a cell, not an error of ours
    """A cell that was told as a fault already."""


class ReportReader:
    """Reads the rows of one delivered file by its map."""

    def __init__(
        self,
        document: DocumentValues,
        file: str,
        grid: Grid,
        expected: Expected,
        faults: Faults,
        results: list[LaboratoryResult],
        not_analysed: dict[str, str],
    ) -> None:
        self._document = document
        self._file = file
        self._grid = grid
        self._expected = expected
        self._faults = faults
        self._results = results
        self._lost = not_analysed
        self._not_detected = {word.casefold() for word in document["not_detected"] or ()}
        self._not_analysed = {word.casefold() for word in document["not_analysed"] or ()}
        self._first_row: dict[tuple[str, str], int] = {}
        self._header: dict[str, int] = {}

    def read(self) -> None:
        """Read all rows into the results."""
        header_row, last_row = self._document["header_row"] or 1, self._document["last_row"]
        if not self._read_header(header_row):
            return
        any_row = False
        for number, cells in self._grid:
            if number <= header_row or (last_row is not None and number > last_row):
                continue
            if any(cell != "" for cell in cells):
                any_row = True
                self._read_row(number, cells)
        if not any_row:
            self._faults.add(Place(self._file), "no results", "rows below the header", "Check header_row and last_row.")

    def _read_header(self, header_row: int) -> bool:
        cells = next((cells for number, cells in self._grid if number == header_row), [])
        names = [cell if isinstance(cell, str) else "" for cell in cells]
        named = dict(self._columns_named())
        before = self._faults.count
        for key, column in named.items():
            if names.count(column) != 1:
                self._faults.add(
                    self._document.place(key),
                    f"{quoted(column)}, which stands {names.count(column)} times in row {header_row} of {self._file}",
                    "the name of one column, exactly as in the file",
                    did_you_mean(column, [name for name in names if name != column]) + "Copy the name from the file.",
                )
        used = set(named.values()) | set(self._document["ignored_columns"] or ())
        for name in names:
            if name and name not in used:
                self._faults.add(
                    Place(self._file, header_row, name),
                    "a column the document does not mention",
                    "every column named or listed in ignored_columns",
                    f"Say in {self._document.file} what it is; nothing is left out unnoticed.",
                )
        self._header = {name: index for index, name in enumerate(names) if name}
        return self._faults.count == before

    def _columns_named(self) -> Iterator[tuple[str, str]]:
        for name in (*PER_SAMPLER, "agent", *PER_AGENT):
            column = self._document[f"columns.{name}"]
            if column is not None:
                yield f"columns.{name}", column
        for agent, section in self._document.free["wide"].items():
            for name, column in section.items() if isinstance(section, dict) else ():
                text = as_cell(column)
                if name in PER_AGENT and text:
                    yield f"wide.{agent}.{name}", text

    def _read_row(self, number: int, cells: list[str | CellFault]) -> None:
        try:
            sampler = self._text(number, cells, self._document["columns.sampler"])
        except _Unusable:
            return
        if sampler in (self._document["ignored_samplers"] or ()):
            return
        known = self._expected.samplers
        if known is not None and sampler not in known:
            self._faults.add(
                Place(self._file, number, self._document["columns.sampler"]),
                quoted(sampler) if sampler else "an empty cell",
                "a sampler of samples.csv or a blank of the log",
                self._faults.near(Place(self._file), sampler, known)
                + f"Ask the laboratory, add the sampler, or list it in ignored_samplers of {self._document.file}.",
            )
            return
        for agent, columns in self._agents_of_row(number, cells):
            try:
                self._read_result(number, cells, sampler, agent, columns)
            except _Unusable:
                continue

    def _agents_of_row(self, number: int, cells: list[str | CellFault]) -> Iterator[tuple[str, dict[str, str]]]:
        if self._document["layout"] == "wide":
            for agent, section in self._document.free["wide"].items():
                if self._wide_section(agent, section):
                    yield agent, {name: str(as_cell(column)) for name, column in section.items()}
            return
        try:
            name = self._text(number, cells, self._document["columns.agent"])
        except _Unusable:
            return
        if name in (self._document["ignored_agents"] or ()):
            return
        agents = self._document.free["agents"]
        agent = agents.get(name, name)
        if not isinstance(agent, str) or (self._expected.agents is not None and agent not in self._expected.agents):
            self._faults.add(
                Place(self._file, number, self._document["columns.agent"]),
                quoted(name) if name else "an empty cell",
                "an agent of agents.csv, or a name that [agents] translates into one",
                self._faults.near(Place(self._file), name, [*agents, *(self._expected.agents or ())])
                + f"Add it to [agents] or to ignored_agents in {self._document.file}.",
            )
            return
        yield (
            agent,
            {
                key: self._document[f"columns.{key}"]
                for key in PER_AGENT
                if self._document[f"columns.{key}"] is not None
            },
        )

    def _wide_section(self, agent: str, section: Any) -> bool:
        """Say whether a [wide.AGENT] section is sound; faults of it are told once."""
        if (agent, "") in self._first_row:
            return self._first_row[agent, ""] == 1
        before, place = self._faults.count, self._document.place(f"wide.{agent}")
        if self._expected.agents is not None and agent not in self._expected.agents:
            remedy = did_you_mean(agent, self._expected.agents) + "Name the section after the agent's key."
            self._faults.add(place, quoted(agent), "an agent of agents.csv", remedy)
        if not isinstance(section, dict) or "front" not in section or any(not as_cell(v) for v in section.values()):
            self._faults.add(place, "no column of its mass", "front = the column's name", "Name its columns.")
        elif set(section) - set(PER_AGENT):
            unknown = ", ".join(sorted(set(section) - set(PER_AGENT)))
            self._faults.add(place, f"the keys {unknown}", f"keys among {', '.join(PER_AGENT)}", "Correct them.")
        self._first_row[agent, ""] = int(self._faults.count == before)
        return self._faults.count == before

    def _read_result(
        self, number: int, cells: list[str | CellFault], sampler: str, agent: str, columns: Mapping[str, str]
    ) -> None:
        front_column = columns["front"]
        front = self._text(number, cells, front_column)
        others = [self._text(number, cells, columns[name]) for name in columns if name != "front"]
        wanted = agent in self._expected.ordered.get(sampler, set())
        if not front and self._document["layout"] == "wide" and not wanted and not any(others):
            return
        if front.casefold() in self._not_analysed and front:
            why = self._optional_text(number, cells, "remark")
            self._lost[not_analysed_note(sampler, agent)] = f"{why or front} ({self._file}, row {number})"
            return
        if (sampler, agent) in self._first_row:
            self._faults.add(
                Place(self._file, number, self._document["columns.sampler"]),
                f"{quoted(sampler)} with {agent}, which row {self._first_row[sampler, agent]} has too",
                "every sampler and agent once in a report",
                "Ask the laboratory which one counts, and take the other out with last_row or ignored_samplers.",
            )
            return
        self._first_row[sampler, agent] = number
        limit = self._number(number, cells, columns.get("reporting_limit"), "mass")
        front_ug, front_below = self._mass(number, cells, front_column, limit)
        back_column = columns.get("back")
        has_back = back_column is not None and self._text(number, cells, back_column) != ""
        back_ug, back_below = (
            self._mass(number, cells, back_column, limit) if has_back and back_column else (None, False)
        )
        uncertainty = self._number(number, cells, columns.get("uncertainty"), "uncertainty")
        self._results.append(
            LaboratoryResult(
                report=self._document["code"],
                sampler=sampler,
                agent=agent,
                front_ug=front_ug,
                front_below=front_below,
                back_ug=back_ug,
                back_below=back_below,
                reporting_limit_ug=limit if limit is not None else (front_ug if front_below else None),
                recovery=self._number(number, cells, columns.get("recovery"), "recovery"),
                relative_u=None if uncertainty is None else uncertainty / self._document["uncertainty_coverage_factor"],
                volume_l=self._number(number, cells, self._document["columns.volume"], "volume"),
                concentration_mg_m3=self._printed_concentration(number, cells, columns.get("concentration")),
                medium=self._optional_text(number, cells, "medium"),
                remark=self._optional_text(number, cells, "remark"),
                analysed_on=self._day(number, cells),
                origin=f"{self._file}, row {number}",
            )
        )

    def _text(self, number: int, cells: list[str | CellFault], column: str) -> str:
        index = self._header[column]
        cell = cells[index] if index < len(cells) else ""
        if isinstance(cell, CellFault):
            self._faults.add(Place(self._file, number, column), cell.found, "a value", cell.remedy)
            raise _Unusable
        return cell

    def _optional_text(self, number: int, cells: list[str | CellFault], name: str) -> str:
        column = self._document[f"columns.{name}"]
        return self._text(number, cells, column) if column is not None else ""

    def _day(self, number: int, cells: list[str | CellFault]) -> date | None:
        text = self._optional_text(number, cells, "analysed_on")
        if not text:
            return None
        try:
            day: date = read_cell(_DAY, text)
        except Unreadable as problem:
            self._fault(number, self._document["columns.analysed_on"], quoted(text), problem.wanted, problem.remedy)
        return day

    def _mass(self, number: int, cells: list[str | CellFault], column: str, limit: float | None) -> tuple[float, bool]:
        """Return a section's mass in ug and whether it is only an upper bound."""
        text = self._text(number, cells, column)
        if text.casefold() in self._not_detected and text:
            if limit is None:
                self._fault(
                    number,
                    column,
                    quoted(text),
                    "a reporting limit beside it",
                    "Name the column of the reporting limit; not detected is no zero.",
                )
            return limit, True
        below = text.startswith("<")
        bare_text = text[1:].strip() if below else text
        if not bare_text:
            self._fault(
                number,
                column,
                quoted(text) if text else "an empty cell",
                f"a mass in {self._document['units.mass']}, or “<” and the reporting limit, as in <0.5",
                "Ask the laboratory; words that mean no result are listed in not_detected and not_analysed.",
            )
        value = self._converted(number, column, bare_text, "mass")
        if below and value == 0.0:
            self._fault(number, column, quoted(text), "a reporting limit above 0", "Ask the laboratory for it.")
        return value, below

    def _number(self, number: int, cells: list[str | CellFault], column: str | None, kind: str) -> float | None:
        if column is None:
            return None
        text = self._text(number, cells, column)
        if not text or text.casefold() in self._not_analysed:
            return None
        value = self._converted(number, column, text, kind)
        if kind == "mass" and value == 0.0:
            self._fault(number, column, quoted(text), "a reporting limit above 0", "Ask the laboratory for it.")
        return value

    def _printed_concentration(self, number: int, cells: list[str | CellFault], column: str | None) -> float | None:
        if column is None or self._text(number, cells, column).startswith("<"):
            return None
        if self._text(number, cells, column).casefold() in self._not_detected:
            return None
        return self._number(number, cells, column, "concentration")

    def _converted(self, number: int, column: str, text: str, kind: str) -> float:
        low, high, unit_text = RESULT_RANGES[kind]
        unit = self._document[f"units.{kind}"]
        point = text
        if self._document["decimal_mark"] == "comma" and "." not in text:
            point = text.replace(",", ".") if text.count(",") <= 1 else text
        try:
            if not is_number(point):
                raise UnitProblem(point)
            value = canonical(point, unit, "ratio" if kind in ("recovery", "uncertainty") else kind)
        except UnitProblem:
            mark = self._document["decimal_mark"] or "point"
            self._fault(
                number,
                column,
                quoted(text),
                f"a number in {unit} with a decimal {mark}, or “<” and the reporting limit"
                if kind == "mass"
                else f"a number in {unit} with a decimal {mark}",
                f"Correct the cell, or decimal_mark in {self._document.file}; nothing is guessed.",
            )
        if not low <= value <= high:
            self._fault(
                number,
                column,
                f"{quoted(text)} {unit}",
                f"a plausible number, from {low:g} to {high:g} {unit_text}",
                f"Check the number, and the unit in {self._document.file}.",
            )
        return value

    def _fault(self, number: int, column: str, found: str, wanted: str, remedy: str) -> NoReturn:
        self._faults.add(Place(self._file, number, column), found, wanted, remedy)
        raise _Unusable
