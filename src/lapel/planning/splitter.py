"""
Flows through the ports of a splitter: one laminar tube and one valve on every port, one suction behind all.

Each port loses ``a·Q`` in its tube (packed bed, laminar) and ``b·Q**n`` in its valve, with n between 1
(viscous) and 2 (an orifice). What stands behind the ports either holds a suction (perhaps drooping with the
total) or holds a total flow. All flows L/min, all pressures kPa below ambient.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
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


def valve_for(flow_lpm: float, *, suction_kpa: float, tube_kpa_per_lpm: float, exponent: float = 2.0) -> float:
    """
    Valve coefficient that gives a wanted flow at a suction, b = (P - a·Q) / Q**n.

    Parameters
    ----------
    flow_lpm : float
        Wanted flow. [L/min]
    suction_kpa : float
        Suction behind the port. [kPa]
    tube_kpa_per_lpm : float
        Loss of the tube. [kPa/(L/min)]
    exponent : float
        n. [-]

    Returns
    -------
    float
        b. [kPa/(L/min)**n]

    Raises
    ------
    ValueError
        The tube alone takes the whole suction: no valve setting gives the flow.
    """
    above(0.0, flow_lpm=flow_lpm, suction_kpa=suction_kpa)
    at_least(0.0, tube_kpa_per_lpm=tube_kpa_per_lpm)
    left = suction_kpa - tube_kpa_per_lpm * flow_lpm
    if left <= 0:
        raise ValueError(
            f"`flow_lpm` {flow_lpm:g} cannot be reached: the tube alone takes "
            f"{tube_kpa_per_lpm * flow_lpm:.3g} kPa of the {suction_kpa:g} kPa there are. Take a tube with less "
            "resistance, a lower flow or more suction"
        )
    return float(left / flow_lpm**exponent)


def set_splitter(
    wanted_lpm: dict[str, float],
    source: Source,
    *,
    tube_kpa_per_lpm: float | dict[str, float] = SPECIFICATION_TUBE_KPA_PER_LPM,
    exponent: float = 2.0,
    suction_kpa: float | None = None,
) -> tuple[Port, ...]:
    """
    The ports, their valves set so that all wanted flows hold together.

    Parameters
    ----------
    wanted_lpm : dict of str to float
        Wanted flow by port. [L/min]
    source : HeldSuction or HeldFlow
        What stands behind the splitter.
    tube_kpa_per_lpm : float or dict
        Loss of the tubes, one for all or by port. [kPa/(L/min)]
    exponent : float
        n of the valves. [-]
    suction_kpa : float, optional
        In constant-flow mode any suction does; the one the valves are set for (5 kPa where not given). [kPa]

    Returns
    -------
    tuple of Port

    Raises
    ------
    ValueError
        A flow cannot be reached, or in constant-flow mode the wanted flows do not add up to the total.
    """
    if not wanted_lpm:
        raise ValueError("`wanted_lpm` must hold at least one port")
    total = math.fsum(wanted_lpm.values())
    if isinstance(source, HeldFlow):
        if not math.isclose(total, source.total_lpm, rel_tol=1e-9):
            raise ValueError(
                f"`wanted_lpm` adds up to {total:g} L/min and the pump holds {source.total_lpm:g}: in "
                "constant-flow mode they must agree"
            )
        at = 5.0 if suction_kpa is None else suction_kpa
    else:
        if source.pump_lpm is not None and total > source.pump_lpm:
            raise ValueError(
                f"`wanted_lpm` adds up to {total:g} L/min and the pump moves {source.pump_lpm:g}: lower the "
                "port flows or raise the main flow"
            )
        at = source.suction_kpa - source.droop_kpa_per_lpm * (total - source.reference_lpm)
    ports = []
    for name, flow in wanted_lpm.items():
        a = tube_kpa_per_lpm[name] if isinstance(tube_kpa_per_lpm, dict) else tube_kpa_per_lpm
        valve = valve_for(flow, suction_kpa=at, tube_kpa_per_lpm=a, exponent=exponent)
        ports.append(Port(name, a, valve, exponent))
    return tuple(ports)


def tube_sensitivities(ports: Sequence[Port], source: Source) -> NDArray[np.float64]:
    """
    How port flows answer to tube losses: element (i, j) is d ln Q_i / d ln a_j.

    Parameters
    ----------
    ports : sequence of Port, length m
    source : HeldSuction or HeldFlow

    Returns
    -------
    ndarray of float64, shape (m, m)
        Rows of ports without flow are 0. [-]

    Notes
    -----
    At constant suction the diagonal is -f/(f + n(1 - f)) with f = a·Q/P, which is -f/(2 - f) for an orifice
    and -f for a viscous valve, and nothing else moves. Droop and constant-flow mode couple the ports through
    the suction: dP/da_j follows from the total.
    """
    return _sensitivities(ports, source, of="tube")


def valve_sensitivities(ports: Sequence[Port], source: Source) -> NDArray[np.float64]:
    """How port flows answer to valve settings: element (i, j) is d ln Q_i / d ln b_j; as `tube_sensitivities`."""
    return _sensitivities(ports, source, of="valve")


def _sensitivities(ports: Sequence[Port], source: Source, *, of: Literal["tube", "valve"]) -> NDArray[np.float64]:
    flows = splitter_flows(ports, source)
    q, p = np.array(flows.valve_lpm), flows.suction_kpa
    f = np.array([port.tube_share(flow, p) for port, flow in zip(ports, flows.valve_lpm, strict=True)])
    n = np.array([port.exponent for port in ports])
    slope = f + n * (1.0 - f)  # d ln P / d ln Q of one port
    direct = np.where(q > 0, -(f if of == "tube" else 1.0 - f) / slope, 0.0)  # at constant P
    dq_dlnp = q / slope
    holds_total = isinstance(source, HeldFlow) or flows.condition == "regulation lost"
    if holds_total:
        dlnp = -(q * direct) / dq_dlnp.sum()
    else:
        k = source.droop_kpa_per_lpm if isinstance(source, HeldSuction) else 0.0
        dlnp = -(k * q * direct) / (p + k * dq_dlnp.sum())
    matrix = np.diag(direct) + np.outer(np.where(q > 0, 1.0 / slope, 0.0), dlnp)
    return np.asarray(matrix, dtype=np.float64)


@dataclass(frozen=True)
class Consequence:
    """What one act on one port does to all of them: flows before and after, and change as a share of before."""

    before: SplitterFlows
    after: SplitterFlows
    changed: str

    @property
    def inlet_change(self) -> dict[str, float]:
        """Change of the flow through each sampler, as a share of what it was. [-]"""
        pairs = zip(self.before.names, self.before.inlet_lpm, self.after.inlet_lpm, strict=True)
        return {name: (new / old - 1.0 if old > 0 else 0.0) for name, old, new in pairs}

    @property
    def largest_on_others(self) -> float:
        """Largest change, either way, on a port that was not touched. [-]"""
        others = [abs(c) for name, c in self.inlet_change.items() if name != self.changed]
        return max(others, default=0.0)


def consequence(
    ports: Sequence[Port],
    source: Source,
    name: str,
    *,
    tube_factor: float = 1.0,
    valve_factor: float = 1.0,
    blocked: bool = False,
    tube_off: bool = False,
) -> Consequence:
    """
    What happens to all ports when one is adjusted, blocked, clogged or loses its tube.

    Parameters
    ----------
    ports, source
        The splitter as set.
    name : str
        The port that is touched.
    tube_factor, valve_factor : float
        Its tube loss and valve coefficient are multiplied by these. [-]
    blocked, tube_off : bool
        Its inlet is shut, or its tube has slipped off.

    Returns
    -------
    Consequence

    Raises
    ------
    ValueError
        No port of that name, or a factor not above 0.
    """
    above(0.0, tube_factor=tube_factor, valve_factor=valve_factor)
    if name not in [port.name for port in ports]:
        raise ValueError(f"`name` must be one of {', '.join(p.name for p in ports)}; it is {name!r}")
    after = tuple(
        replace(
            port,
            tube_kpa_per_lpm=port.tube_kpa_per_lpm * tube_factor,
            valve=port.valve * valve_factor,
            is_blocked=port.is_blocked or blocked,
            is_tube_off=port.is_tube_off or tube_off,
        )
        if port.name == name
        else port
        for port in ports
    )
    return Consequence(splitter_flows(ports, source), splitter_flows(after, source), name)
