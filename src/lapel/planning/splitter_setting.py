"""Setting a splitter: the valve that gives a wanted flow, and all valves so that the wanted flows hold together."""

from __future__ import annotations

import math

from lapel.planning.arguments import above, at_least
from lapel.planning.splitter import SPECIFICATION_TUBE_KPA_PER_LPM, HeldFlow, Port, Source


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
