"""What the cells of one table say: a value, or a question to a person where a cell may mean two things."""

from __future__ import annotations

from collections.abc import Mapping

from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.numbers import Marks
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.sheets import Cell, Sheet, address
from lapel.exchange.laboratory.values import Doubt, Sense, Value, value_of


class RowValues:
    """
    Reads the cells of one table.

    Parameters
    ----------
    words : mapping of str to Sense
        What a person said words stand for, by the word in small letters.
    told : mapping of str to str
        What a person said single cells hold, by their address.
    """

    def __init__(
        self, sheet: Sheet, marks: Marks, *, words: Mapping[str, Sense], told: Mapping[str, str], asked: Asked
    ) -> None:
        self._sheet, self._marks, self._asked = sheet, marks, asked
        self._words, self._told = words, told
        self._cache: dict[str, Value | Doubt] = {}

    def settled(self, number: int, column: ColumnMap, cell: Cell) -> Value | None:
        """Return what a cell says; None where only a person can tell, who is then asked."""
        value = self.value(cell)
        if not isinstance(value, Doubt):
            return value
        where = address(self._sheet, number, column.column)
        told = self._told.get(where)
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

    def value(self, cell: Cell) -> Value | Doubt:
        """Return what a cell says, or what is in doubt about it."""
        if not isinstance(cell, str):
            return value_of(cell, self._marks, self._words)
        found = self._cache.get(cell)
        if found is None:
            found = self._cache[cell] = value_of(cell, self._marks, self._words)
        return found
