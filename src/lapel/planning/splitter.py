"""Flows through the ports of a splitter: one laminar tube and one valve on every port, one suction behind all.

Each port loses ``a·Q`` in its tube (packed bed, laminar) and ``b·Q**n`` in its valve, with n between 1
(viscous) and 2 (an orifice). What stands behind the ports either holds a suction (perhaps drooping with the
total) or holds a total flow. All flows L/min, all pressures kPa below ambient.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.optimize import brentq

from lapel.planning.arguments import above, at_least

#: Loss of the 100/50 mg charcoal tube at the NIOSH specification limit: 3.4 kPa at 1 L/min (25 mmHg).
SPECIFICATION_TUBE_KPA_PER_LPM = 3.4


@dataclass(frozen=True)
class Port:
    """
    One port: tube and valve in series.

    Attributes
    ----------
    name : str
    tube_kpa_per_lpm : float
        Laminar loss of the sampler, a. [kPa/(L/min)]
    valve : float
        Valve coefficient, b. [kPa/(L/min)**n]
    exponent : float
        n, from 1 to 2. [-]
    is_blocked : bool
        Nothing flows.
    is_tube_off : bool
        The port draws room air behind the sampler: flow at the valve, none through the tube.
    """

    name: str
    tube_kpa_per_lpm: float
    valve: float
    exponent: float = 2.0
    is_blocked: bool = False
    is_tube_off: bool = False

    def __post_init__(self) -> None:
        at_least(0.0, tube_kpa_per_lpm=self.tube_kpa_per_lpm)
        above(0.0, valve=self.valve)
        if not 1.0 <= self.exponent <= 2.0:
            raise ValueError(
                f"port {self.name}: `exponent` must be between 1 (viscous) and 2 (orifice); it is {self.exponent!r}"
            )

    def flow_at(self, suction_kpa: float) -> float:
        """Flow at the valve for a suction behind the port. [L/min]"""
        if self.is_blocked or suction_kpa <= 0:
            return 0.0
        a = 0.0 if self.is_tube_off else self.tube_kpa_per_lpm
        b, n = self.valve, self.exponent
        if n == 1.0:
            return suction_kpa / (a + b)
        if n == 2.0:
            # The root of b Q² + a Q - P without its cancellation for small P.
            return 2.0 * suction_kpa / (a + math.sqrt(a * a + 4.0 * b * suction_kpa))
        # a Q + b Q**n is convex and rising: Newton from above falls monotonically onto the root.
        flow = float((suction_kpa / b) ** (1.0 / n))
        if a > 0:
            flow = min(flow, suction_kpa / a)
        for _ in range(100):
            step = (a * flow + b * flow**n - suction_kpa) / (a + n * b * flow ** (n - 1.0))
            flow = float(flow - step)
            if abs(step) <= 4e-16 * flow:
                break
        return flow

    def tube_share(self, flow_lpm: float, suction_kpa: float) -> float:
        """The tube's share of the suction, f = a·Q/P. [-]"""
        if self.is_blocked or self.is_tube_off or suction_kpa <= 0:
            return 0.0
        return self.tube_kpa_per_lpm * flow_lpm / suction_kpa


@dataclass(frozen=True)
class HeldSuction:
    """
    A pressure controller: P = P0 - droop·(total - reference).

    Attributes
    ----------
    suction_kpa : float
        P0, the suction held at the reference total. [kPa]
    droop_kpa_per_lpm : float
        How much it falls for each L/min more. [kPa/(L/min)]
    reference_lpm : float
        The total at which P0 was set. [L/min]
    pump_lpm : float, optional
        What the pump moves in all; ports that want more take the regulation away. [L/min]
    """

    suction_kpa: float
    droop_kpa_per_lpm: float = 0.0
    reference_lpm: float = 0.0
    pump_lpm: float | None = None

    def __post_init__(self) -> None:
        above(0.0, suction_kpa=self.suction_kpa, pump_lpm=self.pump_lpm)
        at_least(0.0, droop_kpa_per_lpm=self.droop_kpa_per_lpm, reference_lpm=self.reference_lpm)


