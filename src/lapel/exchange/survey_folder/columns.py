"""Columns, tables and documents: how a layout is written down, and the columns that recur in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

CellType: TypeAlias = Literal[
    "code",
    "codes",
    "text",
    "word",
    "words",
    "yes or no",
    "number",
    "whole number",
    "quantity",
    "unit",
    "date",
    "date-time",
    "curve",
    "port",
    "ports",
    "sha256",
]

LIST_MARK = ";"
"""Separates several codes in one cell."""


@dataclass(frozen=True, slots=True)
class Column:
    """
    One column of a table or key of a document.

    `unit_kind` and `unit_in` say what a quantity measures and which column names its unit; `low` and `high` bound it in
    the canonical unit of its kind (a plain number in its own unit, `own_unit`). `refers` names the list a code must
    stand in.
    """

    name: str
    type: CellType
    about: str
    needed: bool = False
    words: tuple[str, ...] = ()
    unit_kind: str = ""
    unit_in: str = ""
    own_unit: str = ""
    low: float | None = None
    high: float | None = None
    above: bool = False
    refers: str = ""
    default: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """
    A CSV file with one header row; `key` names the column whose codes may stand only once.

    In a table that is `dated` a code may stand again with another day in that column: from then on, that row counts.
    """

    file: str
    about: str
    columns: tuple[Column, ...]
    key: str = ""
    needed: bool = True
    dated: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """A TOML file; columns named `section.key` stand in that section, `free` sections hold any words."""

    file: str
    about: str
    columns: tuple[Column, ...]
    free: tuple[str, ...] = ()


def flow_column(name: str, about: str, *, needed: bool = False, unit_in: str = "flow_unit") -> Column:
    """Column of a flow; its unit stands beside it."""
    return Column(name, "quantity", about, needed, unit_kind="flow", unit_in=unit_in, low=0.0, high=20.0)


def temperature_column(name: str, about: str, *, needed: bool = False) -> Column:
    """Column of a temperature, with its unit in the column named after it."""
    return Column(
        name, "quantity", about, needed, unit_kind="temperature", unit_in=f"{name}_unit", low=213.15, high=343.15
    )


def pressure_column(name: str, about: str, *, needed: bool = False) -> Column:
    """Column of an absolute pressure, with its unit in the column named after it."""
    return Column(name, "quantity", about, needed, unit_kind="pressure", unit_in=f"{name}_unit", low=40.0, high=120.0)


def unit_column(name: str, kind: str) -> Column:
    """Column of a unit."""
    return Column(name, "unit", f"unit of {kind}; needed where a number of it is given", unit_kind=kind)


def percent_column(name: str, about: str, default: str = "") -> Column:
    """Column of a share in per cent."""
    return Column(name, "number", about, own_unit="%", low=0.0, high=100.0, default=default)
