"""Which section of a sampler a row is about: as a cell of its own says, or a mark at the end of the sampler's code."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from lapel.exchange.laboratory.columns import ColumnMap
from lapel.exchange.laboratory.expectations import Expected, normal
from lapel.exchange.laboratory.headings import FoundTable
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.role_words import SECTION_WORDS, UNSURE_SECTIONS, plain_words
from lapel.exchange.laboratory.sheets import Cell, Sheet, address, shown

_SUFFIX = re.compile(
    r"^(?P<code>.*?\w)[\s\-_/.,:]*[(\[]?(?P<mark>front|back|rear|backup|[fb]s?|[ab12])[)\]]?$", re.IGNORECASE
)


class RowSections:
    """
    Tells front and back sections of one table apart.

    Attributes
    ----------
    marks : mapping of str to str
        Marks at the end of sampler codes, and the section each stands for.
    """

    def __init__(
        self,
        sheet: Sheet,
        table: FoundTable,
        columns: Sequence[ColumnMap],
        *,
        report_map: Mapping[str, Any],
        expected: Expected,
        asked: Asked,
    ) -> None:
        self._sheet, self._map, self._expected, self._asked = sheet, report_map, expected, asked
        by_role = {column.role: column.column - 1 for column in columns}
        self._at = by_role.get("section")
        self.marks = self._marks(table, by_role.get("sampler"))

    def of(self, cells: list[Cell], sampler: str, number: int) -> tuple[str, str]:
        """Return the section a row is about, and the sampler without its mark."""
        marks = self.marks
        code, section = sampler, ""
        match = _SUFFIX.match(sampler) if marks else None
        if match and match["mark"].casefold() in marks and normal(match["code"]) in self._expected.normal:
            code, section = match["code"].rstrip(" -_/.,:(["), marks[match["mark"].casefold()]
        at = self._at
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

    def _marks(self, table: FoundTable, at: int | None) -> Mapping[str, Literal["front", "back"]]:
        """Find marks at the end of sampler codes that say front and back: both must occur on one of our samplers."""
        if at is None:
            return {}
        marks: dict[str, set[str]] = {}
        for number in range(table.first_row, table.last_row + 1):
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
