"""The packaged tables, and a user's own beside them, read from CSV and checked row by row."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar, cast, get_args

from lapel.reference.problems import FileFault, UnusableFileError
from lapel.reference.rows import Limit, LimitType, MethodName, MethodRow, NotificationRule, Source, Substance

Row = TypeVar("Row")

KEYS_WITHOUT_CAS = ("PNOR", "WOODDUST", "WELDFUME", "DEEE")
"""Keys used where a substance has no CAS number of its own."""

LIMIT_TYPES: tuple[str, ...] = get_args(LimitType)
LIMIT_UNITS = ("ppm", "mg/m3", "fibre/cm3")

REQUIRED: dict[str, tuple[str, ...]] = {
    "substances": ("cas", "name", "source", "as_of"),
    "limits": ("cas", "authority", "limit_type", "source", "as_of"),
    "methods": ("method_id", "issuer", "cas", "sampler_description", "media_key", "source", "as_of"),
}
"""Columns without which a user's own row is not taken; the others may be left out."""

COLUMNS: dict[str, tuple[str, ...]] = {
    "substances": ("cas", "name", "formula", "molar_mass_g_per_mol", "synonyms", "physical_form_at_25C"),
    "limits": (
        "cas", "authority", "jurisdiction", "limit_type", "value", "unit", "averaging_minutes", "fraction",
        "skin_notation", "carcinogen_notation", "note",
    ),
    "methods": (
        "method_id", "issuer", "cas", "sampler_description", "sorbent_front_mg", "sorbent_back_mg", "media_key",
        "flow_min_lpm", "flow_max_lpm", "vol_min_l", "vol_max_l", "vol_min_basis", "lod_ug", "lod_note", "range",
        "overall_precision", "accuracy_percent", "bias", "field_blanks", "shipment", "stability_days",
        "stability_condition", "cassette_precollector_notes", "breakthrough_volume_note", "can_share_with", "note",
    ),
}  # fmt: skip
SOURCE_COLUMNS = ("source", "edition", "as_of", "read_on", "read_from", "source_url")


