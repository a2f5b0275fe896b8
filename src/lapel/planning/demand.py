"""
What a campaign is asked to do, and with what: the plain words that model, search, checker and pages share.

Nothing here decides anything. A day is a label in calendar order; a clock time is minutes after midnight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapel.planning.arguments import above, at_least, ordered

#: What is wanted from a sampler: an agent, with its purpose where there are several ("benzene, STEL").
Agent = str


@dataclass(frozen=True)
class SamplerOption:
    """
    One way to answer for one or more agents: a medium on a port, its flow and volume window.

    Attributes
    ----------
    name, medium : str
    agents : frozenset of str
        Agents determined from this one sampler.
    minutes : float
        Period the port runs. [min]
    samplers : int
        Samplers one after the other over the period.
    flow_low_lpm, flow_high_lpm : float
        Flow window. [L/min]
    volume_low_l, volume_high_l : float
        Volume window of each sampler. [L]
    cost : float
        Samplers and laboratory together, for the period.
    needs_own_pump : bool
        Short-term and task samples: their starts and stops must not touch the other ports.
    """

    name: str
    medium: str
    agents: frozenset[Agent]
    minutes: float
    samplers: int
    flow_low_lpm: float
    flow_high_lpm: float
    volume_low_l: float
    volume_high_l: float
    cost: float = 0.0
    needs_own_pump: bool = False

    def __post_init__(self) -> None:
        above(0.0, minutes=self.minutes, flow_low_lpm=self.flow_low_lpm, flow_high_lpm=self.flow_high_lpm)
        at_least(0.0, volume_low_l=self.volume_low_l, cost=self.cost)
        ordered("flow_low_lpm", self.flow_low_lpm, "flow_high_lpm", self.flow_high_lpm)
        ordered("volume_low_l", self.volume_low_l, "volume_high_l", self.volume_high_l)
        if self.samplers < 1 or not self.agents:
            raise ValueError(f"sampler {self.name}: at least one sampler and one agent are wanted")

    @property
    def changes(self) -> int:
        """Sampler changes during the period."""
        return self.samplers - 1


@dataclass(frozen=True)
class PumpKind:
    """
    Interchangeable pumps.

    ``direct_lpm`` is the flow window with one sampler straight on the pump, ``split_total_lpm`` that of the
    total through a splitter; ``None`` where the kind cannot do it. ``certified_for`` names the area classes
    the pump may enter.
    """

    name: str
    count: int
    direct_lpm: tuple[float, float] | None = None
    split_total_lpm: tuple[float, float] | None = None
    certified_for: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        at_least(0, count=self.count)
        for word, window in (("direct_lpm", self.direct_lpm), ("split_total_lpm", self.split_total_lpm)):
            if window is not None:
                at_least(0.0, **{f"{word}[0]": window[0]})
                ordered(f"{word}[0]", window[0], f"{word}[1]", window[1])


@dataclass(frozen=True)
class SplitterKind:
    """Interchangeable splitters: ports, flow window of each port, and whether an unused port may be capped."""

    name: str
    count: int
    ports: int
    port_lpm: tuple[float, float]
    may_cap: bool = True

    def __post_init__(self) -> None:
        at_least(0, count=self.count)
        at_least(1, ports=self.ports)
        ordered("port_lpm[0]", self.port_lpm[0], "port_lpm[1]", self.port_lpm[1])


@dataclass(frozen=True)
class Crew:
    """
    The people who hang the pumps, alike on each day unless a day is listed.

    Attributes
    ----------
    technicians : int
        Technicians on a day.
    hang_min : int
        Minutes one technician needs to hang one pump.
    before_min, after_min : int
        A pump is hung within this many minutes before to after the worker's shift start.
    pumps_per_technician : int
        Pumps one technician can set, watch and close in a day.
    changes_per_technician : int
        Sampler changes one technician can make in a day.
    on_day : mapping of str to int
        Technicians on days that differ.
    """

    technicians: int = 1
    hang_min: int = 4
    before_min: int = 20
    after_min: int = 4
    pumps_per_technician: int = 12
    changes_per_technician: int = 30
    on_day: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        above(0, hang_min=self.hang_min)
        at_least(0, technicians=self.technicians, before_min=self.before_min, after_min=self.after_min)
        at_least(0, pumps_per_technician=self.pumps_per_technician)
        at_least(0, changes_per_technician=self.changes_per_technician)

    def on(self, day: str) -> int:
        """Technicians on a day."""
        return self.on_day.get(day, self.technicians)


@dataclass(frozen=True)
class Equipment:
    """Pumps, splitters and the crew."""

    pumps: tuple[PumpKind, ...]
    splitters: tuple[SplitterKind, ...] = ()
    crew: Crew = field(default_factory=Crew)

    def __post_init__(self) -> None:
        for word, names in (
            ("pumps", [p.name for p in self.pumps]),
            ("splitters", [s.name for s in self.splitters]),
        ):
            if len(set(names)) != len(names):
                raise ValueError(f"`{word}` must have names that differ; found {', '.join(sorted(names))}")


@dataclass(frozen=True)
class Worker:
    """
    One person to be sampled, by code.

    Attributes
    ----------
    code : str
    wants : mapping of str to int
        On how many days each agent is wanted.
    options : tuple of str
        Names of the sampler options that fit this worker's shift.
    shift_start_min : int
        Minutes after midnight.
    area : str, optional
        Area class that pumps must be certified for.
    pumps_at_once : int
        Most pumps the worker wears on a day.
    days : frozenset of str, optional
        Days present; all where not given.
    days_at_most : int, optional
        Most days this worker is asked to wear pumps.
    """

    code: str
    wants: Mapping[Agent, int]
    options: tuple[str, ...]
    shift_start_min: int = 360
    area: str | None = None
    pumps_at_once: int = 2
    days: frozenset[str] | None = None
    days_at_most: int | None = None

    def __post_init__(self) -> None:
        at_least(1, pumps_at_once=self.pumps_at_once)
        for agent, count in self.wants.items():
            at_least(1, **{f"wants[{agent}]": count})

    def is_present(self, day: str) -> bool:
        """Whether the worker is there on a day."""
        return self.days is None or day in self.days


@dataclass(frozen=True)
class Demand:
    """Workers, the sampler options their agents have, and the days on offer in order."""

    workers: tuple[Worker, ...]
    options: Mapping[str, SamplerOption]
    days: tuple[str, ...]

    def __post_init__(self) -> None:
        codes = [worker.code for worker in self.workers]
        twice = sorted({code for code in codes if codes.count(code) > 1})
        if twice:
            raise ValueError(f"`workers` must have codes that differ; {', '.join(twice)} occurs more than once")
        if len(set(self.days)) != len(self.days):
            raise ValueError("`days` must differ from each other")
        for worker in self.workers:
            unknown = sorted(set(worker.options) - set(self.options))
            if unknown:
                raise ValueError(f"worker {worker.code}: no sampler option is called {', '.join(unknown)}")
            strange = sorted((worker.days or frozenset()) - set(self.days))
            if strange:
                raise ValueError(f"worker {worker.code}: {', '.join(strange)} is not among the days of the campaign")


@dataclass(frozen=True)
class PortUse:
    """A sampler option on a port at a flow."""

    option: str
    flow_lpm: float


@dataclass(frozen=True)
class Train:
    """One pump on a worker for a day: its serial place among its kind, its splitter or none, its ports."""

    pump_kind: str
    pump_number: int
    splitter_kind: str | None
    ports: tuple[PortUse, ...]
    technician: int
    hang_at_min: int


@dataclass(frozen=True)
class Visit:
    """What one worker wears on one day."""

    worker: str
    day: str
    trains: tuple[Train, ...]


@dataclass(frozen=True)
class Missing:
    """A want the plan does not meet: how many days short, why, and what to relax."""

    worker: str
    agent: Agent
    days_short: int
    why: str


@dataclass(frozen=True)
class Goal:
    """One goal of the search, in order of weight: what was reached and what is proven to be the best possible."""

    name: str
    reached: float
    bound: float

    @property
    def is_proven(self) -> bool:
        """Whether nothing better exists, the goals before it being kept."""
        return self.reached <= self.bound + 1e-9 * max(1.0, abs(self.bound))

    @property
    def gap(self) -> float:
        """How far the reached value may be from the best, as a share of the reached. [-]"""
        return 0.0 if self.is_proven else (self.reached - self.bound) / abs(self.reached)


@dataclass(frozen=True)
class CampaignPlan:
    """
    A campaign: every visit with its trains, what is missing and why, and the proof or the gap of each goal.

    ``advice`` says in words what would have to be relaxed for what is missing.
    """

    visits: tuple[Visit, ...]
    missing: tuple[Missing, ...]
    goals: tuple[Goal, ...]
    advice: tuple[str, ...] = ()

    @property
    def is_proven(self) -> bool:
        """Whether every goal is proven optimal."""
        return all(goal.is_proven for goal in self.goals)

    @property
    def gap(self) -> float:
        """The largest gap of any goal. [-]"""
        return max((goal.gap for goal in self.goals), default=0.0)

    @property
    def days(self) -> tuple[str, ...]:
        """Days with at least one visit, in the order met."""
        return tuple(dict.fromkeys(visit.day for visit in self.visits))

    @property
    def proof(self) -> str:
        """The standing of each goal in words."""
        words = [
            f"{g.name}: {g.reached:g}"
            + (" (proven best)" if g.is_proven else f" (best possible {g.bound:g} or more, gap {100 * g.gap:.1f} %)")
            for g in self.goals
        ]
        return "; ".join(words)
