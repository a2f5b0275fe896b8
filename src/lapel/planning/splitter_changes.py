"""What an act on one port of a splitter does to all of them: small ones by slopes, any one by solving again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapel.planning.arguments import above
from lapel.planning.splitter import HeldFlow, HeldSuction, Port, Source, SplitterFlows, splitter_flows


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
