"""In which unit a number stands: of its cell, its column, its row or the whole report, or as a person said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import VALUE_ROLES
from lapel.exchange.laboratory.sheets import Cell, Sheet, address, shown
from lapel.exchange.laboratory.statements import Statements
from lapel.exchange.laboratory.unit_words import LOST, Unit, known_unit
from lapel.exchange.laboratory.values import Value


class RowUnits:
    """Finds the units of one table, and asks where none is stated."""

    def __init__(
        self,
        sheet: Sheet,
        columns: Sequence[ColumnMap],
        *,
        statements: Statements,
        report_map: Mapping[str, Any],
        asked: Asked,
    ) -> None:
        self._sheet, self._statements, self._map, self._asked = sheet, statements, report_map, asked
        self._unit_columns = [column for column in columns if column.role == "unit"]
        self._of_column = {column.column: self._column_unit(column) for column in columns if column.role in VALUE_ROLES}

    def of(self, column: ColumnMap, value: Value, row_unit: Unit | None) -> Unit | None:
        """Return the unit of a value; None where none is stated and it cannot be told."""
        unit = known_unit(value.unit) if value.unit else None
        unit = unit or self._of_column[column.column] or self._from_row(column, row_unit) or self._told_unit(column)
        if unit is None or unit == LOST:
            unit = self._unit_by_size(column, value)
        if unit is None and value.number is None:  # a word needs no unit, only what it is a word for
            in_air = column.role in ("concentration", "mole ratio")
            unit = Unit("mg/m3", "concentration") if in_air else Unit("ug", "mass")
        return unit

    def of_row(self, cells: list[Cell], number: int) -> Unit | None:
        """Return the unit of the row's unit cell, if there is such a cell."""
        if not self._unit_columns:
            return None
        at = self._unit_columns[0].column - 1
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
        if self._unit_columns and column.role not in ("volume", "recovery", "uncertainty"):
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

    def ask(self, column: ColumnMap, where: str, printed: str) -> None:
        """Ask in which unit a column is."""
        kind = kind_of(column)
        choices: Mapping[str, tuple[tuple[str, str], ...]] = {
            "mass": (
                ("ug", "micrograms"),
                ("mg", "milligrams"),
                ("ng", "nanograms"),
                ("mg/m3", "not masses: mg/m³ in air"),
                ("ug/m3", "not masses: µg/m³ in air"),
                ("ppm", "not masses: ppm in air"),
            ),
            "concentration": (("mg/m3", "mg/m³"), ("ug/m3", "µg/m³"), ("ppm", "")),
            "volume": (("L", "litres"), ("m3", "cubic metres"), ("mL", "millilitres")),
            "uncertainty": (("%", "percent"), ("1", "a fraction")),
        }
        why = "a letter of its unit was lost" if column.unit == LOST else "no unit stands with it"
        self._asked.ask(
            f"units.{kind}",
            f"In which unit is the {kind} under “{column.heading}”? {why[:1].upper()}{why[1:]}.",
            choices.get(kind, (("%", "percent"), ("1", "a fraction"))),
            where=where,
            cells=(printed,),
        )


def stated_unit(text: str) -> Unit | None:
    """Return the unit a person stated; “1” is a fraction."""
    return Unit("1", "ratio") if text.strip() == "1" else known_unit(text)


def kind_of(column: ColumnMap) -> str:
    """Return the kind of unit a column wants."""
    if column.role in ("concentration", "mole ratio", "volume", "recovery", "uncertainty"):
        return "concentration" if column.role == "mole ratio" else column.role
    return "mass"
