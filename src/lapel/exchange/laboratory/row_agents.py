"""Which agent a row is about: as its name or CAS number say, as a person said, or as the whole table is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.expectations import NOT_USED, Expected, normal
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import VALUE_ROLES
from lapel.exchange.laboratory.sheets import Cell, Sheet, address, shown


class RowAgents:
    """
    Recognises the agents of one table.

    Attributes
    ----------
    unknown : dict
        By name as printed, agents nobody knows: where the first stands, and the samplers they were reported for.
    """

    def __init__(
        self,
        sheet: Sheet,
        columns: Sequence[ColumnMap],
        *,
        report_map: Mapping[str, Any],
        expected: Expected,
        agent: str,
        asked: Asked,
    ) -> None:
        self._sheet, self._map, self._expected = sheet, report_map, expected
        self._agent, self._asked = agent, asked
        by_role = {column.role: column.column - 1 for column in columns}
        self._at, self._at_cas = by_role.get("agent"), by_role.get("cas")
        self._across = [column.sampler for column in columns if column.role in VALUE_ROLES and column.sampler]
        self._known: dict[str, str | None] = {}
        self.unknown: dict[str, tuple[str, set[str]]] = {}

    def of(self, number: int, cells: list[Cell], sampler: str) -> str | None:
        """Return the row's agent; empty where its columns have their own, None where it is one we do not use."""
        if self._at is None and self._at_cas is None:
            return self._agent
        name, cas = self._printed(cells)
        printed = name or cas
        if not printed:
            return self._agent or None
        together = f"{name}|{cas}"
        if together not in self._known:
            self._known[together] = self._recognised(name, cas, number)
        found = self._known[together]
        if found is None and printed in self.unknown:
            whose = [sampler] if sampler else self._across
            self.unknown[printed][1].update(map(normal, whose))
        return found

    def printed(self, cells: list[Cell]) -> str:
        """Return what a row calls its agent."""
        name, cas = self._printed(cells)
        return name or cas

    def _printed(self, cells: list[Cell]) -> tuple[str, str]:
        name, cas = (
            shown(cells[at]).strip() if at is not None and at < len(cells) else "" for at in (self._at, self._at_cas)
        )
        return name, cas

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
            self.unknown.setdefault(name or cas, (address(self._sheet, number), set()))
        return found or None

    def ask(self, number: int, cells: list[Cell]) -> None:
        """Ask which agent the results of a row are about."""
        choices = tuple((key, agent.name) for key, agent in self._expected.agents.agents.items())
        self._asked.ask(
            f"table_agents.{self._sheet.name}",
            "Which agent are these results about? Neither a column nor a heading names one.",
            choices,
            where=address(self._sheet, number),
            cells=tuple(shown(cell) for cell in cells if cell != "")[:6],
        )
