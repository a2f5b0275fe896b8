"""
What an assessment needs to know about a survey, as plain data.

A survey folder and the stored records both fill these. Everything is in canonical units (L/min, min, L, ug, mg/m3, ppm,
K, kPa) and carries `origin`, the place it was read from, so that a fault or a figure can name it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal, TypeAlias, TypeVar

from lapel.fieldlog.entries import Entry
from lapel.hygiene.air import Air
from lapel.said import said

Purpose: TypeAlias = Literal["full shift", "short term", "ceiling", "task", "area"]
MeterKind: TypeAlias = Literal["piston", "burette", "rotameter", "thermal"]
LimitKind: TypeAlias = Literal["TWA", "STEL", "ceiling", "action level"]
BlankUse: TypeAlias = Literal["field", "media", "transport"]
Corrector: TypeAlias = Literal["laboratory", "nobody"]

_Dated = TypeVar("_Dated", "Worker", "Meter")


def _in_force(latest: _Dated, since: str, day: date) -> _Dated:
    one = latest
    while one.before is not None and (begun := getattr(one, since)) is not None and begun > day:
        one = one.before
    return one


def _in_turn(latest: _Dated) -> tuple[_Dated, ...]:
    found = [latest]
    while (before := found[-1].before) is not None:
        found.append(before)
    return tuple(reversed(found))


@dataclass(frozen=True, slots=True)
class Site:
    """Where the work was done; the zone names the clock on the wall, the air what stands in where none was recorded."""

    name: str
    zone: str
    air: Air | None = None
    area_class: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """A similar exposure group."""

    code: str
    name: str
    tasks: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Worker:
    """
    A person, by code only; names live elsewhere.

    `group` and `job` hold from the day `since` on; `before` is the same worker with the group before this one.
    """

    code: str
    group: str
    job: str = ""
    origin: str = ""
    since: date | None = None
    before: Worker | None = None

    def on(self, day: date) -> Worker:
        """Return the worker with the group of a day; before the first day on record, with the first group."""
        return _in_force(self, "since", day)

    def places(self) -> tuple[Worker, ...]:
        """Return the worker with each group in turn, the first first."""
        return _in_turn(self)


@dataclass(frozen=True, slots=True)
class Shift:
    """
    One worker's shift, with both ends as instants.

    `unsampled` is the stated treatment of time without a sample, `hours_per_week` what the extended-shift models need.
    """

    code: str
    worker: str
    start: datetime
    end: datetime
    reference_min: float = 480.0
    unsampled: Literal["zero", "mean", "highest"] = "zero"
    unsampled_reason: str = ""
    hours_per_week: float | None = None
    respirator: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Agent:
    """A substance looked for; the effect groups say with which others it is added up."""

    key: str
    name: str
    cas: str = ""
    molar_mass: float | None = None
    effect_groups: tuple[str, ...] = ()
    origin: str = ""

    def __post_init__(self) -> None:
        """Let a document call it by its name in another language."""
        object.__setattr__(self, "name", said(self.name))


@dataclass(frozen=True, slots=True)
class LimitChoice:
    """A limit this survey is judged by, with its source; value in mg/m3 or ppm as its authority states it."""

    agent: str
    authority: str
    kind: LimitKind
    value: float
    unit: Literal["mg/m3", "ppm"]
    averaging_min: float | None
    source: str
    as_of: date | None
    binding: bool = True
    extended_shift_model: str = ""
    note: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Method:
    """A sampling and analytical method for one agent on one medium, with the window the method or laboratory states."""

    code: str
    agent: str
    medium: str
    flow_min_lpm: float | None = None
    flow_max_lpm: float | None = None
    volume_min_l: float | None = None
    volume_max_l: float | None = None
    reporting_limit_ug: float | None = None
    analysis_cv: float | None = None
    sampling_cv: float | None = None
    holding_days: float | None = None
    receipt_max_c: float | None = None
    blanks_min: int | None = None
    blanks_share: float | None = None
    duplicates_min: int | None = None
    duplicates_share: float | None = None
    two_sections: bool = True
    source: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class MediaLot:
    """One lot of samplers."""

    lot: str
    medium: str
    expiry: date | None = None
    family: str = ""
    catalogue: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Pump:
    """A pump; the certificate for classified areas is the firm's word, never ours."""

    code: str
    flow_min_lpm: float | None = None
    flow_max_lpm: float | None = None
    area_certificate: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Splitter:
    """A holder with two or three ports, each with its own valve."""

    code: str
    ports: tuple[str, ...]
    total_max_lpm: float | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Meter:
    """
    A flow meter and its certificate.

    `relative_u` is the certificate's standard uncertainty as a fraction of reading, `full_scale_u_lpm` the part stated
    of full scale. `calibrated_at` is the air a rotameter's scale was made for, or a thermal meter's standard condition;
    `exponent` the rotameter float's (0 viscosity, 0.5 density controlled; None when unknown). `curve` holds pairs of
    indicated and true flow from the certificate. `before` is the same meter under the certificate before this one: a
    reading counts as the certificate in force on its day says, whatever was certified later.
    """

    code: str
    kind: MeterKind
    certificate: str = ""
    certified_on: date | None = None
    due_on: date | None = None
    range_min_lpm: float | None = None
    range_max_lpm: float | None = None
    relative_u: float | None = None
    full_scale_u_lpm: float = 0.0
    reads: Literal["actual", "standard"] = "actual"
    calibrated_at: Air | None = None
    exponent: float | None = None
    curve: tuple[tuple[float, float], ...] = ()
    origin: str = ""
    before: Meter | None = None

    def on(self, day: date) -> Meter:
        """Return the meter under the certificate in force on a day: the latest made by then, else the first one."""
        return _in_force(self, "certified_on", day)

    def certificates(self) -> tuple[Meter, ...]:
        """Return the meter under each of its certificates, the first first."""
        return _in_turn(self)

    @property
    def name(self) -> str:
        """Code of the meter; under a certificate that followed another, with its day: their doubts are two."""
        if self.before is None:
            return self.code
        return said("{meter} (certified {day})", meter=self.code, day=str(self.certified_on))


