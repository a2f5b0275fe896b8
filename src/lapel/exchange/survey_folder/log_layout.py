"""The log's tables, one a kind of entry: their columns follow the field log's own description of its kinds."""

from __future__ import annotations

import functools
from collections.abc import Mapping

from lapel.exchange.survey_folder.columns import CellType, Column, Table
from lapel.fieldlog import KINDS, UNITS, FieldSpec, KindSpec

TRAINS, BLANKS, PARCELS = "log/train_prepared.csv", "log/blank_opened.csv", "log/parcel_sealed.csv"
SAMPLERS_AND_BLANKS, ENTRY_IDS = "samples.csv or log/blank_opened.csv", "column id of the log"

_TYPES: Mapping[str, CellType] = {
    "text": "text",
    "code": "code",
    "codes": "codes",
    "number": "number",
    "unit": "unit",
    "yes/no": "yes or no",
    "choice": "word",
    "port": "port",
    "ports": "ports",
    "instant": "date-time",
    "date": "date",
    "sha256": "sha256",
    "signature": "text",
}
_REFERS = {
    "train": TRAINS,
    "pump": "equipment/pumps.csv",
    "splitter": "equipment/splitters.csv",
    "meter": "equipment/meters.csv",
    "worker": "workers.csv",
    "sampler": "samples.csv",
    "lot": "media.csv",
    "blank": BLANKS,
    "parcel": PARCELS,
    "samplers": SAMPLERS_AND_BLANKS,
    "distinct_from": ENTRY_IDS,
}
_IN_WORDS = frozenset({"medium", "about"})
"""Fields the log calls codes that may be several words."""
_SOMEBODY_ELSES = frozenset({("kit_sheet", "pump"), ("kit_sheet", "lot")})
"""Fields that repeat what somebody else says, which need not be on record: what differs is the finding."""
_DEFINES = {"train_prepared": "train", "blank_opened": "blank", "parcel_sealed": "parcel"}
"""Kinds that bring a code into the log, and its field; all other kinds may only use it."""
_PLAIN_RANGES = {
    "counter_min": (0.0, 20_000.0, "min"),
    "warm_up_min": (0.0, 600.0, "min"),
    "seconds": (0.1, 7200.0, "s"),
    "humidity_percent": (0.0, 100.0, "%"),
}
_UNIT_RANGES = {
    "flow": (0.0, 20.0),
    "volume": (0.0001, 100.0),
    "temperature": (213.15, 343.15),
    "pressure": (40.0, 120.0),
}
"""Plausible readings in canonical units: L/min, L, K, kPa."""

_ENVELOPE = (
    Column("at", "date-time", "when it happened", True),
    Column("author", "text", "who recorded it; field_author of survey.toml if empty"),
    Column("id", "code", "an id of your own, needed only where a correction names this row"),
)
_CORRECTION = (
    Column("corrects", "code", "id of the row it corrects", True, refers=ENTRY_IDS),
    Column("reason", "text", "why", True),
)


def table_name(kind: str) -> str:
    """Return the file of a kind's table."""
    return f"log/{kind}.csv"


def defines(kind: str) -> str:
    """Return the field by which a kind brings a code into the log; empty for most."""
    return _DEFINES.get(kind, "")


@functools.cache
def log_tables() -> Mapping[str, Table]:
    """Return the table of every kind of entry."""
    return {kind: _table(spec) for kind, spec in KINDS.items()}


def _table(spec: KindSpec) -> Table:
    columns = tuple(_column(spec, field) for field in spec.fields.values())
    own = _CORRECTION if spec.kind == "correction" else ()
    return Table(table_name(spec.kind), spec.words, (*_ENVELOPE, *own, *columns), needed=False)


def _column(spec: KindSpec, field: FieldSpec) -> Column:
    names_nothing = _DEFINES.get(spec.kind) == field.name or (spec.kind, field.name) in _SOMEBODY_ELSES
    refers = "" if names_nothing else _REFERS.get(field.name, "")
    if field.type == "unit":
        kind = field.unit_kind or ""
        return Column(field.name, "unit", field.words, field.needed, words=UNITS[kind], unit_kind=kind)
    if field.unit_in:
        measures = spec.fields[field.unit_in].unit_kind or ""
        low, high = _UNIT_RANGES[measures]
        above = field.above is not None and low <= field.above
        return Column(
            field.name,
            "quantity",
            field.words,
            field.needed,
            unit_kind=measures,
            unit_in=field.unit_in,
            low=low,
            high=high,
            above=above,
        )
    if field.type == "number":
        low, high, unit = _PLAIN_RANGES[field.name]
        return Column(field.name, "number", field.words, field.needed, own_unit=unit, low=low, high=high)
    kind_of_cell = "text" if field.name in _IN_WORDS else _TYPES[field.type]
    return Column(field.name, kind_of_cell, field.words, field.needed, words=field.choices, refers=refers)
