"""One pump on one worker for a day: its ports, how its splitter would be set, and where that is weak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.assessment.plan_inputs import PlanInputs
from lapel.assessment.plan_windows import SamplerKind
from lapel.planning import (
    Consequence,
    Fragility,
    HeldFlow,
    HeldSuction,
    Port,
    SplitterFlows,
    consequence,
    fragilities,
    set_splitter,
    splitter_flows,
)


@dataclass(frozen=True, slots=True)
class PlannedPort:
    """One port of a train: its letter, the kind of sampler on it, the flow it is set to."""

    letter: str
    kind: SamplerKind
    flow_lpm: float

    @property
    def volume_each_l(self) -> float:
        """Air through one sampler. [L]"""
        return self.flow_lpm * self.kind.minutes_each


@dataclass(frozen=True, slots=True)
class WornPump:
    """One pump on one worker for a day, everybody and everything by code; hung so long after midnight. [min]"""

    day: str
    worker: str
    pump: str
    splitter: str
    technician: str
    hang_at_min: int


@dataclass(frozen=True, slots=True)
class PlannedTrain(WornPump):
    """
    A pump with what is on its ports.

    `code` is short and names no one, for labels; `warnings` are the weak points of the splitter as it would be set.
    """

    code: str
    ports: tuple[PlannedPort, ...]
    flows: SplitterFlows | None = None
    warnings: tuple[Fragility, ...] = ()

    @property
    def total_lpm(self) -> float:
        """Sum of its ports. [L/min]"""
        return sum(port.flow_lpm for port in self.ports)


def set_train(worn: WornPump, *, code: str, ports: tuple[PlannedPort, ...], inputs: PlanInputs) -> PlannedTrain:
    """A train with its splitter set by its valves, as far as that can be done."""
    flows: SplitterFlows | None = None
    warnings: tuple[Fragility, ...] = ()
    if worn.splitter and len({port.letter for port in ports}) == len(ports):
        flows, warnings = as_set(ports, inputs)
    return PlannedTrain(
        worn.day, worn.worker, worn.pump, worn.splitter, worn.technician, worn.hang_at_min, code, ports, flows, warnings
    )


def as_set(ports: Sequence[PlannedPort], inputs: PlanInputs) -> tuple[SplitterFlows | None, tuple[Fragility, ...]]:
    """
    The splitter's flows as set by its valves, and its weak points.

    Parameters
    ----------
    ports : sequence of PlannedPort
    inputs : PlanInputs
        Controller and resistance of the media.

    Returns
    -------
    SplitterFlows or None, tuple of Fragility
        Flows are None where no valve setting gives them; the one weak point then says why.
    """
    try:
        set_ports, source = _splitter(ports, inputs)
    except ValueError as problem:
        return None, (Fragility("cannot be set", None, 0.0, f"{problem}.".replace("`", "")),)
    return splitter_flows(set_ports, source), fragilities(set_ports, source)


def what_if(train: PlannedTrain, inputs: PlanInputs) -> tuple[tuple[str, Consequence], ...]:
    """
    What becomes of every port when one is blocked, or its sampler resists twice as much as planned.

    Parameters
    ----------
    train : PlannedTrain
    inputs : PlanInputs
        Controller and resistance of the media.

    Returns
    -------
    tuple of (str, Consequence)
        The act in words and what it does; empty without a splitter, or where no valve setting gives the flows.
    """
    if train.flows is None or len(train.ports) < 2:
        return ()
    set_ports, source = _splitter(train.ports, inputs)
    found = []
    for port in train.ports:
        twice = consequence(set_ports, source, port.letter, tube_factor=2.0)
        blocked = consequence(set_ports, source, port.letter, blocked=True)
        found += [
            (f"the sampler on {port.letter} resists twice as much", twice),
            (f"{port.letter} is blocked", blocked),
        ]
    return tuple(found)


def _splitter(ports: Sequence[PlannedPort], inputs: PlanInputs) -> tuple[tuple[Port, ...], HeldSuction | HeldFlow]:
    """The splitter set by its valves, and what stands behind it."""
    terms = inputs.splitter_terms
    wanted = {port.letter: port.flow_lpm for port in ports}
    loss = {}
    for port in ports:
        medium = inputs.medium_terms.get(port.kind.option.medium)
        loss[port.letter] = medium.loss_kpa_per_lpm if medium else 3.4
    source: HeldSuction | HeldFlow
    if terms.suction_kpa is None:
        source = HeldFlow(sum(wanted.values()))
    else:
        source = HeldSuction(
            terms.suction_kpa, terms.droop_kpa_per_lpm, reference_lpm=sum(wanted.values()), pump_lpm=terms.main_flow_lpm
        )
    return tuple(set_splitter(wanted, source, tube_kpa_per_lpm=loss)), source