@dataclass(frozen=True, slots=True)
class SampleOrder:
    """What was wanted of one sampler: whose shift, for what purpose, which agents by which methods."""

    sampler: str
    shift: str
    purpose: Purpose
    methods: tuple[str, ...]
    averaging_min: float | None = None
    task: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class LaboratoryReport:
    """One report as it was delivered; the file and its hash stay with it."""

    code: str
    laboratory: str
    received_on: date | None
    file: str
    sha256: str
    samples_received_on: date | None = None
    receipt_temperature_k: float | None = None
    recovery_corrected_by: Corrector = "nobody"
    blank_corrected_by: Corrector = "nobody"
    origin: str = ""


@dataclass(frozen=True, slots=True)
class LaboratoryResult:
    """
    One agent on one sampler, as reported.

    A section below its reporting limit has ``*_below`` set and the limit as its mass. `None` for a section that was not
    reported. `volume_l` and `concentration_mg_m3` are what the laboratory printed, for cross-checking only.
    """

    report: str
    sampler: str
    agent: str
    front_ug: float
    front_below: bool
    back_ug: float | None = None
    back_below: bool = False
    reporting_limit_ug: float | None = None
    recovery: float | None = None
    relative_u: float | None = None
    volume_l: float | None = None
    concentration_mg_m3: float | None = None
    medium: str = ""
    remark: str = ""
    analysed_on: date | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything about one survey, ready to be assessed; mappings are by code."""

    title: str
    site: Site
    rule_book: str
    compared_rule_books: tuple[str, ...]
    assessed_on: date
    purpose: str
    prepared_by: str
    groups: Mapping[str, Group]
    workers: Mapping[str, Worker]
    shifts: Mapping[str, Shift]
    agents: Mapping[str, Agent]
    limits: tuple[LimitChoice, ...]
    methods: Mapping[str, Method]
    media_lots: Mapping[str, MediaLot]
    pumps: Mapping[str, Pump]
    splitters: Mapping[str, Splitter]
    meters: Mapping[str, Meter]
    orders: Mapping[str, SampleOrder]
    reports: Mapping[str, LaboratoryReport]
    results: tuple[LaboratoryResult, ...]
    entries: tuple[Entry, ...]
    overrides: tuple[FindingOverride, ...] = ()
    input_sha256: str = ""
    notes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FindingOverride:
    """A person's decision that a finding does not have its usual effect on a sample, and why."""

    sampler: str
    rule: str
    person: str
    reason: str
    origin: str = ""