def cas_check_digit_holds(cas: str) -> bool:
    """Whether a CAS number's last digit fits: the digits before it, weighted 1, 2, 3 from the right, modulo 10."""
    match = re.fullmatch(r"(\d{2,7})-(\d{2})-(\d)", cas)
    if not match:
        return False
    digits = (match[1] + match[2])[::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(match[3])


@cache
def substances() -> tuple[Substance, ...]:
    """Packaged substances."""
    return _packaged("substances", _substance)


@cache
def limits() -> tuple[Limit, ...]:
    """Packaged limits, every authority's."""
    return _packaged("limits", _limit)


@cache
def methods() -> tuple[MethodRow, ...]:
    """Packaged methods, one row a method and substance."""
    return _packaged("methods", _method)


@cache
def method_names() -> tuple[MethodName, ...]:
    """Return methods an authority names for a substance, with or without a row of their own."""
    return _packaged("method_index", _method_name)


@cache
def notification_rules() -> tuple[NotificationRule, ...]:
    """When workers must be told, one row a standard, place and event."""
    return _packaged("notification", _notification)


def own_substances(path: str | Path) -> tuple[Substance, ...]:
    """Read a user's own substances (docs/how-to/add-your-own-limits-and-methods.md); raises `UnusableFileError`."""
    return _own(path, "substances", _substance)


def own_limits(path: str | Path) -> tuple[Limit, ...]:
    """Read a user's own limits (docs/how-to/add-your-own-limits-and-methods.md); raises `UnusableFileError`."""
    return _own(path, "limits", _limit)


def own_methods(path: str | Path) -> tuple[MethodRow, ...]:
    """Read a user's own methods (docs/how-to/add-your-own-limits-and-methods.md); raises `UnusableFileError`."""
    return _own(path, "methods", _method)


class _Cells:
    """One row being read; every cell that cannot be taken is noted with its column."""

    def __init__(self, row: Mapping[str, str], where: str, faults: list[FileFault], *, own: bool) -> None:
        self.row, self.where, self.faults, self.own = row, where, faults, own

    def fault(self, column: str, wanted: str) -> None:
        self.faults.append(FileFault(f"{self.where}, column “{column}”", f"“{self.text(column)}”", wanted))

    def text(self, column: str) -> str:
        return (self.row.get(column) or "").strip()

    def number(self, column: str) -> float | None:
        text = self.text(column)
        if not text:
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not (math.isfinite(value) and value > 0.0):
            self.fault(column, "a number above 0 with a decimal point, or nothing")
            return None
        return value

    def day(self, column: str) -> date | None:
        text = self.text(column)
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.fault(column, "a date as in 2026-11-24")
            return None

    def choice(self, column: str, allowed: Iterable[str]) -> str:
        text = self.text(column)
        if text not in allowed:
            self.fault(column, f"one of {', '.join(word for word in allowed if word)}")
        return text

    def cas(self) -> str:
        text = self.text("cas")
        if re.fullmatch(r"\d{2,7}-\d{2}-\d", text):
            if not cas_check_digit_holds(text):
                self.fault("cas", "a CAS number whose check digit fits; look for a slip of the pen")
        elif self.own and not re.fullmatch(r"[A-Z][A-Z0-9-]{2,}", text):
            self.fault("cas", "a CAS number, or a key of your own in capitals where there is none")
        return text

    def window(self, low: str, high: str) -> tuple[float | None, float | None]:
        least, most = self.number(low), self.number(high)
        if least is not None and most is not None and least > most:
            self.fault(low, f"no more than “{high}”, {self.text(high)}")
        return least, most

    def source(self) -> Source:
        return Source(
            citation=self.text("source"),
            edition=self.text("edition"),
            as_of=self.day("as_of"),
            read_on=self.day("read_on"),
            read_from=self.text("read_from"),
            url=self.text("source_url"),
            own=self.own,
        )


def _substance(cells: _Cells) -> Substance:
    synonyms = tuple(part.strip() for part in cells.text("synonyms").split(";") if part.strip())
    return Substance(
        cas=cells.cas(),
        name=cells.text("name"),
        formula=cells.text("formula"),
        molar_mass=cells.number("molar_mass_g_per_mol"),
        synonyms=synonyms,
        physical_form=cells.text("physical_form_at_25C"),
        source=cells.source(),
    )


def _limit(cells: _Cells) -> Limit:
    kind = cells.choice("limit_type", LIMIT_TYPES)
    value, unit = cells.number("value"), cells.text("unit")
    if kind != "no-numeric-limit":
        cells.choice("unit", LIMIT_UNITS)
        if not cells.text("value"):
            cells.fault("value", "the limit's number")
    return Limit(
        cas=cells.cas(),
        authority=cells.text("authority"),
        jurisdiction=cells.text("jurisdiction"),
        limit_type=cast(LimitType, kind),
        value=value,
        unit=unit,
        averaging_min=cells.number("averaging_minutes"),
        fraction=cells.text("fraction"),
        skin=cells.text("skin_notation"),
        carcinogen=cells.text("carcinogen_notation"),
        note=cells.text("note"),
        source=cells.source(),
    )


def _method(cells: _Cells) -> MethodRow:
    flow_min, flow_max = cells.window("flow_min_lpm", "flow_max_lpm")
    volume_min, volume_max = cells.window("vol_min_l", "vol_max_l")
    return MethodRow(
        method_id=cells.text("method_id"),
        issuer=cells.text("issuer"),
        cas=cells.cas(),
        sampler=cells.text("sampler_description"),
        sorbent_front_mg=cells.number("sorbent_front_mg"),
        sorbent_back_mg=cells.number("sorbent_back_mg"),
        media_key=cells.text("media_key"),
        flow_min_lpm=flow_min,
        flow_max_lpm=flow_max,
        volume_min_l=volume_min,
        volume_max_l=volume_max,
        detection_limit_ug=cells.number("lod_ug"),
        detection_limit_note=cells.text("lod_note"),
        field_blanks=cells.text("field_blanks"),
        shipment=cells.text("shipment"),
        stability_days=cells.number("stability_days"),
        stability_condition=cells.text("stability_condition"),
        overall_precision=cells.text("overall_precision"),
        breakthrough_note=cells.text("breakthrough_volume_note"),
        can_share_with=cells.text("can_share_with"),
        note=cells.text("note"),
        source=cells.source(),
    )


def _method_name(cells: _Cells) -> MethodName:
    return MethodName(cells.cas(), cells.text("issuer"), cells.text("method"), cells.source())


def _notification(cells: _Cells) -> NotificationRule:
    days = cells.number("days")
    return NotificationRule(
        standard=cells.text("standard"),
        substance=cells.text("substance"),
        industry=cells.text("industry"),
        days=None if days is None else int(days),
        kind_of_day=cells.text("working_or_calendar"),
        trigger=cells.text("trigger"),
        note=cells.text("note"),
        source=cells.source(),
    )


def _packaged(table: str, make: Callable[[_Cells], Row]) -> tuple[Row, ...]:
    text = files("lapel.reference").joinpath("data", f"{table}.csv").read_text(encoding="utf-8")
    return _rows(text, f"{table}.csv", make, own=False)


def _own(path: str | Path, table: str, make: Callable[[_Cells], Row]) -> tuple[Row, ...]:
    file = Path(path)
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise UnusableFileError([FileFault(file.name, error.strerror or "no file", f"a table of {table}")]) from error
    except UnicodeDecodeError as error:
        raise UnusableFileError([FileFault(file.name, f"bytes that are no UTF-8 ({error})", "UTF-8")]) from error
    header = next(csv.reader(io.StringIO(text)), [])
    _check_header([name.strip() for name in header], file.name, table)
    return _rows(text, file.name, make, own=True, required=REQUIRED[table])


def _check_header(header: list[str], file: str, table: str) -> None:
    known = COLUMNS[table] + SOURCE_COLUMNS
    faults = [
        FileFault(f"{file}, row 1", f"no column “{name}”", f"a column “{name}”")
        for name in REQUIRED[table]
        if name not in header
    ]
    faults += [
        FileFault(f"{file}, row 1", f"a column “{name}”", f"only columns of {', '.join(known)}")
        for name in dict.fromkeys(header)
        if name not in known
    ]
    faults += [
        FileFault(f"{file}, row 1", f"column “{name}” more than once", "each column once")
        for name in dict.fromkeys(header)
        if header.count(name) > 1
    ]
    if faults:
        raise UnusableFileError(faults)


def _rows(
    text: str, file: str, make: Callable[[_Cells], Row], *, own: bool, required: tuple[str, ...] = ()
) -> tuple[Row, ...]:
    faults: list[FileFault] = []
    rows: list[Row] = []
    reader: Any = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    for row in reader:
        cells = _Cells(row, f"{file}, row {reader.line_num}", faults, own=own)
        if None in row or None in row.values():
            count = len(row) - 1 + len(row[None]) if None in row else sum(cell is not None for cell in row.values())
            wanted = f"{len(reader.fieldnames)} cells, as in the first row"
            faults.append(FileFault(cells.where, f"{count} cells", wanted))
            continue
        for column in required:
            if not cells.text(column):
                cells.fault(column, "something: a row without it is not taken")
        rows.append(make(cells))
    if faults:
        raise UnusableFileError(faults)
    return tuple(rows)