@dataclass(frozen=True)
class HeldFlow:
    """
    A pump in constant-flow mode straight on the splitter.

    Attributes
    ----------
    total_lpm : float
        The total it holds. [L/min]
    limit_kpa : float, optional
        The most suction it can compensate; beyond it the pump faults. [kPa]
    """

    total_lpm: float
    limit_kpa: float | None = None

    def __post_init__(self) -> None:
        above(0.0, total_lpm=self.total_lpm, limit_kpa=self.limit_kpa)


Source = HeldSuction | HeldFlow
Condition = Literal["regulated", "regulation lost", "pump fault", "nothing flows"]


@dataclass(frozen=True)
class SplitterFlows:
    """
    What every port draws.

    ``valve_lpm`` is what passes the valve, ``inlet_lpm`` what passes the sampler (nothing where its tube is
    off). On a pump fault the flows are those the pump would have to make to hold its total; a real pump stops.
    """

    names: tuple[str, ...]
    valve_lpm: tuple[float, ...]
    inlet_lpm: tuple[float, ...]
    suction_kpa: float
    condition: Condition

    @property
    def total_lpm(self) -> float:
        """Flow at the pump's side of the splitter. [L/min]"""
        return math.fsum(self.valve_lpm)


def splitter_flows(ports: Sequence[Port], source: Source) -> SplitterFlows:
    """
    Flow of every port of a splitter.

    Parameters
    ----------
    ports : sequence of Port
    source : HeldSuction or HeldFlow

    Returns
    -------
    SplitterFlows

    Raises
    ------
    ValueError
        No port, or two of one name.

    Notes
    -----
    Every port obeys P = a·Q + b·Q**n with one suction P. A held suction gives P at once, or with droop as the
    one root of P + k·(sum Q(P) - Q_ref) = P0, which rises with P; a held total gives P as the one root of
    sum Q(P) = Q0. Where the ports of a pressure controller want more than its pump moves, regulation is
    lost: the pump's flow sets the total and the suction falls. Gas density is taken as the same on both
    sides, so keep to suctions that are small against the ambient pressure (about 10 kPa).
    """
    _check(ports)
    names = tuple(port.name for port in ports)
    if all(port.is_blocked for port in ports):
        held = source.suction_kpa if isinstance(source, HeldSuction) else source.limit_kpa or math.inf
        zeros = (0.0,) * len(ports)
        return SplitterFlows(names, zeros, zeros, held, "nothing flows")
    condition: Condition = "regulated"
    if isinstance(source, HeldFlow):
        suction = _suction_for_total(ports, source.total_lpm)
        if source.limit_kpa is not None and suction > source.limit_kpa:
            condition = "pump fault"
    else:
        suction = _held_suction(ports, source)
        if source.pump_lpm is not None and _total(ports, suction) > source.pump_lpm:
            suction, condition = _suction_for_total(ports, source.pump_lpm), "regulation lost"
    valve = tuple(port.flow_at(suction) for port in ports)
    inlet = tuple(0.0 if port.is_tube_off else flow for port, flow in zip(ports, valve, strict=True))
    return SplitterFlows(names, valve, inlet, suction, condition)


def _check(ports: Sequence[Port]) -> None:
    if not ports:
        raise ValueError("`ports` must hold at least one port")
    names = [port.name for port in ports]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"`ports` names must differ; {', '.join(twice)} occurs more than once")


def _total(ports: Sequence[Port], suction_kpa: float) -> float:
    return math.fsum(port.flow_at(suction_kpa) for port in ports)


def _held_suction(ports: Sequence[Port], source: HeldSuction) -> float:
    if source.droop_kpa_per_lpm == 0:
        return source.suction_kpa
    k, reference, p0 = source.droop_kpa_per_lpm, source.reference_lpm, source.suction_kpa
    highest = p0 + k * reference
    return float(brentq(lambda p: p + k * (_total(ports, p) - reference) - p0, 0.0, highest, xtol=1e-300, rtol=1e-15))


def _suction_for_total(ports: Sequence[Port], total_lpm: float) -> float:
    # With Q the flow of one open port alone, its own loss bounds the suction from above.
    bounds = []
    for port in ports:
        if not port.is_blocked:
            a = 0.0 if port.is_tube_off else port.tube_kpa_per_lpm
            bounds.append(a * total_lpm + port.valve * total_lpm**port.exponent)
    highest = min(bounds) * (1 + 1e-12)
    return float(brentq(lambda p: _total(ports, p) - total_lpm, 0.0, highest, xtol=1e-300, rtol=1e-15))
