"""
What a plan needs to know, as plain data.

A survey folder and the stored records both fill these. Canonical units throughout (L/min, min, L, ug, mg/m3, K, kPa);
`origin` names the place each thing was read from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal, TypeAlias

from lapel.assessment.inputs import Agent, Group, LimitChoice, MediaLot, Method, Pump, Site, Splitter, Worker

PlanPurpose: TypeAlias = Literal["full shift", "short term", "task"]
WhoIsSampled: TypeAlias = Literal["draw", "everybody", "named"]
TestName: TypeAlias = Literal["preliminary", "percentile 95/70", "tolerance 95/95", "individual worker", "bayesian"]


@dataclass(frozen=True, slots=True)
class Question:
    """
    One thing to be learned of a group or a worker about one agent.

    `results` is how many are wanted, or `test` the test that decides it for the assumed truth; with neither, as many
    as the draw needs to catch one of the most exposed tenth. `see_share` is the share of the limit a sample must be
    able to show.
    """

    code: str
    agent: str
    purpose: PlanPurpose
    group: str = ""
    worker: str = ""
    methods: tuple[str, ...] = ()
    minutes: float | None = None
    task: str = ""
    see_share: float | None = None
    least_share: float = 1.0
    samplers_max: int | None = None
    others_mg_m3: float = 0.0
    who: WhoIsSampled = "draw"
    named: tuple[str, ...] = ()
    results: int | None = None
    test: TestName | None = None
    chance: float = 0.80
    assumed_gm_share: float | None = None
    assumed_gsd: float | None = None
    why: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Product:
    """A product or task people may be exposed by: where it is used, and which agents come of it."""

    code: str
    name: str
    task: str = ""
    groups: tuple[str, ...] = ()
    agents: tuple[str, ...] = ()
    source: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class OfferedShift:
    """A shift on which field work may be done; for every group where none is named."""

    start: datetime
    end: datetime
    group: str = ""
    origin: str = ""

    @property
    def day(self) -> str:
        """The day it begins on, as the plan names it."""
        return self.start.date().isoformat()

    @property
    def minutes(self) -> float:
        """Length as time that passes, whatever the clock on the wall does. [min]"""
        return (self.end - self.start).total_seconds() / 60.0

    @property
    def start_min(self) -> int:
        """Minutes after midnight on the wall."""
        return self.start.hour * 60 + self.start.minute


@dataclass(frozen=True, slots=True)
class Technician:
    """Who hangs and watches pumps."""

    code: str
    away_on: tuple[str, ...] = ()
    origin: str = ""


@dataclass(frozen=True, slots=True)
class WorkerTerms:
    """What the plan must know of one worker."""

    worker: str
    area_class: str = ""
    pumps_at_once: int = 2
    days_at_most: int | None = None
    away_on: tuple[str, ...] = ()
    origin: str = ""


@dataclass(frozen=True, slots=True)
class MediumTerms:
    """Price, pack and resistance of a medium."""

    medium: str
    cost: float = 0.0
    pack: int = 1
    loss_kpa_per_lpm: float = 3.4
    origin: str = ""


@dataclass(frozen=True, slots=True)
class LaboratoryTerms:
    """What the laboratory said about a method."""

    method: str
    laboratory: str
    desorption: str
    shared_analysis: str = ""
    cost: float = 0.0
    reporting_limit_ug: float | None = None
    breakthrough_l: float | None = None
    tested_humidity_percent: float | None = None
    source: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class AcceptedArea:
    """A person's word that pumps with a certificate may enter an area class."""

    area_class: str
    area_certificate: str
    accepted_by: str


@dataclass(frozen=True, slots=True)
class SplitterTerms:
    """What the ports and what stands behind them can do; no `suction_kpa` means the pump holds the total flow."""

    port_min_lpm: float | None = None
    port_max_lpm: float | None = None
    main_flow_lpm: float | None = None
    suction_kpa: float | None = None
    droop_kpa_per_lpm: float = 0.0
    may_cap: bool = True


@dataclass(frozen=True, slots=True)
class CrewTimes:
    """Minutes each act takes one technician, and what one can do in a day."""

    hang_min: int = 4
    before_min: int = 20
    after_min: int = 4
    set_min: int = 8
    check_min: int = 2
    check_every_min: int = 120
    first_check_min: int = 30
    change_min: int = 3
    take_down_min: int = 3
    post_min: int = 5
    pack_min: int = 45
    pumps_per_technician: int = 12
    changes_per_technician: int = 30


@dataclass(frozen=True, slots=True)
class Rates:
    """Rates of cost; `None` where none was given, and then it is not counted."""

    currency: str = "units"
    technician_day: float | None = None
    pump_day: float | None = None


@dataclass(frozen=True, slots=True)
class PlanInputs:
    """Everything a plan is made from; mappings are by code. `notes` holds those of the survey and of the plan."""

    title: str
    purpose: str
    prepared_by: str
    made_on: date
    site: Site
    strategy: str
    seed: str
    groups: Mapping[str, Group]
    workers: Mapping[str, Worker]
    agents: Mapping[str, Agent]
    limits: tuple[LimitChoice, ...]
    methods: Mapping[str, Method]
    media_lots: Mapping[str, MediaLot]
    pumps: Mapping[str, Pump]
    splitters: Mapping[str, Splitter]
    questions: tuple[Question, ...]
    shifts: tuple[OfferedShift, ...]
    technicians: tuple[Technician, ...]
    worker_terms: Mapping[str, WorkerTerms] = field(default_factory=dict)
    medium_terms: Mapping[str, MediumTerms] = field(default_factory=dict)
    laboratory_terms: Mapping[str, LaboratoryTerms] = field(default_factory=dict)
    accepted_areas: tuple[AcceptedArea, ...] = ()
    splitter_terms: SplitterTerms = field(default_factory=SplitterTerms)
    crew: CrewTimes = field(default_factory=CrewTimes)
    rates: Rates = field(default_factory=Rates)
    label_prefix: str = "S"
    air_temperature_k: float | None = None
    air_humidity_percent: float | None = None
    duplicates_share: float = 0.05
    spares_share: float = 0.10
    notes: Mapping[str, str] = field(default_factory=dict)
    plan_notes: Mapping[str, str] = field(default_factory=dict)
    products: tuple[Product, ...] = ()
    input_sha256: str = ""

    def group_of(self, worker: str) -> str:
        """The group of a worker."""
        return self.workers[worker].group

    def members(self, group: str) -> tuple[str, ...]:
        """Workers of a group, by code."""
        return tuple(sorted(code for code, worker in self.workers.items() if worker.group == group))

    def shifts_of(self, group: str) -> tuple[OfferedShift, ...]:
        """Shifts on offer for a group, in order; one of its own goes before one for all on the same day."""
        mine = {shift.day: shift for shift in self.shifts if not shift.group}
        mine |= {shift.day: shift for shift in self.shifts if shift.group == group}
        return tuple(mine[day] for day in sorted(mine))

    @property
    def days(self) -> tuple[str, ...]:
        """Days on offer, in order."""
        return tuple(sorted({shift.day for shift in self.shifts}))
