"""The day pack: what a device must know of a survey to work a day without the office; the published shape of it."""

from __future__ import annotations

from typing import Any, Literal

from ninja import Field, Schema

FORMAT = "lapel day pack 1"


class PackSurvey(Schema):
    """The survey and its place; the site's usual air stands in where none was recorded with a reading."""

    code: str
    title: str
    site: str
    zone: str
    temperature_c: float | None
    pressure_kpa: float | None


class PlannedPort(Schema):
    """
    One port as planned; what the plan cannot name as it is on record is empty.

    `sampler` is its first sampler, `samplers` all of them in their turn, by the codes on their labels; which tube is on
    the port is bound by scanning it. `low_lpm` and `high_lpm` are the window its flow was chosen from, `minutes` those
    of one sampler.
    """

    port: str
    medium: str
    sampler: str
    samplers: list[str]
    lot: str
    catalogue: str
    methods: list[str]
    target_lpm: float | None
    target_unit: str = "L/min"
    low_lpm: float | None
    high_lpm: float | None
    minutes: float | None


class PlannedTrain(Schema):
    """One pump on one worker, as the plan in force has it for the day."""

    train: str
    worker: str
    pump: str
    splitter: str
    ports: list[PlannedPort]
    source: Literal["plan", "log", "typed"] = "plan"


class PlannedBlank(Schema):
    """A field blank of the day; one that is not opened stays capped beside the samplers of its train."""

    code: str
    medium: str
    lot: str
    catalogue: str
    opened: bool
    train: str = Field(description="the train it is handled with, at the same time")


class PlannedSpare(Schema):
    """A labelled sampler without a place in the plan."""

    code: str
    medium: str
    lot: str
    catalogue: str


class PackShift(Schema):
    """One shift of a worker."""

    code: str
    start: str
    end: str
    reference_min: float


class PackWorker(Schema):
    """A worker, by code only: no name ever goes to a device."""

    code: str
    group: str
    shifts: list[PackShift]


class PackPump(Schema):
    """A pump in use."""

    code: str
    flow_min_lpm: float | None
    flow_max_lpm: float | None
    service_due_on: str
    area_certificate: str


class PackSplitter(Schema):
    """A holder in use and its ports' letters."""

    code: str
    ports: list[str]
    total_max_lpm: float | None


class PackMeter(Schema):
    """A flow meter in use, under the certificate in force on the day."""

    code: str
    kind: str
    certificate: str
    certified_on: str
    due_on: str
    range_min_lpm: float | None
    range_max_lpm: float | None
    relative_u: float | None
    reads: str
    calibrated_at_k: float | None
    calibrated_at_kpa: float | None
    exponent: float | None
    curve: list[tuple[float, float]] = Field(description="pairs of indicated and true flow [L/min]")


class PackSampler(Schema):
    """A sampler that was ordered: for whom, by which methods."""

    code: str
    shift: str
    worker: str
    purpose: str
    methods: list[str]
    averaging_min: float | None
    task: str
    medium: str


class PackMedia(Schema):
    """One lot of samplers."""

    lot: str
    medium: str
    expiry: str
    catalogue: str
    family: str


class PackMethod(Schema):
    """A method's window, as its source states it."""

    code: str
    agent: str
    medium: str
    flow_min_lpm: float | None
    flow_max_lpm: float | None
    volume_min_l: float | None
    volume_max_l: float | None
    reporting_limit_ug: float | None


class PackLimit(Schema):
    """A limit of the survey; `mg_m3` at 25 °C and 101.325 kPa, null for one in ppm of an agent without molar mass."""

    agent: str
    agent_name: str
    authority: str
    kind: str
    value: float
    unit: str
    mg_m3: float | None
    averaging_min: float | None
    binding: bool


class PackTier(Schema):
    """One step of a rule, in the measure's unit, with what it means and where it stands."""

    bound: str
    value: float | None
    effect: str
    words: str
    remedy: str
    document: str
    section: str
    certainty: str
    clause_unread: bool


class PackRule(Schema):
    """One rule that can be judged in the field."""

    id: str
    title: str
    measure: str
    unit: str
    wanted: str
    tiers: list[PackTier]


class PackRules(Schema):
    """What the survey's rule book says about what happens in the field; `rules` by the measure."""

    key: str
    title: str
    edition: str
    caution: str
    change_basis: str
    flow_rule: str
    averaging_min: float
    rules: dict[str, PackRule]


class DayPack(Schema):
    """
    All a device needs of one survey for one day.

    `hash` is the SHA-256 of the rest: asked with ``?known=`` it, the office answers 204 while nothing has changed.
    `planned_for` is the day `trains` and `blanks` are planned for: the day asked for, else the next one with a plan;
    empty without. `plan_words` says what keeps the plan from naming samplers and blanks; empty where nothing does.
    """

    format: str = FORMAT
    hash: str
    planned_for: str
    plan_words: str
    survey: PackSurvey
    trains: list[PlannedTrain]
    blanks: list[PlannedBlank]
    spares: list[PlannedSpare]
    workers: list[PackWorker]
    pumps: list[PackPump]
    splitters: list[PackSplitter]
    meters: list[PackMeter]
    samplers: list[PackSampler]
    media: list[PackMedia]
    methods: list[PackMethod]
    limits: list[PackLimit]
    tasks: list[str]
    rules: PackRules

    def as_hashed(self) -> dict[str, Any]:
        """Everything but the hash."""
        return self.model_dump(exclude={"hash"})
