"""
The entry of the field log, and every kind of entry with its fields, as data.

An entry is one act in the field: who, when, on which device, and what. It is never edited and never deleted; a
correction is a new entry naming the one it corrects. What was typed stays as typed: all field values are texts. `KINDS`
is read by the folder reader, by the documentation and by the page, so that a kind or a field is described in one place
only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Literal, TypeAlias

FieldType: TypeAlias = Literal[
    "text",
    "code",
    "codes",
    "number",
    "unit",
    "yes/no",
    "choice",
    "port",
    "ports",
    "instant",
    "date",
    "sha256",
    "signature",
]
UnitKind: TypeAlias = Literal["flow", "volume", "temperature", "pressure"]


@dataclass(frozen=True, slots=True)
class Entry:
    """
    One act in the field, never edited.

    Parameters
    ----------
    id : str
        Unique for ever: a UUIDv7 made on the device, or the line of a paper sheet ("sheet 4 line 7").
    kind : str
        A key of `KINDS`.
    at : datetime
        When it happened, with its offset from UTC.
    device : str
        What it was recorded on; a paper sheet is a device too.
    sequence : int
        The device's own count, from 1; 0 where there is none (paper): such entries are ordered by time and kind.
    author : str
        Who recorded it.
    fields : mapping of str to str
        What was recorded, as typed.
    corrects : str, optional
        In a correction: the id of the entry it corrects.
    reason : str
        In a correction: why.
    received_at : datetime, optional
        When the office received it first, by the office's clock.
    previous_hash, hash : str
        The chain of the device, see `lapel.fieldlog.chain`. Empty on paper.
    origin : str
        Where it was read from, such as a file and row; not part of what was recorded.
    """

    id: str
    kind: str
    at: datetime
    device: str
    sequence: int
    author: str
    fields: Mapping[str, str]
    corrects: str | None = None
    reason: str = ""
    received_at: datetime | None = None
    previous_hash: str = ""
    hash: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """
    One field of a kind.

    `unit_in` names the field holding this number's unit; `unit_kind` says what a unit field measures. A number lies
    above `above`, and between `least` and `most`, where these are given.
    """

    name: str
    type: FieldType
    words: str
    needed: bool = False
    choices: tuple[str, ...] = ()
    unit_in: str = ""
    unit_kind: UnitKind | None = None
    above: float | None = None
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class KindSpec:
    """
    One kind of entry.

    `one_of` lists groups of fields: one whole group at least must be filled. `rank` orders entries that carry no
    sequence and the same instant, as on a paper sheet kept to the minute: a pump stops before its tube comes off, and
    starts after the next one is on.
    """

    kind: str
    words: str
    fields: Mapping[str, FieldSpec]
    rank: int
    one_of: tuple[tuple[str, ...], ...] = ()


UNITS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "flow": ("mL/min", "L/min", "cc/min", "ccm", "mlpm", "lpm"),
        "volume": ("mL", "L", "m3"),
        "temperature": ("°C", "C", "degC", "°F", "F", "degF", "K"),
        "pressure": ("kPa", "hPa", "mbar", "Pa", "mmHg", "inHg", "atm"),
    }
)
"""The units an entry may state, by what they measure; upper and lower case and spaces do not matter."""


def _text(name: str, words: str, *, needed: bool = False) -> FieldSpec:
    return FieldSpec(name, "text", words, needed)


def _code(name: str, words: str, *, needed: bool = False) -> FieldSpec:
    return FieldSpec(name, "code", words, needed)


def _number(
    name: str,
    words: str,
    *,
    needed: bool = False,
    unit_in: str = "",
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
) -> FieldSpec:
    return FieldSpec(name, "number", words, needed, unit_in=unit_in, above=above, least=least, most=most)


def _unit(name: str, measures: UnitKind, words: str, *, needed: bool = False) -> FieldSpec:
    return FieldSpec(name, "unit", words, needed, unit_kind=measures)


def _yes_no(name: str, words: str, *, needed: bool = False) -> FieldSpec:
    return FieldSpec(name, "yes/no", words, needed)


def _choice(name: str, choices: tuple[str, ...], words: str, *, needed: bool = False) -> FieldSpec:
    return FieldSpec(name, "choice", words, needed, choices)


_TRAIN = _code("train", "the sampling train: one pump, its holder and ports, under one code for the day", needed=True)
_PORT = FieldSpec("port", "port", "the port's letter", needed=True)
_SAMPLER = _code("sampler", "the sampler's own number, on its label", needed=True)
_PORTS = FieldSpec("ports", "ports", "the ports it concerns, as in “A C”; empty means all ports of the train")
_COUNTER = _number("counter_min", "minutes on the pump's own counter", least=0)
_MEDIUM = _code("medium", "what the sampler collects on, as the survey names it")
_LOT = _code("lot", "the lot printed on the sampler or its box")
_TEMPERATURE = (
    _number("temperature", "air temperature", unit_in="temperature_unit"),
    _unit("temperature_unit", "temperature", "unit of the temperature"),
)
_AIR = (
    *_TEMPERATURE,
    _number("pressure", "air pressure at the place, not reduced to sea level", unit_in="pressure_unit", above=0),
    _unit("pressure_unit", "pressure", "unit of the pressure"),
    _number("humidity_percent", "relative humidity of the air", least=0, most=100),
)

_KINDS: tuple[tuple[str, str, tuple[FieldSpec, ...], tuple[tuple[str, ...], ...]], ...] = (
    # in the order in which acts of one and the same minute happen; see KindSpec.rank
    ("train_prepared", "A train is put together; flows measured before this do not count for it.", (
        _TRAIN,
        _code("pump", "the pump in it", needed=True),
        _code("splitter", "the holder that splits the flow; empty for a single sampler"),
        _number("warm_up_min", "minutes the pump ran before the first reading", least=0),
        FieldSpec("charged_at", "instant", "when the battery was last fully charged"),
        _text("battery", "what the pump shows of its battery while running"),
        _text("place", "where the train was prepared"),
    ), ()),
    ("kit_sheet", "What the kit sheet of whoever supplied the pumps says of a port; their word, no reading of ours.", (
        _TRAIN, _PORT,
        _code("pump", "the pump the sheet is of"),
        _MEDIUM,
        _code("catalogue", "the maker's number of that medium"),
        _LOT,
        _number("intended", "flow the port is meant for", unit_in="intended_unit", above=0),
        _unit("intended_unit", "flow", "unit of the flow meant"),
        _number("supplier", "flow the supplier read there; never the flow before the run", unit_in="supplier_unit",
                above=0),
        _unit("supplier_unit", "flow", "unit of that reading"),
        _choice("how", ("scanned", "typed"), "how the sheet got into the record"),
    ), ()),
    ("port_prepared", "A port gets its calibration tube, the one flows are set with and never sampled with.", (
        _TRAIN, _PORT,
        _code("tube", "mark of the calibration tube", needed=True),
        _MEDIUM, _LOT,
        _number("target", "flow wanted at this port", unit_in="target_unit", above=0),
        _unit("target_unit", "flow", "unit of the wanted flow"),
    ), ()),
    ("leak_checked", "The inlets were plugged and the flow had to vanish.", (
        _TRAIN,
        FieldSpec("port", "port", "the port plugged; empty means all at once"),
        _yes_no("passed", "whether the flow went to zero", needed=True),
    ), ()),
    ("pump_checked", "Somebody looked at the running pump.", (
        _TRAIN,
        _yes_no("running", "whether it ran", needed=True),
        _COUNTER,
        _number("display", "flow on the pump's own display", unit_in="display_unit", least=0),
        _unit("display_unit", "flow", "unit of the display"),
        _text("remark", "anything seen: tubing, inlet, task, the worker's own words"),
    ), ()),
    ("pump_held", "Drawing was interrupted on purpose; ends the segment.", (
        _TRAIN, _PORTS, _text("why", "why", needed=True), _COUNTER,
    ), ()),
    ("pump_stopped", "The pump stopped, or was found stopped; ends the segment.", (
        _TRAIN, _PORTS, _COUNTER,
        _choice("why", ("shift end", "tube change", "fault", "early", "other"), "why", needed=True),
        _yes_no("stopped_itself", "yes: nobody was there; the stop is then worked out from the pump's counter"),
    ), ()),
    ("sampler_removed", "A sampler comes off its port; ends the segment.", (
        _TRAIN, _PORT, _SAMPLER, _text("why", "why", needed=True),
    ), ()),
    ("flow_read", "One reading of one port's flow, with the meter at the inlet.", (
        _TRAIN, _PORT,
        _choice("phase", ("setting", "closing", "check", "post"),
                "setting: while turning the valve; closing: the round before the run, no valve touched; "
                "check: during the run; post: after it", needed=True),
        _code("meter", "the flow meter", needed=True),
        _number("reading", "flow as read", unit_in="unit", least=0),
        _unit("unit", "flow", "unit of the reading"),
        _number("volume", "volume of a timed bubble or piston stroke", unit_in="volume_unit", above=0),
        _unit("volume_unit", "volume", "unit of that volume"),
        _number("seconds", "time it took", above=0),
        _choice("basis", ("actual", "standard"), "flow in the air of the place, or at the meter's standard condition"),
        *_AIR,
    ), (("reading", "unit"), ("volume", "volume_unit", "seconds"))),
    ("post_round", "The round after the run is complete: its post readings are the after flow.", (
        _TRAIN,
        _yes_no("valve_touched", "whether any valve was touched since the run", needed=True),
        _yes_no("recharged", "whether the battery was charged since the run", needed=True),
        _yes_no("battery_changed", "whether the battery was changed since the run"),
        _yes_no("same_tubes", "whether the calibration tubes were those of the closing round", needed=True),
    ), ()),
    ("valve_touched", "A port's valve was moved; its closing round no longer counts, and a segment ends.", (
        _TRAIN, _PORT, _text("why", "why"),
    ), ()),
    ("closing_round", "All ports were read in turn with no valve touched: this is the before flow.", (
        _TRAIN,
        FieldSpec("ports", "ports", "the ports read, as in “A B C”", needed=True),
        _yes_no("valve_touched", "whether a valve was touched during the round", needed=True),
    ), ()),
    ("train_hung", "The train is on a worker, or at a fixed place under the worker code used for it.", (
        _TRAIN,
        _code("worker", "the worker, by code", needed=True),
        _text("side", "left or right"),
        _text("zone", "where the inlets sit"),
    ), ()),
    ("sampler_fitted", "A sampler is opened and put on a port.", (
        _TRAIN, _PORT, _SAMPLER, _MEDIUM, _LOT,
        FieldSpec("expiry", "date", "expiry date on the sampler or its box"),
        _choice("how", ("scanned", "keypad", "typed"), "how its number got into the record"),
    ), ()),
    ("pump_started", "The pump draws.", (_TRAIN, _PORTS, _COUNTER), ()),
    ("pump_resumed", "The pump draws again after a hold.", (_TRAIN, _PORTS, _COUNTER), ()),
    ("blank_opened", "A blank is handled; a field blank is opened and closed at once.", (
        _code("blank", "the blank's own number", needed=True),
        _choice("use", ("field", "media", "transport"), "what it is a blank of; field when left empty"),
        _MEDIUM, _LOT, _text("place", "where"),
    ), ()),
    ("blank_closed", "The blank is closed.", (_code("blank", "the blank's own number", needed=True),), ()),
    ("task", "What a worker does from now on.", (
        _code("worker", "the worker, by code", needed=True),
        _text("task", "the task", needed=True),
        FieldSpec("until", "instant", "when it ended; empty: until the worker's next task"),
    ), ()),
    ("conditions", "The air at a place.", (_text("place", "where"), *_AIR), ()),
    ("note", "Anything worth keeping.", (
        _code("about", "what it is about: a train, sampler, worker or place"),
        _text("text", "the note", needed=True),
    ), ()),
    ("photo", "A picture, kept beside the log.", (
        _code("about", "what it shows"),
        _text("file", "name of the picture's file", needed=True),
        FieldSpec("sha256", "sha256", "SHA-256 of the file, so that another picture shows"),
    ), ()),
    ("parcel_sealed", "Samplers and blanks are packed and sealed.", (
        _code("parcel", "the parcel's number", needed=True),
        FieldSpec("samplers", "codes", "the samplers and blanks in it, as in “S-1 S-2 B-1”", needed=True),
        _code("seal", "number on the seal"),
        *_TEMPERATURE,
    ), ()),
    ("custody_handed", "The parcel goes from one hand to another.", (
        _code("parcel", "the parcel's number", needed=True),
        _text("from", "who gave it", needed=True),
        _text("from_firm", "the giver's firm"),
        FieldSpec("from_signature", "signature", "how the giver signed; empty where nobody did"),
        _text("to", "who took it", needed=True),
        _text("to_firm", "the taker's firm"),
        FieldSpec("to_signature", "signature", "how the taker signed; empty where nobody did"),
        _yes_no("seal_intact", "whether the seal was whole"),
        *_TEMPERATURE,
    ), ()),
    ("correction", "Changes one field of an earlier entry, withdraws it, or says that two like entries are two acts.", (
        _code("field", "the field to change; “at” for the instant"),
        _text("value", "what it should say; empty takes the field away"),
        _yes_no("withdraw", "yes: the corrected entry does not count"),
        _code("distinct_from", "id of the other entry: both happened"),
    ), (("field",), ("withdraw",), ("distinct_from",))),
)  # fmt: skip

KINDS: Mapping[str, KindSpec] = MappingProxyType(
    {
        kind: KindSpec(kind, words, MappingProxyType({f.name: f for f in fields}), rank, one_of)
        for rank, (kind, words, fields, one_of) in enumerate(_KINDS)
    }
)
"""Every kind of entry and its fields."""
